"""A sound recording a person made: one channel of samples, or one clear fault."""

from __future__ import annotations

import io
import os
import struct
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.scenario.faults import printable
from thrustlapse.scenario.files.text_file import bytes_of, single_fault

LARGEST_FILE = 200_000_000
"""Bytes; ten minutes of two channels at the highest usual rate."""

LONGEST = 60.0
"""Seconds that are looked at."""

SLOWEST, FASTEST = 4_000.0, 800_000.0
"""Samples a second of a recording that can hold a blade tone [Hz]."""

CONVERT_HINT = "save or convert it as WAV, 16 bit, not compressed"


@dataclass(frozen=True, kw_only=True)
class Recording:
    """Samples of the louder channel, shape (n,), any scale; ``rate`` [Hz]; ``told`` what was
    chosen."""

    samples: Array
    rate: float
    told: tuple[str, ...]


def read_recording(path: str | os.PathLike[str], *, start: float = 0.0,
                   duration: float | None = None) -> Recording:
    """Samples of a WAV file, from ``start`` [s] for ``duration`` [s], at most a minute.

    Raises
    ------
    ScenarioError
        For a file that is no readable WAV, or has nothing at that time.
    """
    where = Path(path)
    name = str(where)
    data = bytes_of(where, noun="a recording", form="in WAV", largest=LARGEST_FILE,
                    too_large="too large", starter_hint="")
    if not data.startswith((b"RIFF", b"RIFX", b"RF64")) or data[8:12] != b"WAVE":
        raise single_fault(name, "not a WAV file", "an uncompressed WAV recording", CONVERT_HINT)
    rate, sound = _decoded(data, name)
    if not SLOWEST <= rate <= FASTEST:
        raise single_fault(name, f"{rate:g} samples a second",
                           f"{SLOWEST:g} to {FASTEST:g} samples a second")
    channels = sound.reshape(len(sound), -1)
    first = round(start * rate)
    wanted = LONGEST if duration is None else min(duration, LONGEST)
    part = channels[first:first + round(wanted * rate)]
    if len(part) == 0:
        raise single_fault(name, f"nothing at {start:g} s: it is {len(sound) / rate:.1f} s long",
                           "a time within the recording")
    if not np.isfinite(part).all():
        raise single_fault(name, "samples that are no numbers", "an uncompressed WAV recording",
                           CONVERT_HINT)
    loud = np.std(part, axis=0)
    best = int(np.argmax(loud))
    told = [f"{printable(name)}: {len(part) / rate:.2f} s at {rate:g} samples a second"
            + (f", channel {best + 1} of {part.shape[1]}, the louder" if part.shape[1] > 1 else "")]
    if len(part) < len(channels) - first and duration is None:
        told.append(f"only the first {LONGEST:g} s were looked at")
    return Recording(samples=np.asarray(part[:, best]), rate=float(rate), told=tuple(told))


def _decoded(data: bytes, name: str) -> tuple[int, Array]:
    """Rate and samples; whatever is wrong inside the file becomes one fault."""
    from scipy.io import wavfile

    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")  # chunks of notes that are no sound
            rate, sound = wavfile.read(io.BytesIO(data))
            values = np.asarray(sound, dtype=float)
    except (ValueError, struct.error, EOFError, OverflowError, TypeError, KeyError, IndexError,
            UnboundLocalError, MemoryError, OSError, ZeroDivisionError) as error:
        reason = printable(str(error))[:100]
        raise single_fault(name, f"a WAV file that cannot be decoded ({reason})",
                           "an uncompressed WAV recording", CONVERT_HINT) from None
    if values.size == 0:
        raise single_fault(name, "a WAV file without sound", "an uncompressed WAV recording")
    if np.asarray(sound).dtype == np.uint8:
        values = values - 128.0
    return int(rate), values
