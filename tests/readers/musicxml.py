#!/usr/bin/env python3
"""Compares what exchange reads of MusicXML files with an independent reader: music21, from PyPI.

    musicxml.py --events PROGRAM [FILE...]                  these files
    musicxml.py --events PROGRAM --corpus [--only N]        every MusicXML file that music21 ships, or every N-th

PROGRAM is the built example `events` of the crate `exchange`. Compared as exact fractions, for every part with all
its voices: places and lengths of all notes, which are struck and which are held, grace notes, the ratio of tuplets,
where each bar begins and ends in its meter (and so every beat, and pickups), endings, and the order in which bars are
played where music21 can tell it. A difference must be explained by one of the RULES below, each a statement about the
file or about how the two readers work; what none explains is a failure. The score is printed at the end.
"""
import argparse
import collections
import json
import multiprocessing
import os
import subprocess
import sys
import warnings
from fractions import Fraction

warnings.simplefilter("ignore")


def exact(number):
    """A quarter-note length of music21 as a fraction of a whole note."""
    return Fraction(number).limit_denominator(65535) / 4


# The reference.

def reference(path):
    from music21 import bar, chord, converter, harmony, meter, note, repeat, spanner, stream
    score = converter.parse(path, forceSource=True)
    if isinstance(score, stream.Opus):
        score = score.scores[0]
    parts = collections.OrderedDict()
    for part in score.parts:
        # A part on several staves comes as several: P1-Staff1, P1-Staff2.
        key = str(part.id).split("-Staff")[0] if isinstance(part, stream.PartStaff) else str(part.id)
        parts.setdefault(key, []).append(part)
    return [part_facts(staves) for staves in parts.values()]


def part_facts(staves):
    from music21 import bar, harmony, meter, note, spanner, stream
    first = list(staves[0].getElementsByClass(stream.Measure))
    facts = {"bars": [], "notes": collections.Counter(), "grace": collections.Counter(), "order": None, "overlaps": set()}
    index_of = {id(m): i for i, m in enumerate(first)}
    facts["endings"] = sorted(
        [sorted(b.numberRange), sorted(index_of[id(m)] for m in b.getSpannedElements() if id(m) in index_of)]
        for b in staves[0].recurse().getElementsByClass(spanner.RepeatBracket)
    )
    signature = None
    for index, m in enumerate(first):
        signature = m.timeSignature or signature or m.getContextByClass(meter.TimeSignature)
        length = exact(max([s.getElementsByClass(stream.Measure)[index].highestTime
                            for s in staves if index < len(s.getElementsByClass(stream.Measure))] or [0]))
        beat = None
        if signature is not None:
            try:
                beat = exact(signature.beatDuration.quarterLength)
            except Exception:
                beat = None
        facts["bars"].append({
            "meter": None if signature is None else f"{sum(int(b) for b in str(signature.numerator).split('+'))}/{signature.denominator}",
            "length": length,
            "full": None if signature is None else exact(signature.barDuration.quarterLength),
            "pad": exact(m.paddingLeft or 0),
            "beat": beat,
            "implicit": getattr(getattr(m, "showNumber", None), "name", "") == "NEVER",
        })
    for staff in staves:
        for index, m in enumerate(staff.getElementsByClass(stream.Measure)):
            streams = [(v, Fraction(v.getOffsetBySite(m)).limit_denominator(65535)) for v in m.voices] + [(m, Fraction(0))]
            for holder, offset in streams:
                reached = Fraction(0)
                for element in holder.notesAndRests:
                    if isinstance(element, (harmony.ChordSymbol, harmony.NoChord)):
                        continue
                    at = exact(element.getOffsetBySite(holder)) + offset / 4
                    if element.duration.isGrace:
                        facts["grace"][index] += 1
                        continue
                    length = exact(element.duration.quarterLength)
                    if element.isRest:
                        continue
                    if at < reached:
                        facts["overlaps"].add(index)
                    reached = max(reached, at + length)
                    notes = list(getattr(element, "notes", [element]))
                    held = all(n.tie is not None and n.tie.type in ("stop", "continue") for n in notes)
                    ratio = Fraction(1)
                    for t in element.duration.tuplets:
                        ratio *= Fraction(t.numberNotesActual, t.numberNotesNormal)
                    facts["notes"][(index, at, length, "hold" if held else "attack", ratio)] += 1
    try:
        signs = [x for m in first for x in (m.leftBarline, m.rightBarline)]
        if any(isinstance(x, bar.Repeat) for x in signs):
            by = {m.measureNumberWithSuffix(): i for i, m in enumerate(first)}
            if len(by) == len(first):
                played = staves[0].expandRepeats().getElementsByClass(stream.Measure)
                facts["order"] = [
                    by[(m.derivation.origin or m).measureNumberWithSuffix()] for m in played
                ]
        else:
            facts["order"] = list(range(len(first)))
    except Exception:
        facts["order"] = None
    return facts


# Ours.

def own(program, path):
    run = subprocess.run([program, path], capture_output=True, text=True, timeout=300)
    if run.returncode != 0:
        return {"error": "it ended with " + str(run.returncode) + run.stderr[-300:]}
    return json.loads(run.stdout)


def own_facts(part):
    facts = {"notes": collections.Counter(), "grace": collections.Counter(), "unkept": {}}
    for voice in part["voices"]:
        for what, bars in voice["unkept"]:
            facts["unkept"].setdefault(what, set()).update(bars)
        for index, bar in enumerate(voice["bars"]):
            start = Fraction(bar["start"])
            for at, length, deed, grace, ratio in bar["events"]:
                facts["grace"][index] += grace
                if deed != "rest":
                    facts["notes"][(index, Fraction(at) - start, Fraction(length), deed, Fraction(ratio))] += 1
    facts["grace"] += collections.Counter()
    first = part["voices"][0] if part["voices"] else {"bars": [], "endings": [], "order": []}
    facts["bars"], facts["order"] = first["bars"], first["order"]
    facts["endings"] = sorted([sorted(passes), sorted(bars)] for passes, bars in first["endings"])
    facts["jump"] = first.get("jump")
    return facts


def told(facts, beginning):
    """The bars, by index, for which our reader itself lists a loss that begins so."""
    numbers = set()
    for what, bars in facts["unkept"].items():
        if what.startswith(beginning):
            numbers |= bars
    return {index for index, bar in enumerate(facts["bars"]) if bar["number"] in numbers}


# The differences, and the rules that explain them.

def differences(a, b):
    """What differs between the reference `a` and ours `b`: (kind, bar index or None, what)."""
    found = []
    if len(a["bars"]) != len(b["bars"]):
        return [("bars", None, f"{len(a['bars'])} and {len(b['bars'])} bars")]
    for key in (a["notes"] - b["notes"]).keys():
        found.append(("note", key[0], ("only reference", key)))
    for key in (b["notes"] - a["notes"]).keys():
        found.append(("note", key[0], ("only ours", key)))
    for index in set(a["grace"]) | set(b["grace"]):
        if a["grace"][index] != b["grace"][index]:
            found.append(("grace", index, (a["grace"][index], b["grace"][index])))
    for index, (x, y) in enumerate(zip(a["bars"], b["bars"])):
        if x["meter"] is not None and x["meter"] != y["meter"]:
            found.append(("meter", index, (x["meter"], y["meter"])))
        start, end = Fraction(y["start"]), Fraction(y["end"])
        if x["pad"] != start:
            found.append(("start", index, (str(x["pad"]), y["start"])))
        if x["length"] != end - start:
            found.append(("length", index, (str(x["length"]), str(end - start))))
        if x["beat"] is not None and x["beat"] != Fraction(y["felt"]):
            found.append(("beat", index, (str(x["beat"]), y["felt"], y["meter"])))
    if a["endings"] != b["endings"]:
        found.append(("endings", None, (a["endings"], b["endings"])))
    if a["order"] is not None and a["order"] != b["order"]:
        found.append(("order", None, (a["order"], b["order"])))
    return found


RULES = []


def rule(function):
    RULES.append(function)
    return function


def compare_part(a, b):
    explained, left = collections.Counter(), []
    for kind, index, what in differences(a, b):
        for check in RULES:
            if check(a, b, kind, index, what):
                explained[check.__name__.replace("_", " ")] += 1
                break
        else:
            left.append((kind, index, what))
    return explained, left


def compare(job):
    program, path = job
    ours = own(program, path)
    try:
        theirs = reference(path)
    except Exception as error:
        return path, "unread", f"{type(error).__name__}: {error}", {}
    if "error" in ours:
        return path, "refused", ours["error"], {}
    if len(theirs) != len(ours["parts"]):
        return path, "different", [f"{len(theirs)} and {len(ours['parts'])} parts"], {}
    explained, left = collections.Counter(), []
    notes = 0
    for number, (a, part) in enumerate(zip(theirs, ours["parts"]), 1):
        b = own_facts(part)
        notes += sum(a["notes"].values())
        more, rest = compare_part(a, b)
        explained += more
        left += [(number, *item) for item in rest]
    return path, ("different" if left else "explained" if explained else "equal"), left, {"rules": dict(explained), "notes": notes}


def corpus():
    import music21
    root = os.path.join(os.path.dirname(music21.__file__), "corpus")
    return sorted(
        os.path.join(folder, name)
        for folder, _, names in os.walk(root)
        for name in names
        if name.endswith((".xml", ".mxl", ".musicxml"))
    )


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("files", nargs="*")
    parser.add_argument("--events", required=True, metavar="PROGRAM")
    parser.add_argument("--corpus", action="store_true")
    parser.add_argument("--only", type=int, default=1, metavar="N")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--show", type=int, default=4, metavar="N", help="differences shown of a file")
    arguments = parser.parse_args()
    files = arguments.files + (corpus()[:: arguments.only] if arguments.corpus else [])
    if not files:
        parser.error("no file")
    counts, rules, notes = collections.Counter(), collections.Counter(), 0
    with multiprocessing.Pool(arguments.jobs) as pool:
        for path, state, detail, more in pool.imap(compare, [(arguments.events, path) for path in files]):
            counts[state] += 1
            notes += more.get("notes", 0)
            for name, count in more.get("rules", {}).items():
                rules[name] += 1
            if state in ("different", "refused", "unread"):
                print(f"{state}: {path}")
                for item in detail[: arguments.show] if isinstance(detail, list) else [detail]:
                    print("   ", item)
                sys.stdout.flush()
    for name, count in rules.most_common():
        print(f"rule in {count} files: {name}")
    read = len(files) - counts["unread"]
    agreed = counts["equal"] + counts["explained"]
    print(f"{agreed} of {read} files agree with the reference ({counts['equal']} in everything, {counts['explained']} by the "
          f"rules); {counts['refused']} refused, {counts['different']} different, {counts['unread']} that the reference "
          f"cannot read; {notes} notes")
    return 0 if counts["different"] + counts["refused"] == 0 else 1


if __name__ == "__main__":
    sys.exit(main())
