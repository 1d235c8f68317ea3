"""An axial or ducted fan from its dimensions: stage map, losses laid open, stall limit, band.

See :mod:`thrustlapse.rotor.axial.flow` for what the annulus model assumes,
:mod:`thrustlapse.rotor.axial.losses` for the correlations, and
:mod:`thrustlapse.rotor.axial.stall` for what happens below the stall limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.rotor.axial import losses as loss
from thrustlapse.rotor.axial.cascade import below_section_data
from thrustlapse.rotor.axial.flow import Passage, Stage, cut_stage, pass_stage, tip_speed
from thrustlapse.rotor.axial.geometry import AxialFanGeometry, acceptable, problems
from thrustlapse.rotor.axial.row import (
    DEFAULT_MODELS,
    PROFILE_MODELS,
    SECTIONS,
    TURNING_MODELS,
    AxialModels,
)
from thrustlapse.rotor.axial.stall import (
    STALL_REASONS,
    Limits,
    Shutoff,
    find_limits,
    search_top,
    shutoff,
    stalled,
)
from thrustlapse.rotor.batched_map import BatchedMap
from thrustlapse.rotor.stage_map import Band, NoMap, PointMap

GRID, LOWEST_SEARCHED = 81, 0.15
"""Flows of the search for the limits, and where it begins as a share of its top [-]."""

DEFAULT_FLOWS = 61
"""Flows of a map when none are asked for."""

HIGHEST_RELATIVE_MACH = 0.75
"""Relative Mach number above which the incompressible cascade data say too little [-];
common practice, no source."""

MEASURED_HEAD, MEASURED_POWER = 0.12, 0.12
"""Relative standard deviations of head and power that comparison with measurement leaves [-].

Root-mean-square errors against the 7-ft ducted propeller of NASA TN D-4142, as shares of the peak:
thrust coefficient 9.5 and 6.1 %, power coefficient 5.9 and 9.2 % at blade angles of 19 and 29 deg.
How its mean line acts was settled after a first look at that comparison (theory without the factor
0.74 gives 15 % in power), so the band lies between. Hub diameter and duct losses are not published
and have a part in it; chord Reynolds numbers were above 1e6, so what a small fan's add is left to
the rival models."""

HOWELL_SOLIDITY = (0.5, 2.0)
"""Solidity at the middle ring within which Howell's rule counts as a rival of the lattice [-]."""


@dataclass(frozen=True, kw_only=True)
class AxialMap(PointMap):
    """Map through points that knows its stall limit from the blades, not from its shape.

    Shutoff head may exceed the head at stall, so the highest point says nothing.
    """

    stall_limit: Values = 0.0

    @property
    def stall_flow(self) -> Array:
        return np.asarray(np.asarray(self.stall_limit) * np.asarray(self.flow_scale))


@dataclass(frozen=True, kw_only=True)
class Sections:
    """State of the rotor's rings, shape (batch..., flows, radii), hub first.

    Radius over tip radius, incidence from the ideal angle [rad], diffusion factor, W2/W1, chord
    Reynolds number, relative Mach number, load over load at stall, axial velocity behind over that
    before, swirl behind the rotor and behind the stage over tip speed, share of the mass flow.
    """

    radius_ratio: Array
    incidence: Array
    diffusion_factor: Array
    de_haller: Array
    reynolds: Array
    relative_mach: Array
    overload: Array
    rotor_swirl: Array
    stage_swirl: Array
    mass_share: Array


@dataclass(frozen=True, kw_only=True)
class AxialStage:
    """Stage map with everything that led to it; arrays of shape (batch..., flows).

    ``flow``, ``head``, ``power`` and ``swirl`` are the coefficients of
    :mod:`thrustlapse.rotor.stage_map`. ``losses`` are power coefficients by name; with
    ``head * flow`` they sum to ``power``. ``efficiency`` is NaN where the stage does not pump.
    ``stall_flow`` and ``best_flow`` have shape (batch...). ``vane_torque`` is the vanes' torque
    over rho U^2 D^3; the rotor's is half the power coefficient.
    ``outside`` marks flows past the map (choked, or far into windmilling), which are NaN, as is
    every element whose geometry has a problem.
    """

    geometry: AxialFanGeometry
    flow: Array
    head: Array
    power: Array
    swirl: Array
    efficiency: Array
    vane_torque: Array
    losses: Mapping[str, Array]
    sections: Sections
    limits: Limits
    shutoff: Shutoff
    stalled: BoolArray
    outside: BoolArray
    band: Band

    @property
    def stall_flow(self) -> Array:
        """Flow coefficient below which the stage is stalled [-]."""
        return np.asarray(self.limits.stall)

    @property
    def best_flow(self) -> Array:
        """Unstalled flow coefficient of highest efficiency [-]."""
        return np.asarray(self.limits.best)

    @property
    def stall_reason(self) -> str:
        """What stalls a single stage first."""
        return STALL_REASONS[int(self.limits.reason)]

    @property
    def map(self) -> AxialMap:
        """Map of a single stage.

        Raises
        ------
        NoMap
            If the geometry has problems, or no unstalled flow.
        ValueError
            If the stage is one of a batch (see :meth:`map_at`).
        """
        if self.head.ndim != 1:
            raise ValueError("a batch of stages has one map each: use map_at(index)")
        return self.map_at(())

    @property
    def maps(self) -> BatchedMap:
        """Maps of a batch along one axis, in one.

        Raises
        ------
        ValueError
            If any element has no map over all its flows.
        """
        bad = np.count_nonzero(~np.isfinite(self.head + self.power + self.swirl).all(axis=-1))
        if bad:
            raise NoMap(f"no map for {bad} of {self.head.shape[0]} fans: "
                             + ("; ".join(problems(self.geometry)) or "their blades stall or choke "
                                "at every flow"))
        return BatchedMap(flow=np.broadcast_to(self.flow, self.head.shape), head_points=self.head,
                          power_points=self.power, swirl_points=self.swirl,
                          stall=np.asarray(self.limits.stall),
                          row=np.arange(self.head.shape[0])[:, None], band=self.band,
                          source="axial stage from its dimensions")

    def map_at(self, index: int | tuple[int, ...]) -> AxialMap:
        """Map of one element of a batch."""
        head, power = self.head[index], self.power[index]
        inside = np.isfinite(head)
        flow = np.broadcast_to(self.flow, self.head.shape)[index][inside]
        if flow.size < 2 or not np.all(np.diff(flow) > 0.0):
            raise NoMap("; ".join(problems(self.geometry))
                        or "this rotor has no unstalled flow that the annulus passes: check the "
                        "blade angles and the shaft speed")
        return AxialMap(flow=flow, head_points=head[inside], power_points=power[inside],
                        swirl_points=self.swirl[index][inside], band=self.band,
                        stall_limit=float(np.asarray(self.limits.stall)[index]),
                        source="axial stage from its dimensions")


def axial_stage(geometry: AxialFanGeometry, *, shaft_speed: Values,
                total_pressure: Values = 101_325.0, total_temperature: Values = 288.15,
                flows: Array | None = None, radii: int = 11,
                models: AxialModels = DEFAULT_MODELS, band: bool = True) -> AxialStage:
    """Stage map of an axial or ducted fan from its dimensions, losses and stall limit included.

    Parameters
    ----------
    geometry : AxialFanGeometry
        Its scalars may be arrays of a batch
    shaft_speed : array_like
        [rad/s]; sets Reynolds and Mach number
    total_pressure, total_temperature : array_like
        Air at the rotor face [Pa], [K]
    flows : array, (..., flows), optional
        Flow coefficients, rising. By default from shutoff to a little past no head.
    radii : int
        Rings of equal area
    models : AxialModels
        Correlations to compute with
    band : bool
        Whether to run the rival correlations too, for the band

    Returns
    -------
    AxialStage
        NaN at flows outside the map and, in a batch, for every element with a bad geometry.

    Raises
    ------
    ValueError
        If no element's geometry is good, naming every problem.

    Notes
    -----
    Valid for: chord Reynolds numbers 2e4 to 3e6, relative Mach number up to 0.75, axial inflow.
    Windage of the hub's back face is left out.
    """
    good = acceptable(geometry)
    if not good.any():
        raise ValueError("; ".join(problems(geometry)))
    stage = cut_stage(geometry, shaft_speed=shaft_speed, total_pressure=total_pressure,
                      total_temperature=total_temperature, radii=radii)
    top = np.where(good, search_top(stage), np.nan)
    grid = top[..., None] * np.linspace(LOWEST_SEARCHED, 1.0, GRID)
    limits = find_limits(grid, pass_stage(stage, flow=grid, models=models))
    flow = default_flows(limits) if flows is None else np.asarray(flows, dtype=float)
    bounds = np.stack([limits.lowest, limits.highest], axis=-1)
    flow = np.broadcast_to(flow, (*np.broadcast_shapes(flow.shape[:-1], bounds.shape[:-1]),
                                  flow.shape[-1]))
    bounds = np.broadcast_to(bounds, (*flow.shape[:-1], 2))
    # flows the blade model does not reach are computed at its end, then replaced
    within = np.minimum(np.maximum(flow, bounds[..., :1]), bounds[..., 1:])
    passage = pass_stage(stage, flow=np.concatenate([bounds[..., :1], within], axis=-1),
                         models=models)
    result = _assemble(geometry, stage, flow=flow, limits=limits, passage=passage)
    if not band:
        return result
    return _with_band(result, stage, models)


def default_flows(limits: Limits) -> Array:
    """Flows from shutoff to the end of the map, few on the straight line below stall."""
    low, high = np.asarray(limits.lowest)[..., None], np.asarray(limits.highest)[..., None]
    share = np.linspace(0.0, 1.0, DEFAULT_FLOWS - 2)
    return np.concatenate([0.0 * low, 0.5 * low, (1.0 - share) * low + share * high], axis=-1)


def _assemble(geometry: AxialFanGeometry, stage: Stage, flow: Array, limits: Limits,
              passage: Passage) -> AxialStage:
    """Blade model above ``limits.lowest``, straight line to the shutoff estimate below."""
    square = (tip_speed(stage) ** 2)[..., 0]
    low = np.asarray(limits.lowest)[..., None]
    still = shutoff(stage)
    outside = ~(flow <= np.asarray(limits.highest)[..., None]) | (flow < 0.0)
    below = flow < low
    share = np.where(below, flow / low, 1.0)

    def run(values: Array, at_rest: Array) -> Array:
        ends = values[..., :1]
        line = np.asarray(at_rest)[..., None] + share * (ends - np.asarray(at_rest)[..., None])
        return np.where(outside, np.nan, np.where(below, line, values[..., 1:]))

    head = run(passage.head[..., 0] / square, still.head)
    reached = np.concatenate([low + 0.0 * flow[..., :1], flow], axis=-1)
    power = run(reached * passage.work[..., 0] / square, still.power)
    swirl = run(passage.swirl[..., 0] / np.sqrt(square), np.zeros_like(still.head))
    losses = {name: np.where(outside, np.nan, np.where(
        below, 0.0, flow * values[..., 1:, 0] / square)) for name, values in passage.losses.items()}
    losses["stalled flow"] = np.where(outside, np.nan, np.where(below, power - head * flow, 0.0))
    pumping = (head >= 0.0) & (power > 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        efficiency = np.where(pumping, head * flow / power, np.nan)
    return AxialStage(
        geometry=geometry, flow=flow, head=head, power=power, swirl=swirl, efficiency=efficiency,
        vane_torque=np.where(below | outside, np.nan,
                             _vane_torque(stage, passage, reached)[..., 1:]), losses=losses,
        sections=_sections(stage, passage, below | outside), limits=limits, shutoff=still,
        stalled=stalled(flow, limits), outside=outside,
        band=Band(head=MEASURED_HEAD, power=MEASURED_POWER, basis="comparison with measurement"))


def _vane_torque(stage: Stage, passage: Passage, flow: Array) -> Array:
    change = stage.rotor.radius * (passage.rotor_swirl - passage.stage_swirl)
    mean = np.sum(passage.mass_share * change, axis=-1)
    return np.asarray(flow * mean / (tip_speed(stage) * stage.diameter)[..., 0])


def _sections(stage: Stage, passage: Passage, unknown: BoolArray) -> Sections:
    def seen(values: Array) -> Array:
        return np.where(unknown[..., None], np.nan, values[..., 1:, :])

    rotor, u = passage.rotor, tip_speed(stage)
    ratio = stage.rotor.radius / (0.5 * stage.diameter)
    return Sections(
        radius_ratio=np.asarray(ratio[..., 0, :]), incidence=seen(rotor.incidence),
        diffusion_factor=seen(rotor.diffusion_factor), de_haller=seen(rotor.de_haller),
        reynolds=seen(rotor.reynolds), relative_mach=seen(passage.relative_mach),
        overload=seen(rotor.overload), rotor_swirl=seen(passage.rotor_swirl / u),
        stage_swirl=seen(passage.stage_swirl / u), mass_share=seen(passage.mass_share))


def _with_band(result: AxialStage, stage: Stage, models: AxialModels) -> AxialStage:
    """Add the spread of the rival correlations to what measurement left."""
    best, stall = result.best_flow, np.asarray(result.limits.stall)
    flow = np.stack([0.5 * (stall + best), best, 1.1 * best], axis=-1)
    flow = np.minimum(flow, np.asarray(result.limits.highest)[..., None])
    chosen = pass_stage(stage, flow=flow, models=models)
    spread = [_rms_difference(chosen, pass_stage(stage, flow=flow, models=rival))
              for rival in _rivals(stage, models)]
    head = float(np.hypot(MEASURED_HEAD, np.sqrt(sum(a * a for a, _ in spread))))
    power = float(np.hypot(MEASURED_POWER, np.sqrt(sum(b * b for _, b in spread))))
    basis = ("comparison with measurement "
             f"({100 * MEASURED_HEAD:.0f} % head, {100 * MEASURED_POWER:.0f} % power) "
             "and spread of rival turning, profile-loss and low-Reynolds correlations")
    return replace(result, band=Band(head=head, power=power, basis=basis))


def _rivals(stage: Stage, models: AxialModels) -> list[AxialModels]:
    """The same models with one of them changed for its rival at a time."""
    rivals = [replace(models, **{name: words[1 - words.index(getattr(models, name))]})
              for name, words in (("profile", PROFILE_MODELS), ("section", SECTIONS))]
    solidity = stage.rotor.solidity[..., stage.rotor.solidity.shape[-1] // 2]
    if np.all((solidity >= HOWELL_SOLIDITY[0]) & (solidity <= HOWELL_SOLIDITY[1])):
        other = TURNING_MODELS[1 - TURNING_MODELS.index(models.turning)]
        rivals.append(replace(models, turning=other))
    return rivals


def _rms_difference(one: Passage, other: Passage) -> tuple[float, float]:
    """Relative difference of head and work where both have an answer; zero where nothing does."""
    both = one.found & other.found & (one.head > 0.0)
    if not both.any():
        return 0.0, 0.0
    return (float(np.sqrt(np.mean(np.square(other.head[both] / one.head[both] - 1.0)))),
            float(np.sqrt(np.mean(np.square(other.work[both] / one.work[both] - 1.0)))))


def notes(result: AxialStage) -> list[str]:
    """What a single stage should speak up about at its best flow, with number and limit."""
    at = result.sections
    known = np.isfinite(at.reynolds).any(axis=-1)
    if not known.any():
        return []
    place = int(np.argmin(np.where(known, np.abs(result.flow - result.best_flow), np.inf)))
    said = []
    checks = (
        ("diffusion factor", np.nanmax(at.diffusion_factor[place]), loss.DESIGN_DIFFUSION_FACTOR,
         1, "more chord or less turning"),
        ("de Haller number W2/W1", np.nanmin(at.de_haller[place]), loss.DESIGN_DE_HALLER, -1,
         "less turning at the hub or a larger hub"),
        ("relative Mach number", np.nanmax(at.relative_mach[place]), HIGHEST_RELATIVE_MACH, 1,
         "the loss model is blind to shocks: less speed"),
    )
    for name, value, limit, side, advice in checks:
        if side * value > side * limit:
            said.append(f"{name} {value:.2f} at best flow, limit {limit:.2f}: {advice}")
    reynolds = float(np.nanmin(at.reynolds[place]))
    if below_section_data(reynolds=reynolds):
        said.append(f"chord Reynolds number {reynolds:.0f} at best flow is below every measured "
                    "section used (60000): the turning is an assumption")
    return said
