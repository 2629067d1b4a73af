"""The rules that explain where `musicxml.py` finds a difference between the reference and our reader.

A rule is about one thing. It looks at the difference itself, at what the file says at that very place
(`musicxml_file.py`), and at what either reader makes of it: it holds only where the difference is what the rule
says. That our reader lists something as lost explains nothing here.
"""
import collections
from fractions import Fraction

# A difference: the facts of the reference, ours, the bars of the file, how far each bar reaches in the file in the
# longest of its parts, and which kind of thing differs in which bar (an index, or None), and how.
Difference = collections.namedtuple("Difference", "a b file longest kind index what")
# A note as both sides have it.
Note = collections.namedtuple("Note", "bar at length deed ratio")

RULES = []


def rule(*kinds):
    def kept(function):
        RULES.append((kinds, function))
        return function
    return kept


def explained(difference):
    """The name of the first rule that explains a difference, or None."""
    for kinds, function in RULES:
        if difference.kind in kinds and function(difference):
            return function.__name__.replace("_", " ")
    return None


def full(bar):
    upper, lower = bar["meter"].split("/")
    return Fraction(int(upper), int(lower))


def length(bar):
    return Fraction(bar["end"]) - Fraction(bar["start"])


def is_symbol(value):
    """Whether one note value, with at most two dots, is so long."""
    dots = {1: 1, 3: 2, 7: 4}.get(value.numerator)
    if dots is None:
        return False
    return value.denominator % dots == 0 and value.denominator // dots in (1, 2, 4, 8, 16, 32, 64) or value in (2, 3)


class Side:
    """A note that stands on one side only, with what may answer it on the other."""

    def __init__(self, d):
        side, note = d.what
        self.note = Note(*note)
        self.is_ours = side == "only ours"
        other = d.a if self.is_ours else d.b
        own = d.b if self.is_ours else d.a
        self.others = [Note(*key) for key in (other["notes"] - own["notes"]) if key[0] == d.index]

    def twins(self, *differ):
        """Notes of the other side that are the same but for these fields."""
        def alike(other):
            same = [name for name in Note._fields if getattr(other, name) == getattr(self.note, name)]
            return set(Note._fields) - set(same) == set(differ)
        return [other for other in self.others if alike(other)]


def at(d, place):
    """What the file has at a place of the bar, within a division where its divisions are too coarse for a tuplet."""
    notes = d.file[d.index].notes
    coarse = any(is_rounded(note) for note in notes)
    def is_near(note):
        return note.at == place or coarse and abs(note.at - place) < Fraction(1, 4) / note.divisions
    return [note for note in notes if is_near(note) and not note.grace]


def is_rounded(note):
    """Whether a note's duration is not what its value and tuplet say, by less than a division."""
    if note.value is None or note.ratio == 1 or note.grace:
        return False
    off = abs(note.value / note.ratio - (note.end - note.at))
    return 0 < off < Fraction(1, 4) / note.divisions


# Notes.

@rule("note", "length")
def divisions_too_coarse_for_a_tuplet_are_rounded_in_the_reference(d):
    """The same note stands on the other side less than a division away, its bar has rounded durations, and the ratio of
    its tuplet is here what the file tells; the reference works it out from the rounded duration."""
    rounded = [note for note in d.file[d.index].notes if is_rounded(note)]
    if not rounded:
        return False
    division = Fraction(1, 4) / min(note.divisions for note in rounded)
    if d.kind == "length":
        return abs(Fraction(d.what[0]) - Fraction(d.what[1])) < division
    side = Side(d)

    def is_told(ours):
        return any(note.ratio == ours.ratio for note in at(d, ours.at))
    return any(
        abs(other.at - side.note.at) < division and abs(other.length - side.note.length) < division
        and other.deed == side.note.deed and is_told(side.note if side.is_ours else other) for other in side.others)


@rule("note")
def a_length_that_no_symbol_shows_is_tied_notes_here(d):
    """A note of the reference is, here, notes that fill its time, the first as it is and the others held."""
    def filled(note):
        if is_symbol(note.length * note.ratio):
            return False
        place, deed = note.at, note.deed
        while place < note.at + note.length:
            step = [other.length for other in pieces if other.at == place and other.deed == deed
                    and place + other.length <= note.at + note.length]
            if not step:
                return False
            place, deed = place + max(step), "hold"
        return True

    side = Side(d)
    pieces = [Note(*key) for key in d.b["notes"] if key[0] == d.index]
    if not side.is_ours:
        return filled(side.note)
    ends = side.note.at + side.note.length
    return any(filled(other) for other in side.others if other.at <= side.note.at and ends <= other.at + other.length)


@rule("note")
def the_ratio_of_a_tuplet_in_another_is_what_the_file_tells_here(d):
    """And with it the note's value is as long as the note; with the reference's it is not."""
    side = Side(d)
    twins = side.twins("ratio")
    ours = [side.note] if side.is_ours else twins
    return bool(twins) and any(
        note.ratio == own.ratio != 1 and note.value == own.length * own.ratio for own in ours for note in at(d, own.at))


@rule("note")
def the_reference_puts_a_length_without_a_value_in_a_tuplet_of_its_own(d):
    """The file tells no value, or one that is not so long, and no tuplet."""
    side = Side(d)
    ours = [side.note] if side.is_ours else side.twins("ratio")
    return bool(side.twins("ratio")) and any(note.ratio == 1 for note in ours) and any(
        note.ratio == 1 and note.value != note.end - note.at for note in at(d, side.note.at))


@rule("note")
def a_tie_from_silence_or_another_voice_is_a_struck_note_here(d):
    """The file ties a note to one that does not end where it begins in its own voice."""
    side = Side(d)
    deeds = (side.note.deed, "hold") if side.is_ours else ("attack", side.note.deed)
    if deeds != ("attack", "hold") or not side.twins("deed"):
        return False
    return any(note.stop and not sounds_before(d, note) for note in at(d, side.note.at))


def sounds_before(d, note):
    if note.at > 0:
        before, ends = d.file[d.index].sounding(), note.at
    elif d.index > 0:
        before, ends = d.file[d.index - 1].sounding(), length(d.b["bars"][d.index - 1])
    else:
        return False
    return any(other.voice == note.voice and other.end == ends for other in before)


@rule("note")
def of_notes_that_overlap_in_one_voice_the_first_is_kept_here(d):
    side = Side(d)
    if side.is_ours:
        return False
    sounding = d.file[d.index].sounding()
    return any(
        note.at < here.at < note.end or (note.at == here.at and not here.chord and note is not here)
        for here in at(d, side.note.at) for note in sounding if note.voice == here.voice)


# Grace notes.

@rule("grace")
def up_to_three_grace_notes_stand_with_the_struck_note_that_they_lead_to_here(d):
    """The reference counts them where they are written, behind a bar line or before silence too."""
    return expected_graces(d)[d.index] == d.b["grace"][d.index] and written_graces(d)[d.index] == d.a["grace"][d.index]


def written_graces(d):
    found = collections.Counter()
    for index, bar in enumerate(d.file):
        found[index] = sum(note.grace and not note.chord for note in bar.notes)
    return found


def expected_graces(d):
    found = collections.Counter()
    struck = {(key[0], key[1]) for key in d.b["notes"] if key[3] == "attack"}
    waiting = collections.Counter()
    for index, bar in enumerate(d.file):
        for note in sorted(bar.notes, key=lambda note: note.at):
            if note.chord:
                continue
            voice = note.voice
            if note.grace:
                waiting[voice] += 1
            elif (index, note.at) in struck and not note.rest:
                found[index] += min(waiting.pop(voice, 0), 3)
            else:
                waiting.pop(voice, 0)
    return found


# Meters and beats.

@rule("meter", "beat")
def a_bar_longer_than_its_meter_is_a_bar_of_a_longer_meter_here(d):
    theirs, here = d.a["bars"][d.index], d.b["bars"][d.index]
    reached = max(theirs["length"], d.longest[d.index])
    return theirs["full"] is not None and theirs["full"] < reached and full(here) >= reached > theirs["full"]


@rule("meter", "beat")
def a_meter_whose_upper_number_is_too_large_has_a_longer_unit_here(d):
    theirs = d.a["bars"][d.index]
    return theirs["full"] == full(d.b["bars"][d.index]) and int(theirs["meter"].split("/")[0]) > 32


@rule("beat")
def the_reference_beats_three_units_as_one_in_any_such_meter(d):
    """3/8 has one beat a bar there and three here; 6/4 two there and six here: what is felt is a choice here."""
    felt, beat = Fraction(d.b["bars"][d.index]["felt"]), d.a["bars"][d.index]["beat"]
    return int(d.b["bars"][d.index]["meter"].split("/")[0]) % 3 == 0 and beat in (3 * felt, felt / 3)


# Where bars begin and end.

@rule("length")
def a_bar_that_a_part_leaves_incomplete_is_as_long_as_the_other_parts_bar_here(d):
    theirs, here = d.a["bars"][d.index], d.b["bars"][d.index]
    reached = max(d.longest[d.index], d.file[d.index].reach)
    return theirs["length"] < length(here) == min(reached, full(here))


@rule("length")
def a_bar_in_which_nothing_is_struck_is_as_long_as_the_other_parts_bar_or_full_here(d):
    here = d.b["bars"][d.index]
    return not d.a["bars"][d.index]["sounds"] and length(here) in (
        full(here), d.longest[d.index], d.file[d.index].reach)


@rule("length")
def a_bar_that_ends_between_sixty_fourths_is_filled_up_with_silence_here(d):
    theirs, ours = Fraction(d.what[0]), Fraction(d.what[1])
    return 0 < ours - theirs < Fraction(1, 64) and 192 % theirs.denominator != 0 and 64 % ours.denominator == 0


@rule("length")
def silence_that_runs_past_the_bar_makes_it_no_longer_here(d):
    """The reference makes hidden rests of what `forward` passes over, even behind the end of the bar."""
    here = d.b["bars"][d.index]
    struck = max([key[1] + key[2] for key in d.a["notes"] if key[0] == d.index] or [Fraction(0)])
    return d.a["bars"][d.index]["length"] > length(here) >= struck and length(here) == full(here)


@rule("start")
def a_short_bar_goes_on_here_only_where_it_completes_the_one_before(d):
    """The reference moves a short bar behind a short one to the end of its meter, and measures bars with the directions
    and hidden rests in them. Here it begins where the one before ended if the two fill a bar, or if its number does not
    count and they fit into one."""
    return d.a["bars"][d.index]["pad"] == padding(d)[d.index] and Fraction(d.b["bars"][d.index]["start"]) == begins(d, d.index)


def padding(d):
    """What the reference's rule puts before each bar (music21, `adjustTimeAttributesFromMeasure`)."""
    found, was_short, offset = [], False, Fraction(0)
    for bar in d.a["bars"]:
        reach, whole, pad = bar["reach"], bar["full"] or Fraction(1), Fraction(0)
        if reach < whole:
            if offset == 0:
                pad = whole - reach
            elif was_short:
                pad, was_short = whole - reach, False
            else:
                was_short = True
        offset += reach
        found.append(pad)
    return found


def begins(d, index):
    """Where our rule lets a bar begin, by what its file says of its number."""
    here, whole, said = d.b["bars"][index], full(d.b["bars"][index]), d.file[index].implicit
    if length(here) == whole or said == "no":
        return Fraction(0)
    if index == 0:
        return whole - length(here)
    before = d.b["bars"][index - 1]
    ended, together = Fraction(before["end"]), Fraction(before["end"]) + length(here)
    if ended < full(before) and before["meter"] == here["meter"] and before["number"] > 0:
        if together == whole or said == "yes" and together <= whole:
            return ended
    return Fraction(0)


# The way through.

def passages(endings):
    """Endings side by side, in order."""
    found = []
    for passes, bars in sorted(endings, key=lambda ending: ending[1]):
        if found and found[-1][-1][1][-1] + 1 == bars[0]:
            found[-1].append((passes, bars))
        else:
            found.append([(passes, bars)])
    return found


@rule("ending")
def the_second_ending_of_a_lone_first_is_the_bar_after_it_here(d):
    side, passes, bars = d.what
    lone = [endings[0] for endings in passages(d.a["endings"]) if len(endings) == 1]
    return side == "only ours" and any(passes == [max(named) + 1] and bars == [last[-1] + 1] for named, last in lone)


@rule("ending")
def an_ending_without_a_number_is_the_next_here(d):
    side, passes, bars = d.what
    theirs, ours = (passes, None) if side == "only reference" else (None, passes)
    theirs = theirs or next((passes for passes, held in d.a["endings"] if held == bars), None)
    ours = ours or next((passes for passes, held in d.b["endings"] if held == bars), None)
    before = [max(passes) for passes, held in d.b["endings"] if held[-1] + 1 == bars[0]]
    return theirs == [0] and ours == [max(before, default=0) + 1]


@rule("ending")
def an_ending_reaches_to_the_repeat_sign_behind_its_bracket_here(d):
    side, passes, bars = d.what
    if side == "only reference":
        longer = [held for numbers, held in d.b["endings"] if numbers == passes and held[: len(bars)] == bars]
        short = bars
    else:
        longer = [bars]
        short = next((held for numbers, held in d.a["endings"] if numbers == passes and bars[: len(held)] == held), None)
    return short is not None and any(
        len(held) > len(short) and d.file[held[-1]].goes_back and not any(d.file[bar].goes_back for bar in held[:-1])
        for held in longer)


@rule("order")
def the_reference_passes_through_a_first_ending_to_the_second(d):
    """Where it comes to it the second time, or after a jump; without that it plays the bars as they are played here."""
    return d.a["endings"] == d.b["endings"] and without_endings_passed(d.a["order"], d.a["endings"]) == d.b["order"]


def without_endings_passed(order, endings):
    """The order without endings that are followed by the bar behind them."""
    left, place = [], 0
    while place < len(order):
        bars = next((bars for passes, bars in endings if bars == order[place:place + len(bars)]), None)
        followed = bars and order[place + len(bars): place + len(bars) + 1] == [bars[-1] + 1]
        if followed and any(held[0] == bars[-1] + 1 for _, held in endings):
            place += len(bars)
        else:
            left.append(order[place])
            place += 1
    return left


@rule("order")
def the_reference_does_not_repeat_before_a_lone_first_ending(d):
    """And otherwise plays the bars as they are played here."""
    lone = [endings[0][1][-1] for endings in passages(d.a["endings"]) if len(endings) == 1]
    return bool(lone) and without_repeats_at(d.b["order"], lone) == d.a["order"]


def without_repeats_at(order, lasts):
    """The order without what is played between one of these bars and the bar behind it."""
    left, place = [], 0
    while place < len(order):
        left.append(order[place])
        if order[place] in lasts and order[place] + 1 in order[place:]:
            place = order.index(order[place] + 1, place)
        else:
            place += 1
    return left


@rule("order")
def the_reference_takes_no_jump_back(d):
    """It ends, or goes straight on, where the jump is taken here."""
    if d.b["jump"] is None:
        return False
    after, to = d.b["jump"]
    taken = next((place for place, bars in enumerate(zip(d.b["order"], d.b["order"][1:])) if bars == (after, to)), None)
    if taken is None:
        return False
    straight = d.b["order"][: taken + 1]
    return d.a["order"] == straight + list(range(after + 1, after + 1 + len(d.a["order"]) - len(straight)))
