"""Tones in recordings made here, with known pitch, in noise; and noise without any."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize, signal

from tests.bench.sound_trial import read as answer
from tests.bench.sounds import fan_sound, made_sound
from thrustlapse.bench import blade_tone
from thrustlapse.bench.blade_tone import ToneChoice, choose_meaning
from thrustlapse.bench.noise import FLOOR_BINS
from thrustlapse.bench.tone import find_tones

RPM = math.tau / 60.0
RANGE = {"lowest": 5_000 * RPM, "highest": 150_000 * RPM}


def sound(*, seed: int, rate: float = 44_100.0, seconds: float = 2.0, noise: float = 1.0,
          tones: dict[float, float] | None = None) -> np.ndarray:
    """White noise of one deviation and tones, amplitude by frequency."""
    random = np.random.default_rng(seed)
    time = np.arange(round(rate * seconds)) / rate
    return noise * random.standard_normal(time.size) + sum(
        (amplitude * np.sin(math.tau * frequency * time + random.uniform(0, math.tau))
         for frequency, amplitude in (tones or {}).items()), np.zeros(time.size))


@pytest.mark.parametrize("pitch", [437.3, 5_281.7, 12_375.0, 19_876.54])
def test_a_pure_tone_between_bins(pitch) -> None:
    """Without noise the parabola's error stays below 0.03 of a bin."""
    found = find_tones(samples=sound(seed=1, noise=0.0, tones={pitch: 1.0}), rate=44_100.0)
    assert found.frequency[0] == pytest.approx(pitch, abs=0.03 * found.bin_width)


def test_a_tone_in_noise_and_its_stated_deviation() -> None:
    """The tone has a hundredth of the noise's power; 40 recordings: errors no larger than stated.
    They are about 0.4 of it, since noise in a piece is counted as wander."""
    random = np.random.default_rng(4)
    errors = []
    for seed in range(40):
        pitch = random.uniform(2_000.0, 18_000.0)
        found = find_tones(samples=sound(seed=seed, tones={pitch: 0.141}), rate=44_100.0)
        assert found.frequency.size >= 1
        place = int(np.argmin(np.abs(found.frequency - pitch)))
        assert place == 0
        errors.append((found.frequency[0] - pitch) / found.deviation[0])
    assert 0.2 < np.sqrt(np.mean(np.square(errors))) < 1.1


def test_noise_has_no_tone() -> None:
    """60 recordings of white and of rumbling noise: none shows a tone."""
    for seed in range(30):
        white = sound(seed=seed, seconds=1.0)
        assert find_tones(samples=white, rate=44_100.0).frequency.size == 0
        rumble = np.cumsum(white) * 0.02 + white * 0.1
        found = find_tones(samples=rumble - rumble.mean(), rate=44_100.0)
        choice = choose_meaning(found, blades=9, **RANGE)
        assert not choice.chosen
        assert "no tone" in choice.reasons[0]


def test_a_blower_in_noise_is_read() -> None:
    """82 500 rpm and 9 blades: shaft 1 375 Hz, blade pass 12 375 Hz; twice that is beyond."""
    heard = sound(seed=3, tones={1_375.0: 0.10, 12_375.0: 0.16})
    choice = choose_meaning(find_tones(samples=heard, rate=44_100.0), blades=9, **RANGE)
    best = choice.meanings[0]
    assert choice.chosen
    assert best.speed == pytest.approx(82_500 * RPM, rel=2e-4)
    assert len(best.explains) == 2
    speeds = [one.speed / RPM for one in choice.meanings]
    assert any(speed == pytest.approx(41_250, rel=1e-3) for speed in speeds)  # as twice the pass
    assert any(one.folded for one in choice.meanings)


def test_overtones_alone_need_an_expected_speed_that_excludes_the_neighbours() -> None:
    """A slow wheel whose second harmonic is louder than its blade pass; a motor could sound so."""
    heard = sound(seed=6, tones={3_000.0: 0.15, 6_000.0: 0.4, 9_000.0: 0.2})
    found = find_tones(samples=heard, rate=44_100.0)
    assert not choose_meaning(found, blades=9, **RANGE).chosen
    for width, chosen in ((500.0, True), (2_000.0, False)):
        told = choose_meaning(found, blades=9, **RANGE, expected=20_200 * RPM,
                              expected_deviation=width * RPM)
        assert told.meanings[0].speed == pytest.approx(20_000 * RPM, rel=2e-4)
        assert told.chosen is chosen


def test_a_folded_tone_is_listed_and_an_expected_speed_brings_it_up() -> None:
    """13 blades at 110 000 rpm pass 23 833 times a second: 44.1 kHz folds that to 20 267 Hz."""
    heard = sound(seed=8, tones={44_100.0 - 110_000 / 60 * 13: 0.3})
    found = find_tones(samples=heard, rate=44_100.0)
    blind = choose_meaning(found, blades=13, **RANGE)
    assert blind.meanings[0].speed == pytest.approx(20_266.67 / 13 * math.tau, rel=1e-4)
    assert any(one.speed == pytest.approx(110_000 * RPM, rel=1e-4) and one.folded
               for one in blind.meanings)
    told = choose_meaning(found, blades=13, **RANGE, expected=110_000 * RPM,
                          expected_deviation=3_000 * RPM)
    assert told.meanings[0].speed == pytest.approx(110_000 * RPM, rel=1e-4)
    assert told.meanings[0].folded


def test_ninety_made_recordings() -> None:
    """Every seventh of the made recordings, of all kinds, codecs and rooms: none read wrongly.

    All of them: ``python -m tests.bench.sound_trial``.
    """
    made = [made_sound(number) for number in range(0, 600, 7)]
    answers = Counter(answer(one) for one in made)
    assert {one.kind for one in made} == {"machine", "whine", "outside", "blades"}
    assert answers["wrong"] == 0
    assert answers["right"] > 0.5 * answers.total()


@pytest.mark.parametrize("seed", range(5))
def test_a_measured_fan_rebuilt(seed) -> None:
    """996 rpm by video: the shaft line and the blades' agree. Where the range excludes it, nothing
    is decided; at low, where the lines were too quiet for the source's own microphone, nor."""
    found = find_tones(samples=fan_sound("medium", seed=seed), rate=16_000.0)
    wide = choose_meaning(found, blades=11, lowest=200 * RPM, highest=150_000 * RPM)
    assert wide.chosen
    assert wide.meanings[0].speed == pytest.approx(996 * RPM, rel=5e-3)
    narrow = choose_meaning(found, blades=11, lowest=1_000 * RPM, highest=150_000 * RPM)
    assert not narrow.chosen
    assert "outside the range" in narrow.reasons[-1]
    low = find_tones(samples=fan_sound("low", seed=seed), rate=16_000.0)
    assert not choose_meaning(low, blades=11, lowest=200 * RPM, highest=150_000 * RPM).chosen


@pytest.mark.parametrize("overtones", [{}, {8_000.0: 0.1}, {8_000.0: 0.1, 12_000.0: 0.05}])
@pytest.mark.parametrize("expected", [None, 26_667 * RPM])
def test_a_lone_whine_never_decides(overtones, expected) -> None:
    """4 000 Hz for 9 blades would be 26 667 rpm; the expected tenth excludes no neighbour."""
    found = find_tones(samples=sound(seed=4, tones={4_000.0: 0.3} | overtones), rate=44_100.0)
    assert not choose_meaning(found, blades=9, **RANGE, expected=expected).chosen


@pytest.mark.parametrize("mains", [50.0, 60.03])
def test_mains_hum_is_no_fan(mains) -> None:
    """Its multiples were read as a wheel of three blades at 3 000 rpm."""
    heard = sound(seed=2, seconds=5.0, tones={mains * k: 0.3 / k for k in (1, 2, 3, 6)})
    found = find_tones(samples=heard, rate=44_100.0)
    choice = choose_meaning(found, blades=3, lowest=200 * RPM, highest=150_000 * RPM)
    assert found.frequency.size == 4
    assert not choice.chosen
    assert "mains hum" in choice.reasons[0]


def test_a_shaft_that_turns_at_a_multiple_of_the_mains_may_be_it() -> None:
    """6 blades at 24,000 rpm in hum, their shaft's 400 and 800 Hz 8 and 16 times the mains, and a
    motor's line at 36 times the shaft: without the shaft's lines it was read as the blades of a
    wheel at 144,000 rpm. Where the hum can be of no rotor that explains as much, it harms none."""
    hum = {50.0 * k: 0.3 / k for k in (1, 2, 3, 4)}
    rotor = {400.0: 0.3, 800.0: 0.2, 2_400.0: 0.4, 4_800.0: 0.2, 14_400.0: 0.4}
    found = find_tones(samples=sound(seed=2, seconds=5.0, tones=hum | rotor), rate=44_100.0)
    choice = choose_meaning(found, blades=6, **RANGE)
    assert not choice.chosen
    assert "if 400 Hz are no hum, 24000 rpm" in choice.reasons[-1]
    told = choose_meaning(found, blades=6, **RANGE, expected=140_000 * RPM)
    assert told.chosen  # as an expected speed excludes the other
    beside = {407.3: 0.3, 2_443.8: 0.4}
    found = find_tones(samples=sound(seed=2, seconds=5.0, tones=hum | beside), rate=44_100.0)
    choice = choose_meaning(found, blades=6, **RANGE)
    assert choice.chosen
    assert choice.meanings[0].speed == pytest.approx(407.3 * math.tau, rel=1e-4)


@pytest.mark.parametrize("given", [8, 10])
def test_a_wrong_number_of_blades_is_contradicted_by_the_shaft(given) -> None:
    heard = sound(seed=3, tones={1_000.0: 0.1, 9_000.0: 0.2, 18_000.0: 0.1})
    choice = choose_meaning(find_tones(samples=heard, rate=44_100.0), blades=given, **RANGE)
    assert not choice.chosen
    assert "1000 Hz would be the shaft of a wheel of 9 blades" in " ".join(
        text for one in choice.meanings for text in one.against)


def test_a_recording_cut_at_16_khz_is_noticed_and_says_nothing_of_what_lies_beyond() -> None:
    """9 blades at 112 krpm pass 16 800 times a second; the shaft's 1 867 Hz and its double were
    once read as the blade pass of a wheel at 12 444 rpm."""
    lines = {112e3 / 60: 0.2, 112e3 / 30: 0.1}
    whole = sound(seed=3, seconds=3.0, tones=lines | {16_800.0: 0.5})
    cut = signal.sosfilt(signal.ellip(12, 0.3, 70.0, 16_000.0, fs=44_100.0, output="sos"),
                         sound(seed=3, seconds=3.0, tones=lines))  # a codec leaves nothing beyond
    found = find_tones(samples=cut, rate=44_100.0)
    assert found.band[1] == pytest.approx(16_000.0, abs=60.0)
    assert not choose_meaning(found, blades=9, **RANGE).chosen
    told = choose_meaning(found, blades=9, **RANGE, expected=110e3 * RPM)
    assert told.chosen
    assert told.meanings[0].speed == pytest.approx(112e3 * RPM, rel=1e-3)
    open_band = find_tones(samples=whole, rate=44_100.0)
    assert open_band.band == (0.0, 22_050.0)
    assert choose_meaning(open_band, blades=9, **RANGE).chosen


def test_a_steady_line_far_below_the_noise_of_short_pieces() -> None:
    """A line 6 dB over a hundredth of the noise's power in 1 Hz stands 10 log(T) higher in T
    seconds; its error is as stated: 60 recordings of 8 s, where the closed form gives 0.39 bins
    over the root of the power without a window."""
    random = np.random.default_rng(8)
    errors = []
    for seed in range(60):
        pitch = random.uniform(500.0, 15_000.0)
        # a^2 / 2 over 2 / rate is 7 Hz: 7 x 8 s / 1.5 = 37, 16 dB in a bin
        heard = sound(seed=seed, seconds=8.0, tones={pitch: math.sqrt(2 * 2 * 10 / 44_100.0)})
        found = find_tones(samples=heard, rate=44_100.0)
        assert found.frequency.size <= 2
        if found.frequency.size:
            errors.append((found.frequency[0] - pitch) / found.deviation[0])
    assert len(errors) > 50
    assert 0.6 < np.sqrt(np.mean(np.square(errors))) < 1.3


def test_a_shaft_alone_whose_blade_pass_is_beyond_hearing_is_not_taken_for_a_slow_wheel() -> None:
    """12 blades at 108 518 rpm pass 21 704 times a second, which 44.1 kHz does not let through; the
    1 809 Hz of the shaft were once read as the blade pass of a wheel at 9 042 rpm."""
    found = find_tones(samples=sound(seed=5, tones={108_518 / 60: 0.3}), rate=44_100.0)
    assert not choose_meaning(found, blades=12, **RANGE).chosen


def test_two_blades_pass_at_the_double_of_the_shaft_and_so_prove_nothing() -> None:
    """A shaft and its double are every motor's: only three blades and more have a ratio of their
    own."""
    found = find_tones(samples=sound(seed=5, tones={500.0: 0.3, 1_000.0: 0.4}), rate=44_100.0)
    assert not choose_meaning(found, blades=2, **RANGE).chosen


def test_a_speed_far_from_what_else_is_known_is_not_taken() -> None:
    """Shaft and blade pass of 9 blades at 30 000 rpm, where 40 000 +- 3 000 is expected: 3.3
    deviations away, however well the two lines agree."""
    found = find_tones(samples=sound(seed=5, tones={500.0: 0.3, 4_500.0: 0.4}), rate=44_100.0)
    assert choose_meaning(found, blades=9, **RANGE).chosen
    told = choose_meaning(found, blades=9, **RANGE, expected=40_000 * RPM,
                          expected_deviation=3_000 * RPM)
    assert told.meanings[0].speed == pytest.approx(30_000 * RPM, rel=1e-3)
    assert not told.chosen
    assert "3.3 deviations from the expected speed" in " ".join(told.reasons)


def test_a_tone_no_shaft_can_make() -> None:
    found = find_tones(samples=sound(seed=9, tones={150.0: 0.3}), rate=44_100.0)
    choice = choose_meaning(found, blades=9, lowest=60_000 * RPM, highest=61_000 * RPM)
    assert not choice.chosen
    assert "no tone can come" in choice.reasons[-1]


def test_a_tone_that_drifts_evenly_is_as_sharp_as_a_steady_one() -> None:
    """A tone of 8 kHz that gains 5 Hz a second: 8,007.5 Hz halfway through 3 s."""
    rate, seconds = 44_100.0, 3.0
    time = np.arange(round(rate * seconds)) / rate
    rising = np.sin(math.tau * (8_000.0 + 2.5 * time) * time)
    steady = np.sin(math.tau * 8_000.0 * time)
    noise = 0.2 * sound(seed=2, seconds=seconds)
    drifting, still = (find_tones(samples=one + noise, rate=rate) for one in (rising, steady))
    assert still.drift == 0.0
    assert drifting.drift == pytest.approx(5.0 / 8_007.5, rel=0.02)
    assert drifting.frequency[0] == pytest.approx(8_007.5, abs=0.05)
    # spread over the 45 bins it passes it would be 16 dB less
    assert drifting.level[0] == pytest.approx(still.level[0], abs=4.0)


def _with_faint(*pitches: float) -> ToneChoice:
    """A blade pass in white noise of deviation 1, and lines 13.5 dB over their bin: a^2 n / 6 under
    a Hann window. That is too little to stand out of all bins."""
    rate, seconds = 44_100.0, 4.0
    time = np.arange(round(rate * seconds)) / rate
    heard = np.random.default_rng(12).standard_normal(time.size) + 0.3 * np.sin(
        math.tau * 3_003.0 * time)
    amplitude = math.sqrt(6.0 * 10.0 ** 1.35 / time.size)
    phases = {429.0: 0.0, 214.5: 1.4}  # where this noise adds little to them
    for pitch in pitches:
        heard = heard + amplitude * np.sin(math.tau * pitch * time + phases[pitch])
    found = find_tones(samples=heard, rate=rate)
    assert found.frequency == pytest.approx([3_003.0], abs=0.1)  # nothing else stands out
    return choose_meaning(found, blades=7, lowest=1_000 * RPM, highest=150_000 * RPM)


def test_a_faint_shaft_s_line_counts_where_the_blades_foretell_it() -> None:
    """429 Hz is a seventh of 3,003 Hz, and no multiple of a mains' frequency."""
    assert not _with_faint().chosen
    found = _with_faint(429.0)
    assert found.chosen
    assert found.meanings[0].speed == pytest.approx(429.0 * math.tau, rel=1e-4)
    assert "faintly" in found.reasons[0]


def test_a_faint_line_at_half_of_the_claimed_shaft_contradicts_it() -> None:
    """Then 429 Hz is the double, and the tone a motor's."""
    found = _with_faint(429.0, 214.5)
    assert not found.chosen
    assert any("half or a third" in text for one in found.meanings for text in one.against)


def test_noise_alone_passes_for_faint_lines_as_seldom_as_stated(monkeypatch) -> None:
    """Property: of 3,000 readings of white noise no more than the stated chance of one in twenty;
    Bonferroni's bound over places a quarter of a bin apart is not far above what they do."""
    monkeypatch.setattr(blade_tone, "BY_CHANCE", 0.05)
    tones = find_tones(samples=np.random.default_rng(4).standard_normal(441_000), rate=44_100.0)
    shafts = 1_010.0 + 2.9 * np.arange(3_000)
    found = [bool(blade_tone._faint(tones, 0.0, {"shaft": one, "twice the shaft": 2.0 * one}))
             for one in shafts.tolist()]
    assert 0.01 < np.mean(found) < 0.05


def test_a_shaft_and_its_double_too_faint_each_count_together() -> None:
    """Chances of 1e-3 twice make Fisher's 1e-6 (1 + ln 1e6) = 1.5e-5, under a third of 1e-4; each
    is that of an exponential law over a median of 81 (a product over its order statistics), with
    Rice's rule for the half bin searched. A line that something louder stands beside is none."""
    tones = find_tones(samples=np.random.default_rng(4).standard_normal(44_100), rate=44_100.0)
    level = np.zeros(160_000)

    def chance(ratio: float) -> float:
        one = math.prod(j / (j + ratio) for j in range(FLOOR_BINS // 2 + 1, FLOOR_BINS + 1))
        return one * (1.0 + 0.5 * math.sqrt(math.pi / 3.0 * -math.log(one)))

    each = 10.0 * math.log10(optimize.brentq(lambda ratio: chance(ratio) - 1e-3, 1.0, 50.0))
    level[[10_110, 20_220]] = each
    fine = replace(tones, fine=level, fine_width=0.1, uneven=0.0)
    near = {"shaft": 1_011.02, "twice": 2_022.04}
    assert blade_tone._faint(fine, 0.0, near) == pytest.approx({"shaft": each, "twice": each})
    assert not blade_tone._faint(fine, 0.0, {"shaft": 1_011.02, "twice": 2_122.04})
    assert not blade_tone._faint(fine, 0.0, {"shaft": 3.0, "twice": 6.0})
    level[10_170] = each + 1.0
    assert not blade_tone._faint(fine, 0.0, near)


def test_faint_lines_alone_outdo_no_other_reading() -> None:
    """Shaft and double of 11 blades in a small room, 1,064 and 2,127 Hz: two faint places of the
    room at 97 and 193 Hz once made them blade passes of a wheel at 5,802 rpm. In even noise they
    would be lines, and nothing is decided; so uneven as this is, they are not."""
    made = made_sound(92, seed=503)
    found = find_tones(samples=made.samples, rate=made.rate)
    known = {"blades": made.blades, "lowest": made.lowest, "highest": made.highest}
    choice = choose_meaning(replace(found, uneven=0.0), **known)
    assert not choice.chosen
    assert "too faint" in choice.reasons[-1]
    choice = choose_meaning(found, **known)
    assert choice.chosen
    assert choice.meanings[0].speed == pytest.approx(made.speed, rel=1e-4)


def _faintly(*, blade: dict[float, float], rate: float = 44_100.0) -> np.ndarray:
    """Lines [Hz] of a level [dB] over their own bin, without a window, of 4 s of white noise."""
    time = np.arange(round(4.0 * rate)) / rate
    random = np.random.default_rng(12)
    heard = random.standard_normal(time.size)
    for pitch, level in blade.items():  # (a n / 2)^2 against n
        heard = heard + 2.0 * math.sqrt(10.0 ** (level / 10.0) / time.size) * np.cos(
            math.tau * pitch * time + random.uniform(0.0, math.tau))
    return heard


def test_a_tone_with_a_faint_overtone_is_no_lone_tone() -> None:
    """Blade pass 3,003 Hz of 7 blades; its double stands out of its own place only. A sharp
    expectation then decides, which it never does for the tone alone."""
    narrow = {"expected": 426.0 * math.tau, "expected_deviation": 8.0 * math.tau}
    for faint, chosen in (({}, False), ({6_006.0: 13.5}, True)):
        found = find_tones(samples=_faintly(blade={3_003.0: 30.0, **faint}), rate=44_100.0)
        assert found.frequency == pytest.approx([3_003.0], abs=0.1)
        choice = choose_meaning(found, blades=7, **RANGE, **narrow)
        assert choice.chosen is chosen
        assert choice.meanings[0].speed == pytest.approx(429.0 * math.tau, rel=1e-4)
        assert not choose_meaning(found, blades=7, **RANGE).chosen


@pytest.mark.parametrize(("whine", "chosen"), [(None, False), (12.0, True), (12.37, False)])
def test_a_whine_that_is_a_whole_multiple_of_no_other_speed_tells(whine, chosen) -> None:
    """10 blades at 30,000 rpm, 5 and 10 kHz; 31,500 +- 1,800 is expected, which a wheel at 10/9 of
    it, 33,333 rpm, is in too. A motor's line at 12 times the shaft is 10.8 times that, and so no
    line of it; one at 12.37 times is no shaft's."""
    lines = {5_000.0: 0.3, 10_000.0: 0.2} | ({} if whine is None else {whine * 500.0: 0.2})
    found = find_tones(samples=sound(seed=3, tones=lines), rate=44_100.0)
    told = choose_meaning(found, blades=10, **RANGE, expected=31_500 * RPM,
                          expected_deviation=1_800 * RPM)
    assert told.meanings[0].speed == pytest.approx(30_000 * RPM, rel=1e-4)
    assert told.chosen is chosen
    assert ("whole multiples" in told.reasons[-1]) is chosen
    assert not choose_meaning(found, blades=10, **RANGE).chosen


def test_a_faint_line_whose_half_the_recording_cuts_is_no_proof_of_a_shaft() -> None:
    """4 blades at 10,000 rpm through a telephone: of 167, 333, 667 and 1,333 Hz the first is lost,
    and the others are the shaft, its double and the blade pass of a wheel of 4 at 20,000 rpm as
    well. An expected speed tells."""
    heard = _faintly(blade={1_000 / 6: 20.0, 1_000 / 3: 12.0, 4_000 / 6: 35.0, 8_000 / 6: 25.0},
                     rate=8_000.0)
    cut = signal.sosfilt(signal.ellip(12, 0.3, 70.0, (300.0, 3_400.0), btype="bandpass", fs=8_000.0,
                                      output="sos"), heard)
    found = find_tones(samples=cut + 0.1 * np.random.default_rng(3).standard_normal(cut.size),
                       rate=8_000.0)
    assert found.band == pytest.approx((300.0, 3_400.0), abs=30.0)
    assert np.sort(found.frequency) == pytest.approx([4_000 / 6, 8_000 / 6], abs=0.1)
    limits = {"lowest": 1_000 * RPM, "highest": 150_000 * RPM}
    blind = choose_meaning(found, blades=4, **limits)
    assert not blind.chosen
    assert any("half of that shaft's own" in text for one in blind.meanings for text in one.against)
    told = choose_meaning(found, blades=4, **limits, expected=10_300 * RPM,
                          expected_deviation=300 * RPM)
    assert told.chosen
    assert told.meanings[0].speed == pytest.approx(10_000 * RPM, rel=1e-3)


def test_a_room_s_colour_is_no_faint_line() -> None:
    """A motor's whine at 14 times the shaft of 10 blades, 20 dB, in a small room whose colour
    stands 14 dB up at a tenth of it: once read as blades and their shaft."""
    made = made_sound(589, seed=60217)
    found = find_tones(samples=made.samples, rate=made.rate)
    assert found.uneven > 0.3
    assert answer(made) == "not decided"


def test_a_room_s_resonances_are_no_rotor() -> None:
    """Tones 9 dB up whose ratio is the number of blades, as a room's own colour may have them, do
    not decide; the same two at 12 dB do."""
    tones = find_tones(samples=sound(seed=3, tones={919.0: 0.3, 6_433.0: 0.3}), rate=44_100.0)
    assert tones.frequency.size == 2
    for level, chosen in ((9.0, False), (12.0, True)):
        found = choose_meaning(replace(tones, level=np.array([level, level])), blades=7, **RANGE)
        assert found.chosen == chosen
        assert ("resonances" in found.reasons[-1]) != chosen


def test_clipping_is_seen() -> None:
    heard = np.clip(sound(seed=1, noise=0.1, tones={3_000.0: 1.0}), -0.5, 0.5)
    assert find_tones(samples=heard, rate=44_100.0).clipped > 0.3


@pytest.mark.parametrize(("samples", "said"), [(np.zeros(50_000), "silence"),
                                               (np.ones(500), "too short"),
                                               (np.full(50_000, np.nan), "silence")])
def test_what_holds_no_sound(samples, said) -> None:
    with pytest.raises(ValueError, match=said):
        find_tones(samples=samples, rate=44_100.0)
