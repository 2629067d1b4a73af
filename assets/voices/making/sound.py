"""Sound at 48 kHz: reading, trimming, splicing, levelling, writing. Times are in seconds."""

import subprocess
import tempfile
import wave
from math import gcd

import numpy as np
from scipy import signal

RATE = 48_000


def read(file: str) -> np.ndarray:
    """A mono 16-bit WAV file, resampled to 48 kHz."""
    with wave.open(file) as wav:
        if wav.getnchannels() != 1 or wav.getsampwidth() != 2:
            raise SystemExit(f"{file}: mono and 16 bits are expected of the synthesiser")
        frames = np.frombuffer(wav.readframes(wav.getnframes()), dtype="<i2") / 32768.0
        rate = wav.getframerate()
    factor = gcd(rate, RATE)
    return signal.resample_poly(frames, RATE // factor, rate // factor, window=("kaiser", 12.0))


def write(file: str, frames: np.ndarray) -> None:
    """Writes a mono 16-bit FLAC file at 48 kHz, as small as its coder makes it."""
    with tempfile.TemporaryDirectory() as folder:
        plain = f"{folder}/plain.wav"
        with wave.open(plain, "wb") as wav:
            wav.setnchannels(1)
            wav.setsampwidth(2)
            wav.setframerate(RATE)
            wav.writeframes(sixteen_bits(frames).astype("<i2").tobytes())
        small = ["--best", "--exhaustive-model-search", "--no-padding", "--no-seektable"]
        subprocess.run(["flac", "--silent", *small, "-o", file, "--force", plain], check=True)


def sixteen_bits(frames: np.ndarray) -> np.ndarray:
    """The whole numbers that a 16-bit file holds."""
    return np.clip(np.rint(frames * 32768.0), -32768, 32767)


def audible(frames: np.ndarray, first_phone: float) -> tuple[int, int]:
    """The frames between which anything is heard, looking from 30 ms before the first phone.

    Heard is what exceeds −46 dB of the loudest 5 ms at the beginning, which keeps a weak f or th, and
    −36 dB at the end, where a synthesiser's voice trails off.
    """
    high_pass = signal.butter(2, 70, "high", fs=RATE)
    hop, window = RATE // 1000, RATE // 200
    power = np.concatenate([[0.0], np.cumsum(signal.filtfilt(*high_pass, frames) ** 2)])
    places = np.arange((len(frames) - window) // hop) * hop
    level = np.sqrt(np.maximum(power[places + window] - power[places], 0.0) / window)
    level_db = 20 * np.log10(level / level.max() + 1e-9)
    loud = np.flatnonzero(level_db > -46)
    loud = loud[loud * hop >= max(0.0, first_phone - 0.03) * RATE]
    begin = loud[0] * hop + window // 2 - milliseconds(3)
    end = np.flatnonzero(level_db > -36)[-1] * hop + window + milliseconds(8)
    return max(0, int(begin)), min(len(frames), int(end))


def milliseconds(count: float) -> int:
    """So many milliseconds in frames."""
    return round(count * RATE / 1000)


def with_soft_ends(frames: np.ndarray) -> np.ndarray:
    """1 ms of fade in, 6 ms of fade out."""
    frames = frames.copy()
    begin, end = milliseconds(1), milliseconds(6)
    frames[:begin] *= np.linspace(0, 1, begin)
    frames[-end:] *= 0.5 + 0.5 * np.cos(np.linspace(0, np.pi, end))
    return frames


def without(frames: np.ndarray, seconds: float) -> np.ndarray:
    """The sound with so much taken out of its first consonant.

    The first 22 ms stay, so that the burst of a t or the onset of an s is whole; the joint is an
    equal-power crossfade of 6 ms.
    """
    keep, taken, joint = milliseconds(22), int(seconds * RATE), milliseconds(6)
    rising = np.sqrt(np.linspace(0, 1, joint))
    join = frames[keep : keep + joint] * rising[::-1] + frames[keep + taken : keep + taken + joint] * rising
    return np.concatenate([frames[:keep], join, frames[keep + taken + joint :]])


def loudness(frames: np.ndarray) -> float:
    """LUFS of the loudest 100 ms: ITU-R BS.1770's weighting at 48 kHz, without its gates."""
    frames = np.concatenate([frames, np.zeros(milliseconds(100))])
    shelf = ([1.53512485958697, -2.69169618940638, 1.19839281085285], [1, -1.69065929318241, 0.73248077421585])
    high_pass = ([1, -2, 1], [1, -1.99004745483398, 0.99007225036621])
    weighted = signal.lfilter(*high_pass, signal.lfilter(*shelf, frames))
    power, window = np.concatenate([[0.0], np.cumsum(weighted**2)]), milliseconds(100)
    return -0.691 + 10 * np.log10((power[window:] - power[:-window]).max() / window + 1e-12)


def true_peak(frames: np.ndarray) -> float:
    """dBFS of the greatest amplitude between samples, looked for at four times the rate."""
    return 20 * np.log10(np.abs(signal.resample_poly(frames, 4, 1)).max())


def levelled(frames: np.ndarray, lufs: float, peak_dbfs: float) -> np.ndarray:
    """The sound at this loudness, or softer if its peak would be higher than allowed."""
    frames = frames * 10 ** ((lufs - loudness(frames)) / 20)
    return frames * min(1.0, 10 ** ((peak_dbfs - true_peak(frames)) / 20))
