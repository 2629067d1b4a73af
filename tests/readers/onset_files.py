"""Recordings of strokes whose beginnings are known, for `onsets.py`.

Strokes are notes of the percussion channel, rendered dry by fluidsynth from General MIDI's hand clap, side stick and
snare. The room (reflections, a fading tail, noise) and the counting voice (the project's own syllables) are added here.

The truth is the note-on and, on top of it, the sample's own attack: a kind's note is rendered alone, dry, and its
onset is where it first comes within 20 dB of its greatest value in the 20 ms from there on. The same truth serves all
detectors.
"""
import json
import os
import subprocess

import mido
import numpy as np
import soundfile

RATE = 48000
SECONDS = 24.0
FONT = "/usr/share/sounds/sf2/TimGM6mb.sf2"
VOICES = os.path.join(os.path.dirname(__file__), "..", "..", "assets", "voices")
KINDS = {"clap": 39, "stick": 37, "snare": 38}


def render(notes, key, folder):
    """Notes (seconds, velocity) of one key as fluidsynth sounds them, without its reverb and chorus, one channel."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500000)])
    events = sorted([(t, "note_on", v) for t, v in notes] + [(t + 0.03, "note_off", 0) for t, _ in notes])
    last = 0
    for time, kind, velocity in events:
        tick = round(time * 50000)
        track.append(mido.Message(kind, channel=9, note=key, velocity=velocity, time=tick - last))
        last = tick
    track.append(mido.MetaMessage("end_of_track", time=50000))
    midi, wav = os.path.join(folder, "notes.mid"), os.path.join(folder, "notes.wav")
    mido.MidiFile(type=0, ticks_per_beat=25000, tracks=[track]).save(midi)
    call = ["fluidsynth", "-niq", "-R", "0", "-C", "0", "-g", "1", "-r", str(RATE), "-O", "float", "-F", wav, FONT, midi]
    subprocess.run(call, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    sound, rate = soundfile.read(wav, always_2d=True)
    assert rate == RATE
    sound = sound.mean(axis=1)
    length = int(SECONDS * RATE)
    return np.pad(sound, (0, max(0, length - len(sound))))[:length]


def own_attack(kind, folder):
    """Seconds from a note-on to where the sound begins: the median of twelve notes, and how far they differ."""
    notes = [(0.5 + 1.037 * i, 100) for i in range(12)]
    sound = np.abs(render(notes, KINDS[kind], folder))
    delays = []
    for time, _ in notes:
        part = sound[round(time * RATE):round((time + 0.4) * RATE)]
        first = np.flatnonzero(part > 0.003 * part.max())[0]
        peak = part[first:first + RATE // 50].max()
        delays.append((first + np.flatnonzero(part[first:] > 0.1 * peak)[0]) / RATE)
    return float(np.median(delays)), float(np.ptp(delays))


def strokes(rng, beat):
    """Times and velocities: beats, eighths and sixteenths, 15 ms off on average, now and then a flam of 40 to 50 ms."""
    notes, time = [], 1.0
    while time < SECONDS - 1.5:
        at = time + rng.normal(0, 0.015)
        velocity = int(rng.integers(70, 121))
        if rng.random() < 0.05:
            notes.append((at - rng.uniform(0.040, 0.050), max(50, velocity - int(rng.integers(5, 30)))))
        notes.append((at, velocity))
        time += beat * rng.choice([0.25, 0.5, 0.5, 1.0, 1.0, 1.5])
    return notes


def room(rng):
    """An impulse response: the direct sound, four reflections, and a tail of 0.3 to 0.6 s, 8 to 12 dB below in sum."""
    length = int(0.7 * RATE)
    tail = rng.normal(size=length) * 10 ** (-3 * np.arange(length) / RATE / rng.uniform(0.3, 0.6))
    tail[:int(0.004 * RATE)] = 0
    for _ in range(4):
        tail[int(rng.uniform(0.004, 0.030) * RATE)] += rng.choice([-1, 1]) * rng.uniform(3, 8)
    tail *= 10 ** (-rng.uniform(8, 12) / 20) / np.sqrt((tail ** 2).sum())
    tail[0] = 1.0
    return tail


def through(sound, response):
    size = 1 << (len(sound) + len(response) - 1).bit_length()
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(response, size), size)[:len(sound)]


def room_noise(rng):
    """Noise that falls by 3 dB an octave above 50 Hz, its RMS 1."""
    size = int(SECONDS * RATE)
    pitch = np.fft.rfftfreq(size, 1 / RATE)
    spectrum = np.fft.rfft(rng.normal(size=size)) / np.sqrt(np.maximum(pitch, 50))
    noise = np.fft.irfft(spectrum, size)
    return noise / np.sqrt((noise ** 2).mean())


def voice(rng, beat):
    """One of the shipped voices counts: on every beat, and between them, with its perceptual centres there."""
    folder = os.path.join(VOICES, str(rng.choice(["female", "male"])))
    with open(os.path.join(folder, "manifest.json"), encoding="utf-8") as file:
        manifest = json.load(file)
    words = [["1", "&", "2", "&", "3", "&", "4", "&"], ["1", "ti", "2", "ti", "3", "ti", "4", "ti"],
             ["ta", "di", "ta", "di"], ["du", "de", "du", "de"], ["1", None, "2", None, "3", None, "4", None],
             ["5", "&", "6", "&", "7", "&", "8", "&"]][int(rng.integers(6))]
    speed = "normal" if beat > 0.6 else "quick"
    sound = np.zeros(int(SECONDS * RATE))
    time, place = 1.0, 0
    while time < SECONDS - 1.0:
        word = words[place % len(words)]
        if word:
            recordings = manifest["syllables"][manifest["words"][word]]
            recording = recordings.get(speed) or next(iter(recordings.values()))
            syllable, rate = soundfile.read(os.path.join(folder, recording["file"]))
            assert rate == RATE
            first = round((time + rng.normal(0, 0.02) - recording["centre_ms"] / 1000) * RATE)
            part = sound[first:first + len(syllable)]
            part += syllable[:len(part)]
        time, place = time + beat / 2, place + 1
    return sound


def clicks(beat):
    """A knock of 1,000 Hz a beat, of 1,500 Hz and twice as strong every fourth."""
    sound = np.zeros(int(SECONDS * RATE))
    age = np.arange(1, int(0.06 * RATE)) / RATE
    for index, time in enumerate(np.arange(1.0, SECONDS - 1.0, beat)):
        turn = 2 * np.pi * age * (1500 if index % 4 == 0 else 1000)
        knock = (np.sin(turn) + 0.4 * np.sin(2 * turn)) * np.exp(-age / 0.008) * (1 if index % 4 == 0 else 0.5)
        first = round(time * RATE)
        sound[first:first + len(knock)] += knock[:len(sound) - first]
    return sound


def peaks(sound, truth):
    return np.median([np.abs(sound[round(t * RATE):round((t + 0.03) * RATE)]).max() for t in truth])


def make(condition, kind, seed, attack, folder):
    """Writes a recording and gives its path and the times at which its strokes begin.

    `condition`: `noise` is the room and its noise, 30 to 45 dB below the strokes' peaks. `voice` has a counting voice
    as well, its greatest value 6 dB below the median of the strokes' peaks. `leak` has two channels: a click and a
    count to the left, and to the right the room in which a loudspeaker sounds them too, 20 to 120 ms late, its peak
    6 to 15 dB below the strokes'.
    """
    rng = np.random.default_rng([seed, KINDS[kind], ["noise", "voice", "leak"].index(condition)])
    beat = 60 / rng.uniform(70, 130)
    notes = strokes(rng, beat)
    dry = render(notes, KINDS[kind], folder)
    truth = np.array([time + attack for time, _ in notes])
    peak = peaks(dry, truth)
    played = None
    if condition == "voice":
        said = voice(rng, beat)
        dry = dry + said * (peak / 2 / np.abs(said).max())
    response = room(rng)
    sound = through(dry, response)
    if condition == "leak":
        counted = voice(rng, beat)
        played = clicks(beat) * 0.4 + counted * (0.2 / np.abs(counted).max())
        late = int(rng.uniform(0.020, 0.120) * RATE)
        # Another way through the room, and a small loudspeaker that has no lows.
        leaked = through(np.diff(played, prepend=0) * 0.5 + 0.5 * played, room(rng))
        leaked = np.concatenate([np.zeros(late), leaked])[:len(sound)]
        sound = sound + leaked * (peak * 10 ** (-rng.uniform(6, 15) / 20) / np.abs(leaked).max())
    sound = sound + room_noise(rng) * peak * 10 ** (-rng.uniform(30, 45) / 20)
    sound *= 0.7 / np.abs(sound).max()
    path = os.path.join(folder, f"{condition}-{kind}-{seed}.wav")
    if played is not None:
        sound = np.stack([played, sound], axis=1)
    soundfile.write(path, sound, RATE, subtype="PCM_16")
    return path, truth
