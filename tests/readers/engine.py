"""Processor time of our engine and of fluidsynth for the same rhythm, in turn. See tests/engine."""

import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

FONT = "/usr/share/sounds/sf2/TimGM6mb.sf2"
ROUNDS = 3
# So many renderings of ours in one run, since one is short beside starting.
TIMES = 10


def spent(*call):
    """Seconds of processor time, user and system, and what was printed."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([str(word) for word in call], check=True, capture_output=True, text=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, done.stdout


def fluidsynth(midi):
    """Rendered to nowhere as stereo, at our rate."""
    quiet = ["-ni", "-q", "-r", "48000", "-R", "0", "-C", "0"]
    return spent("fluidsynth", *quiet, "-T", "raw", "-F", "/dev/null", FONT, midi)[0]


def main():
    engine = sys.argv[1]
    with tempfile.TemporaryDirectory() as folder:
        midi = Path(folder) / "rhythm.mid"
        silence = Path(folder) / "silence.mid"
        # One empty track: what loading the font costs.
        silence.write_bytes(
            b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk\0\0\0\4\0\xff\x2f\0"
        )
        ours, alike, theirs, loading = [], [], [], []
        for _ in range(ROUNDS):
            for rendered, what in ((ours, []), (alike, ["file"])):
                once, printed = spent(engine, midi, 1, *what)
                often, _ = spent(engine, midi, 1 + TIMES, *what)
                rendered.append((often - once) / TIMES)
            theirs.append(fluidsynth(midi))
            loading.append(fluidsynth(silence))
        seconds = float(printed.split()[0])
    ours, alike, theirs, loading = (statistics.median(times) for times in (ours, alike, theirs, loading))
    print(f"{seconds:.0f} s of sound, processor time, median of {ROUNDS}:")
    print(f"  engine      {ours:8.3f} s  {seconds / ours:8.0f} x real time, two voices, click, clap and tone")
    print(f"  the same    {alike:8.3f} s  {seconds / alike:8.0f} x real time, click and claps as in the MIDI file")
    print(f"  fluidsynth  {theirs - loading:8.3f} s  {seconds / (theirs - loading):8.0f} x real time, {loading:.2f} s of loading taken off")
    print(f"  the engine is {(theirs - loading) / alike:.1f} times as fast with the same, {(theirs - loading) / ours:.1f} times with everything")


main()
