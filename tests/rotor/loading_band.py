"""Band of a propeller's coefficients whose error is known, for comparison with measured ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.rotor.propeller.loading import power_with_error
from thrustlapse.rotor.stage_map import Band


@dataclass(frozen=True, kw_only=True)
class CoefficientBand:
    """Lowest and highest CT and CP [-]."""

    thrust: tuple[Array, Array]
    power: tuple[Array, Array]


def coefficient_band(*, thrust: Values, power: Values, rest_thrust: Values, advance_ratio: Values,
                     band: Band, deviations: float,
                     exit_area_ratio: Values = 0.0) -> CoefficientBand:
    """Band of the coefficients at advance ratios [-], so many standard deviations to either side.

    Parameters
    ----------
    thrust, power : array_like
        Nominal CT and CP [-]
    rest_thrust : array_like
        CT at rest at the same shaft speed [-]
    advance_ratio : array_like
        J [-]
    band : Band
        ``head``: deviation of the loading over CT at rest; ``power``: of the logarithm of the
        power above momentum theory
    deviations : float
        1 for 68 %, 1.96 for 95 %
    exit_area_ratio : array_like
        As for :func:`power_with_error`

    Notes
    -----
    Each of the two errors is moved alone; what they do to CP is added as squares, to each side.
    """
    ct, cp = np.asarray(thrust), np.asarray(power)
    load = deviations * band.head * np.abs(rest_thrust)
    spread = np.sqrt(np.log1p(band.power**2))
    ends = []
    for side in (-1.0, 1.0):
        alone = [power_with_error(thrust=ct + moved, nominal_thrust=ct, nominal_power=cp,
                                  advance_ratio=advance_ratio, excess=factor,
                                  exit_area_ratio=exit_area_ratio) - cp
                 for moved, factor in ((side * load, 1.0), (0.0, np.exp(side * deviations
                                                                       * spread)))]
        ends.append(np.asarray(cp + side * np.hypot(*alone)))
    return CoefficientBand(thrust=(np.asarray(ct - load), np.asarray(ct + load)),
                           power=(ends[0], ends[1]))
