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


def full(bar):
    upper, lower = bar["meter"].split("/")
    return Fraction(int(upper), int(lower))


@rule
def divisions_too_coarse_for_a_tuplet_are_rounded_in_the_reference(a, b, kind, index, what):
    """The same note stands on the other side, less than a division away, in the same tuplet."""
    if kind == "length":
        return 0 < abs(Fraction(what[0]) - Fraction(what[1])) < Fraction(1, 1000)
    if kind != "note":
        return False
    _, at, length, deed, ratio = what[1]
    other = b if what[0] == "only reference" else a
    near = Fraction(1, 64)
    return any(
        key[0] == index and key[3] == deed and abs(key[1] - at) < near and abs(key[2] - length) < near
        and (key[4] == ratio != 1 or index in told(b, "a tuplet that is not whole"))
        for key in other["notes"]
    )


@rule
def a_length_that_no_symbol_shows_is_tied_notes_here(a, b, kind, index, what):
    """A note of the reference is, here, notes that fill its time, the first as it is and the others held."""
    if kind != "note":
        return False

    def filled(note):
        _, at, length, deed, _ = note
        place, expected = at, deed
        while place < at + length:
            step = [key for key in b["notes"] if key[0] == index and key[1] == place and key[3] == expected
                    and place + key[2] <= at + length]
            if not step:
                return False
            place, expected = place + max(key[2] for key in step), "hold"
        return True

    whole = [key for key in (a["notes"] - b["notes"]) if key[0] == index and filled(key)]
    if what[0] == "only reference":
        return what[1] in whole
    return any(key[1] <= what[1][1] and what[1][1] + what[1][2] <= key[1] + key[2] for key in whole)


@rule
def a_tuplet_that_is_not_whole_has_no_ratio_here(a, b, kind, index, what):
    if kind != "note" or not (told(b, "a tuplet that is not whole") | told(b, "tuplets that overlap")) & {index}:
        return False
    other = b if what[0] == "only reference" else a
    return any(key[:4] == what[1][:4] for key in other["notes"])


@rule
def a_tie_from_silence_or_another_voice_is_a_struck_note_here(a, b, kind, index, what):
    return kind == "note" and index in told(b, "a tie ")


@rule
def notes_that_overlap_in_one_voice_are_listed_here(a, b, kind, index, what):
    return kind == "note" and what[0] == "only reference" and index in told(b, "a note that begins while another")


@rule
def notes_past_the_end_of_their_bar_are_listed_here(a, b, kind, index, what):
    return kind == "note" and (index in told(b, "a note that lasts past") or index in told(b, "a note behind"))


@rule
def cue_notes_are_silence_here(a, b, kind, index, what):
    return kind == "note" and what[0] == "only reference" and index in told(b, "cue notes")


@rule
def the_two_notes_of_a_tremolo_are_no_tuplet_here(a, b, kind, index, what):
    return kind == "note" and index in told(b, "a tremolo between two notes")


@rule
def more_than_three_grace_notes_are_three_here(a, b, kind, index, what):
    return kind == "grace" and what[0] > what[1] and index in told(b, "more than three grace")


@rule
def grace_notes_that_lead_to_no_struck_note_are_listed_here(a, b, kind, index, what):
    near = told(b, "grace notes that lead")
    return kind == "grace" and (index in near or index - 1 in near)


@rule
def grace_notes_belong_to_the_note_they_lead_to_in_a_later_bar(a, b, kind, index, what):
    """From the last bar in which as many have passed on both sides up to the next, they are as many."""
    if kind != "grace":
        return False
    for first in range(max(0, index - 3), index + 1):
        for last in range(index, min(index + 4, len(b["bars"]))):
            run = range(first, last + 1)
            if first < last and sum(a["grace"][i] for i in run) == sum(b["grace"][i] for i in run):
                return True
    return False


@rule
def a_bar_longer_than_its_meter_is_a_bar_of_another_meter_here(a, b, kind, index, what):
    if kind not in ("meter", "beat", "start"):
        return False
    return index in told(b, "a bar of ")


@rule
def a_meter_whose_upper_number_is_too_large_has_a_longer_unit_here(a, b, kind, index, what):
    return kind in ("meter", "beat") and a["bars"][index]["full"] == full(b["bars"][index]) and (
        int(a["bars"][index]["meter"].split("/")[0]) > 32)


@rule
def the_reference_beats_three_units_as_one_in_any_such_meter(a, b, kind, index, what):
    """3/8 has one beat a bar there and three here; 6/4 two there and six here: what is felt is a choice here."""
    bar = b["bars"][index] if index is not None else None
    return kind == "beat" and int(bar["meter"].split("/")[0]) % 3 == 0 and (
        a["bars"][index]["beat"] in (3 * Fraction(bar["felt"]), Fraction(bar["felt"]) / 3))


@rule
def unequal_beats_have_no_length_in_the_reference(a, b, kind, index, what):
    return kind == "beat" and int(b["bars"][index]["meter"].split("/")[0]) in (5, 7, 8, 10, 11, 13, 14)


@rule
def a_silent_bar_is_as_long_as_the_other_parts_bar_here(a, b, kind, index, what):
    return kind in ("length", "start") and not a["bars"][index]["sounds"]


@rule
def a_bar_that_a_part_leaves_incomplete_is_as_long_as_the_other_parts_bar_here(a, b, kind, index, what):
    x, y = a["bars"][index] if index is not None else None, b["bars"][index] if index is not None else None
    if kind == "length":
        return x["length"] < Fraction(y["end"]) - Fraction(y["start"]) <= (x["full"] or 1)
    return kind == "start" and x["length"] < Fraction(y["end"]) - Fraction(y["start"])


@rule
def a_bar_that_ends_between_sixty_fourths_is_filled_up_with_silence_here(a, b, kind, index, what):
    return kind == "length" and 0 < Fraction(what[1]) - Fraction(what[0]) < Fraction(1, 64)


@rule
def silence_that_runs_past_the_bar_makes_it_no_longer_here(a, b, kind, index, what):
    """The reference makes hidden rests of what `forward` passes over, even behind the end of the bar."""
    if kind not in ("length", "start"):
        return False
    reached = max([key[1] + key[2] for key in a["notes"] if key[0] == index] or [Fraction(0)])
    here = b["bars"][index]
    return a["bars"][index]["length"] > Fraction(here["end"]) - Fraction(here["start"]) >= reached


@rule
def the_reference_measures_a_bar_with_the_directions_in_it(a, b, kind, index, what):
    """And so it takes a bar for full, or the next for cut, by where a sign stands behind the last note."""
    if kind != "start":
        return False
    return any(a["bars"][i]["reach"] != a["bars"][i]["length"] for i in (index, index - 1) if i >= 0)


@rule
def short_bars_are_joined_here_only_where_they_fill_one_bar(a, b, kind, index, what):
    """The reference moves any short bar behind a short one to the end of its bar, and then none; here it goes on where
    the one before ended, if the two fill a bar or the file says that its number does not count."""
    if kind != "start" or index == 0:
        return False
    before, here = b["bars"][index - 1], b["bars"][index]
    joined = Fraction(here["start"]) > 0
    if joined:
        return Fraction(here["start"]) == Fraction(before["end"]) and before["number"] == here["number"]
    rest = Fraction(before["end"]) + Fraction(here["end"])
    return rest != full(here) or before["meter"] != here["meter"] or Fraction(before["start"]) > 0


@rule
def the_second_ending_of_a_lone_first_is_the_bar_after_it_here(a, b, kind, index, what):
    lone = [[passes, bars] for passes, bars in b["endings"] if [passes, bars] not in a["endings"]]
    follows = [[passes, bars] for passes, bars in lone
               if len(bars) == 1 and any(other[-1] + 1 == bars[0] for _, other in b["endings"])]
    if kind == "endings":
        return lone == follows and all(ending in b["endings"] for ending in a["endings"])
    return kind == "order" and bool(follows)


@rule
def endings_that_do_not_name_each_time_once_are_listed_here(a, b, kind, index, what):
    return kind in ("endings", "order") and any(what.startswith("endings that do not") for what in b["unkept"])


@rule
def an_ending_without_a_number_is_the_next_here(a, b, kind, index, what):
    return kind == "endings" and any(passes == [0] for passes, _ in a["endings"]) and (
        sorted(bars for _, bars in a["endings"]) == sorted(bars for _, bars in b["endings"]))


@rule
def the_reference_plays_an_ending_more_often_than_its_bracket_names(a, b, kind, index, what):
    times = 2 if b["jump"] is not None else 1
    return kind == "order" and a["endings"] == b["endings"] and any(
        a["order"].count(bar) > len(passes) * times for passes, bars in a["endings"] for bar in bars)


@rule
def the_reference_takes_no_jump_back(a, b, kind, index, what):
    return kind == "order" and b["jump"] is not None and b["order"][: len(a["order"])] == a["order"]


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
                    print("   ", str(item)[:300])
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
