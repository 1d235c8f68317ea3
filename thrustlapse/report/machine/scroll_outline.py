"""A scroll as files a drawing program reads: a table, an SVG and a DXF, all in millimetres."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.report.csv_cells import csv_text
from thrustlapse.rotor.centrifugal.scroll_sizing import ScrollDesign, outline

MILLIMETRE = 1e3
"""Millimetres in a metre."""

MARGIN = 5.0
"""White space around the drawing [mm]."""


def scroll_csv(design: ScrollDesign) -> str:
    """Schedule of a scroll as comma-separated values: one line per station, notes above it."""
    radius = design.outer_radius
    columns = (np.rad2deg(design.angle - design.tongue_angle), radius * MILLIMETRE,
               design.height * MILLIMETRE, design.width * MILLIMETRE, design.area * MILLIMETRE**2,
               radius * np.cos(design.angle) * MILLIMETRE,
               radius * np.sin(design.angle) * MILLIMETRE)
    return csv_text(["angle_deg", "outer_radius_mm", "section_height_mm", "section_width_mm",
                     "section_area_mm2", "x_mm", "y_mm"], zip(*columns, strict=True),
                    remarks=_notes(design), number="{:.4f}".format)


def scroll_svg(design: ScrollDesign) -> str:
    """Outline of scroll and cone, base circle and impeller as an SVG at true size."""
    points = _drawn(design) * np.array([1.0, -1.0])   # y runs down the page
    base, wheel = (r * MILLIMETRE for r in (design.duty.base_radius, design.duty.impeller_radius))
    low = np.minimum(points.min(axis=0), -base) - MARGIN
    high = np.maximum(points.max(axis=0), base) + MARGIN
    size = high - low
    path = "M" + " L".join(f"{x:.4f},{y:.4f}" for x, y in points) + " Z"
    style = 'fill="none" stroke="black" stroke-width="0.2"'
    thin = 'fill="none" stroke="grey" stroke-width="0.1"'
    notes = "; ".join(_notes(design)).replace("&", "&amp;").replace("<", "&lt;")
    return "\n".join([
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]:.4f}mm" '
        f'height="{size[1]:.4f}mm" viewBox="{low[0]:.4f} {low[1]:.4f} {size[0]:.4f} '
        f'{size[1]:.4f}">',
        f"<title>{notes}</title>",
        f'<path id="scroll" d="{path}" {style}/>',
        f'<circle id="base" cx="0" cy="0" r="{base:.4f}" {thin}/>',
        f'<circle id="impeller" cx="0" cy="0" r="{wheel:.4f}" {thin}/>',
        "</svg>", ""])


def scroll_dxf(design: ScrollDesign) -> str:
    """Outline of scroll and cone, base circle and impeller as an ASCII DXF of release 12.

    One closed polyline on layer SCROLL and a circle each on layers BASE and IMPELLER. Release 12
    has no word for units: choose millimetres when importing.
    """
    groups: list[tuple[int, str]] = [(999, line) for line in _notes(design)]
    groups += [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009"), (0, "ENDSEC"),
               (0, "SECTION"), (2, "TABLES"), (0, "TABLE"), (2, "LAYER"), (70, "3")]
    for colour, layer in enumerate(("SCROLL", "BASE", "IMPELLER"), start=1):
        groups += [(0, "LAYER"), (2, layer), (70, "0"), (62, str(colour)), (6, "CONTINUOUS")]
    groups += [(0, "ENDTAB"), (0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES")]
    groups += [(0, "POLYLINE"), (8, "SCROLL"), (66, "1"), (70, "1"), *_place(0.0, 0.0)]
    for x, y in _drawn(design):
        groups += [(0, "VERTEX"), (8, "SCROLL"), *_place(x, y)]
    groups += [(0, "SEQEND"), (8, "SCROLL")]
    for layer, radius in (("BASE", design.duty.base_radius),
                          ("IMPELLER", design.duty.impeller_radius)):
        groups += [(0, "CIRCLE"), (8, layer), *_place(0.0, 0.0),
                   (40, f"{radius * MILLIMETRE:.4f}")]
    groups += [(0, "ENDSEC"), (0, "EOF")]
    return "".join(f"{code:3d}\n{value}\n" for code, value in groups)


def _place(x: float, y: float) -> list[tuple[int, str]]:
    return [(10, f"{x:.4f}"), (20, f"{y:.4f}"), (30, "0.0")]


def _drawn(design: ScrollDesign) -> Array:
    return outline(design) * MILLIMETRE


def _notes(design: ScrollDesign) -> list[str]:
    """What the drawing is, for whoever opens it."""
    duty = design.duty
    return [
        f"scroll with a {design.section} section, {design.schedule}; lengths in mm",
        f"impeller radius {duty.impeller_radius * MILLIMETRE:.3f}, "
        f"base radius {duty.base_radius * MILLIMETRE:.3f}",
        f"tongue at radius {design.tongue_radius * MILLIMETRE:.3f}, "
        f"{design.tongue_clearance:.1%} of the impeller radius clear",
        f"throat {design.throat_area * MILLIMETRE**2:.2f} mm2, opening "
        f"{design.opening * MILLIMETRE:.3f} high in the plan",
        f"cone {design.cone_length * MILLIMETRE:.2f} long, {np.rad2deg(design.cone_angle):.1f} "
        f"degrees, to {design.exit_area * MILLIMETRE**2:.2f} mm2: "
        f"{design.exit_height * MILLIMETRE:.3f} high, {design.exit_width * MILLIMETRE:.3f} wide",
        f"finish {design.finish}, sand roughness {design.roughness * 1e6:.0f} um",
    ]
