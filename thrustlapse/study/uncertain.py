"""The answers of a comparison with their uncertainty: what every band and share is drawn from.

Frozen records, SI. An :class:`Interval` holds what nine draws in ten lie within; its errors are
standard errors of those ends, found from independent scrambles of the draws.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from thrustlapse.arrays import Array

LOW, HIGH = 0.05, 0.95
"""Shares between which bands and intervals lie: nine draws in ten [-]."""


@dataclass(frozen=True, kw_only=True)
class Interval:
    """Median, and the ends between which nine draws in ten lie, each with its standard error.

    ``known`` is the share of the draws that have a value; the rest is in no interval.
    """

    low: float
    median: float
    high: float
    low_error: float
    median_error: float
    high_error: float
    known: float


@dataclass(frozen=True, kw_only=True)
class Chance:
    """Share of the draws in which something holds, and its standard error [-]."""

    share: float
    error: float


@dataclass(frozen=True, kw_only=True)
class CurveBand:
    """Median curve and the band that holds nine draws in ten at each airspeed.

    ``known``: share of the draws that have a value at each airspeed.
    """

    low: Array
    median: Array
    high: Array
    known: Array


@dataclass(frozen=True, kw_only=True)
class Input:
    """One thing that is not known exactly.

    ``subject`` is the candidate it belongs to, empty where all share it; ``key`` the dotted key of
    the scenario, or the candidate's map with flow, head or power; ``group`` is shared by inputs
    that are correlated and so judged together.
    """

    key: str
    subject: str
    group: str
    text: str
    form: str
    nominal: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class UncertainCandidate:
    """One candidate over all draws.

    ``bands`` by quantity: installed_thrust [N], thrust_ratio (of thrust at rest), electrical_power
    [W]. ``outcomes``: draws by what becomes of the launch; ``failures``: draws by what went wrong
    at rest or on the way to the top speed. ``stops``: share of the possible draws in which a limit
    that says stop is broken, by its name; those that never are stay away.
    """

    bands: dict[str, CurveBand]
    static_thrust: Interval
    top_speed: Interval | None
    outcomes: dict[str, int]
    failures: dict[str, int]
    most_at_rest: Chance
    fastest: Chance
    stops: dict[str, Chance] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class UncertainCrossover:
    """Where one candidate overtakes another, over the draws in which it does.

    ``exists``: share of the draws in which it does, with thrust left; ``reached``: share in which
    the aircraft has more thrust than drag there, so that it gets beyond.
    """

    winner_above: str
    winner_below: str
    airspeed: Interval
    drag_area_threshold: Interval
    exists: Chance
    reached: Chance


@dataclass(frozen=True, kw_only=True)
class UncertainPair:
    """Two candidates at every airspeed: shares of the draws in which one beats the other [-].

    ``unknown``: share in which one of them has no value, so that neither counts as beaten.
    ``faster``: share in which the first has the higher top speed, where either has one.
    """

    first: str
    second: str
    first_wins: Array
    second_wins: Array
    unknown: Array
    first_faster: Chance
    second_faster: Chance
    crossovers: tuple[UncertainCrossover, ...]


@dataclass(frozen=True, kw_only=True)
class Driver:
    """What one input does to one answer.

    ``first``: share of the answer's variance that would go if this were known; ``total``: share
    that would stay if all else were known; errors as of an :class:`Interval`. ``swing_low`` and
    ``swing_high``: the answer with this input at its 16 and 84 per cent point and the rest nominal;
    ``lean``: its mean over this input alone, less the nominal answer.
    """

    key: str
    first: float
    first_error: float
    total: float
    total_error: float
    swing_low: float
    swing_high: float
    lean: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Drivers:
    """Drivers of one answer, the strongest first; ``nominal`` in the answer's unit."""

    answer: str
    unit: str
    nominal: float
    draws: int
    dropped: int
    drivers: tuple[Driver, ...]


@dataclass(frozen=True, kw_only=True)
class Leaning:
    """Where the middle of the draws is furthest from a candidate's thrust without draws.

    ``airspeed`` [m/s] there; ``away`` by what share the median is more [-], less where negative,
    ``error`` its standard error; ``begins``: lowest airspeed at which it is off by more than may
    pass untold [m/s], NaN where it nowhere is. ``causes``: share by which the mean over one input
    alone is more there [-].
    """

    airspeed: float
    away: float
    error: float
    begins: float
    causes: dict[str, float]


@dataclass(frozen=True, kw_only=True)
class UncertaintyStudy:
    """All of it. ``scrambles`` independent sets make up the ``samples`` draws. ``left_out`` of them
    would need a map that gives more than it takes: shares are of the others.

    ``crossing_shift``: largest move [m/s] of a crossover in the last of the exact flights that
    follow reading it from the grid of airspeeds: what is left is smaller. ``speed_shift``: the same
    of top speeds in results of versions that read those from the grid; 0, now that none is read.
    ``leanings`` by candidate, where drivers were asked for.
    """

    samples: int
    left_out: int
    scrambles: int
    seed: int
    airspeed: Array
    inputs: tuple[Input, ...]
    candidates: dict[str, UncertainCandidate]
    pairs: tuple[UncertainPair, ...]
    drivers: tuple[Drivers, ...]
    speed_shift: float = 0.0
    crossing_shift: float
    leanings: dict[str, Leaning] = field(default_factory=dict)
