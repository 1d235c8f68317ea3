"""Made recordings of rotors whose speed is known: the truths the reading of sounds is judged by.

Each recording follows from its number and :data:`SEED` alone. A machine is drawn (blades, speed,
how loud its lines are), then a room, a recorder and a codec, each a few lines of arithmetic that do
what such things do to a sound: cut it, quantise it, punch holes into its spectrum, add echoes.
Levels are drawn from ranges of common practice, no source. It was written, and committed, before
the method that it judges was changed; :data:`KEPT_CODECS` and :data:`KEPT_ROOMS` were not listened
to while the method was made and serve one final run.

Kinds: ``machine`` (nothing wrong), ``whine`` (a motor is all that is heard), ``outside`` (the true
speed is not in the range that is searched), ``blades`` (a wrong blade count is given). In the last
three the right answer is "not decided"; only the true speed would be right too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import signal

from thrustlapse.arrays import Array

SEED = 20_161
RECORDINGS = 600
KINDS = ("machine",) * 27 + ("whine", "outside", "blades")
LEVELS = (20.0, 30.0, 40.0, 50.0)
"""Classes: blade pass over the noise beside it, in a band of 1 Hz [dB]."""

CODECS = ("plain 44.1 kHz", "plain 48 kHz", "cut at 16 kHz", "telephone 3.4 kHz",
          "plain 96 kHz", "spectral holes, 15 kHz", "wide telephone 7 kHz", "companded 8 bit")
KEPT_CODECS = CODECS[4:]
ROOMS = ("dry", "small room", "wind", "hall", "ground echo", "mains hum")
KEPT_ROOMS = ROOMS[3:]


@dataclass(frozen=True, kw_only=True)
class MadeSound:
    """A recording and its truth: ``speed`` [rad/s] halfway, ``level`` a class of :data:`LEVELS`.

    Given to the method: ``samples`` at ``rate`` [Hz], ``blades``, range ``lowest`` to ``highest``
    [rad/s], ``expected`` with its deviation [rad/s] or None.
    """

    number: int
    kind: str
    level: float
    codec: str
    room: str
    samples: Array
    rate: float
    blades: int
    speed: float
    lowest: float
    highest: float
    expected: float | None
    expected_deviation: float | None

    @property
    def kept(self) -> bool:
        """Whether its codec or room is kept for the final run."""
        return self.codec in KEPT_CODECS or self.room in KEPT_ROOMS


def made_sound(number: int) -> MadeSound:
    """The recording of a number from 0 on; kinds, levels, codecs and rooms go round."""
    random = np.random.default_rng([SEED, number])
    kind, level = KINDS[number % len(KINDS)], LEVELS[(number // 3) % len(LEVELS)]
    codec = str(random.choice(CODECS, p=(0.2, 0.2, 0.15, 0.05, 0.1, 0.15, 0.05, 0.1)))
    room = str(random.choice(ROOMS))
    rate = 96_000.0 if codec == "plain 96 kHz" else 44_100.0 if "44" in codec else 48_000.0
    blades = int(random.integers(3, 14))
    top = {"telephone 3.4 kHz": 3_000.0, "wide telephone 7 kHz": 6_500.0,
           "companded 8 bit": 10_000.0}.get(codec, 15_000.0)
    # two in ten have their blade pass beyond what the codec lets through
    passing = top * (random.uniform(1.1, 2.0) if random.random() < 0.2 else
                     random.uniform(0.15, 1.0))
    turns = min(passing / blades, 2_000.0)
    heard, speed = _machine(random, kind, level, turns, blades, rate)
    heard = _codec(random, codec, _room(random, room, heard, rate), rate)
    if random.random() < 0.15:
        heard = np.clip(heard, *(np.max(np.abs(heard)) * random.uniform(0.3, 0.8) * np.array(
            [-1.0, random.uniform(0.7, 1.0)])))
    if codec in ("telephone 3.4 kHz", "wide telephone 7 kHz"):
        fewer = 8_000.0 if "3.4" in codec else 16_000.0
        heard, rate = signal.resample_poly(heard, 1, round(rate / fewer)), fewer
    heard = np.round(heard / np.max(np.abs(heard)) * 30_000.0)  # 16 bit
    told = random.random() < 0.5
    off = float(random.standard_normal())
    width = float(random.choice([0.02, 0.05, 0.1])) * speed
    given = blades + int(random.choice([-1, 1])) if kind == "blades" else blades
    lowest, highest = (1.2 * speed, 12.0 * speed) if kind == "outside" and random.random() < 0.5 \
        else (0.05 * speed, 0.8 * speed) if kind == "outside" \
        else (math.tau / 60.0 * 1e3, math.tau / 60.0 * 150e3)
    return MadeSound(number=number, kind=kind, level=level, codec=codec, room=room, samples=heard,
                     rate=rate, blades=given, speed=speed, lowest=lowest, highest=highest,
                     expected=speed + off * width if told and kind != "outside" else None,
                     expected_deviation=width if told and kind != "outside" else None)


def fan_sound(setting: str, *, seconds: float = 13.0, seed: int = 7) -> Array:
    """A measured 11-blade fan rebuilt from its published lines, 16 kHz, by telephone.

    Levels are not published: "visible" lines are put 25 dB, "barely" 8 dB above the noise at the
    full resolution of the recording, which is the least that the source's own figures show.

    Source: D. Wells, air purifier speed from audio (2017 to 2020): at medium 16.64 Hz shaft,
    183.07 Hz blade pass, a line at 60 times the shaft, 996 rpm by video; at low 617 rpm by video,
    about 10.3 Hz barely, blade pass not visible.
    """
    rate = 16_000.0
    lines = {"medium": {16.64: 25.0, 183.07: 25.0, 998.5: 30.0}, "low": {10.283: 8.0}}[setting]
    random = np.random.default_rng(seed)
    time = np.arange(round(rate * seconds)) / rate
    # a line of amplitude a in white noise of deviation 1 stands a^2 n / 6 over its bin under a
    # Hann window (power a^2 / 4 against 1.5 / n of the noise)
    return random.standard_normal(time.size) + sum(
        (math.sqrt(6.0 / time.size) * 10.0 ** (decibel / 20.0)
         * np.sin(math.tau * (pitch * time + random.random())) for pitch, decibel in lines.items()),
        np.zeros(time.size))


def _machine(random: np.random.Generator, kind: str, level: float, turns: float, blades: int,
             rate: float) -> tuple[Array, float]:
    """Lines of a rotor and its motor in the noise of its own flow, and its middle speed [rad/s]."""
    time = np.arange(round(rate * random.choice([3.0, 5.0, 10.0]))) / rate
    drift = random.choice([0.0, 1e-4, 1e-3]) * random.uniform(-1.0, 1.0)  # share a second
    turned = turns * (time + 0.5 * drift * (time - time[-1]) * time)
    lines = {float(blades): 0.0, 2.0 * blades: random.uniform(-25.0, -3.0),
             3.0 * blades: random.uniform(-30.0, -8.0)}
    if random.random() < 0.9:  # a rotor in perfect balance is rare
        lines[1.0] = random.uniform(-25.0, 3.0)
        lines[2.0] = lines[1.0] + random.uniform(-15.0, 3.0)
    if kind == "whine":
        lines = {}
    whine = kind == "whine" or random.random() < 0.3
    # a tone of amplitude 1 has power 1/2; white noise of deviation s has 2 s^2 / rate in 1 Hz
    white = random.standard_normal(time.size)
    heard = 10.0 ** (-level / 20.0) * math.sqrt(rate) / 2.0 * white
    cut = 0.475 * rate

    def line(order: float, decibel: float) -> Array:
        if order * turns > cut:
            return np.zeros_like(time)
        return 10.0 ** (decibel / 20.0) * np.sin(math.tau * (order * turned + random.random()))

    for order, decibel in lines.items():
        heard += line(order, decibel)
    if whine:
        order = float(random.integers(2, 8)) * float(random.choice([1, 2, 6]))
        loud = random.uniform(-15.0, 5.0)
        if random.random() < 0.3:  # the switching of the controller, whatever the speed
            order = float(random.choice([8_000.0, 12_000.0, 16_000.0])) / turns
            pitch = order * turns
            heard += (pitch < cut) * 10.0 ** (loud / 20.0) * np.sin(math.tau * pitch * time)
        else:
            heard += line(order, loud)
            if random.random() < 0.5:
                heard += line(2.0 * order, loud + random.uniform(-20.0, -3.0))
    return heard, math.tau * turns


def _room(random: np.random.Generator, room: str, heard: Array, rate: float) -> Array:
    """What the way to the microphone does."""
    noise = float(np.std(heard))
    if room in ("small room", "hall"):
        lasting = 0.3 if room == "small room" else 1.2
        tail = np.arange(round(lasting * rate)) / rate
        echo = random.standard_normal(tail.size) * 10.0 ** (-3.0 * tail / lasting)
        echo *= 0.5 / math.sqrt(float(np.sum(echo**2)))
        echo[0] = 1.0
        return np.asarray(signal.oaconvolve(heard, echo)[:heard.size])
    if room == "ground echo":
        later = round(random.uniform(0.001, 0.006) * rate)
        return np.asarray(heard + 0.8 * np.concatenate([np.zeros(later), heard[:-later]]))
    if room == "wind":
        b, a = signal.butter(2, random.uniform(40.0, 150.0), fs=rate)
        gust = signal.lfilter(b, a, random.standard_normal(heard.size))
        return np.asarray(heard + 2.0 * noise * gust / np.std(gust))
    if room == "mains hum":
        time = np.arange(heard.size) / rate
        return np.asarray(heard + sum(0.3 / order * np.sin(math.tau * 50.0 * order * time)
                                      for order in (1, 2, 3, 4, 6)))
    return heard


def _codec(random: np.random.Generator, codec: str, heard: Array, rate: float) -> Array:
    """What the recorder keeps of it."""
    if codec.startswith("plain"):
        return heard
    if codec == "companded 8 bit":  # mu-law, mu = 255, ITU-T G.711 in its continuous form
        scaled = heard / np.max(np.abs(heard))
        small = np.sign(scaled) * np.log1p(255.0 * np.abs(scaled)) / math.log(256.0)
        small = np.round(small * 127.0) / 127.0
        return np.asarray(np.sign(small) * (256.0 ** np.abs(small) - 1.0) / 255.0)
    edges = {"cut at 16 kHz": (20.0, 16_000.0), "spectral holes, 15 kHz": (20.0, 15_000.0),
             "telephone 3.4 kHz": (300.0, 3_400.0), "wide telephone 7 kHz": (50.0, 7_000.0)}[codec]
    sos = signal.ellip(12, 0.3, 70.0, edges, btype="bandpass", fs=rate, output="sos")
    heard = np.asarray(signal.sosfilt(sos, heard))
    if codec == "spectral holes, 15 kHz":
        # a transform codec drops what is weak beside what is loud nearby, piece by piece
        _, _, pieces = signal.stft(heard, fs=rate, window="cosine", nperseg=2048)
        size = np.abs(pieces)
        kernel = np.ones((16, 1)) / 16.0
        beside = signal.convolve2d(size, kernel, mode="same")
        pieces = np.where(size < 0.5 * beside, 0.0, pieces)
        step = 0.1 * beside + 1e-12 * float(size.max())
        pieces = step * (np.round(pieces.real / step) + 1j * np.round(pieces.imag / step))
        _, back = signal.istft(pieces, fs=rate, window="cosine", nperseg=2048)
        heard = np.asarray(back[:heard.size])
    if "telephone" in codec:
        heard = heard + 1e-3 * float(np.max(np.abs(heard))) * random.standard_normal(heard.size)
    return heard
