#!/usr/bin/env python3
"""Sets our alignment of onsets beside mir_eval's matching and beside a labelled performance, and prints a table.

    alignment.py --align PROGRAM [--show]

PROGRAM is the example `align` of the crate `judge`. All times are whole microseconds.

mir_eval's `util.match_events` knows no unit, so it is given the microseconds as they are: whole numbers are exact
in floats, and an onset just at the edge of the window counts in both. `onset.f_measure` wants seconds, where the edge
is a matter of rounding (.55 - .5 is more than .05): cases with a distance of exactly the window are left out of that
comparison, and how many is printed ("at edge"). So are cases with nothing written or nothing played.
"""
import argparse
import subprocess
import sys

import numpy as np
import mir_eval

import alignment_performance as performance

SEED = 4
CASES = 2000  # of each kind
# Named in crates/judge/tests/judge/outside.rs: written, played, window in ms, and the matches there.
VECTORS = [
    ([0, 60], [40, 100], 50, 2),
    ([1000, 1080], [1040, 1050, 1200], 50, 2),
    ([0, 500, 1000, 1500, 2000, 2500, 3000, 3500], [20, 449, 1050, 1470, 1520, 2200, 2960, 3551], 50, 4),
    ([0, 500, 1000, 1500, 2000, 2500, 3000, 3500], [20, 449, 1050, 1470, 1520, 2200, 2960, 3551], 70, 6),
    ([1000, 2000, 3000, 4000], [1020, 1950, 3100, 4000], 300, 4),
    ([500], [550], 50, 1),
    ([500], [450], 50, 1),
]


def align(program, window_ms, cases):
    """For each case the pairs by `matching`, by `judge` with a fixed gate, and by `judge` as it is."""
    text = "".join(" ".join(map(str, row)) + "\n" for case in cases for row in case)
    call = [program, "--window", str(window_ms)]
    lines = subprocess.run(call, input=text, check=True, capture_output=True, text=True).stdout.split("\n")
    pairs = [[tuple(map(int, pair.split("-"))) for pair in line.split()] for line in lines[:3 * len(cases)]]
    return list(zip(pairs[0::3], pairs[1::3], pairs[2::3]))


def rising(times):
    """Onsets in order; of equal ones, one."""
    return np.unique(np.asarray(times, dtype=np.int64))


def loose_player(random):
    """A rhythm of sixteenths' multiples, played with a spread of 5 to 60 ms, some notes left out, some added."""
    sixteenth = random.integers(90_000, 260_000)
    written = rising(np.cumsum(random.integers(1, 5, random.integers(1, 60)) * sixteenth))
    played = written + random.normal(0, random.uniform(5_000, 60_000), len(written)).astype(np.int64)
    played = played[random.random(len(played)) > 0.1]
    extra = random.integers(0, written[-1] + 1, random.integers(0, 1 + len(written) // 8))
    return written, rising(np.maximum(np.concatenate([played, extra]), 0))


def crowd(random):
    """Onsets anywhere, as many as four in a window's width, so that one may answer several."""
    length = random.integers(100_000, 3_000_000)
    most = 2 + length // 25_000
    return tuple(rising(random.integers(0, length, random.integers(0, most))) for _ in range(2))


def edges(random):
    """Onsets on a grid of 10 ms, so that many lie exactly at the edge of the window."""
    return tuple(rising(random.integers(0, 200, random.integers(0, 60)) * 10_000) for _ in range(2))


def scores(pairs, written, played):
    precision = len(pairs) / len(played) if len(played) else 0.0
    recall = len(pairs) / len(written) if len(written) else 0.0
    return mir_eval.util.f_measure(precision, recall), precision, recall


def sound(pairs, written, played, window):
    """Whether these can be pairs at all: both sides rise, none further apart than the window."""
    rise = all(a < c and b < d for (a, b), (c, d) in zip(pairs, pairs[1:]))
    return rise and all(abs(int(written[w]) - int(played[p])) <= window for w, p in pairs)


def against_mir_eval(program, name, window_ms, cases):
    """Prints a line and gives the number of cases that differ."""
    window, differ, onsets, matched, at_edge, compared = 1000 * window_ms, 0, 0, 0, 0, 0
    for (written, played), (ours, fixed, _) in zip(cases, align(program, window_ms, cases)):
        theirs = mir_eval.util.match_events(written.astype(float), played.astype(float), float(window))
        same = len(ours) == len(fixed) == len(theirs)
        same &= sound(ours, written, played, window) and sound(fixed, written, played, window)
        if len(written) and len(played):
            if (np.abs(np.subtract.outer(written, played)) == window).any():
                at_edge += 1
            else:
                compared += 1
                given = mir_eval.onset.f_measure(written / 1e6, played / 1e6, window=window_ms / 1000)
                same &= np.allclose(given, scores(ours, written, played), atol=1e-9)
        if not same:
            print(f"  differs: written {list(written)}, played {list(played)}: {ours}, judge {fixed}, {theirs}")
        differ += not same
        onsets += len(written)
        matched += len(ours)
    print(f"{name:28}{window_ms:5}{len(cases):8}{onsets:9}{matched:9}{differ:8}{compared:9}{at_edge:9}")
    return differ


def against_vectors(program):
    failures = 0
    for written, played, window, matches in VECTORS:
        written, played = 1000 * np.array(written), 1000 * np.array(played)
        failures += against_mir_eval(program, "named", window, [(written, played)])
        [(ours, _, _)] = align(program, window, [(written, played)])
        failures += len(ours) != matches
    written, played, window, _ = VECTORS[4]
    written, played = np.array(written), np.array(played)
    [(ours, _, _)] = align(program, window, [(1000 * written, 1000 * played)])
    distances = [abs(written[w] - played[p]) / 1000 for w, p in ours]
    theirs = mir_eval.alignment.absolute_error(written / 1000, played / 1000)
    failures += not np.allclose(theirs, (np.median(distances), np.mean(distances)))
    print(f"distances of four pairs: median and mean {1000 * theirs[0]:.1f} and {1000 * theirs[1]:.1f} ms in both")
    return failures


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--align", required=True, metavar="PROGRAM")
    parser.add_argument("--show", action="store_true")
    arguments = parser.parse_args()
    print(f"mir_eval {mir_eval.__version__}, seed {SEED}: cases where matching or judge with a fixed gate differs in the "
          "number of matches,\nall compared, or matching in P, R and F, so many compared\n")
    print(f"{'cases':28}{'ms':>5}{'cases':>8}{'written':>9}{'matched':>9}{'differ':>8}{'P, R, F':>9}{'at edge':>9}")
    failures = against_vectors(arguments.align)
    random = np.random.default_rng(SEED)
    for name, kind in [("loose player", loose_player), ("crowd", crowd), ("grid of 10 ms", edges)]:
        for window in [50, 70]:
            failures += against_mir_eval(arguments.align, name, window, [kind(random) for _ in range(CASES // 2)])
    print()
    performance.report(lambda cases: align(arguments.align, 50, cases), arguments.show)
    if failures:
        sys.exit(f"\n{failures} cases differ from mir_eval")


if __name__ == "__main__":
    main()
