"""A paragraph for a paper: what was computed how, with its numbers and bands, and how to cite."""

from __future__ import annotations

from thrustlapse.report.comparison.ranking import tops
from thrustlapse.report.number_format import amount, listed, number
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.uncertain import Interval

DIGITS = 12
"""Digits of the scenario's SHA-256 that name it in a text."""


def methods_paragraph(comparison: Comparison) -> str:
    """Methods and results in a paragraph, ready to paste; composed from the comparison's numbers.

    A scenario that says that it is invented says so here too.
    """
    said = [
        f"Thrust and level flight of {listed(comparison.candidates)} were computed with "
        f"thrustlapse {comparison.version} (scenario SHA-256 "
        f"{comparison.scenario_digest[:DIGITS]}"
        + (", an invented scenario)." if comparison.invented else ")."),
        f"Air: {comparison.methods['air']}; {amount('altitude', comparison.altitude)}, "
        f"{amount('temperature', comparison.temperature)}, "
        f"{amount('pressure', comparison.pressure)}.",
        f"Footing: {comparison.footing}" + ("." if comparison.reference_power is None else
                                            f", {number(comparison.reference_power)} W."),
        *(f"{words}: {comparison.methods[name]}." for name, words in (
            ("ducted", "Ducted machines"), ("open rotor", "Open rotors"), ("drive", "Drive"),
            ("airframe", "Airframe")) if name in comparison.methods),
        f"Installed thrust at rest: {listed(_static(comparison))}."]
    fast = _fast(comparison)
    if fast:
        said.append(f"Level top speed: {listed(fast)}.")
    study = comparison.uncertainty
    if study is None:
        said.append("No draws were made: nothing is said of how sure these numbers are.")
    else:
        said.append(f"Brackets hold nine in ten of {study.samples} draws of everything that is "
                    f"stated or assumed with a spread (seed {study.seed}).")
    return " ".join(said)


def citation(comparison: Comparison) -> str:
    """How to name the program and the scenario in a list of sources."""
    title = comparison.title or "untitled scenario"
    return (f"thrustlapse {comparison.version}, thrust and thrust lapse of blowers, ducted fans "
            f"and propellers [computer program]; scenario “{title}”, SHA-256 "
            f"{comparison.scenario_digest}.")


def _static(comparison: Comparison) -> list[str]:
    study = comparison.uncertainty
    return [_with_band(name, result.at_rest.installed_thrust.item(), "N",
                       None if study is None else study.candidates[name].static_thrust)
            for name, result in comparison.candidates.items() if result.at_rest.valid.all()]


def _fast(comparison: Comparison) -> list[str]:
    study = comparison.uncertainty
    return [_with_band(one.name, one.speed, "m/s",
                       None if study is None else study.candidates[one.name].top_speed,
                       least=one.least) for one in tops(comparison)]


def _with_band(name: str, value: float, unit: str, band: Interval | None, *,
               least: bool = False) -> str:
    told = f"{name} {'at least ' if least else ''}{number(value)} {unit}"
    return told if band is None else f"{told} [{number(band.low)}, {number(band.high)}]"
