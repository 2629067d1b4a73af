"""Reads WAV files with libsndfile, through the PyPI library soundfile, which shares no code with ours.

    wav_file.py tell FILE             what libsndfile finds in the file, as JSON: its form, its marks, what it remarks on
    wav_file.py sum WHOLE PART...     the greatest difference between WHOLE and its parts added up, as a JSON number
    wav_file.py first FILE LEVEL      the first frame whose first channel is beyond LEVEL, as a JSON number
"""

import json
import os
import re
import sys

import numpy
import soundfile


def tell(path):
    with soundfile.SoundFile(path) as file:
        log = file.extra_info
        frames = file.read(always_2d=True)
        found = {
            "rate": file.samplerate,
            "channels": file.channels,
            "subtype": file.subtype,
            "frames": file.frames,
            "read": len(frames),
            "peak": float(numpy.abs(frames).max(initial=0)),
        }
    points = re.findall(r"Cue ID : +(\d+) +Pos : +(\d+) +Chunk : data .*Offset : +(\d+)", log)
    labels = dict(re.findall(r"labl : (\d+) : (.*)", log))
    assert all(position == offset for _, position, offset in points), points
    # It tells of the first ten marks and of nine labels, and of the others that there are some.
    marks = [[int(offset), labels.pop(number)] for number, _, offset in points if number in labels]
    assert not labels, f"labels without a mark: {labels}"
    found["marks"] = marks
    found["count"] = int(re.search(r"Count : (\d+)", log).group(1)) if points else 0
    assert len(marks) == min(found["count"], 9), log
    # "RIFF : 100 (should be 90)", "*** ...": what it does not like. That a chunk of odd length needs a zero behind it is told too,
    # and that the zero is there is seen by the chunks behind being found.
    odd = "*** 'data' chunk should be an even number of bytes in length."
    found["remarks"] = [
        line for line in log.splitlines() if ("should be" in line or "***" in line or "unknown" in line.lower()) and line != odd
    ]
    said = int(re.search(r"^RIFF : (\d+)", log, re.MULTILINE).group(1))
    found["unsaid"] = os.path.getsize(path) - said - 8
    return found


def sum_of(whole, *parts):
    read = lambda path: soundfile.read(path, always_2d=True)[0]
    return float(numpy.abs(read(whole) - sum(read(part) for part in parts)).max())


def first(path, level):
    frames = soundfile.read(path, always_2d=True)[0][:, 0]
    return int(numpy.argmax(numpy.abs(frames) > float(level)))


job, *rest = sys.argv[1:]
json.dump({"tell": tell, "sum": sum_of, "first": first}[job](*rest), sys.stdout)
