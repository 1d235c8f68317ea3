"""Recordings: what is read, and files that are none."""

from __future__ import annotations

import struct
import wave

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.io import wavfile

from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.readings.recording import read_recording

RATE = 44_100


def tone(seconds: float = 0.5) -> np.ndarray:
    return np.sin(np.arange(round(RATE * seconds)) * 0.3)


@pytest.mark.parametrize("kind", [np.uint8, np.int16, np.int32, np.float32])
def test_every_usual_sample_format(tmp_path, kind) -> None:
    scale = {np.uint8: 100, np.int16: 3e4, np.int32: 2e9, np.float32: 0.9}[kind]
    data = (tone() * scale + (128 if kind is np.uint8 else 0)).astype(kind)
    wavfile.write(tmp_path / "a.wav", RATE, data)
    read = read_recording(tmp_path / "a.wav")
    assert read.rate == RATE
    assert np.corrcoef(read.samples, tone())[0, 1] > 0.999
    assert abs(np.mean(read.samples)) < 0.02 * np.max(read.samples)


def test_twenty_four_bits(tmp_path) -> None:
    values = (tone() * 8e6).astype(np.int32)
    with wave.open(str(tmp_path / "a.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(3)
        file.setframerate(RATE)
        file.writeframes(b"".join(struct.pack("<i", int(one))[:3] for one in values))
    read = read_recording(tmp_path / "a.wav")
    assert np.corrcoef(read.samples, tone())[0, 1] > 0.999


def test_the_louder_channel_and_a_part_of_it(tmp_path) -> None:
    both = np.stack([0.01 * tone(2.0), tone(2.0)], axis=1).astype(np.float32)
    both[:RATE] = 0.0
    wavfile.write(tmp_path / "a.wav", RATE, both)
    read = read_recording(tmp_path / "a.wav", start=1.0, duration=0.5)
    assert read.samples.size == RATE // 2
    assert np.max(read.samples) > 0.9
    assert "channel 2 of 2" in read.told[0]


@pytest.mark.parametrize(("data", "said"), [
    (b"ID3 mp3", "not a WAV"), (b"RIFF\x24\0\0\0WAVE", "cannot be decoded"), (b"", "not a WAV"),
    (b"RIFF\x24\0\0\0WAVEfmt ", "cannot be decoded")])
def test_files_that_are_no_recording(tmp_path, data, said) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(data)
    with pytest.raises(ScenarioError, match=said):
        read_recording(path)


def test_a_time_beyond_the_end_and_a_slow_rate(tmp_path) -> None:
    wavfile.write(tmp_path / "a.wav", RATE, tone().astype(np.float32))
    with pytest.raises(ScenarioError, match=r"nothing at 3 s: it is 0\.5 s long"):
        read_recording(tmp_path / "a.wav", start=3.0)
    wavfile.write(tmp_path / "b.wav", 1000, tone().astype(np.float32))
    with pytest.raises(ScenarioError, match="1000 samples a second"):
        read_recording(tmp_path / "b.wav")


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture],
          deadline=None)
@given(place=st.integers(8, 60), byte=st.integers(0, 255), cut=st.integers(12, 2000))
def test_a_damaged_file_is_read_or_refused(tmp_path, place, byte, cut) -> None:
    path = tmp_path / "a.wav"
    wavfile.write(path, RATE, (tone(0.02) * 3e4).astype(np.int16))
    data = bytearray(path.read_bytes())
    data[min(place, len(data) - 1)] = byte
    path.write_bytes(bytes(data[:cut]))
    try:
        assert np.isfinite(read_recording(path).samples).all()
    except ScenarioError as error:
        assert error.faults
