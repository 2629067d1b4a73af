#!/usr/bin/env python3
"""Compares what exchange reads of MusicXML files with an independent reader: music21, from PyPI.

    musicxml.py --events PROGRAM [FILE...]                  these files
    musicxml.py --events PROGRAM --few                      a dozen small files that music21 ships
    musicxml.py --events PROGRAM --corpus [--only N]        every MusicXML file that music21 ships, or every N-th

PROGRAM is the built example `events` of the crate `exchange`. Compared as exact fractions, for every part with all
its voices: places and lengths of all notes, which are struck and which are held, grace notes, the ratio of tuplets,
where each bar begins and ends in its meter (and so every beat, and pickups), endings, and the order in which bars are
played where music21 can tell it. A difference must be explained by one of the rules in `musicxml_rules.py`, each a statement
about what the file says at that place; what none explains is a failure. The score is printed at the end, with the
number of differences that each rule explains and the number of files they stand in.
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

import musicxml_file
import musicxml_rules

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
    for number, part in enumerate(score.parts):
        # A part on several staves comes as several: P1-Staff1, P1-Staff2.
        is_staff = isinstance(part, stream.PartStaff)
        parts.setdefault(str(part.id).split("-Staff")[0] if is_staff else number, []).append(part)
    return [part_facts(staves) for staves in parts.values()]


def ends(measure):
    """Where every note and rest of a bar ends, in all its voices."""
    from music21 import harmony
    for element in measure.recurse().notesAndRests:
        if not isinstance(element, (harmony.ChordSymbol, harmony.NoChord)):
            yield exact(element.getOffsetInHierarchy(measure)) + exact(element.duration.quarterLength)


def part_facts(staves):
    from music21 import bar, harmony, meter, note, spanner, stream
    first = list(staves[0].getElementsByClass(stream.Measure))
    facts = {"bars": [], "notes": collections.Counter(), "grace": collections.Counter(), "order": None, "overlaps": set()}
    index_of = {id(m): i for i, m in enumerate(first)}
    # A bracket names the bars at its two ends.
    facts["endings"] = sorted(
        [sorted(b.numberRange), list(range(min(at), max(at) + 1))]
        for b in staves[0].recurse().getElementsByClass(spanner.RepeatBracket)
        if (at := [index_of[id(m)] for m in b.getSpannedElements() if id(m) in index_of])
    )
    signature = None
    for index, m in enumerate(first):
        signature = m.timeSignature or signature or m.getContextByClass(meter.TimeSignature)
        same = [staff.getElementsByClass(stream.Measure) for staff in staves]
        same = [measures[index] for measures in same if index < len(measures)]
        beat = None
        if signature is not None:
            try:
                beat = exact(signature.beatDuration.quarterLength)
            except Exception:
                beat = None
        facts["bars"].append({
            "meter": None if signature is None else f"{sum(int(b) for b in str(signature.numerator).split('+'))}/{signature.denominator}",
            "length": max([end for measure in same for end in ends(measure)] or [Fraction(0)]),
            "reach": exact(max([measure.highestTime for measure in same] or [0])),
            "sounds": any(not n.isRest for measure in same for n in measure.recurse().notesAndRests),
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


# The differences.

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
    for side, own, other in (("only reference", a, b), ("only ours", b, a)):
        for passes, bars in own["endings"]:
            if [passes, bars] not in other["endings"]:
                found.append(("ending", bars[0], (side, passes, bars)))
    if a["order"] is not None and a["order"] != b["order"]:
        found.append(("order", None, (a["order"], b["order"])))
    return found


def compare_part(a, b, file, longest):
    explained, left = collections.Counter(), []
    for kind, index, what in differences(a, b):
        name = musicxml_rules.explained(musicxml_rules.Difference(a, b, file, longest, kind, index, what))
        if name is None:
            left.append((kind, index, what))
        else:
            explained[name] += 1
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
    files = musicxml_file.parts(path)
    longest = musicxml_file.longest_bars(files)
    for number, (a, part, file) in enumerate(zip(theirs, ours["parts"], files), 1):
        b = own_facts(part)
        notes += sum(a["notes"].values())
        more, rest = compare_part(a, b, file, longest)
        explained += more
        left += [(number, *item) for item in rest]
    text = ours["text"]
    if text.startswith("unreadable"):
        left.append((0, "rhythm text", None, text))
    return path, ("different" if left else "explained" if explained else "equal"), left, {"rules": dict(explained), "notes": notes, "text": text.split(":")[0]}


def corpus():
    import music21
    root = os.path.join(os.path.dirname(music21.__file__), "corpus")
    return sorted(
        os.path.join(folder, name)
        for folder, _, names in os.walk(root)
        for name in names
        if name.endswith((".xml", ".mxl", ".musicxml"))
    )


# Pickups, repeats and endings, compound meter, tuplets, grace notes, cut bars, drums, several voices.
FEW = ["bach/bwv281.mxl", "bach/bwv384.mxl", "bach/bwv4.8.mxl", "ciconia/quod_jactatur.xml", "cpebach/h186.mxl",
       "demos/drum_sample.xml", "haydn/opus1no1/movement2.mxl", "haydn/opus1no1/movement4.mxl", "joplin/maple_leaf_rag.mxl",
       "leadSheet/fosterBrownHair.mxl", "mozart/k80/movement3.mxl", "verdi/laDonnaEMobile.mxl"]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("files", nargs="*")
    parser.add_argument("--events", required=True, metavar="PROGRAM")
    parser.add_argument("--corpus", action="store_true")
    parser.add_argument("--few", action="store_true", help="a dozen small files of the corpus")
    parser.add_argument("--only", type=int, default=1, metavar="N")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--show", type=int, default=4, metavar="N", help="differences shown of a file")
    arguments = parser.parse_args()
    files = arguments.files + (corpus()[:: arguments.only] if arguments.corpus else [])
    files += [path for path in corpus() if arguments.few and path.endswith(tuple(FEW))]
    if not files:
        parser.error("no file")
    counts, rules, of_rule, notes = collections.Counter(), collections.Counter(), collections.Counter(), 0
    texts = collections.Counter()
    with multiprocessing.Pool(arguments.jobs) as pool:
        for path, state, detail, more in pool.imap(compare, [(arguments.events, path) for path in files]):
            counts[state] += 1
            notes += more.get("notes", 0)
            texts.update([more["text"]] if "text" in more else [])
            for name, count in more.get("rules", {}).items():
                rules[name] += 1
                of_rule[name] += count
            if state in ("different", "refused", "unread"):
                print(f"{state}: {path}")
                for item in detail[: arguments.show] if isinstance(detail, list) else [detail]:
                    print("   ", str(item)[:300])
                sys.stdout.flush()
    for name, count in rules.most_common():
        print(f"rule for {of_rule[name]} differences in {count} files: {name}")
    read = len(files) - counts["unread"]
    agreed = counts["equal"] + counts["explained"]
    print(f"{agreed} of {read} files agree with the reference ({counts['equal']} in everything, {counts['explained']} by the "
          f"rules); {counts['refused']} refused, {counts['different']} different, {counts['unread']} that the reference "
          f"cannot read; {notes} notes")
    told = ", ".join(f"{count} {text}" for text, count in texts.most_common())
    print(f"written as rhythm text and read again: {told}")
    return 0 if counts["different"] + counts["refused"] == 0 else 1


if __name__ == "__main__":
    sys.exit(main())
