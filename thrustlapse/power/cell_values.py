"""Usual cells: resistance and usable charge by chemistry and size, each with its spread and source.

For who does not know the cells of a pack. A measured value of the very pack is always better.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, kw_only=True)
class UsualCell:
    """A kind of cell.

    ``chemistry`` names its open-circuit curve of :data:`~thrustlapse.power.pack.CURVES`, or the
    nearest. ``resistance`` at half charge and room temperature [ohm], right within
    ``resistance_factor`` either way [-], one standard deviation of its logarithm.
    ``least_usable`` to ``most_usable``: share of its rated charge that it gives in flight before
    its cut-off [-].
    """

    words: str
    chemistry: str
    capacity: float
    resistance: float
    resistance_factor: float
    least_usable: float
    most_usable: float
    source: str

    @property
    def resistance_charge(self) -> float:
        """Resistance times capacity [ohm A s]: about the same for every size of the kind."""
        return self.resistance * self.capacity


USABLE = "usable charge: common practice, no source"

USUAL_CELLS: Mapping[str, UsualCell] = MappingProxyType({
    "high drain 21700": UsualCell(
        words="cell of 21 mm by 70 mm for tools", chemistry="NMC", capacity=4.0 * 3600.0,
        resistance=9.3e-3, resistance_factor=1.3, least_usable=0.80, most_usable=0.95,
        source="9.3 mohm between 5 and 40 A, a bench test of one high-drain 21700; capacity and "
        f"factor from memory; {USABLE}"),
    "energy 21700": UsualCell(
        words="cell of 21 mm by 70 mm for range", chemistry="NCA", capacity=4.8 * 3600.0,
        resistance=25e-3, resistance_factor=1.4, least_usable=0.75, most_usable=0.95,
        source="capacity of a measured 4.8 Ah NCA 21700; resistance 18 to 35 mohm from memory; "
        f"{USABLE}"),
    "high drain 18650": UsualCell(
        words="cell of 18 mm by 65 mm for tools", chemistry="NMC 18650", capacity=2.5 * 3600.0,
        resistance=18e-3, resistance_factor=1.4, least_usable=0.75, most_usable=0.92,
        source=f"13 to 25 mohm and 2.5 Ah from memory; {USABLE}"),
    "energy 18650": UsualCell(
        words="cell of 18 mm by 65 mm of about 2 Ah, not made for drain", chemistry="NMC 18650",
        capacity=1.9 * 3600.0, resistance=98.4e-3, resistance_factor=1.3, least_usable=0.70,
        most_usable=0.95,
        source="Schuster et al., J. Energy Storage 1 (2015) 44-53: 98.4 mohm at half charge, "
        f"1.9 Ah; factor from memory; {USABLE}"),
    "lithium polymer": UsualCell(
        words="pouch cell of model aircraft", chemistry="NMC", capacity=2.2 * 3600.0,
        resistance=5e-3, resistance_factor=1.6, least_usable=0.75, most_usable=0.90,
        source=f"3 to 8 mohm of a 2.2 Ah cell from memory; {USABLE}, that 20 % is left in it"),
})
"""Usual cells by name."""
