"""Files of one machine laid open: its map and losses as CSV and figure, its scroll as drawings."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from thrustlapse.report.atomic_write import staged
from thrustlapse.report.csv_cells import csv_text
from thrustlapse.report.machine.scroll_outline import scroll_csv, scroll_dxf, scroll_svg
from thrustlapse.study.machine import MachineStudy

COLUMNS = {
    True: ("flow_coefficient", "head_coefficient", "power_coefficient"),
    False: ("advance_ratio", "thrust_coefficient", "power_coefficient"),
}
"""Headers of a map, by whether the machine is ducted."""


def write_machine(study: MachineStudy, folder: Path) -> list[str]:
    """Write everything there is of a machine into a folder; returns the names of the files.

    Raises
    ------
    ReportError
        If the folder cannot be written.
    """
    with staged(folder) as new:
        files = {"map.csv": map_csv(study)}
        if study.scroll is not None:
            files |= {"scroll.csv": scroll_csv(study.scroll),
                      "scroll.svg": scroll_svg(study.scroll),
                      "scroll.dxf": scroll_dxf(study.scroll)}
        for name, text in files.items():
            (new / name).write_text(text, encoding="utf-8", newline="")
        if study.shares:
            from thrustlapse.report.figure_style import styled
            from thrustlapse.report.machine.figure_losses import draw_losses

            with styled():
                figure = draw_losses(study)
                figure.savefig(new / "losses.svg", metadata={"Date": None})
                figure.savefig(new / "losses.png", dpi=200)
            files |= {"losses.svg": "", "losses.png": ""}
        return list(files)


def map_csv(study: MachineStudy) -> str:
    """Map of a machine as comma-separated values: coefficients, efficiency, shares of power."""
    remarks = [f"{study.kind}; {study.source or 'as given in the scenario'}", trust(study),
               *([] if study.stall is None else [stall_side(study.stall)])]
    speeds = [] if study.row_speed is None else [("shaft_speed_rad_s", study.row_speed)]
    columns = [*speeds, *zip(COLUMNS[study.row_speed is None],
                             (study.variable, study.output, study.cost), strict=True),
               ("efficiency", study.efficiency),
               *((f"share_{name.replace(' ', '_')}", share)
                 for name, share in study.shares.items())]
    rows = zip(*(np.broadcast_to(values, study.variable.shape) for _, values in columns),
               strict=True)
    return csv_text([name for name, _ in columns], rows, remarks=remarks, number="{:.6g}".format)


def stall_side(stall: float) -> str:
    """Where a map's stall side ends, in words."""
    if stall == 0.0:
        return "no stall side on this map"
    return f"stall side below a flow coefficient of {stall:.4g}"


def trust(study: MachineStudy) -> str:
    """How far a map is trusted, in words; a band of nothing is one that nobody stated."""
    output = "head" if study.row_speed is None else "thrust"
    parts = [f"{100 * share:.2g} % in {name}" for name, share in (
        ("flow", study.band.flow), (output, study.band.head), ("power", study.band.power)) if share]
    if not parts:
        return "how far it is to be trusted: not stated"
    return f"trusted to {', '.join(parts)} (one standard deviation; {study.band.basis})"


def machine_lines(study: MachineStudy) -> list[str]:
    """Summary of a machine for a terminal: best point, stall, trust, and where its power goes."""
    good = np.where(np.isfinite(study.efficiency), study.efficiency, -1.0)
    best = int(np.argmax(good))
    names = COLUMNS[study.row_speed is None]
    lines = [f"{study.name} ({study.kind}): {study.source or 'map as given in the scenario'}",
             f"  best efficiency {100.0 * good[best]:.1f} % at " + ", ".join(
                 f"{name.replace('_', ' ')} {values[best]:.4g}" for name, values in zip(
                     names, (study.variable, study.output, study.cost), strict=True))]
    if study.stall is not None:
        lines.append(f"  {stall_side(study.stall)}")
    lines.append(f"  {trust(study)}")
    if study.kind == "blower" and not study.shares and study.scroll is not None:
        lines.append("  its scroll follows from flow and pressure at rest alone, for the map is "
                     "not computed from dimensions: check width and wheel")
    elif study.scroll is None:
        lines.append("  no scroll: " + ("it is matched at no point at rest" if study.kind ==
                                        "blower" else f"an {study.kind} has none" if study.kind
                                        == "axial fan" else f"a {study.kind} has none"))
    shares = {name: float(np.broadcast_to(share, study.variable.shape)[best])
              for name, share in study.shares.items()}
    lines += [f"  {100.0 * share:5.1f} %  {name}" for name, share in sorted(
        shares.items(), key=lambda item: -item[1])]
    return lines
