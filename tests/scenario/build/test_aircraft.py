"""The airframe's drag in every way a file may give it, what is assumed, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.aircraft.test_build_up import measured_minimum
from thrustlapse.aircraft.build_up import SKINS, build_up
from thrustlapse.aircraft.climb import glide
from thrustlapse.aircraft.drag import Airframe, drag_area
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.files.starter import starter_text

STARTER = starter_text()
LEAST = "minimum_drag_coefficient = 0.025 # complete small aircraft: 0.018 to 0.045; or " \
        'drag_area = "50 cm^2"\n'
SPAN = 'span = "1.2 m"\nspan_efficiency = 0.8            # small aircraft: 0.6 to 0.9\n'

PARTS = '''
[airframe.drag]
source = "parts"
reference_speed = "20 m/s"
[[airframe.drag.parts]]
kind = "wing"
span = "1.1 m"
chord = "170 mm"
thickness = "18 mm"
finish = "bare foam"
[[airframe.drag.parts]]
kind = "tail"
name = "tailplane"
area = "4 dm^2"
chord = "100 mm"
thickness_ratio = "6 %"
trip_at = "5 %"
[[airframe.drag.parts]]
kind = "fuselage"
length = "0.8 m"
width = "70 mm"
height = "90 mm"
section = "box"
[[airframe.drag.parts]]
kind = "pod"
count = 2
length = "200 mm"
diameter = "60 mm"
laminar_share = 0.2
[[airframe.drag.parts]]
kind = "wire"
diameter = "0.8 mm"
length = "300 mm"
count = 4
[[airframe.drag.parts]]
kind = "strut"
thickness = "5 mm"
length = "120 mm"
shape = "streamlined"
[[airframe.drag.parts]]
kind = "wheel"
diameter = "50 mm"
width = "18 mm"
count = 2
[[airframe.drag.parts]]
kind = "lump"
name = "servo horns"
frontal_area = "2 cm^2"
'''


def scenario(drag: str, *, least: str = "", span: str = SPAN, more: str = ""):
    """The starter with its airframe's drag given in another way."""
    text = STARTER
    for old, new in ((LEAST, least), (SPAN, span)):
        assert old in text, f"the starter no longer has {old!r}"
        text = text.replace(old, new, 1)
    text = text.replace('launch_speed = "14 m/s"\n', 'launch_speed = "14 m/s"\n' + more, 1)
    return read_text(text + drag, name="mine.toml")


def faults(drag: str, **changes: str) -> str:
    with pytest.raises(ScenarioError) as caught:
        scenario(drag, **changes)
    assert all(fault.accepted for fault in caught.value.faults)
    return str(caught.value)


def test_given_in_a_table_is_given_beside_the_mass() -> None:
    own = read_text(STARTER)
    table = scenario('[airframe.drag]\nsource = "given"\n'
                     "minimum_drag_coefficient = 0.025\n")
    assert table.airframe == own.airframe
    assert repr(table.aircraft_use) == repr(own.aircraft_use)  # NaN equals nothing
    assert own.aircraft_use.drag_basis.source == "given"
    assert own.aircraft_use.drag_basis.span_efficiency == pytest.approx(0.8)
    assert np.isnan(own.aircraft_use.drag_basis.deviation)


def test_parts_become_a_build_up() -> None:
    made = scenario(PARTS)
    basis = made.aircraft_use.drag_basis
    assert basis.source == "parts"
    parts = {part.name: part for part in basis.recipe.parts}
    assert list(parts) == ["wing", "tailplane", "fuselage", "pod", "wire", "strut", "wheel",
                           "servo horns"]
    wing, pod = parts["wing"], parts["pod"]
    assert wing.area == pytest.approx(1.1 * 0.17)
    assert wing.thickness_ratio == pytest.approx(18 / 170)
    assert wing.roughness == SKINS["bare foam"].roughness
    assert (parts["tailplane"].laminar_share, parts["tailplane"].most_laminar) == (0.05, 0.05)
    assert pod.pod
    assert pod.count == 2.0
    assert parts["wire"].frontal_area == pytest.approx(4 * 0.3 * 0.0008)
    assert parts["strut"].shape == "streamlined strut"
    assert parts["wheel"].frontal_area == pytest.approx(2 * 0.05 * 0.018)
    again = build_up(basis.recipe.parts, air=made.site.air(), airspeed=20.0, allowance=0.1)
    assert float(drag_area(made.airframe)) == pytest.approx(float(again.drag_area), rel=1e-12)
    assert basis.low < float(made.airframe.minimum_drag_coefficient) < basis.high
    told = " ".join(basis.told)
    for words in ("10 % of the skin's drag", "interference factor 1.05 of wing, tailplane",
                  'finish "painted or film" of fuselage (judgement)',
                  "interference factor 1.3 of pod", "least drag at zero lift"):
        assert (words in told) == (words != "least drag at zero lift")  # the starter gives CL0


def test_a_part_without_a_name_is_called_by_its_kind_and_two_are_told_apart() -> None:
    two = '\n[[airframe.drag.parts]]\nkind = "wheel"\ndiameter = "2 cm"\nwidth = "5 mm"\n'
    names = [part.name for part in scenario(PARTS + two).aircraft_use.drag_basis.recipe.parts]
    assert names[-1] == "wheel 2"


def test_span_efficiency_is_estimated_and_told() -> None:
    made = scenario(PARTS, span='span = "1.2 m"\n')
    basis = made.aircraft_use.drag_basis
    assert 0.6 < basis.span_efficiency < 0.9  # the range of complete small aircraft (R, R2)
    assert basis.induced_deviation == pytest.approx(0.11 * made.airframe.induced_factor)
    assert any("estimated from aspect ratio" in words for words in basis.told)


MODEL = '''
[airframe.drag]
source = "parts"
reference_speed = "18 m/s"
[[airframe.drag.parts]]
kind = "wing"
area = "0.7171 m^2"
chord = "401 mm"
thickness_ratio = 0.15
laminar_share = 0.1
[[airframe.drag.parts]]
kind = "tail"
area = "0.13846 m^2"
chord = "200 mm"
thickness_ratio = 0.05
laminar_share = 0.1
[[airframe.drag.parts]]
kind = "tail"
area = "0.05385 m^2"
chord = "220 mm"
thickness_ratio = 0.05
laminar_share = 0.1
[[airframe.drag.parts]]
kind = "fuselage"
length = "1.5 m"
width = "130 mm"
height = "160 mm"
section = "box"
laminar_share = 0
interference = 1.05
[[airframe.drag.parts]]
kind = "wheel"
diameter = "90 mm"
width = "30 mm"
count = 2
[[airframe.drag.parts]]
kind = "wheel"
diameter = "30 mm"
width = "12 mm"
[[airframe.drag.parts]]
kind = "strut"
thickness = "6 mm"
length = "200 mm"
count = 2
shape = "flat"
[[airframe.drag.parts]]
kind = "lump"
frontal_area = "50 cm^2"
shape = "blunt engine or motor"
'''


def test_the_measured_model_through_a_scenario_file() -> None:
    """Acceptance: NASA/UMN tunnel polar of a complete 1.92 m aircraft (R), CDmin 0.0345.

    The file's build-up errs by 7 %, as the library's does, and its band holds the measurement.
    Sizes other than the wing's are assumed, and were not adjusted to the answer.
    """
    text = MODEL
    made = scenario(text, span='span = "1.9172 m"\nspan_efficiency = 0.63\n')
    area = 0.76924 / 0.20  # the starter's wing area stands in the file
    basis = made.aircraft_use.drag_basis
    found = float(made.airframe.minimum_drag_coefficient) / area
    assert found / measured_minimum() - 1.0 == pytest.approx(0.07, abs=0.01)
    assert basis.low / area < measured_minimum() < basis.high / area


TRUE = Airframe(mass=0.7, wing_area=0.2, minimum_drag_coefficient=0.027, induced_factor=0.055,
                lift_of_least_drag=0.1, greatest_lift=1.0, launch_speed=14.0)
"""A polar from which glides are made up; CL0 is the starter's."""

MASS = 1.3
DENSITY = float(read_text(STARTER).site.air().density)
LIFTS = np.array([0.25, 0.35, 0.5, 0.7, 0.9])


def sinks() -> str:
    flown = glide(TRUE, mass=MASS, density=DENSITY, lift_coefficient=LIFTS)
    pairs = ", ".join(f'["{v:.6f} m/s", "{100 * w:.6f} cm/s"]'
                      for v, w in zip(flown.airspeed, flown.sink, strict=True))
    return (f'[airframe.drag]\nsource = "sink and speed"\nmass = "{MASS} kg"\n'
            f"readings = [{pairs}]\n")


def test_sinks_give_the_polar_back() -> None:
    made = scenario(sinks(), span="")
    assert made.airframe.minimum_drag_coefficient == pytest.approx(0.027, rel=1e-5)
    assert made.airframe.induced_factor == pytest.approx(0.055, rel=1e-5)
    basis = made.aircraft_use.drag_basis
    assert basis.source == "sink and speed"
    assert 0.0 < basis.deviation < 0.01
    assert -1.0 < basis.correlation < 0.0  # the two trade against each other
    assert any("least certain" in words for words in basis.told)


def test_a_span_with_its_efficiency_holds_the_induced_factor() -> None:
    made = scenario(sinks())
    held = 0.20 / (np.pi * 0.8 * 1.2**2)
    assert made.airframe.induced_factor == pytest.approx(held)
    assert made.aircraft_use.drag_basis.induced_deviation == 0.0


def test_what_flew_along_is_taken_off() -> None:
    bare = scenario(sinks(), span="").airframe
    less = scenario(sinks() + 'machine_drag_area = "10 cm^2"\n', span="").airframe
    assert bare.minimum_drag_coefficient - less.minimum_drag_coefficient == pytest.approx(
        1e-3 / 0.2)
    assert less.induced_factor == bare.induced_factor


def glide_ratio(best: bool) -> str:
    lift = np.sqrt(0.1**2 + 0.027 / 0.055) if best else 0.4
    flown = glide(TRUE, mass=MASS, density=DENSITY, lift_coefficient=lift)
    return (f'[airframe.drag]\nsource = "glide ratio"\nmass = "{MASS} kg"\n'
            f"glide_ratio = {float(flown.glide_ratio):.8f}\n"
            f'airspeed = "{float(flown.airspeed):.8f} m/s"\nbest = {str(best).lower()}\n')


def test_a_glide_ratio_gives_the_drag() -> None:
    """Best glide gives both; another one gives CDmin beside the induced factor."""
    best = scenario(glide_ratio(True), span="")
    assert best.airframe.minimum_drag_coefficient == pytest.approx(0.027, rel=1e-6)
    assert best.airframe.induced_factor == pytest.approx(0.055, rel=1e-6)
    one = scenario(glide_ratio(False), span="induced_factor = 0.055\n")
    assert one.airframe.minimum_drag_coefficient == pytest.approx(0.027, rel=1e-6)
    assert one.aircraft_use.drag_basis.induced_deviation == 0.0


def test_the_uncertainty_of_a_glide_ratio_is_that_of_repeated_glides() -> None:
    """Linear propagation against many draws of the two readings."""
    text = glide_ratio(True) + 'glide_ratio_deviation = "2 %"\nairspeed_deviation = "0.2 m/s"\n'
    basis = scenario(text, span="").aircraft_use.drag_basis
    lines = dict(line.split(" = ") for line in text.splitlines() if " = " in line)
    ratio, speed = float(lines["glide_ratio"]), float(lines["airspeed"].strip('"').split()[0])
    draw = np.random.default_rng(3)
    from thrustlapse.aircraft.glide import drag_from_best_glide

    least, factor = drag_from_best_glide(
        glide_ratio=ratio * (1.0 + draw.normal(0.0, 0.02, 20_000)),
        airspeed=speed + draw.normal(0.0, 0.2, 20_000), mass=MASS, density=DENSITY, wing_area=0.2,
        lift_of_least_drag=0.1)
    assert basis.deviation == pytest.approx(least.std(), rel=0.05)
    assert basis.induced_deviation == pytest.approx(factor.std(), rel=0.05)
    assert basis.correlation == pytest.approx(np.corrcoef(least, factor)[0, 1], abs=0.05)


def coast() -> str:
    half, lift = 0.5 * DENSITY * 0.2, MASS * 9.80665 / (0.5 * DENSITY * 0.2)
    speed, readings = 25.0, []
    for step in range(9001):
        if step % 500 == 0:
            readings.append(f'["{step / 1000} s", "{speed:.7f} m/s"]')
        for _ in range(1):
            cost = 0.027 + 0.055 * (lift / speed**2 - 0.1) ** 2
            middle = speed - 0.0005 * half * speed**2 * cost / MASS
            cost = 0.027 + 0.055 * (lift / middle**2 - 0.1) ** 2
            speed -= 0.001 * half * middle**2 * cost / MASS
    return (f'[airframe.drag]\nsource = "coasting run"\nmass = "{MASS} kg"\n'
            f'airspeed_deviation = "0.2 m/s"\nreadings = [{", ".join(readings)}]\n')


def test_a_coasting_run_gives_the_polar_back() -> None:
    made = scenario(coast(), span="")
    assert made.airframe.minimum_drag_coefficient == pytest.approx(0.027, rel=1e-3)
    assert made.airframe.induced_factor == pytest.approx(0.055, rel=1e-3)
    assert made.aircraft_use.drag_basis.deviation > 0.0


def test_a_unit_made_of_parts() -> None:
    parts = '''
[[candidates.fan.installation.parts]]
kind = "pod"
length = "180 mm"
diameter = "70 mm"
finish = "filament print"
[[candidates.fan.installation.parts]]
kind = "lump"
shape = "blunt base"
frontal_area = "3 cm^2"
'''
    made, plain = read_text(STARTER + parts), read_text(STARTER)
    fan = made.candidates["fan"]
    assert fan.installation.base_area == 0.0
    assert fan.installation.pod_drag_area != plain.candidates["fan"].installation.pod_drag_area
    told = " ".join(fan.assumptions)
    assert "its 2 parts at 21 m/s" in told  # one and a half times the starter's launch speed
    assert "no base drag beside its parts" in told
    assert "(judgement)" not in [words for words in fan.assumptions if "pod drag" in words]
    with pytest.raises(ScenarioError, match="given together with"):
        read_text(STARTER + parts + '[candidates.fan.installation]\npod_drag_area = "4 cm^2"\n')


@pytest.mark.parametrize("source", ["parts", "glide ratio", "sink and speed", "coasting run"])
def test_the_starters_ways_in_comments_are_good(source) -> None:
    """Its lines, comment signs taken off, in place of the number."""
    lines = STARTER[STARTER.index("# From parts measured with a ruler"):
                    STARTER.index("[airspeed]")].splitlines()
    tables = "\n".join(line.removeprefix("# ") for line in lines
                       if line.startswith("# ") and not line.startswith("# From"))
    blocks = ["[airframe.drag]\n" + block for block in tables.split("[airframe.drag]\n")[1:]]
    (block,) = [block for block in blocks if f'source = "{source}"' in block]
    made = scenario(block, span=SPAN if source in ("parts", "glide ratio") else "")
    assert made.aircraft_use.drag_basis.source == source
    assert 0.005 < made.airframe.minimum_drag_coefficient < 0.1
    assert 0.02 < made.airframe.induced_factor < 0.3


def test_performance_keys() -> None:
    made = scenario("[airframe.runway]\nsurface = \"short grass\"\nwing_height = \"12 cm\"\n",
                    least=LEAST, more='cruise_speeds = ["14 m/s", "20 m/s"]\n'
                    'altitudes = "1500 m"\ncut_off_voltage = "3.3 V"\n')
    use = made.aircraft_use
    assert use.cruise_speeds == (14.0, 20.0)
    assert use.altitudes == (1500.0,)
    assert use.rolling.friction == 0.05
    assert use.rolling.induced_share == pytest.approx((16 * 0.12 / 1.2) ** 2 / (
        1 + (16 * 0.12 / 1.2) ** 2))
    assert use.source_mass == pytest.approx(0.48)


CASES = {
    "both ways": (PARTS, {"least": LEAST}, ["airframe.drag", "given together with"]),
    "no way": ("", {}, ["missing: minimum_drag_coefficient or drag_area or drag"]),
    "an unknown way": ('[airframe.drag]\nsource = "partz"\n', {},
                       ["airframe.drag.source", '"partz"', 'did you mean "parts"']),
    "no source": ('[airframe.drag]\nparts = []\n', {}, ["airframe.drag.source", "missing"]),
    "an unknown kind of part": (
        PARTS.replace('"wing"', '"wings"'), {},
        ["airframe.drag.parts[1].kind", '"wings"', 'did you mean "wing"']),
    "no parts": ('[airframe.drag]\nsource = "parts"\nparts = []\n', {},
                 ["airframe.drag.parts", "empty"]),
    "two sizes of one part": (
        PARTS.replace('area = "4 dm^2"', 'area = "4 dm^2"\nspan = "40 cm"'), {},
        ["airframe.drag.parts[2].span", "given together with area"]),
    "a part without a size": (PARTS.replace('diameter = "60 mm"', ""), {},
                              ["airframe.drag.parts[4]", "missing: diameter or width"]),
    "half a section": (PARTS.replace('height = "90 mm"', ""), {},
                       ["airframe.drag.parts[3].width", "given alone"]),
    "a wing as thick as it is wide": (
        PARTS.replace('thickness = "18 mm"', 'thickness = "80 mm"'), {},
        ["airframe.drag.parts[1].thickness", "a quarter of the chord"]),
    "a body wider than long": (PARTS.replace('length = "0.8 m"', 'length = "8 cm"'), {},
                               ["airframe.drag.parts[3].length", "shorter than it is wide"]),
    "a wrong unit deep in a list": (
        PARTS.replace('thickness = "5 mm"', 'thickness = "5 kg"'), {},
        ["airframe.drag.parts[6].thickness", "a mass", '"5 kg"']),
    "a slip in a part's key": (PARTS.replace("thickest", "thickest").replace(
        'chord = "170 mm"', 'cord = "170 mm"'), {},
        ["airframe.drag.parts[1].cord", 'did you mean "chord"']),
    "a key of another kind": (
        PARTS.replace('kind = "strut"', 'kind = "strut"\nchord = "3 cm"'), {},
        ["airframe.drag.parts[6].chord", "unknown key"]),
    "trip and laminar share": (
        PARTS.replace('trip_at = "5 %"', 'trip_at = "5 %"\nlaminar_share = 0.1'), {},
        ["airframe.drag.parts[2]", "given together with"]),
    "nothing of the span": (PARTS, {"span": ""}, ["the lift-dependent drag is not given"]),
    "an efficiency without a span": (PARTS, {"span": "span_efficiency = 0.8\n"},
                                     ["airframe.span_efficiency", "of no use without a span"]),
    "columns exchanged": (
        '[airframe.drag]\nsource = "sink and speed"\nmass = "1 kg"\n'
        'readings = [["1 m/s", "14 m/s"], ["2 m/s", "20 m/s"]]\n', {},
        ["airframe.drag.readings", "sinks faster than it flies", "exchanged"]),
    "one glide for two unknowns": (
        '[airframe.drag]\nsource = "sink and speed"\nmass = "1 kg"\n'
        'readings = [["14 m/s", "1 m/s"]]\n', {"span": ""},
        ["airframe.drag.readings", "one airspeed"]),
    "sinks of no polar": (
        '[airframe.drag]\nsource = "sink and speed"\nmass = "1 kg"\n'
        'readings = [["10 m/s", "0.2 m/s"], ["20 m/s", "6 m/s"], ["11 m/s", "0.25 m/s"]]\n',
        {"span": ""}, ["airframe.drag.readings", "no polar explains it"]),
    "a run that gets faster": (
        '[airframe.drag]\nsource = "coasting run"\nmass = "1 kg"\n'
        'readings = [[0, 10], [1, 11], [2, 12], [3, 13]]\n', {"span": ""},
        ["airframe.drag.readings", "the airspeed does not fall"]),
    "a run with time standing still": (
        '[airframe.drag]\nsource = "coasting run"\nmass = "1 kg"\n'
        'readings = [[0, 20], [1, 18], [1, 17], [3, 13]]\n', {"span": ""},
        ["airframe.drag.readings", "time does not rise"]),
    "a run in kilograms": (
        '[airframe.drag]\nsource = "coasting run"\nmass = "1 kg"\n'
        'readings = [["0 kg", 20], [1, 18], [2, 17], [3, 13]]\n', {"span": ""},
        ["airframe.drag.readings", "entry 1", "a mass, not of a time"]),
    "a glide better than its induced drag allows": (
        '[airframe.drag]\nsource = "glide ratio"\nmass = "2 kg"\nglide_ratio = 60\n'
        'airspeed = "9 m/s"\n', {}, ["airframe.drag.glide_ratio", "no polar explains it"]),
    "an unknown runway": ('[airframe.runway]\nsurface = "lawn"\n', {"least": LEAST},
                          ["airframe.runway.surface", '"short grass"']),
    "a wing height without a span": (
        '[airframe.runway]\nsurface = "paved"\nwing_height = "10 cm"\n',
        {"least": LEAST, "span": "induced_factor = 0.05\n"},
        ["airframe.runway.wing_height", "of no use without the span"]),
}


@pytest.mark.parametrize("case", CASES)
def test_bad_drag_gets_a_clear_message(case: str) -> None:
    drag, changes, said = CASES[case]
    message = faults(drag, **changes)
    for words in said:
        assert words in message, message


def test_a_bad_site_does_not_hide_a_bad_part() -> None:
    text = PARTS.replace('length = "0.8 m"', 'length = "0.8 s"')
    with pytest.raises(ScenarioError) as caught:
        read_text(STARTER.replace(LEAST, "").replace('altitude = "100 m"', 'altitude = "100 s"')
                  + text)
    assert {fault.key for fault in caught.value.faults} == {
        "site.altitude", "airframe.drag.parts[3].length"}


@settings(max_examples=30)
@given(st.lists(st.tuples(st.floats(1.0, 60.0), st.floats(0.01, 30.0)), min_size=1, max_size=5),
       st.sampled_from(["sink and speed", "coasting run"]))
def test_any_readings_give_a_polar_or_words(readings, source) -> None:
    """Never a traceback, never a NaN: hostile readings are refused or make a positive polar."""
    pairs = ", ".join(f"[{first!r}, {second!r}]" for first, second in readings)
    if source == "coasting run":
        pairs = ", ".join(f"[{place}.0, {first!r}]" for place, (first, _) in enumerate(readings))
    text = f'[airframe.drag]\nsource = "{source}"\nmass = "1 kg"\nreadings = [{pairs}]\n'
    try:
        made = scenario(text, span="")
    except ScenarioError as error:
        assert all(fault.accepted for fault in error.faults)
        return
    assert made.airframe.minimum_drag_coefficient > 0.0
    assert made.airframe.induced_factor > 0.0
