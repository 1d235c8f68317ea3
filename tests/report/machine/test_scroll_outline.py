"""A scroll's files, read back by parsers of their own formats."""

from __future__ import annotations

import csv
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from thrustlapse.report.machine.scroll_outline import scroll_csv, scroll_dxf, scroll_svg
from thrustlapse.rotor.centrifugal.scroll_sizing import ScrollDuty, outline, size_scroll

DUTY = ScrollDuty(volume_flow=0.01, angular_momentum=2.85, impeller_radius=0.020,
                  base_radius=0.021, width=0.006)
DESIGNS = {section: size_scroll(DUTY, section=section, finish="sintered print", stations=37)
           for section in ("rectangular", "circular")}
HALF_A_DIGIT = 5.1e-5
"""Files carry four digits after the millimetre."""


@pytest.fixture(params=DESIGNS)
def design(request):
    return DESIGNS[request.param]


def test_table(design):
    lines = scroll_csv(design).splitlines()
    notes = [line for line in lines if line.startswith("#")]
    table = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(table) == 37
    got = {key: np.array([float(line[key]) for line in table]) for key in table[0]}
    assert got["angle_deg"] == pytest.approx(np.linspace(0.0, 360.0, 37), abs=HALF_A_DIGIT)
    assert got["outer_radius_mm"] == pytest.approx(1e3 * design.outer_radius, abs=HALF_A_DIGIT)
    assert np.hypot(got["x_mm"], got["y_mm"]) == pytest.approx(got["outer_radius_mm"], abs=2e-4)
    assert got["section_area_mm2"] == pytest.approx(1e6 * design.area, abs=HALF_A_DIGIT)
    filled = 1.0 if design.section == "rectangular" else np.pi / 4.0
    assert got["section_height_mm"] * got["section_width_mm"] * filled == pytest.approx(
        got["section_area_mm2"], rel=1e-4)
    assert any("mm" in note for note in notes)
    assert any("sintered print, sand roughness 60 um" in note for note in notes)


def test_drawing_for_browsers(design):
    text = scroll_svg(design)
    root = ET.fromstring(text)
    space = {"s": "http://www.w3.org/2000/svg"}
    box = np.array([float(x) for x in root.attrib["viewBox"].split()])
    assert root.attrib["width"] == f"{box[2]:.4f}mm"     # true size: one unit is one millimetre
    assert root.attrib["height"] == f"{box[3]:.4f}mm"
    path = root.find("s:path[@id='scroll']", space).attrib["d"]
    assert path.endswith("Z")
    points = np.array([float(x) for x in re.findall(r"-?\d+\.\d+", path)]).reshape(-1, 2)
    assert points * [1.0, -1.0] == pytest.approx(1e3 * outline(design), abs=HALF_A_DIGIT)
    assert (points >= box[:2]).all()
    assert (points <= box[:2] + box[2:]).all()
    radii = [float(c.attrib["r"]) for c in root.findall("s:circle", space)]
    assert radii == [21.0, 20.0]


def entities(text: str) -> list[tuple[str, dict[int, str]]]:
    """Entities of an ASCII DXF: pairs of lines, a group code and its value."""
    lines = text.splitlines()
    assert len(lines) % 2 == 0
    groups = [(int(code), value) for code, value in zip(lines[::2], lines[1::2], strict=True)]
    assert groups[-1] == (0, "EOF")
    sections = [value for (code, value), (before, _) in zip(groups[1:], groups, strict=False)
                if code == 2 and before == 0 and value in {"HEADER", "TABLES", "ENTITIES"}]
    assert sections == ["HEADER", "TABLES", "ENTITIES"]
    found: list[tuple[str, dict[int, str]]] = []
    for code, value in groups[groups.index((2, "ENTITIES")) + 1:]:
        if code == 0:
            found.append((value, {}))
        else:
            found[-1][1][code] = value
    return found


def test_drawing_for_cad(design):
    found = entities(scroll_dxf(design))
    assert "$ACADVER\n  1\nAC1009\n" in scroll_dxf(design)     # release 12
    kinds = [kind for kind, _ in found]
    line = dict(found)["POLYLINE"]
    assert (line[66], line[70]) == ("1", "1")     # vertices follow; closed
    assert kinds[-4:] == ["CIRCLE", "CIRCLE", "ENDSEC", "EOF"]
    points = np.array([[float(at[10]), float(at[20])] for kind, at in found if kind == "VERTEX"])
    assert points == pytest.approx(1e3 * outline(design), abs=HALF_A_DIGIT)
    assert kinds.index("SEQEND") == kinds.index("POLYLINE") + len(points) + 1
    circles = {at[8]: float(at[40]) for kind, at in found if kind == "CIRCLE"}
    assert circles == {"BASE": 21.0, "IMPELLER": 20.0}
