"""The annulus of an axial stage: rotor at several radii in radial equilibrium, then vanes.

What is simplified: the air reaches the rotor axially and evenly; rings of equal area keep their
radius (no shift of stream surfaces); axial velocity within a blade row is the mean of before and
behind (actuator disc); behind the rotor the radial balance is that of straight stream surfaces

    d(Vx^2 / 2)/dr = dh0/dr - (Vt / r) d(r Vt)/dr

Losses are spread over the whole flow by radial mixing, so no entropy gradient appears. (Kept ring
by ring, a hub at a diffusion factor of 0.46 slows itself to a stop, 15 % below design flow; fans
do not do that.) The vanes leave axial velocity as it is. Air that passes the tips through the gap
takes no work.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from thrustlapse.air.atmosphere import sutherland_viscosity
from thrustlapse.air.gas import (
    GAMMA,
    GAS_CONSTANT,
    SPECIFIC_HEAT,
    mach_from_mass_flow_function,
    temperature_ratio,
)
from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.rotor.axial import losses as loss
from thrustlapse.rotor.axial.geometry import AxialFanGeometry
from thrustlapse.rotor.axial.row import AxialModels, Row, RowFlow, cut_row, pass_row

ROUNDS = 50
RELAXATION = 0.25
"""Most rounds of the radial balance, and the share of the first change that is taken."""

SETTLED = 1e-9
"""Change of axial velocity, over its mean, at which a flow is left alone."""

THINNED = 0.8
"""Share of flows still moving below which the others are left out of the rounds."""

ACCEPTED = 1e-5
"""Largest change, over the mean, left after the last round of a balance that counts as found."""

REVERSED_SHARE = 0.1
"""Axial velocity behind the rotor, over its mean, below which a ring is taken to flow back."""

class Stage(NamedTuple):
    """A stage cut at its radii and set turning in a given air; (batch..., 1, radii or 1)."""

    rotor: Row
    vanes: Row | None
    clearance: Array
    area: Array
    annulus: Array
    diameter: Array
    shaft_speed: Array
    total_pressure: Array
    total_temperature: Array


class Passage(NamedTuple):
    """What the blade model says at each flow; means have shape (batch..., flows, 1).

    Works and losses are per unit mass [J/kg], ``swirl`` is that left behind the stage [m/s].
    ``found`` is where the balance exists; elsewhere the numbers mean nothing.
    """

    work: Array
    head: Array
    swirl: Array
    losses: dict[str, Array]
    found: BoolArray
    choked: BoolArray
    reversed_hub: BoolArray
    axial_out: Array
    rotor_swirl: Array
    stage_swirl: Array
    mass_share: Array
    rotor: RowFlow
    vanes: RowFlow | None
    relative_mach: Array


def cut_stage(geometry: AxialFanGeometry, *, shaft_speed: Values, total_pressure: Values,
              total_temperature: Values, radii: int) -> Stage:
    """Stage cut at the middles of ``radii`` rings of equal area."""
    def wide(value: Values) -> Array:
        return np.asarray(value, dtype=float)[..., None, None]

    tip, hub = 0.5 * wide(geometry.tip_diameter), 0.5 * wide(geometry.hub_diameter)
    gap = wide(geometry.tip_clearance)
    share = (np.arange(radii) + 0.5) / radii
    radius = np.sqrt(hub**2 + share * (tip**2 - hub**2))
    common = {"radius": radius, "tip_radius": tip, "roughness": wide(geometry.roughness)}
    rotor = cut_row(height=tip - hub, count=wide(geometry.blade_count), station=geometry.station,
                    chord=geometry.chord, stagger=geometry.stagger, camber=geometry.camber,
                    **common)
    vanes = None
    if geometry.vanes is not None:
        v = geometry.vanes
        vanes = cut_row(height=tip + gap - hub, count=wide(v.count), station=v.station,
                        chord=v.chord, stagger=v.stagger, camber=v.camber, **common)
    annulus = np.pi * ((tip + gap) ** 2 - hub**2)
    return Stage(rotor=rotor, vanes=vanes, clearance=gap, annulus=annulus,
                 area=annulus * (1.0 - wide(geometry.blockage)), diameter=2.0 * tip,
                 shaft_speed=wide(shaft_speed), total_pressure=wide(total_pressure),
                 total_temperature=wide(total_temperature))


def tip_speed(stage: Stage) -> Array:
    """Speed of the blade tips [m/s]."""
    return np.asarray(0.5 * stage.diameter * stage.shaft_speed)


def pass_stage(stage: Stage, *, flow: Array, models: AxialModels) -> Passage:
    """Flow through the stage at flow coefficients of shape (batch..., flows)."""
    phi = np.asarray(flow, dtype=float)[..., None]
    u = tip_speed(stage)
    dense = stage.total_pressure / (GAS_CONSTANT * stage.total_temperature)
    flux = phi * dense * u * stage.diameter**2 / stage.area
    function = flux * np.sqrt(GAS_CONSTANT * stage.total_temperature / GAMMA) / stage.total_pressure
    mach = mach_from_mass_flow_function(flow_function=function)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        return _balance(stage, flux, mach, models)


class _Inflow(NamedTuple):
    """Air before the rotor, and the mass flux behind it; (batch..., flows, 1)."""

    axial: Array
    temperature: Array
    density: Array
    viscosity: Array
    flux: Array


class _Moving(NamedTuple):
    """Axial velocity behind the rotor, its last change (batch..., flows, radii), and the share of
    that which was taken (batch..., flows, 1): none where a flow is left alone."""

    axial: Array
    change: Array
    step: Array


def _balance(stage: Stage, flux: Array, mach: Array, models: AxialModels) -> Passage:
    temperature = stage.total_temperature * temperature_ratio(mach=mach)
    pressure = stage.total_pressure * temperature_ratio(mach=mach) ** (GAMMA / (GAMMA - 1.0))
    density = pressure / (GAS_CONSTANT * temperature)
    before = mach * np.sqrt(GAMMA * GAS_CONSTANT * temperature)
    inflow = _Inflow(axial=before, temperature=temperature, density=density,
                     viscosity=sutherland_viscosity(temperature=temperature), flux=flux)
    axial = before + np.zeros_like(stage.shaft_speed * stage.rotor.radius)
    moving = _settled(stage, inflow, models, _Moving(axial, np.zeros_like(axial),
                                                     np.zeros_like(before)))
    moving, rotor, swirl, exists, dense = _round(stage, inflow, models, moving)
    axial = moving.axial
    left = np.max(np.abs(moving.change), axis=-1, keepdims=True) / before
    mean = flux / dense.mean(axis=-1, keepdims=True)
    lowest = np.min(axial, axis=-1, keepdims=True)
    found = (left < ACCEPTED) & exists & (lowest > REVERSED_SHARE * mean)
    share = density * before + dense * axial
    share = share / share.sum(axis=-1, keepdims=True)
    relative = rotor.inlet_speed / np.sqrt(GAMMA * GAS_CONSTANT * temperature)
    return _account(stage, models, found=found, choked=~np.isfinite(mach), axial_in=before,
                    axial_out=axial, rotor_swirl=swirl, mass_share=share, rotor=rotor,
                    relative_mach=relative, temperature=temperature, density=dense,
                    viscosity=inflow.viscosity)


def _settled(stage: Stage, inflow: _Inflow, models: AxialModels, moving: _Moving,
             rounds: int = ROUNDS - 1) -> _Moving:
    """Rounds of the radial balance until every flow is left alone; those that are, or that have no
    axial velocity at all, take part in no more."""
    for left in range(rounds - 1, -1, -1):
        moving, *_ = _round(stage, inflow, models, moving)
        goes = (moving.step[..., 0] > 0.0) & np.isfinite(moving.axial[..., 0])
        if np.mean(goes) < THINNED:
            if goes.any():
                few = _settled(_flows_of(stage._replace(vanes=None), goes), _flows_of(inflow, goes),
                               models, _flows_of(moving, goes), rounds=left)
                for whole, part in zip(moving, few, strict=True):
                    whole[goes] = part
            break
    return moving


def _flows_of(part: Any, some: BoolArray) -> Any:
    """Arrays of a stage or a flow for some of its flows, along one axis."""
    if isinstance(part, np.ndarray):
        return np.broadcast_to(part, (*some.shape, part.shape[-1]))[some]
    return part and part._make(_flows_of(each, some) for each in part)


def _round(stage: Stage, inflow: _Inflow, models: AxialModels, moving: _Moving
           ) -> tuple[_Moving, RowFlow, Array, BoolArray, Array]:
    """One round: what moves on, and from the velocity it began with the rotor's flow, the swirl
    behind it, whether there is a balance, and the density behind."""
    blade = stage.shaft_speed * stage.rotor.radius
    axial = moving.axial
    through = 0.5 * (inflow.axial + axial)
    rotor = pass_row(stage.rotor, axial_velocity=through, swirl=blade + 0.0 * through,
                     density=inflow.density, viscosity=inflow.viscosity, models=models)
    swirl = blade - rotor.swirl
    lost = _entropy(rotor.profile + rotor.separation, rotor.inlet_speed, inflow.temperature)
    lost = lost.mean(axis=-1, keepdims=True)
    wanted, exists, dense = _equilibrium(stage, blade, swirl=swirl, lost=lost, axial=axial,
                                         flux=inflow.flux)
    change = wanted - axial
    left = np.max(np.abs(change), axis=-1, keepdims=True) / inflow.axial
    step = np.where(left < SETTLED, 0.0, _aitken(moving.step, moving.change, change))
    return (_Moving(axial + step * change, change, step), rotor, swirl, exists, dense)


def _aitken(step: Array, before: Array, now: Array) -> Array:
    """Share of the next change to take, per flow, from how the last step altered the change."""
    turn = now - before
    length = np.sum(turn * turn, axis=-1, keepdims=True)
    better = -step * np.sum(before * turn, axis=-1, keepdims=True) / length
    return np.where(np.isfinite(better) & (step > 0.0), np.minimum(np.maximum(better, 0.1), 0.8),
                    RELAXATION)


def _entropy(coefficient: Array, speed: Array, temperature: Array) -> Array:
    """Entropy over the gas constant that a loss of relative total pressure makes [-]."""
    square = speed**2 / (GAMMA * GAS_CONSTANT * temperature)
    exponent = GAMMA / (GAMMA - 1.0)
    dynamic = -np.expm1(-exponent * np.log1p(0.5 * (GAMMA - 1.0) * square))
    return np.asarray(-np.log1p(-coefficient * dynamic))


def _equilibrium(stage: Stage, blade: Array, swirl: Array, lost: Array, axial: Array,
                 flux: Array) -> tuple[Array, BoolArray, Array]:
    """Axial velocity in radial equilibrium, whether it exists, and the density behind."""
    work = blade * swirl
    total = stage.total_temperature + work / SPECIFIC_HEAT
    static = total - (axial**2 + swirl**2) / (2.0 * SPECIFIC_HEAT)
    exponent = GAMMA / (GAMMA - 1.0)
    pressure = (stage.total_pressure * (static / stage.total_temperature) ** exponent
                * np.exp(-lost))
    density = pressure / (GAS_CONSTANT * static)
    square = radial_balance(radius=stage.rotor.radius, work=work, swirl=swirl)
    return *_level(square, density, flux), density


def radial_balance(*, radius: Array, work: Array, swirl: Array) -> Array:
    """Square of the axial velocity less that at the first radius [m^2/s^2].

    Simple radial equilibrium of straight stream surfaces and even entropy: twice the integral of
    dh0 - (Vt / r) d(r Vt). Radii along the last axis; work is the rise of h0 [J/kg].
    """
    rate = swirl / radius
    slope = np.diff(work) - 0.5 * (rate[..., 1:] + rate[..., :-1]) * np.diff(radius * swirl)
    return np.concatenate([np.zeros_like(work[..., :1]), 2.0 * np.cumsum(slope, axis=-1)], axis=-1)


def _level(square: Array, density: Array, flux: Array) -> tuple[Array, BoolArray]:
    """Velocities sqrt(K + square) that carry a mean mass flux, and whether there are such.

    The flux is concave in K, so Newton's steps from below stay below and cannot leave the domain.
    """
    low = -np.min(square, axis=-1, keepdims=True)
    mean = density.mean(axis=-1, keepdims=True)
    even = (flux / mean) ** 2
    above, floor = square + low, (REVERSED_SHARE**2) * even
    exists = np.mean(density * np.sqrt(above), axis=-1, keepdims=True) < flux
    k = np.maximum(even - above.mean(axis=-1, keepdims=True), floor)
    for _ in range(8):
        root = np.sqrt(np.maximum(k + above, floor))
        miss = np.mean(density * root, axis=-1, keepdims=True) - flux
        k = np.maximum(k - miss / np.mean(0.5 * density / root, axis=-1, keepdims=True),
                       floor)
    # a velocity that cannot exist is held away from zero so that the rounds go on; ``exists``
    # rejects it at the end
    return np.sqrt(np.maximum(k + above, floor)), exists


def _walls(row: Row, volume: Array, at_hub: Array, at_casing: Array) -> Array:
    """Endwall loss of a row [J/kg] from the speeds past hub and casing in each ring [m/s]."""
    length = row.chord * np.cos(row.stagger)
    return loss.endwall_loss(
        hub_speed=at_hub[..., :1], casing_speed=at_casing[..., -1:], hub_radius=row.radius[..., :1],
        casing_radius=row.radius[..., -1:], hub_length=length[..., :1],
        casing_length=length[..., -1:], volume_flow=volume)


def _account(stage: Stage, models: AxialModels, *, found: BoolArray, choked: BoolArray,
             axial_in: Array, axial_out: Array, rotor_swirl: Array, mass_share: Array,
             rotor: RowFlow, relative_mach: Array, temperature: Array, density: Array,
             viscosity: Array) -> Passage:
    """Means over the annulus: work, losses by name, head."""
    def mean(values: Array) -> Array:
        return np.asarray(np.sum(mass_share * values, axis=-1, keepdims=True))

    past_tips = np.pi * (stage.diameter + stage.clearance) * stage.clearance / stage.annulus
    local = stage.shaft_speed * stage.rotor.radius * rotor_swirl
    work = mean(local) * (1.0 - past_tips)
    entropies = {f"rotor {name}": mean(_entropy(getattr(rotor, name), rotor.inlet_speed,
                                                temperature))
                 for name in ("profile", "separation", "secondary")}
    tip = loss.clearance_loss(
        work=local[..., -1:], axial_velocity=0.5 * (axial_in + axial_out[..., -1:]),
        tip_speed=tip_speed(stage), clearance=stage.clearance, height=stage.rotor.height,
        chord=stage.rotor.chord[..., -1:], mean_angle=rotor.mean_angle[..., -1:])
    warm = stage.total_temperature
    through = 0.5 * (axial_in + axial_out)
    volume = stage.area * mean(through)
    entropies["rotor endwall"] = _walls(
        stage.rotor, volume, np.hypot(through, stage.shaft_speed * stage.rotor.radius),
        np.hypot(through, 0.5 * rotor_swirl)) / (GAS_CONSTANT * warm)
    # Howell's secondary drag holds the share of a usual gap; only what exceeds it is added
    entropies["tip clearance"] = np.maximum(tip / (GAS_CONSTANT * warm)
                                            - entropies["rotor secondary"], 0.0)
    mixing = 0.5 * (mean(axial_out**2) - mean(axial_out) ** 2)
    entropies["mixing"] = np.maximum(mixing, 0.0) / (GAS_CONSTANT * warm)
    vanes, left = None, rotor_swirl
    if stage.vanes is not None:
        vanes = pass_row(stage.vanes, axial_velocity=axial_out, swirl=rotor_swirl,
                         density=density, viscosity=viscosity, models=models)
        left = vanes.swirl
        entropies |= {f"vane {name}": mean(_entropy(getattr(vanes, name), vanes.inlet_speed,
                                                    temperature))
                      for name in ("profile", "separation", "secondary")}
        past = np.hypot(axial_out, 0.5 * (rotor_swirl + left))
        entropies["vane endwall"] = _walls(stage.vanes, volume, past, past) / (GAS_CONSTANT * warm)
    produced = sum(entropies.values(), np.zeros_like(work))
    rise = np.log1p(work / (SPECIFIC_HEAT * warm)) - produced * GAS_CONSTANT / SPECIFIC_HEAT
    head = SPECIFIC_HEAT * warm * np.expm1(rise)
    with np.errstate(invalid="ignore", divide="ignore"):
        scale = np.where(produced > 0.0, (work - head) / produced, 0.0)
    return Passage(
        work=work, head=head, swirl=np.sqrt(mean(left**2)),
        losses={name: scale * share for name, share in entropies.items()}, found=found & ~choked,
        choked=choked, reversed_hub=np.argmin(axial_out, axis=-1)[..., None] * 2
        < axial_out.shape[-1], axial_out=axial_out, rotor_swirl=rotor_swirl,
        stage_swirl=left, mass_share=mass_share, rotor=rotor, vanes=vanes,
        relative_mach=relative_mach)
