"""Prints what two independent readers find in a MIDI file, as JSON: mido in ticks, pretty_midi in seconds.

    midi.py FILE
"""

import json
import sys

import mido
import pretty_midi


def with_mido(path):
    file = mido.MidiFile(path)
    tracks = []
    for track in file.tracks:
        found = {
            "name": track.name,
            "notes": [],
            "lyrics": [],
            "markers": [],
            "tempi": [],
            "meters": [],
            "end": 0,
        }
        tick, sounding = 0, {}
        for message in track:
            tick += message.time
            found["end"] = tick
            if message.type == "note_on" and message.velocity > 0:
                note = [tick, None, message.channel, message.note, message.velocity]
                sounding.setdefault((message.channel, message.note), []).append(note)
                found["notes"].append(note)
            elif message.type in ("note_on", "note_off"):
                sounding[(message.channel, message.note)].pop(0)[1] = tick
            elif message.type == "lyrics":
                found["lyrics"].append([tick, message.text])
            elif message.type == "marker":
                found["markers"].append([tick, message.text])
            elif message.type == "set_tempo":
                found["tempi"].append([tick, message.tempo])
            elif message.type == "time_signature":
                found["meters"].append(
                    [
                        tick,
                        message.numerator,
                        message.denominator,
                        message.clocks_per_click,
                        message.notated_32nd_notes_per_beat,
                    ]
                )
        tracks.append(found)
    return {"type": file.type, "ticks_per_beat": file.ticks_per_beat, "tracks": tracks}


def with_pretty_midi(path):
    file = pretty_midi.PrettyMIDI(path)
    return {
        "resolution": file.resolution,
        "instruments": [
            {
                "name": instrument.name,
                "drum": instrument.is_drum,
                "notes": [[note.start, note.end, note.pitch] for note in instrument.notes],
            }
            for instrument in file.instruments
        ],
        "lyrics": [[lyric.time, lyric.text] for lyric in file.lyrics],
        "meters": [[s.time, s.numerator, s.denominator] for s in file.time_signature_changes],
    }


path = sys.argv[1]
json.dump({"mido": with_mido(path), "pretty_midi": with_pretty_midi(path)}, sys.stdout)
