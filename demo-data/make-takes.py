#!/usr/bin/env python3
"""Makes the two takes of the demo scenario again: `good.mid` and `mistakes.mid`.

    make-takes.py            writes both beside this script, into takes/
    make-takes.py --check    writes nothing, and fails if the files are not what it would write

Nobody played these takes. Each player is the model by which tapping with a click is described in the literature,
linear phase correction (Vorberg and Wing 1996; Vorberg and Schulze 2002): the distance A to the click at the next
attack is

    A' = (1 - alpha) A + T + (M' - M)

where T is the error of the player's inner timekeeper over the interval, M the delay of the hand at the attack, and
alpha the part of each distance that the player takes back. T and M are normal, the seed is fixed. A player who does
not listen to the click has alpha 0; one whose timekeeper runs fast has a T below zero on average. On top of that
come a steady bias and the mistakes planted below, which the README beside this script lists.

Needs PyPI `mido`. Written from the rhythm's score below, in exact fractions and by hand, not by asking countline:
so a judgement without an offset that is not the model's own is a check of countline's reading too.
"""

import argparse
import io
import random
import sys
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import mido

HERE = Path(__file__).resolve().parent

TITLE = "Lamp on the Landing"
TEMPO_BPM = 92
BEATS = 4
COUNT_IN_BARS = 1

# Where each note of "Lamp on the Landing" is struck, in beats from the bar line, bar by bar.
HALF = Fraction(1, 2)
SCORE = [
    [0, 2, 3],
    [0, 1, 1 + HALF, 3],
    [0, 2, 3, 3 + HALF],
    [1, 1 + HALF, 2],
    [0, HALF, 1 + HALF, 2, 3],
    [0, 1, 2 + HALF, 3],
    [1, 2, 2 + HALF, 3 + HALF],
    [1, 3],
    [0, 1, 1 + HALF, 2],
    [HALF, 1, 2],
    [0, HALF, 1, 3, 3 + HALF],
    [2],
]

# Snare, on General MIDI's percussion channel; the high and the low wood block click.
PAD_KEY, ACCENT_KEY, CLICK_KEY = 38, 76, 77
PERCUSSION = 9
# A tick is 68 microseconds, far below what a pad can tell.
TICKS_PER_BEAT = 9600
NOTE_TICKS = TICKS_PER_BEAT // 8


@dataclass
class Player:
    """One player: the model's numbers, and what goes wrong."""

    name: str
    alpha: float = 0.4
    timekeeper_ms: float = 9.0
    hand_ms: float = 4.0
    bias_ms: float = 0.0
    faster_percent: float = 0.0
    missed: set = field(default_factory=set)
    extra: set = field(default_factory=set)


def at(bar, count):
    """A place by bar and count, both from 1: at(4, 1) is count 1 of bar 4."""
    return (bar - 1) * BEATS + Fraction(count) - 1


GOOD = [Player("K1"), Player("K2", alpha=0.5), Player("K3", bias_ms=-12.0), Player("K4", alpha=0.3)]

MISTAKES = [
    Player("K1"),
    Player("K2", extra={at(4, 4)}),
    Player("K3", extra={at(4, 1)}),
    Player("K4", missed={at(6, 2)}),
    Player("K5", alpha=0.0, timekeeper_ms=4.0, faster_percent=1.5),
    Player("K6", bias_ms=-38.0),
]


def strokes(player, seed):
    """When the player strikes, in milliseconds from count 1 of bar 1, in order."""
    dice = random.Random(f"{seed} {player.name}")
    beat_ms = 60_000 / TEMPO_BPM
    written = sorted({bar * BEATS + Fraction(beat) for bar, beats in enumerate(SCORE) for beat in beats} | player.extra)
    played = []
    distance, hand, before = 0.0, dice.gauss(0, player.hand_ms), None
    for place in written:
        interval_ms = 0.0 if before is None else float(place - before) * beat_ms
        timekeeper = dice.gauss(0, player.timekeeper_ms) - interval_ms * player.faster_percent / 100
        next_hand = dice.gauss(0, player.hand_ms)
        distance = (1 - player.alpha) * distance + timekeeper + (next_hand - hand)
        hand, before = next_hand, place
        if place not in player.missed:
            played.append(float(place) * beat_ms + player.bias_ms + distance)
    return played


def track(name, notes):
    """A track of notes (tick, key, velocity) that each last NOTE_TICKS at most."""
    events = []
    for index, (tick, key, velocity) in enumerate(notes):
        following = notes[index + 1][0] if index + 1 < len(notes) else tick + NOTE_TICKS
        events.append((tick, 1, mido.Message("note_on", channel=PERCUSSION, note=key, velocity=velocity)))
        off = mido.Message("note_off", channel=PERCUSSION, note=key, velocity=0)
        events.append((min(tick + NOTE_TICKS, following), 0, off))
    made = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
    reached = 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        made.append(message.copy(time=tick - reached))
        reached = tick
    made.append(mido.MetaMessage("end_of_track"))
    return made


def take(players, seed):
    """The bytes of a take: title, tempo and marker; the click; one track a player."""
    start = COUNT_IN_BARS * BEATS * TICKS_PER_BEAT
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_BEAT)
    file.tracks.append(
        mido.MidiTrack(
            [
                mido.MetaMessage("track_name", name=TITLE),
                mido.MetaMessage("set_tempo", tempo=round(60_000_000 / TEMPO_BPM)),
                mido.MetaMessage("time_signature", numerator=BEATS, denominator=4),
                mido.MetaMessage("marker", text="bar 1", time=start),
                mido.MetaMessage("end_of_track"),
            ]
        )
    )
    beats = range(BEATS * (COUNT_IN_BARS + len(SCORE)))
    accent = lambda beat: (ACCENT_KEY, 120) if beat % BEATS == 0 else (CLICK_KEY, 90)
    file.tracks.append(track("click", [(beat * TICKS_PER_BEAT, *accent(beat)) for beat in beats]))
    ticks_per_ms = TICKS_PER_BEAT * TEMPO_BPM / 60_000
    for player in players:
        dice = random.Random(f"{seed} {player.name} loudness")
        notes = [
            (start + round(ms * ticks_per_ms), PAD_KEY, min(127, max(40, round(dice.gauss(88, 9)))))
            for ms in strokes(player, seed)
        ]
        file.tracks.append(track(player.name, notes))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def main():
    parser = argparse.ArgumentParser(description="Makes the takes of the demo scenario.")
    parser.add_argument("--check", action="store_true", help="only compare with the files that are there")
    check = parser.parse_args().check
    different = False
    for name, players, seed in (("good", GOOD, 1), ("mistakes", MISTAKES, 2)):
        path = HERE / "takes" / f"{name}.mid"
        made = take(players, seed)
        if not check:
            path.write_bytes(made)
            print(f"{path}: {len(made)} bytes, {len(players)} players")
        elif not path.exists() or path.read_bytes() != made:
            print(f"{path} is not what this script makes: run it without --check", file=sys.stderr)
            different = True
    return 1 if different else 0


if __name__ == "__main__":
    sys.exit(main())
