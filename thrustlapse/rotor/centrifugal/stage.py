"""A centrifugal machine from its dimensions: the map from shutoff to choke, losses laid open.

    stage = centrifugal_stage(geometry, shaft_speed=..., total_pressure=..., total_temperature=...)
    stage.map                     the PointMap, with its band
    stage.points.power_terms()    where the power goes at every flow
    stage.map_at((3,))            the same for one element of a batch of geometries
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from thrustlapse.air.atmosphere import sutherland_viscosity
from thrustlapse.arrays import Array, IntArray, Values, batch_shape, take
from thrustlapse.rotor.batched_map import BatchedMap
from thrustlapse.rotor.centrifugal.euler import blade_speed, density_of
from thrustlapse.rotor.centrifugal.geometry import CentrifugalGeometry, is_sound, problems
from thrustlapse.rotor.centrifugal.impeller import eye_choke_flow, inducer_chokes_first
from thrustlapse.rotor.centrifugal.losses import recirculation_loss_steep
from thrustlapse.rotor.centrifugal.points import LIMITS, CentrifugalPoints, centrifugal_points
from thrustlapse.rotor.centrifugal.slip import WIESNER_SCATTER, slip_spread
from thrustlapse.rotor.reynolds import machine_reynolds
from thrustlapse.rotor.stage_map import Band, NoMap, PointMap

LOSS_UNCERTAINTY = 0.35
"""Relative standard deviation of the summed head losses [-]; judgement, from rival correlations.

The rivals tested beside each loss differ by factors of 1.5 to 3 singly.
"""

PARASITIC_UNCERTAINTY = 0.5
"""Relative standard deviation of the summed parasitic power [-]; judgement, as above."""

FLOW_UNCERTAINTY = 0.08
"""Relative standard deviation of the flow coefficients [-]; judgement.

Blockage of the passages by boundary layers (5 to 10 %) is not modelled.
"""

LARGE_REYNOLDS, SMALL_REYNOLDS = 9.0e6, 1.3e6
"""Reynolds numbers on tip speed and diameter of the measured machines, their geometric means [-].

Two large ones (a 400 mm impeller, a 432 mm stage: 5.6e6 to 1.4e7) and a whole one of 56 mm (0.9e6
to 1.9e6).
"""

LARGE_ERRORS, SMALL_ERRORS = (0.05, 0.02), (0.11, 0.11)
"""Root-mean-square errors found on them, of pressure rise and of work [-]; they stand for those of
head and power, though a rise errs by more than its head, the more the higher it is.

Of the large ones, whose dimensions are known, at every measured point. Of the small one, whose
dimensions were sought inside those of eight published wheels, along each line when the wheel was
fitted to the other two, each the least error within the 3 % to which flow was read: a steep line
hides some. One set of constants does too much work at small size. The tests compute all four anew.
"""

STEEPEST_ANGLE = float(np.deg2rad(78.0))
"""Exit flow angle up to which the steep rival for recirculation is worth comparing with [rad]."""

WORKING_SHARE = 0.75
"""Share of the flows spent between shutoff and a little beyond free delivery [-]."""

BEYOND_FREE_DELIVERY = 1.15
"""Where that part ends, over the flow of no head [-]."""

LOWEST_HEAD = -1.0
"""Head coefficient at which a map ends if nothing has choked before [-].

A slow machine is blown through long before anything chokes; what the correlations say there is
worth nothing.
"""

BLOWN_THROUGH = len(LIMITS)
ENDS = (*LIMITS, "head falls below -U^2")
"""What may end a map, by the index in :attr:`CentrifugalStage.end`."""

SEARCH_POINTS, SEARCH_PASSES = 40, 3
"""The end of a map is found to 1 / 39^3 of the eye's choking flow."""


@dataclass(frozen=True, kw_only=True)
class CentrifugalStage:
    """A centrifugal machine over its flows, at one shaft speed and inlet state each.

    Parameters
    ----------
    points : CentrifugalPoints
        Every quantity over the flow coefficient, which is the last axis
    highest_flow : array
        Largest flow coefficient of the map [-]; NaN for bad geometry
    end : array of int
        What ends it there; index into :data:`ENDS`
    eye_choke_flow : array
        Largest flow coefficient that eye and inducer pass [-]
    """

    geometry: CentrifugalGeometry
    shaft_speed: Values
    total_pressure: Values
    total_temperature: Values
    points: CentrifugalPoints
    highest_flow: Array
    end: IntArray
    eye_choke_flow: Array

    @property
    def map(self) -> PointMap:
        """Map of a single machine.

        Raises
        ------
        ValueError
            For a batch; see :meth:`map_at`.
        """
        if self.highest_flow.shape != ():
            raise ValueError(f"a batch of {self.highest_flow.shape} machines has no single map: "
                             "use map_at")
        return self.map_at(())

    def map_at(self, index: tuple[int, ...]) -> PointMap:
        """Map of one element of a batch.

        Raises
        ------
        NoMap
            If that element's geometry is bad, or raises no head at any flow.
        """
        flow, head = self.points.flow[index], self.points.head[index]
        if not np.isfinite(head).all():
            raise NoMap(f"this wheel has no flow from shutoff on: {self.end_at(index)}")
        if not np.any(head[flow > 0.0] > 0.0):
            raise NoMap("this wheel raises no head at any flow: check scroll, clearance and width")
        return PointMap(flow=flow, head_points=head, power_points=self.points.power[index],
                        band=self.band_at(index), source="mean-line model from dimensions")

    @property
    def maps(self) -> BatchedMap:
        """Maps of a batch along one axis, in one; the band is that of the middle element.

        Raises
        ------
        ValueError
            If any element's geometry is bad.
        """
        bad = np.flatnonzero(~np.isfinite(self.points.head).all(axis=-1))
        if bad.size:
            raise NoMap(f"no map for {bad.size} of {self.highest_flow.size} machines, the "
                             f"first: {self.end_at((int(bad[0]),))}")
        return BatchedMap(flow=self.points.flow, head_points=self.points.head,
                          power_points=self.points.power,
                          row=np.arange(self.highest_flow.size)[:, None],
                          band=self.band_at((self.highest_flow.size // 2,)),
                          source="mean-line model from dimensions")

    def end_at(self, index: tuple[int, ...] = ()) -> str:
        """What ends the map of one element at its highest flow, in words."""
        return ENDS[int(self.end[index])]

    @property
    def stall_flow(self) -> Array:
        """Flow coefficient of the highest head: surge threatens below it [-]."""
        return self._at(self._index(self.points.head), self.points.flow)

    @property
    def best_flow(self) -> Array:
        """Flow coefficient of the best efficiency [-]."""
        return self._at(self._index(self._pumping), self.points.flow)

    @property
    def best_efficiency(self) -> Array:
        """Best isentropic efficiency of wheel and scroll, total to total, without motor [-]."""
        return self._at(self._index(self._pumping), self.points.efficiency)

    def mass_flow(self, flow: Values) -> Array:
        """Mass flow at a flow coefficient, at this speed and inlet state [kg/s]."""
        density = density_of(pressure=self.total_pressure, temperature=self.total_temperature)
        speed = tip_speed(self.geometry, shaft_speed=self.shaft_speed)
        return np.asarray(np.asarray(flow) * density * speed
                          * np.square(self.geometry.outlet_diameter))

    def loss_shares(self) -> dict[str, Array]:
        """Share of the shaft power that each term takes at every flow; they add up to 1 [-]."""
        return {name: np.asarray(term / self.points.power)
                for name, term in self.points.power_terms().items()}

    def band_at(self, index: tuple[int, ...] = ()) -> Band:
        """How far the map of one element may be trusted, at its best efficiency.

        Work: the larger of the spread among the slip models and of the scatter of measurements
        about Wiesner's. Losses: :data:`LOSS_UNCERTAINTY`, :data:`PARASITIC_UNCERTAINTY`, and half
        of what the steep rival adds to the recirculation. Never less than what was found on
        measured machines of this size: :func:`measured_errors`.

        A third large machine, of doubtful readings, has 10 % more work than computed. Efficiency
        is that of wheel and scroll, isentropic, total to total, without motor: the 56 mm machine
        reaches 0.80 where this model says 0.71, published small compressors 0.65 to 0.78. Whole
        small units, motor and controller included, are found at 0.25 to 0.65.
        """
        p = self.points
        best = (*index, int(np.nanargmax(self._pumping[index])))
        g = take(self.geometry, self.highest_flow.shape, _flat(index, self.highest_flow.shape))
        models = float(np.squeeze(slip_spread(blades=g.effective_blades, exit_angle=g.exit_angle,
                                              radius_ratio=g.radius_ratio)))
        work = max(models, WIESNER_SCATTER)
        lost = sum(float(each[best]) for each in p.internal.values())
        wasted = sum(float(each[best]) for each in p.parasitic.values())
        steep = float(recirculation_loss_steep(
            diffusion_factor=p.diffusion_factor[best], tip_speed=1.0,
            exit_flow_angle=min(float(p.exit_flow_angle[best]), STEEPEST_ANGLE)))
        through = float(p.flow[best])
        rival = 0.5 * abs(through * steep - float(p.parasitic["recirculation"][best]))
        head = np.hypot(work, LOSS_UNCERTAINTY * lost) / float(p.head[best])
        power = np.linalg.norm([through * work, PARASITIC_UNCERTAINTY * wasted, rival])
        found = measured_errors(reynolds=float(self.reynolds[index]))
        return Band(flow=FLOW_UNCERTAINTY, head=max(float(head), float(found[0])),
                    power=max(float(power / p.power[best]), float(found[1])),
                    basis=f"slip {work:.3f} of U (models spread {models:.3f}, measurements about "
                          f"Wiesner's {WIESNER_SCATTER:.3f}), losses {LOSS_UNCERTAINTY:.0%}, "
                          f"parasitic power {PARASITIC_UNCERTAINTY:.0%} and rival recirculation, "
                          f"flow {FLOW_UNCERTAINTY:.0%} by judgement; at least {found[0]:.0%} and "
                          f"{found[1]:.0%}, found on two measured machines of 400 mm and one of "
                          "56 mm of unknown dimensions; against a measured 70 mm blower of "
                          "unknown wheel, lines from sealed to open miss by 0.13 rms of the "
                          "sealed head")

    @property
    def reynolds(self) -> Array:
        """Reynolds number on tip speed and diameter, of the air before the eye [-]."""
        density = density_of(pressure=self.total_pressure, temperature=self.total_temperature)
        return np.broadcast_to(machine_reynolds(
            shaft_speed=self.shaft_speed, diameter=self.geometry.outlet_diameter, density=density,
            viscosity=sutherland_viscosity(temperature=self.total_temperature)),
            self.highest_flow.shape)

    @property
    def _pumping(self) -> Array:
        """Efficiency where head is raised, NaN elsewhere."""
        return np.where(self.points.head > 0.0, self.points.efficiency, np.nan)

    def _index(self, value: Array) -> IntArray:
        held = np.where(np.isfinite(value), value, -np.inf)
        return np.asarray(held.argmax(axis=-1))

    def _at(self, index: IntArray, value: Array) -> Array:
        found = np.take_along_axis(value, index[..., None], axis=-1)[..., 0]
        return np.where(np.isfinite(self.highest_flow), found, np.nan)


def measured_errors(*, reynolds: Values) -> tuple[Array, Array]:
    """Standard deviations of head and power found on machines of a Reynolds number [-].

    Straight in the logarithm of the Reynolds number (on tip speed and diameter) between large and
    small machines, and on below, where nothing was measured; those of the large ones above.
    """
    share = (np.log(LARGE_REYNOLDS / np.asarray(reynolds))
             / np.log(LARGE_REYNOLDS / SMALL_REYNOLDS))
    head, power = (large + (small - large) * np.maximum(share, 0.0)
                   for large, small in zip(LARGE_ERRORS, SMALL_ERRORS, strict=True))
    return np.asarray(head), np.asarray(power)


def centrifugal_stage(geometry: CentrifugalGeometry, *, shaft_speed: Values,
                      total_pressure: Values, total_temperature: Values,
                      flows: int = 200) -> CentrifugalStage:
    """Map of a centrifugal machine from shutoff to choke, with every loss at every flow.

    A machine too slow to choke is followed until it is blown through (:data:`LOWEST_HEAD`).

    Parameters
    ----------
    geometry : CentrifugalGeometry
        One machine, or a batch (then the flows are a new last axis)
    shaft_speed : array_like
        Speed the map is computed at [rad/s]; compressibility and Reynolds number belong to it
    total_pressure, total_temperature : array_like
        In front of the eye [Pa], [K]
    flows : int
        Number of flow coefficients; three quarters of them lie between shutoff and a little
        beyond free delivery

    Raises
    ------
    ValueError
        If no element's geometry is sound, naming every fault. In a batch with some sound
        elements the others are NaN and their ``end`` says so.

    Notes
    -----
    Order of trust: the work (slip) first, then the head near the best efficiency, then choke, then
    shutoff, where the exchange of air at the rim is anchored and not modelled
    (:func:`thrustlapse.rotor.centrifugal.losses.exchange_flow`), then the far side of free
    delivery, where the incidence loss is extrapolated.
    """
    if not is_sound(geometry).any():
        raise ValueError("; ".join(problems(geometry)))
    spread = _with_flow_axis(geometry)
    state = {"shaft_speed": _last_axis(shaft_speed), "total_pressure": _last_axis(total_pressure),
             "total_temperature": _last_axis(total_temperature)}
    shape = np.broadcast_shapes(batch_shape(geometry), np.shape(shaft_speed),
                                np.shape(total_pressure), np.shape(total_temperature))
    eye = np.broadcast_to(eye_choke_flow(geometry, shaft_speed=shaft_speed,
                                         total_temperature=total_temperature), shape)
    highest, end = _end(spread, state, eye)
    inducer = inducer_chokes_first(geometry, shaft_speed=shaft_speed,
                                   total_temperature=total_temperature)
    only_eye = np.where(inducer, ENDS.index("inducer chokes"), ENDS.index("eye chokes"))
    flow = _flow_axis(spread, state, highest, flows)
    return CentrifugalStage(geometry=geometry, shaft_speed=shaft_speed,
                            total_pressure=total_pressure, total_temperature=total_temperature,
                            points=centrifugal_points(spread, flow=flow, **state),
                            highest_flow=highest, end=np.where(end == 0, only_eye, end),
                            eye_choke_flow=np.asarray(eye))


def tip_speed(geometry: CentrifugalGeometry, *, shaft_speed: Values) -> Array:
    """Speed of the impeller's rim [m/s]."""
    return blade_speed(shaft_speed=shaft_speed, diameter=geometry.outlet_diameter)


def _last_axis(value: Values) -> Array:
    return np.asarray(value, float)[..., None]


def _with_flow_axis(geometry: CentrifugalGeometry) -> CentrifugalGeometry:
    arrays: dict[str, Any] = {f.name: value[..., None] for f in fields(geometry)
                              if isinstance(value := getattr(geometry, f.name), np.ndarray)}
    return replace(geometry, **arrays)


def _flat(index: tuple[int, ...], shape: tuple[int, ...]) -> IntArray:
    place = np.ravel_multi_index(index, shape) if shape else 0
    return np.array([place], dtype=np.int64)


def _end(geometry: CentrifugalGeometry, state: dict[str, Array],
         eye: Array) -> tuple[Array, IntArray]:
    """Largest flow coefficient of a map, and what stops a larger one; 0 where only the eye does.

    Each pass keeps the interval between the last flow that is sound and the first that is not.
    """
    share = np.linspace(0.0, 1.0, SEARCH_POINTS)
    low, high = np.zeros_like(eye), np.array(eye)
    end = np.zeros(eye.shape, dtype=np.int64)
    for _ in range(SEARCH_PASSES):
        flow = low[..., None] + (high - low)[..., None] * share
        points = centrifugal_points(geometry, flow=flow, **state)
        found = np.where(points.head < LOWEST_HEAD, BLOWN_THROUGH, points.limit)
        broken = found != 0
        first = np.where(broken.any(axis=-1), broken.argmax(axis=-1), SEARCH_POINTS)
        stop = np.minimum(first, SEARCH_POINTS - 1)[..., None]
        reached = np.maximum(first - 1, 0)[..., None]
        end = np.where(first < SEARCH_POINTS, np.take_along_axis(found, stop, axis=-1)[..., 0], end)
        low = np.take_along_axis(flow, reached, axis=-1)[..., 0]
        high = np.take_along_axis(flow, stop, axis=-1)[..., 0]
        low = np.where(first == 0, np.nan, low)
    return np.asarray(low), np.asarray(end)


def _flow_axis(geometry: CentrifugalGeometry, state: dict[str, Array], end: Array,
               flows: int) -> Array:
    """Flow coefficients from zero to the end, close together where machines work."""
    share = np.linspace(0.0, 1.0, SEARCH_POINTS)
    flow = end[..., None] * share
    head = centrifugal_points(geometry, flow=flow, **state).head
    spent = head <= 0.0
    first = np.maximum(spent.argmax(axis=-1), 1)[..., None]
    before = np.take_along_axis(head, first - 1, axis=-1)[..., 0]
    behind = np.take_along_axis(head, first, axis=-1)[..., 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        # a head that falls as the square of the flow between the two
        part = np.sqrt(before / (before - behind))
    free = (share[first[..., 0] - 1] + part * (share[1] - share[0])) * BEYOND_FREE_DELIVERY
    knee = np.where(spent.any(axis=-1), np.minimum(free, WORKING_SHARE), WORKING_SHARE)[..., None]
    place = np.linspace(0.0, 1.0, flows)
    inner = place / WORKING_SHARE * knee
    outer = knee + (place - WORKING_SHARE) / (1.0 - WORKING_SHARE) * (1.0 - knee)
    return np.asarray(np.where(place < WORKING_SHARE, inner, outer) * end[..., None])
