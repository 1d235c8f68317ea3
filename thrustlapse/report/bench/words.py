"""What the reductions of the bench say, as lines for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources

import numpy as np

from thrustlapse.bench.blade_tone import ToneChoice
from thrustlapse.bench.orifice import AirPowerPeak, OrificeFlow
from thrustlapse.bench.shaft_speed import SpeedChoice
from thrustlapse.bench.tone import FALSE_ALARM, Tones
from thrustlapse.bench.tone_track import ToneTrack
from thrustlapse.glossary import read_as
from thrustlapse.report.bench.table import laid_out, with_spread

RPM = read_as(1.0, "rpm")
"""rpm of a shaft speed in rad/s."""

ACROSS = 8
"""Candidate speeds on a line."""

EACH, BESIDE = 0.25, 4
"""Time for which a followed speed is told [s], and columns beside each other."""

MOST_MEANINGS = 12
"""Readings of a recording that are spelled out; the rest is counted."""


def plan_text() -> str:
    """The printed protocol of one afternoon."""
    return resources.files("thrustlapse.report.bench").joinpath("bench_plan.txt").read_text("utf-8")


def speed_lines(choice: SpeedChoice) -> list[str]:
    """Every candidate speed, the one taken in brackets, and the reasons."""
    cells = []
    for place, speed in enumerate(choice.candidates):
        text = f"{RPM * speed:.0f}"
        cells.append(f"[{text}]" if place == choice.place
                     else f"{text}*" if place in choice.rivals else text)
    width = max((len(cell) for cell in cells), default=0)
    lines = ["candidate shaft speeds [rpm]; * fits every strobe reading, [ ] is the one taken:"]
    lines += ["  " + "  ".join(cell.rjust(width) for cell in cells[start:start + ACROSS])
              for start in range(0, len(cells), ACROSS)]
    lines += ["", *(f"  {reason}" for reason in choice.reasons), ""]
    if choice.place >= 0:
        return [*lines, "shaft speed: "
                f"{with_spread(RPM * choice.speed, RPM * choice.deviation)} rpm"]
    return [*lines, "shaft speed: not decided"]


def tone_lines(tones: Tones, choice: ToneChoice) -> list[str]:
    """The tones, every reading of them, and the speed taken."""
    lines = [f"{tones.segments} pieces, {tones.bin_width:.1f} Hz a bin, and longer pieces up to "
             f"{tones.steady:.1f} s; in the short ones a tone needs "
             f"{tones.threshold:.1f} dB above the noise beside it, which noise alone shows in "
             f"at most 1 of {1.0 / FALSE_ALARM:.0f} recordings"]
    if tones.clipped > 1e-4:
        lines.append(f"caution: {100 * tones.clipped:.2g} % of the samples are clipped, which "
                     "makes overtones of its own: record from further off")
    low, high = tones.band
    if low > 0.0 or high < 0.5 * tones.rate:
        lines.append(f"the recording holds sound from {low:.0f} to {high:.0f} Hz only, cut by a "
                     "filter or a codec: lines beyond that are not missing, they cannot be heard")
    if tones.frequency.size:
        lines += ["", *laid_out([
            ("tone Hz", [with_spread(float(a), float(b)) for a, b in zip(
                tones.frequency, tones.deviation, strict=True)]),
            ("level dB", [f"{one:.0f}" for one in tones.level]),
            ("wander Hz", [f"{one:.1f}" for one in tones.wander])])]
    shown = choice.meanings[:MOST_MEANINGS]
    if shown:
        lines += ["", *laid_out([
            ("rpm", [f"{RPM * one.speed:.0f}" for one in shown]),
            ("from Hz", [f"{one.tone:.0f}" for one in shown]),
            ("as", [one.meaning + (", folded" if one.folded else "") for one in shown]),
            ("score dB", [f"{one.score:.0f}" for one in shown])])]
        if len(choice.meanings) > MOST_MEANINGS:
            lines.append(f"  and {len(choice.meanings) - MOST_MEANINGS} less likely")
    lines += ["", *(f"  {reason}" for reason in choice.reasons), ""]
    if choice.chosen:
        best = choice.meanings[0]
        return [*lines, "shaft speed: "
                f"{with_spread(RPM * best.speed, RPM * best.deviation)} rpm"]
    return [*lines, "shaft speed: not decided"]


def track_lines(track: ToneTrack, *, turns: float) -> list[str]:
    """Shaft speed at every quarter of a second; ``turns`` is rad/s of the shaft per hertz."""
    speed = RPM * turns * track.frequency
    rows, lines = [], ["", "shaft speed through the recording:"]
    for start in np.arange(0.0, float(track.time[-1]) + EACH, EACH):
        here = (track.time >= start) & (track.time < start + EACH) & np.isfinite(speed)
        if np.any((track.time >= start) & (track.time < start + EACH)):
            rows.append((f"{start + 0.5 * EACH:.2f}",
                         f"{np.median(speed[here]):.0f}" if here.any() else "lost"))
    height = -(-len(rows) // BESIDE)
    columns = []
    for first in range(0, len(rows), height):
        part = rows[first:first + height] + [("", "")] * (height - len(rows[first:first + height]))
        columns += [("s", [time for time, _ in part]), ("rpm", [text for _, text in part])]
    lines += laid_out(columns)
    heard = speed[np.isfinite(speed)]
    if heard.size:
        low, high = np.percentile(heard, (2.0, 98.0))
        spread = RPM * turns * track.deviation
        lines += ["", f"slowest {with_spread(float(low), spread)} rpm, fastest "
                  f"{with_spread(float(high), spread)} rpm, {100.0 * (high / low - 1.0):.1f} % "
                  "apart (2 % of the time at either end left out)"]
    return lines


def orifice_lines(*, diameter: Sequence[float], suction: Sequence[float], flow: OrificeFlow,
                  electrical_power: Sequence[float], peak: AirPowerPeak | str) -> list[str]:
    """Flow and air power of each plate, and the greatest air power between them."""
    power = np.asarray(electrical_power, dtype=float)
    efficiency = flow.air_power / power
    lines = laid_out([
        ("hole mm", [f"{1000 * one:.2f}" for one in diameter]),
        ("suction kPa", [f"{one / 1000:.2f}" for one in suction]),
        ("coefficient", [_cell(one, ".4f") for one in flow.coefficient]),
        ("flow L/s", [with_spread(1000 * float(a), 1000 * float(b)) if a == a else "-"
                      for a, b in zip(flow.flow, flow.flow_deviation, strict=True)]),
        ("g/s", [_cell(1000 * one, ".2f") for one in flow.mass_flow]),
        ("air power W", [with_spread(float(a), float(b)) if a == a else "-" for a, b in zip(
            flow.air_power, flow.power_deviation, strict=True)]),
        ("of electrical", [_cell(100 * one, ".1f", " %") if np.isfinite(one) else ""
                           for one in efficiency]),
        ("coefficient of", ["the standard's plate" if one else "a thin plate"
                            for one in flow.standard_plate])])
    if not np.isfinite(flow.flow).all():
        lines.append("  -: the hole chokes at that suction; take a larger one")
    if not flow.trusted.all():
        lines.append("  small holes and low suction: the coefficient is less sure below 12.7 mm "
                     "and 5 kPa; its spread is widened for it")
    lines.append("")
    if isinstance(peak, str):
        lines.append(f"greatest air power: not known, {peak}")
    else:
        where = "" if peak.within else ", beyond the holes tried"
        lines.append(f"greatest air power: {peak.power:.1f} W at {1000 * peak.flow:.2f} L/s{where}")
    return lines


def _cell(value: float, form: str, unit: str = "") -> str:
    return f"{value:{form}}{unit}" if np.isfinite(value) else "-"
