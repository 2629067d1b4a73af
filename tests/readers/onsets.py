#!/usr/bin/env python3
"""Finds the strokes of the same recordings with our detector, with aubio and with librosa, and prints F of each.

    onsets.py --onsets PROGRAM [--long | --tuning]

PROGRAM is the example `onsets` of the crate `onset`, built with --release. What the recordings are stands in
`onset_files.py`. A stroke is found if an onset lies within 25 ms of it, each onset for one stroke (mir_eval's rule).
The others' settings, and for each detector one constant that is added to all its times, are those with the
best F on the tuning seeds (1 and 2), noise and voice together; ours were chosen by hand on the seeds 1 to 4 with
--tuning. All is reported on other seeds.
"""
import argparse
import itertools
import os
import subprocess
import sys
import tempfile
import time
import warnings

import numpy as np
import mir_eval

import onset_files as files

warnings.simplefilter("ignore")
WINDOW = 0.025
OFFSETS = np.arange(-20, 21, 4) / 1000
RETRIGGER = 0.028


def ours(program, paths, beside=False):
    call = [program] + (["--beside"] if beside else []) + paths
    lines = subprocess.run(call, check=True, capture_output=True, text=True).stdout.split("\n")
    return [np.array([float(word) for word in line.split()]) for line in lines[:len(paths)]]


def right_channel(path):
    """aubio and librosa are given the player's channel only."""
    sound, rate = files.soundfile.read(path, always_2d=True)
    if sound.shape[1] == 1:
        return path
    alone = path.replace(".wav", "-right.wav")
    if not os.path.exists(alone):
        files.soundfile.write(alone, sound[:, 1], rate, subtype="PCM_16")
    return alone


def aubio(path, setting):
    method, buffer, hop, threshold = setting
    call = ["aubioonset", "-i", path, "-O", method, "-B", str(buffer), "-H", str(hop), "-t", str(threshold),
            "-M", str(RETRIGGER)]
    lines = subprocess.run(call, check=True, capture_output=True, text=True).stdout.split()
    return np.array([float(word) for word in lines])


AUBIO = list(itertools.product(["hfc", "complex", "specflux"], [512, 1024], [256], [0.15, 0.3, 0.5, 0.8, 1.2]))
LIBROSA = list(itertools.product([128, 256, 512], ["mel", "superflux"], [0.03, 0.07, 0.12, 0.2, 0.3, 0.4]))
ENVELOPES = {}


def librosa(path, setting):
    import librosa as lib
    hop, kind, delta = setting
    if (path, hop, kind) not in ENVELOPES:
        sound, rate = lib.load(path, sr=None)
        more = {"lag": 2, "max_size": 3, "n_mels": 138, "fmin": 27.5, "fmax": 16000} if kind == "superflux" else {}
        window = 1024 if hop < 512 else 2048
        ENVELOPES[path, hop, kind] = lib.onset.onset_strength(y=sound, sr=rate, hop_length=hop, n_fft=window, **more)
    return lib.onset.onset_detect(onset_envelope=ENVELOPES[path, hop, kind], sr=files.RATE, hop_length=hop, units="time",
                                  delta=delta, wait=max(1, int(RETRIGGER * files.RATE / hop)))


def score(truths, founds, offset=0.0):
    """The mean F over the files, the worst file's, and the precision and recall of all strokes together."""
    values, matched, asked, given = [], 0, 0, 0
    for truth, found in zip(truths, founds):
        found = np.sort(found + offset)
        values.append(mir_eval.onset.f_measure(truth, found[found >= 0], window=WINDOW)[0])
        matched += len(mir_eval.util.match_events(truth, found, WINDOW))
        asked, given = asked + len(truth), given + len(found)
    return float(np.mean(values)), float(np.min(values)), matched / max(1, given), matched / max(1, asked)


def best_offset(sets):
    """The constant with the best mean F over sets of (truths, founds)."""
    mean = lambda offset: np.mean([score(truths, founds, offset)[0] for truths, founds in sets])
    return max(OFFSETS, key=lambda offset: (round(mean(offset), 4), -abs(offset)))


def tuned(detector, settings, sets):
    """The setting and constant with the best mean F over sets of (truths, paths)."""
    best = (-1.0, None, 0.0)
    for setting in settings:
        found = [(truths, [detector(path, setting) for path in paths]) for truths, paths in sets]
        offset = best_offset(found)
        value = np.mean([score(truths, founds, offset)[0] for truths, founds in found])
        if value > best[0]:
            best = (value, setting, offset)
    return best


def errors(truths, founds):
    """How far matched onsets lie from the truth: median and 95th percentile of the absolute, in ms."""
    off = []
    for truth, found in zip(truths, founds):
        off += [1000 * (found[j] - truth[i]) for i, j in mir_eval.util.match_events(truth, found, WINDOW)]
    return f"{np.median(off):+.1f} ms, 95 % within {np.percentile(np.abs(off), 95):.1f} ms"


def tell_each(paths, truths, founds):
    for path, truth, found in zip(paths, truths, founds):
        pairs = mir_eval.util.match_events(truth, found, WINDOW)
        missed = np.delete(truth, [i for i, _ in pairs])
        extra = np.delete(found, [j for _, j in pairs])
        value = mir_eval.onset.f_measure(truth, found, window=WINDOW)[0]
        print(f"  {os.path.basename(path):22} F {value:.3f} of {len(truth)}; missed {np.round(missed, 3)}, extra "
              f"{np.round(extra, 3)}")


def speed(program, path):
    best = float(subprocess.run([program, "--time", "5", path], check=True, capture_output=True,
                                text=True).stdout.split()[0])
    print(f"\nSpeed of ours on one file of {files.SECONDS:.0f} s: {1000 * best:.1f} ms, "
          f"{files.SECONDS / best:.0f} times real time")


def main():
    sys.stdout.reconfigure(line_buffering=True)
    parser = argparse.ArgumentParser()
    parser.add_argument("--onsets", required=True, metavar="PROGRAM")
    parser.add_argument("--keep", metavar="FOLDER", help="write the recordings here and use those that are there")
    group = parser.add_mutually_exclusive_group()
    group.add_argument("--long", action="store_true")
    group.add_argument("--tuning", action="store_true")
    arguments = parser.parse_args()
    tuning, reporting = (range(1, 5), range(101, 109)) if arguments.long else (range(1, 3), range(101, 105))
    with tempfile.TemporaryDirectory() as folder:
        folder = arguments.keep or folder
        os.makedirs(folder, exist_ok=True)
        attacks = {}
        for kind in files.KINDS:
            attacks[kind], differ = files.own_attack(kind, folder)
            print(f"{kind}: begins {1000 * attacks[kind]:.2f} ms behind the note-on (within {1000 * differ:.2f} ms)")

        def recordings(condition, seeds):
            made = [files.make(condition, kind, seed, attacks[kind], folder) for seed in seeds for kind in files.KINDS]
            return [truth for _, truth in made], [path for path, _ in made]

        find = lambda condition, paths: ours(arguments.onsets, paths, condition == "leak")
        if arguments.tuning:
            for condition in ["noise", "voice", "leak"]:
                truths, paths = recordings(condition, range(1, 5))
                founds = find(condition, paths)
                print("%s: mean F %.4f, worst %.4f, precision %.4f, recall %.4f;" % (condition, *score(truths, founds)),
                      errors(truths, founds))
                tell_each(paths, truths, founds)
            return
        begun = time.time()
        sets = [recordings(condition, tuning) for condition in ["noise", "voice"]]
        own_offset = best_offset([(truths, find("noise", paths)) for truths, paths in sets])
        _, aubio_setting, aubio_offset = tuned(aubio, AUBIO, sets)
        _, librosa_setting, librosa_offset = tuned(librosa, LIBROSA, sets)
        print(f"tuned on {2 * len(sets[0][1])} files, seeds {list(tuning)}, in {time.time() - begun:.0f} s")
        print(f"  aubio: method, buffer, hop, threshold {aubio_setting}, {1000 * aubio_offset:+.0f} ms")
        print(f"  librosa: hop, strength, delta {librosa_setting}, {1000 * librosa_offset:+.0f} ms")
        print(f"  ours: as it comes, {1000 * own_offset:+.0f} ms")
        ENVELOPES.clear()
        for condition in ["noise", "voice", "leak"]:
            truths, paths = recordings(condition, reporting)
            alone = [right_channel(path) for path in paths]
            print(f"\n{condition}: {len(paths)} files, {sum(map(len, truths))} strokes, seeds {list(reporting)}")
            own = find(condition, paths)
            rows = [("ours", own, 0.0), ("ours", own, own_offset)]
            if condition == "leak":
                rows.append(("ours without the reference", ours(arguments.onsets, alone), 0.0))
            rows.append(("aubio", [aubio(path, aubio_setting) for path in alone], aubio_offset))
            rows.append(("aubio, its defaults", [aubio(path, ("hfc", 512, 256, 0.3)) for path in alone], aubio_offset))
            rows.append(("librosa", [librosa(path, librosa_setting) for path in alone], librosa_offset))
            rows.append(("librosa, its defaults", [librosa(path, (512, "mel", 0.07)) for path in alone],
                         librosa_offset))
            for name, founds, offset in rows:
                print("  %-27s %+3.0f ms  mean F %.3f, worst file %.3f, precision %.3f, recall %.3f; off by %s" % (
                    name, 1000 * offset, *score(truths, founds, offset), errors(truths, founds)))
        speed(arguments.onsets, recordings("noise", reporting)[1][0])


if __name__ == "__main__":
    main()
