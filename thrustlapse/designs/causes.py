"""Why a design does not count, beside the limits that say stop: nothing is dropped in silence."""

from __future__ import annotations

from thrustlapse.propulsor.operating_point import INVALID, MEANING, Flag

OWN = {
    "too heavy": "heavier than the installed mass every design is held to",
    "impossible shape": "these dimensions do not fit each other",
    "power not reached": "drive or pack do not draw the power that all are held to",
    "outside a bound": "an answer lies outside the search's own bounds",
}

CAUSES: dict[str, str] = {flag.words: MEANING[flag] for flag in Flag} | OWN
"""Every cause in plain words, by name."""

ALWAYS = (*(flag.words for flag in Flag if flag & INVALID),
          "too heavy", "impossible shape", "outside a bound")
"""Causes that leave no design to speak of, whatever the search says; so does every limit that says
stop."""

USUAL = ("stall side",)
"""Causes for which a search leaves designs out unless told otherwise: operation where the machine
may surge."""

FORMER = ("rotor stress", "motor current", "pack current", "unit current", "duct temperature")
"""Limits that a search left designs out by only where it was told to; files may still name them,
and nothing follows from it: every limit that says stop leaves a design out."""
