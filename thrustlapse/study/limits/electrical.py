"""Current and voltage against what wire, connector, switch and fuse stand."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.power.wiring import CHASSIS, Wiring, wire_resistance
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.study.comparison import Finding
from thrustlapse.study.limits.states import States, largest

CLOSE = 0.8
"""Share of a rating from which a part is called close to it (common practice: run at 80 %)."""

FUSE_BELOW = 1.25
"""Fuse over running current below which it may blow in flight (common practice)."""

WIRE_DROP = 0.03
"""Share of the resting voltage lost in the wire from which thicker wire is advised (practice)."""

INRUSH_MANY = 10.0
"""Rating of a switch that a current of closing may exceed for an instant (from memory)."""


def electrical_findings(states: States, candidate: Candidate,
                        wiring: Wiring | None) -> Iterator[Finding]:
    """Each part that is given, with its rating, the current that flows, and the margin."""
    if wiring is None:
        return
    amps = largest(states.current)
    if not np.isfinite(amps):
        return
    yield from _ratings(states.name, amps, wiring)
    source = candidate.unit.supply
    volts, inside = float(np.max(source.voltage)), float(np.max(source.resistance))
    yield from _switch_voltage(states.name, volts, wiring)
    yield from _closing(states.name, volts, inside, wiring)
    yield from _wire(states.name, amps, volts, wiring)


def _ratings(name: str, amps: float, wiring: Wiring) -> Iterator[Finding]:
    wire = None if wiring.gauge is None else CHASSIS[wiring.gauge]
    parts = [
        ("switch", wiring.switch_rating, "a switch rated for that direct current: one rated for "
         "less welds shut and then cannot stop the machine", "as given"),
        ("connector", wiring.connector_rating, "a larger connector, or a lower power limit",
         "as given"),
        (f"AWG {wiring.gauge} wire", wire, "thicker wire, or a lower power limit",
         "rule of thumb for one wire in open air"),
    ]
    for part, limit, change, source in parts:
        if limit is None:
            continue
        share = amps / limit
        rank = "stop" if share > 1.0 else "check" if share > CLOSE else "note"
        told = (f"rated for {100.0 / share:.0f} % of what flows" if share > 1.0
                else f"{100.0 * (1.0 - share):.0f} % to spare")
        yield Finding(rank=rank, subject=name, value=amps, limit=limit, unit="A",
                      change=change if rank != "note" else "",
                      source=source,
                      text=f"{part}: {amps:.1f} A flow, it stands {limit:.1f} A, {told}")
    if wiring.fuse_rating is not None:
        yield from _fuse(name, amps, wiring, wire)


def _fuse(name: str, amps: float, wiring: Wiring, wire: float | None) -> Iterator[Finding]:
    fuse = wiring.fuse_rating
    assert fuse is not None
    if fuse < amps * FUSE_BELOW:
        yield Finding(rank="stop" if fuse < amps else "check", subject=name, value=amps, limit=fuse,
                      unit="A", source="common practice: 1.25 times what flows", least=True,
                      change="a fuse of 1.25 to 1.5 times the running current",
                      text=f"fuse of {fuse:.1f} A with {amps:.1f} A flowing: it may blow in flight")
    weakest = min((limit for limit in (wire, wiring.connector_rating) if limit is not None),
                  default=None)
    if weakest is not None and fuse > 2.0 * weakest:
        yield Finding(rank="check", subject=name, value=fuse, limit=2.0 * weakest, unit="A",
                      source="common practice: at most twice the weakest part",
                      change="a smaller fuse, or thicker wire and connector",
                      text=f"fuse of {fuse:.1f} A protects nothing that burns at less: wire and "
                           f"connector stand {weakest:.1f} A")


def _switch_voltage(name: str, volts: float, wiring: Wiring) -> Iterator[Finding]:
    limit = wiring.switch_voltage
    if limit is not None and volts > limit:
        yield Finding(rank="stop", subject=name, value=volts, limit=limit, unit="V",
                      source="rating as given",
                      change="a switch rated for direct current at the pack's voltage: the arc of "
                             "direct current does not go out by itself",
                      text=f"switch breaks direct current up to {limit:.0f} V, the pack rests at "
                           f"{volts:.1f} V")
    if limit is None and wiring.switch_rating is not None:
        yield Finding(rank="check", subject=name, value=volts, limit=None, unit="V",
                      change="give switch_voltage from the switch's data sheet, for direct current",
                      text=f"the pack rests at {volts:.1f} V, and up to which voltage the switch "
                           "breaks direct current is not given")


def _closing(name: str, volts: float, inside: float, wiring: Wiring) -> Iterator[Finding]:
    if wiring.switch_rating is None or inside <= 0.0:
        return
    rush = volts / inside
    rank = "check" if rush > INRUSH_MANY * wiring.switch_rating else "note"
    yield Finding(rank=rank, subject=name, value=rush, limit=INRUSH_MANY * wiring.switch_rating,
                  unit="A", source="ten times its rating for an instant, from memory",
                  change="charge the controllers' capacitors through a resistor first",
                  text=f"at the moment of closing, empty capacitors may draw up to {rush:.0f} A "
                       "(resting voltage over the resistance of pack and leads)")


def _wire(name: str, amps: float, volts: float, wiring: Wiring) -> Iterator[Finding]:
    if wiring.gauge is None or wiring.length is None:
        return
    drop = amps * float(wire_resistance(gauge=wiring.gauge, length=wiring.length))
    if drop > WIRE_DROP * volts:
        yield Finding(rank="check", subject=name, value=drop, limit=WIRE_DROP * volts, unit="V",
                      source="common practice: 3 % of the resting voltage",
                      change="thicker or shorter wire",
                      text=f"{wiring.length:.2f} m of AWG {wiring.gauge} lose {drop:.2f} V and "
                           f"turn {drop * amps:.0f} W into heat")
