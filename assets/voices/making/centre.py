"""The perceptual centre of a syllable: the moment at which it is heard, near the onset of its vowel.

Four published estimators. Three are used, and their median is the centre; the fourth is left for
checking. Times are in seconds from the beginning of the sound.

- Cummins & Port 1998 (Journal of Phonetics 26, appendix A): band of 1000 ± 300 Hz by a first-order
  Butterworth filter, rectified, smoothed by a first-order one of 10 Hz; the middle between 10 and
  90 % of the rise.
- Scott 1993: one band, 288 to 909 Hz (second order), smoothed at 25 Hz (first order); half of the rise
  (the half rise from memory).
- Marcus 1981 (Perception & Psychophysics 30): 0.65 of the consonants before the vowel and 0.25 of the
  rest, and a constant (from memory). The constant is fitted, so that a voice agrees with Scott on average.
- The fastest change of energy, 300 to 3000 Hz smoothed at 20 Hz: the check.

All filters run forwards and backwards, so that none delays the sound. The rise is looked for about the
stressed vowel only, whose place the synthesiser knows.
"""

from dataclasses import dataclass

import numpy as np
from scipy import signal

from sound import RATE

# Silence set before and after, so that filters settle.
SETTLE = 0.25
# The sound may begin to rise so long before the vowel.
RISE_BEFORE_VOWEL = 0.16


@dataclass(frozen=True)
class Vowel:
    """The stressed vowel, and from where on the sound belongs to its syllable."""

    begin: float
    end: float
    syllable: float

    def earlier(self, seconds: float, length: float) -> "Vowel":
        """The same after so much was taken from before it, in a sound of this length."""
        place = lambda time: min(max(0.0, time - seconds), length)
        return Vowel(place(self.begin), place(self.end), place(self.syllable))


@dataclass(frozen=True)
class Estimates:
    """What each estimator says."""

    cummins_port: float
    scott: float
    marcus_without_constant: float
    fastest_change: float

    def marcus(self, constant: float) -> float:
        """Marcus' centre with its constant."""
        return max(0.0, self.marcus_without_constant + constant)

    def centre(self, constant: float) -> float:
        """The median of the three that are used."""
        return float(np.median([self.cummins_port, self.scott, self.marcus(constant)]))


def estimate(frames: np.ndarray, vowel: Vowel) -> Estimates:
    """All four, Marcus' without its constant."""
    silence = np.zeros(int(SETTLE * RATE))
    padded = np.concatenate([silence, frames, silence])
    rise = lambda envelope, shares: max(0.0, rise_time(envelope, vowel, shares))
    return Estimates(
        cummins_port=rise(envelope(padded, 700, 1300, 1, 10, 1), (0.1, 0.9)),
        scott=rise(envelope(padded, 288, 909, 2, 25, 1), (0.5,)),
        marcus_without_constant=0.65 * vowel.begin + 0.25 * (len(frames) / RATE - vowel.begin),
        fastest_change=max(0.0, fastest_change(envelope(padded, 300, 3000, 1, 20, 2), vowel)),
    )


def marcus_constant(estimates: list[Estimates]) -> float:
    """The constant with which Marcus' estimator agrees with Scott's on average."""
    return float(np.mean([e.scott - e.marcus_without_constant for e in estimates]))


def envelope(frames, low_hz, high_hz, band_order, smooth_hz, smooth_order) -> np.ndarray:
    """The rectified and smoothed sound of one band."""
    band = signal.butter(band_order, [low_hz, high_hz], "band", fs=RATE)
    smooth = signal.butter(smooth_order, smooth_hz, fs=RATE)
    return np.maximum(signal.filtfilt(*smooth, np.abs(signal.filtfilt(*band, frames))), 0.0)


def at(seconds: float) -> int:
    """The index of a time in the padded sound."""
    return int((SETTLE + seconds) * RATE)


def rise_time(envelope: np.ndarray, vowel: Vowel, shares: tuple) -> float:
    """The mean of the times at which these shares of the rise into the vowel are first reached.

    The top is the greatest value in the vowel's first 140 ms, the foot the least value before it.
    """
    first = at(max(vowel.syllable, vowel.begin - RISE_BEFORE_VOWEL))
    low, high = max(first, at(vowel.begin - 0.02)), at(min(vowel.end, vowel.begin + 0.14)) + 1
    top = low + int(np.argmax(envelope[low:high]))
    foot = first + int(np.argmin(envelope[first : top + 1]))
    rise = envelope[foot : top + 1]
    reached = [foot + np.flatnonzero(rise >= rise[0] + share * (envelope[top] - rise[0]))[0] for share in shares]
    return float(np.mean(reached)) / RATE - SETTLE


def fastest_change(envelope: np.ndarray, vowel: Vowel) -> float:
    """The time at which the envelope rises fastest, from 80 ms before the vowel to 100 ms into it."""
    low = at(max(vowel.syllable, -0.02, vowel.begin - 0.08))
    high = at(min(vowel.end, vowel.begin + 0.10))
    return (low + int(np.argmax(np.diff(envelope)[low:high]))) / RATE - SETTLE
