"""How far the coefficients of a propeller's table may be trusted at the advance ratio flown."""

from __future__ import annotations

from thrustlapse.rotor.stage_map import Band

ANCHORED_BAND = Band(loading=True, head=0.055, power=0.14,
                     basis="ten measured propellers of eight blade designs, each left out of the "
                           "fit, then anchored to its highest static reading")
"""What is left of a table's band once a static reading of thrust, power and speed anchors it."""

LABELLED_BAND = Band(loading=True, head=0.055, power=0.24,
                     basis="ten measured propellers of eight blade designs by their label, each "
                           "left out of every constant, then anchored to its highest static "
                           "reading")
"""The same of a propeller that is known by diameter, pitch and blade count."""
