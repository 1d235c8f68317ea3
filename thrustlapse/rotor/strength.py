"""Stress in a spinning rotor, and the strength of what rotors are made of.

Thin-disc formulas: a plain disc without blades. Real impellers reach their limit at roughly 60 to
80 % of a plain disc's speed (blades, hub shape, heat, creep, moisture, print flaws; from memory),
which :data:`IMPELLER_SHARE` carries.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, Values

IMPELLER_SHARE = 0.6
"""Tip speed at which an impeller reaches a stress, over that of a plain disc [-] (from memory)."""

OVERSPEED = 1.15
"""Spin-test speed over highest continuous speed [-]; API 617."""


@dataclass(frozen=True, kw_only=True)
class RotorMaterial:
    """Density [kg/m^3], strength [Pa], Poisson's ratio [-], and what the strength is.

    ``printing`` says what printing costs, where the part is printed.
    """

    density: float
    strength: float
    poisson: float
    strength_kind: str
    printing: str = ""


LAYERS = ("a print comes apart between its layers at half to four fifths of the strength along "
          "them, and creeps when warm")
RESIN = "printed resin grows brittle with light and age, and softens when warm"


MATERIALS = {
    "aluminium 7075-T6": RotorMaterial(density=2810.0, strength=503e6, poisson=0.33,
                                       strength_kind="yield"),
    "aluminium 6061-T6": RotorMaterial(density=2700.0, strength=276e6, poisson=0.33,
                                       strength_kind="yield"),
    "PEEK": RotorMaterial(density=1300.0, strength=95e6, poisson=0.38, strength_kind="tensile"),
    "PA66 30 % glass": RotorMaterial(density=1370.0, strength=180e6, poisson=0.35,
                                     strength_kind="tensile, dry"),
    "PLA printed": RotorMaterial(density=1240.0, strength=30e6, poisson=0.36,
                                 strength_kind="tensile across layers", printing=LAYERS),
    "resin printed": RotorMaterial(density=1180.0, strength=55e6, poisson=0.40,
                                   strength_kind="tensile, tough resin", printing=RESIN),
}
"""Typical handbook strengths, from memory: an order of magnitude, not a certificate."""


def solid_disc_stress(*, density: Values, tip_speed: Values, poisson: Values) -> Array:
    """Largest stress in a solid disc, at its centre [Pa]: (3 + nu) / 8 rho U^2."""
    return np.asarray((3.0 + np.asarray(poisson)) / 8.0 * density * np.square(tip_speed))


def bored_disc_stress(*, density: Values, tip_speed: Values, poisson: Values,
                      bore_ratio: Values) -> Array:
    """Largest stress in a bored disc, hoop at the bore [Pa].

    (3 + nu) / 4 rho U^2 (1 + (1 - nu) / (3 + nu) r^2), with r bore over tip radius: a small hole
    doubles the stress at the centre.

    References
    ----------
    Ugural and Fenster, Advanced Strength and Applied Elasticity, rotating discs.
    """
    nu = np.asarray(poisson)
    return np.asarray((3.0 + nu) / 4.0 * density * np.square(tip_speed)
                      * (1.0 + (1.0 - nu) / (3.0 + nu) * np.square(bore_ratio)))


def ring_stress(*, density: Values, tip_speed: Values) -> Array:
    """Hoop stress in a thin ring [Pa]: rho U^2."""
    return np.asarray(density * np.square(tip_speed))


def impeller_stress(material: RotorMaterial, *, tip_speed: Values,
                    bore_ratio: Values = 0.1) -> Array:
    """Stress to hold against the material's strength for a bladed wheel on a shaft [Pa].

    That of a bored plain disc, raised by the share of its speed that impellers reach.
    """
    disc = bored_disc_stress(density=material.density, tip_speed=tip_speed,
                             poisson=material.poisson, bore_ratio=bore_ratio)
    return np.asarray(disc / IMPELLER_SHARE**2)


FORMS = {
    "bored wheel": "a bored disc, at the share of its speed that bladed wheels reach",
    "solid wheel": "a solid disc, at the share of its speed that bladed wheels reach",
    "shrouded wheel": "a bored disc at the share of its speed that bladed wheels reach, and a free "
                      "ring at the rim",
}
"""Forms of a rotor, and which formulas stand for them."""


def rotor_stress(material: RotorMaterial, *, tip_speed: Values, bore_ratio: Values = 0.1,
                 form: str = "bored wheel") -> Array:
    """Stress to hold against the material's strength for a rotor of a form in :data:`FORMS` [Pa].

    A shroud's ring is taken to carry itself, with nothing from the blades: the safe side.
    """
    if form == "solid wheel":
        return np.asarray(solid_disc_stress(density=material.density, tip_speed=tip_speed,
                                            poisson=material.poisson) / IMPELLER_SHARE**2)
    wheel = impeller_stress(material, tip_speed=tip_speed, bore_ratio=bore_ratio)
    if form == "shrouded wheel":
        return np.maximum(wheel, ring_stress(density=material.density, tip_speed=tip_speed))
    return wheel


def limit_tip_speed(material: RotorMaterial, *, bore_ratio: Values = 0.1,
                    form: str = "bored wheel") -> Array:
    """Tip speed at which a rotor's stress reaches the strength [m/s]."""
    unit = rotor_stress(material, tip_speed=1.0, bore_ratio=bore_ratio, form=form)
    return np.asarray(np.sqrt(material.strength / unit))
