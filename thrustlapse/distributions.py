"""What a quantity may be besides its nominal value: a spread, by its form and its width.

A scenario writes spreads, a study draws from them; neither knows the other, so the record is here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array

FORMS = ("normal", "lognormal", "uniform", "triangular")
"""Forms of a spread."""

REACH = 4.0
"""Standard deviations at which a normal or lognormal spread ends [-]. One draw in 16,000 would lie
beyond; cutting it there takes 0.05 % off the standard deviation."""


@dataclass(frozen=True, kw_only=True)
class Spread:
    """A quantity that is not known exactly.

    Parameters
    ----------
    key : str
        Dotted key of the scenario
    nominal : float
        Value used where nothing is drawn, SI: mean of a normal, median of a lognormal, middle of a
        uniform, peak of a triangular spread
    form : str
        One of :data:`FORMS`
    deviation : float
        Standard deviation of a normal spread, SI; of the logarithm for a lognormal one [-]
    low, high : float
        Ends of a uniform or triangular spread, SI; given, they cut a normal or lognormal
        one
    peak : float
        Likeliest value of a triangular spread, SI; the nominal value where not given
    text : str
        As the scenario writes it
    """

    key: str = ""
    nominal: float
    form: str
    deviation: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    peak: float = float("nan")
    text: str = ""

    def quantile(self, share: Array) -> Array:
        """Value below which a share of the draws lies."""
        from scipy.special import ndtr, ndtri

        u = np.asarray(share, dtype=float)
        if self.form in ("normal", "lognormal"):
            least, most = ndtr(np.array(self._reach()))
            z = ndtri(least + u * (most - least))
            if self.form == "normal":
                return np.asarray(self.nominal + self.deviation * z)
            return np.asarray(self.nominal * np.exp(self.deviation * z))
        width = self.high - self.low
        if self.form == "uniform":
            return np.asarray(self.low + width * u)
        top = self.nominal if np.isnan(self.peak) else self.peak
        peak = (top - self.low) / width
        rising = np.sqrt(u * peak)
        falling = 1.0 - np.sqrt((1.0 - u) * (1.0 - peak))
        return np.asarray(self.low + width * np.where(u < peak, rising, falling))

    def _reach(self) -> tuple[float, float]:
        """Standard deviations off the nominal at which a normal or lognormal spread ends."""
        if self.form == "lognormal":
            ends = (np.log(self.low / self.nominal), np.log(self.high / self.nominal))
        else:
            ends = (self.low - self.nominal, self.high - self.nominal)
        low, high = (float(end / self.deviation) for end in ends)
        return (max(-REACH, low) if np.isfinite(low) else -REACH,
                min(REACH, high) if np.isfinite(high) else REACH)

    @property
    def ends(self) -> tuple[float, float]:
        """Least and greatest value that is ever drawn, SI."""
        low, high = self.quantile(np.array([0.0, 1.0])).tolist()
        return low, high


@dataclass(frozen=True, kw_only=True)
class Sampling:
    """How a scenario's spreads are to be worked through.

    ``samples`` draws in all, 0 for none; ``seed`` of the draws; ``airspeeds`` over which every
    draw is flown; ``drivers`` whether to ask what drives the answers.
    """

    samples: int = 256
    seed: int = 1
    airspeeds: int = 60
    drivers: bool = True
