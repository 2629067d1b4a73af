"""A real piano performance whose notes are labelled, aligned on onsets alone. `alignment.py` calls `report`.

parangonar ships Mozart's first variation on "Ah, vous dirai-je, Maman" as played by a pianist: 218 written notes
at 167 places, 219 played ones, each labelled with the written note it is, or as an insertion. Ours is
told no pitch and hears no chord:

- written: one attack at each place, at its time in one steady tempo, that from the first played note to the last;
- played: notes within GATHER of the first of them are one attack, as on a pad;
- truth: a place is answered by the attack that holds most of its notes, the earlier of two. Other attacks are
  insertions, other places deletions. What chords do to the labels before anything is aligned is printed.

The performance has next to no mistakes. So the same is done again with mistakes planted in it, TIMES times over: a
SHARE of its attacks is left out by chance, and as many are put in, each somewhere between two others.

A pianist's tempo gives way and comes back faster than the judge follows, and there is no click to come back to. To tell
how much of what goes wrong is that, the score is also set to the performance's own tempo: every bar, or every fourth,
begins when the labels say it began. Those rows are told what a player's judge is not.

The measure is parangonar's own: F of match, insertion and deletion labels over exact pairs.
"""
import importlib.util
import os
import warnings

import numpy as np

warnings.simplefilter("ignore")
import partitura
from parangonar.evaluate import fscore_alignments

GATHER = 40_000
SEED = 5
TIMES = 200
SHARE = 0.04
WAYS = {0: "matching, +-50 ms", 2: "judge, no click"}  # which of the rows of pairs


def files():
    """The performance, its labels and the score. Beside the code, wherever that was installed."""
    folder = os.path.dirname(importlib.util.find_spec("parangonar").origin)
    path = os.path.join(folder, "assets", "mozart_k265_var1.match")
    performance, labels, score = partitura.load_match(path, create_score=True)
    notes = score[0].note_array(include_metrical_position=True, include_time_signature=True)
    bars = score[0].measure_number_map(notes["onset_div"])
    return performance.note_array(), labels, notes, bars


def gather(played, width):
    """The attacks: each a time and the notes in it."""
    attacks = []
    for note in np.sort(played, order="onset_sec"):
        at = round(float(note["onset_sec"]) * 1e6)
        if not attacks or at - attacks[-1][0] > width:
            attacks.append((at, []))
        attacks[-1][1].append(note["id"])
    return attacks


def places(notes, bars):
    """The written places in order, each with its notes: beat from the beginning, bar, place in it and felt beat (both in
    sixty-fourths)."""
    found = {}
    for note, bar in zip(notes, bars):
        beat = 64 // int(note["ts_beat_type"])
        quarters = int(note["rel_onset_div"]) * int(note["ts_beats"]) / int(note["tot_measure_div"])
        place = (float(note["onset_beat"]), int(bar), round(quarters * beat), beat)
        found.setdefault(place, []).append(note["id"])
    return sorted(found.items())


def truth(attacks, written, labels):
    """Which attack answers which place, as pairs of indices."""
    place_of = {note: n for n, (_, notes) in enumerate(written) for note in notes}
    matched = [label for label in labels if label["label"] == "match"]
    place_played = {label["performance_id"]: place_of[label["score_id"]] for label in matched}
    votes = np.zeros((len(written), len(attacks)), dtype=int)
    for n, (_, notes) in enumerate(attacks):
        for note in notes:
            if note in place_played:
                votes[place_played[note], n] += 1
    pairs = {}
    for place, row in enumerate(votes):
        if row.any():
            pairs.setdefault(int(row.argmax()), place)
    return sorted((place, attack) for attack, place in pairs.items())


def case(attacks, written, right=(), bars=0):
    """The lines for `align`: the score in one tempo from the first attack to the last. With `bars` it follows the
    performance: every so many bars one begins when it truly began (`right`), and in between the tempo is steady."""
    times = [at for at, _ in attacks]
    beats = [at for (at, *_), _ in written]
    known = {beats[0]: times[0], beats[-1]: times[-1]}
    for place, attack in right:
        _, bar, at, _ = written[place][0]
        if bars and at == 0 and (bar - 1) % bars == 0:
            known[beats[place]] = times[attack]
    due = np.interp(beats, sorted(known), [known[beat] for beat in sorted(known)])
    onsets = [f"{bar}:{place}:{beat}:{round(at)}" for ((_, bar, place, beat), _), at in zip(written, due)]
    return onsets, times


def labelled(pairs, written, attacks):
    """Every place and every attack with a label, as parangonar has them."""
    placed, struck = {w for w, _ in pairs}, {p for _, p in pairs}
    return ([{"label": "match", "score_id": w, "performance_id": p} for w, p in pairs]
            + [{"label": "deletion", "score_id": w} for w in range(written) if w not in placed]
            + [{"label": "insertion", "performance_id": p} for p in range(attacks) if p not in struck])


def with_mistakes(attacks, random):
    """The attacks with some left out and some put in, which hold no note. The first and the last stay."""
    ends = (0, len(attacks) - 1)
    changed = [attack for n, attack in enumerate(attacks) if n in ends or random.random() > SHARE]
    for (at, _), (following, _) in zip(attacks, attacks[1:]):
        if random.random() < SHARE:
            changed.append((round(at + random.uniform(0.25, 0.75) * (following - at)), []))
    return sorted(changed)


def rows(name, found, written, attacks, truths):
    """Prints, for each way, F of each label and of all together over several cases."""
    for n, way in WAYS.items():
        right, ours = [], []
        for case, (pairs, true, struck) in enumerate(zip(found, truths, attacks)):
            ours += [{**label, "case": case} for label in labelled(pairs[n], len(written), len(struck))]
            right += [{**label, "case": case} for label in labelled(true, len(written), len(struck))]
        shown = ""
        for kind in ["match", "insertion", "deletion"]:
            f, given, asked = counted(ours, right, [kind])
            shown += f"{f:>7.3f}{f'{given}/{asked}':>13}" if given or asked else f"{'none':>7}{'':13}"
        print(f"{name:26}{way:19}{shown}{counted(ours, right, ['match', 'insertion', 'deletion'])[0]:>7.3f}")


def counted(found, right, kinds):
    """parangonar's F, how many were found, how many are right; taken case by case, since it compares each with each."""
    hits = given = asked = 0
    for case in sorted({label["case"] for label in found + right}):
        ours = [label for label in found if label["case"] == case]
        theirs = [label for label in right if label["case"] == case]
        precision, _, _, few, many = fscore_alignments(ours, theirs, kinds, return_numbers=True)
        hits, given, asked = hits + round(precision * few) * (few > 0), given + few, asked + many
    return 2 * hits / (given + asked) if given + asked else 1.0, given, asked


def rubato(attacks, right, written):
    """How far the pianist is from one steady tempo, and how far a quarter from the one before it."""
    onsets, times = case(attacks, written)
    steady = [int(onset.rsplit(":", 1)[1]) for onset in onsets]
    off = np.array([times[attack] - steady[place] for place, attack in right]) / 1000
    beats = [times[attack] for place, attack in right if float(written[place][0][0]).is_integer()]
    lengths = np.diff(beats) / 1000
    steps = 100 * np.abs(np.diff(lengths)) / lengths[:-1]
    print(f"  off one steady tempo: {off.min():.0f} to {off.max():.0f} ms, {100 * np.mean(abs(off) <= 50):.0f} % of the "
          "attacks within 50 ms")
    print(f"  a quarter: {lengths.min():.0f} to {lengths.max():.0f} ms, from one to the next {np.median(steps):.0f} % in "
          f"the median, {steps.max():.0f} % at most")


def report(align, show):
    """`align` gives three rows of pairs for each of several cases."""
    played, labels, notes, bars = files()
    written = places(notes, bars)
    print(f"A labelled performance, on onsets alone: {len(notes)} written notes at {len(written)} places, "
          f"{len(played)} played; F and found/true of each label\n")
    print(f"{'':26}{'':19}" + "".join(f"{kind:>20}" for kind in ["match", "insertion", "deletion"]) + f"{'all':>7}")
    for width in [30_000, GATHER, 50_000]:
        attacks = gather(played, width)
        right = truth(attacks, written, labels)
        found = align([case(attacks, written)])
        rows(f"as played, chords {width // 1000} ms", found, written, [attacks], [right])
        if show and width == GATHER:
            tell(found[0][2], right, written)
    attacks = gather(played, GATHER)
    right = truth(attacks, written, labels)
    for bars, name in [(4, "tempo known, 4 bars"), (1, "tempo known, each bar")]:
        rows(name, align([case(attacks, written, right, bars)]), written, [attacks], [right])
    random = np.random.default_rng(SEED)
    mistaken = [with_mistakes(attacks, random) for _ in range(TIMES)]
    truths = [truth(changed, written, labels) for changed in mistaken]
    for bars, name in [(0, "mistakes planted"), (1, "the same, each bar known")]:
        # The bars' beginnings come from the performance without mistakes, or one left out would bend the tempo.
        onsets = case(attacks, written, right, bars)[0]
        rows(name, align([(onsets, [at for at, _ in changed]) for changed in mistaken]), written, mistaken, truths)
    print(f"\n  chords within {GATHER // 1000} ms make {len(attacks)} attacks: {len(attacks) - len(right)} insertions ("
          f"{alone(attacks, labels)} by the labels, the others the ends of slower chords), "
          f"{len(written) - len(right)} deletions")
    rubato(attacks, right, written)


def alone(attacks, labels):
    """Attacks that hold nothing but insertions."""
    inserted = {label["performance_id"] for label in labels if label["label"] == "insertion"}
    return sum(set(notes) <= inserted for _, notes in attacks)


def tell(pairs, right, written):
    """Stretches of places that are answered by a wrong attack, or by none."""
    found, true, runs = dict(pairs), dict(right), []
    for place, ((_, bar, at, beat), _) in enumerate(written):
        by = found[place] - true[place] if place in found and place in true else None
        wrong = "answered by none" if by is None else f"answered {by:+d} attacks off"
        if found.get(place) != true.get(place):
            here = f"bar {bar} beat {1 + at / beat:g}"
            if runs and runs[-1][2:] == [wrong, place - 1]:
                runs[-1][1:] = [here, wrong, place]
            else:
                runs.append([here, here, wrong, place])
    for first, last, wrong, _ in runs:
        print(f"    {first} to {last}: {wrong}")
