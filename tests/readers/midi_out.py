"""Writes a MIDI file with a library that is not ours, from JSON on standard input:

    midi_out.py mido OUT           ticks exactly as written
    midi_out.py pretty_midi OUT    times in seconds, which the library rounds to its own ticks

    {"tempo": 100, "meters": [["0", 4, 4]], "notes": [["0", "1/2"], ["1/2", "1"]]}

Times are quarters from the beginning, as fractions. A tempo changes where a meter does: "tempi": [["8", 60]].
"""

import json
import sys
from fractions import Fraction

library, out = sys.argv[1:]
given = json.load(sys.stdin)
notes = [(Fraction(on), Fraction(off)) for on, off in given["notes"]]
meters = [(Fraction(at), upper, lower) for at, upper, lower in given["meters"]]

if library == "mido":
    import mido

    ticks = 480
    events = []
    for at, upper, lower in meters:
        events.append((at, 0, mido.MetaMessage("time_signature", numerator=upper, denominator=lower)))
    for at, bpm in [["0", given["tempo"]], *given.get("tempi", [])]:
        events.append((Fraction(at), 0, mido.MetaMessage("set_tempo", tempo=round(60_000_000 / bpm))))
    for on, off in notes:
        events.append((on, 2, mido.Message("note_on", note=60, velocity=90)))
        events.append((off, 1, mido.Message("note_off", note=60, velocity=0)))
    events.sort(key=lambda event: event[:2])
    track, tick = mido.MidiTrack(), 0
    for at, _, message in events:
        here = at * ticks
        assert here.denominator == 1, "a whole tick"
        track.append(message.copy(time=int(here) - tick))
        tick = int(here)
    file = mido.MidiFile(ticks_per_beat=ticks)
    file.tracks.append(track)
    file.save(out)
else:
    import pretty_midi

    second = 60 / given["tempo"]
    file = pretty_midi.PrettyMIDI(initial_tempo=given["tempo"])
    for at, upper, lower in meters:
        file.time_signature_changes.append(pretty_midi.TimeSignature(upper, lower, float(at * second)))
    piano = pretty_midi.Instrument(program=0)
    for on, off in notes:
        piano.notes.append(pretty_midi.Note(90, 60, float(on) * second, float(off) * second))
    file.instruments.append(piano)
    file.write(out)
