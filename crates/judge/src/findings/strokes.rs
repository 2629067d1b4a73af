//! What was struck that should not be, and the reverse.

use std::collections::BTreeMap;
use std::ops::Range;

use rhythm::{AttackId, Deed};
use timebase::{Moment, Seconds, Span};

use super::gaps::RUN;
use super::{Evidence, confidence, of_places};
use crate::{Fate, Finding, FindingKind, Slip, wording};

/// How much a habit of striking must explain beyond its price; with less, each stroke is told for itself.
const LEAST_HABIT: f64 = 0.5;
/// A second stroke within this time of an answer is the same note struck twice. The strokes of a flam are 40 to 50 ms apart
/// (second-hand), a beginner's bounce somewhat more.
pub(super) const TWICE: Seconds = Seconds::from_millis(75);
/// So many silent counts must be struck, and this share of all of them, to be a habit of striking what is said.
const FEWEST_SILENT: usize = 4;
const MOSTLY: f64 = 0.7;
/// So many attacks between the beats must be missed, and this share of them, for the beat to be struck instead of the rhythm.
const FEWEST_BETWEEN: usize = 3;
const HARDLY_ANY: f64 = 0.75;

impl Evidence<'_> {
    /// Extra attacks: on a rest, on a hold, a note struck twice, or elsewhere.
    pub(super) fn strokes_too_many(&self, found: &mut Vec<Finding>) {
        let whole = self.habits_of_striking(found);
        let answered = self.answered();
        let mut silences = self.written.counts.iter().enumerate();
        for (index, attack) in self.attacks.iter().enumerate() {
            if attack.answer.is_some() || attack.ornament.is_some() || attack.again {
                continue;
            }
            if let Some((id, deed)) = attack.fell_on {
                // Strokes fall on counts in order, so one walk along the counts finds them all.
                let Some((count, _)) = silences.find(|(_, count)| count.id == id) else { continue };
                if !whole.iter().any(|range| range.contains(&count)) {
                    found.push(self.silence_struck(index, count, deed));
                }
            } else {
                found.push(self.extra(index, &answered));
            }
        }
    }

    /// For each attack the note it answers.
    fn answered(&self) -> Vec<Option<usize>> {
        let mut answered: Vec<Option<usize>> = vec![None; self.attacks.len()];
        for (index, note) in self.notes.iter().enumerate() {
            if let Fate::Struck(attack) = note.fate {
                answered[attack] = Some(index);
            }
        }
        answered
    }

    fn silence_struck(&self, stroke: usize, count: usize, deed: Deed) -> Finding {
        let (id, bar, place) = self.count_place(count);
        let slip = Some(if deed == Deed::Rest { Slip::Rest } else { Slip::Held });
        let (kind, says) = match deed {
            Deed::Rest => (FindingKind::RestStruck, format!("{bar}: the rest on {place} was struck")),
            Deed::Hold | Deed::Attack => {
                (FindingKind::HoldStruck, format!("{bar}: the held note was struck again on {place}"))
            }
        };
        Finding { strokes: vec![stroke], confidence: self.stray(stroke), slip, ..Finding::at(kind, id, says) }
    }

    /// The beats struck instead of the rhythm, or every count that is said. Gives the counts that are told with that.
    fn habits_of_striking(&self, found: &mut Vec<Finding>) -> Vec<Range<usize>> {
        let bars: Vec<Tally> = self.written.bars.iter().map(|bar| self.tally(bar.clone())).collect();
        let mut told = Vec::new();
        let mut from = 0;
        while from < bars.len() {
            // As many bars as go on alike.
            let beat = stretch(&bars[from..], Tally::is_beat, |t| t.between_missed >= FEWEST_BETWEEN);
            let counts = stretch(&bars[from..], Tally::is_every_count, |t| t.silent_struck >= FEWEST_SILENT);
            let (kind, length) = match (beat, counts) {
                (Some(length), _) => (FindingKind::BeatStruck, length),
                (None, Some(length)) => (FindingKind::CountsStruck, length),
                (None, None) => {
                    from += 1;
                    continue;
                }
            };
            let range = bars[from].counts.start..bars[from + length - 1].counts.end;
            if self.habit_gains(&range) < LEAST_HABIT {
                from += length;
                continue;
            }
            found.push(self.habit(kind, &range));
            told.push(range);
            from += length;
        }
        told
    }

    fn habit(&self, kind: FindingKind, range: &Range<usize>) -> Finding {
        let (id, first, _) = self.count_place(range.start);
        let (_, last, _) = self.count_place(range.end - 1);
        let place = if first == last { first } else { format!("{first} to {last}") };
        let says = match kind {
            FindingKind::BeatStruck => format!("{place}: the beats were struck instead of the rhythm"),
            _ => format!(
                "{place}: every count that is said was struck, held and silent ones too; only the attacks are"
            ),
        };
        let strokes = range.clone().filter_map(|count| self.alignment.strokes[count]).collect();
        let gain = self.habit_gains(range);
        Finding { strokes, confidence: confidence(gain), ..Finding::at(kind, id, says) }
    }

    /// What spares a miss and half a stray for each of them is one habit, which costs two.
    fn habit_gains(&self, range: &Range<usize>) -> f64 {
        let tally = self.tally(range.clone());
        tally.between_missed as f64 + 0.5 * tally.silent_struck as f64 - 2.0
    }

    fn tally(&self, counts: Range<usize>) -> Tally {
        let mut tally = Tally { counts: counts.clone(), ..Tally::default() };
        for count in counts {
            let struck = self.alignment.strokes[count].is_some();
            let written = &self.written.counts[count];
            match (written.deed, written.on_beat) {
                (Deed::Attack, true) => {
                    tally.beats += 1;
                    tally.beats_struck += usize::from(struck);
                    tally.attacks += 1;
                    tally.attacks_struck += usize::from(struck);
                }
                (Deed::Attack, false) => {
                    tally.between += 1;
                    tally.between_missed += usize::from(!struck);
                    tally.attacks += 1;
                    tally.attacks_struck += usize::from(struck);
                }
                (Deed::Hold | Deed::Rest, on_beat) => {
                    tally.silent += 1;
                    tally.silent_struck += usize::from(struck);
                    tally.beats += usize::from(on_beat);
                    tally.beats_struck += usize::from(struck && on_beat);
                }
            }
        }
        tally
    }

    /// An attack that neither answers a note nor falls on a count of a silence.
    fn extra(&self, index: usize, answered: &[Option<usize>]) -> Finding {
        let at = self.attacks[index].played.at;
        let kind = FindingKind::ExtraAttack;
        let twice = self.struck_twice(index, answered);
        let slip = Some(if twice.is_some() { Slip::Twice } else { Slip::Extra });
        let finding = if let Some(note) = twice {
            let (id, bar, place) = self.place_of(note);
            Finding::at(kind, id, format!("{bar}: the attack on {place} was struck twice"))
        } else {
            match self.count_before(at) {
                Some(count) if self.is_behind_the_end(at) => {
                    let id = self.written.counts[count].id;
                    Finding::at(kind, id, "an extra attack after the last bar".to_owned())
                }
                Some(count) => {
                    let (id, bar, place) = self.count_place(count);
                    let says = match self.written.deed(count) {
                        Deed::Rest => format!("{bar}: an extra attack in the rest after {place}"),
                        Deed::Attack | Deed::Hold => format!("{bar}: an extra attack after {place}"),
                    };
                    Finding::at(kind, id, says)
                }
                None => Finding::of_all(kind, "an extra attack before the first count".to_owned()),
            }
        };
        Finding {
            strokes: vec![index],
            confidence: self.stray(index),
            slip: finding.place.and(slip),
            ..finding
        }
    }

    /// The note that an attack too many struck once more.
    fn struck_twice(&self, index: usize, answered: &[Option<usize>]) -> Option<usize> {
        let beside = [index.checked_sub(1), Some(index + 1)];
        beside.into_iter().flatten().find_map(|other| {
            let note = (*answered.get(other)?)?;
            let apart = (self.attacks[other].played.at - self.attacks[index].played.at).abs();
            (apart <= TWICE && apart + apart < self.room(note)).then_some(note)
        })
    }

    /// Whether something was played when all that is written was over: a quarter of a beat before the next would begin, or later.
    fn is_behind_the_end(&self, at: Moment) -> bool {
        self.written.beats.last().is_some_and(|&last| {
            let beat = self.written.beat_nanos(last);
            crate::written::nanos(at) > self.expected(last) + beat - beat / 4
        })
    }

    /// The last count that had begun, by the player's own pulse, when something was played.
    fn count_before(&self, at: Moment) -> Option<usize> {
        let at = crate::written::nanos(at);
        let counts = self.written.counts.len();
        if self.alignment.moves.is_empty() {
            let near = self.written.at.partition_point(|&written| written <= at).min(counts.checked_sub(1)?);
            let heard =
                at - self.alignment.course[near] - (self.alignment.moved[near] - self.written.at[near]);
            return self.written.at.partition_point(|&written| written <= heard).checked_sub(1);
        }
        // Moves make the expected times fall back here and there, so the count before is looked for from the end.
        (0..counts).rev().find(|&count| !self.alignment.skipped[count] && self.expected(count) <= at)
    }

    pub(super) fn missed(&self, found: &mut Vec<Finding>) {
        let kind = FindingKind::AttackMissed;
        let all_missed = self.notes.iter().all(|note| note.fate == Fate::Missed);
        if all_missed && self.attacks.is_empty() && !self.notes.is_empty() {
            let missed = wording::attacks(self.notes.len());
            found.push(Finding::of_all(kind, format!("nothing was struck: {missed} missed")));
            return;
        }
        let beaten: Vec<AttackId> = found
            .iter()
            .filter(|finding| finding.kind == FindingKind::BeatStruck)
            .filter_map(|finding| finding.place)
            .collect();
        let left_out = |note: usize| {
            let count = self.written.notes[note];
            self.alignment.skipped[count]
                || (!beaten.is_empty()
                    && !self.written.counts[count].on_beat
                    && self.tally(self.written.bars[self.written.bar_of(count)].clone()).is_beat())
        };
        let missed: Vec<usize> = (0..self.notes.len())
            .filter(|&note| self.notes[note].fate == Fate::Missed && !left_out(note))
            .collect();
        let always = self.always_missed(&missed);
        for (notes, times) in &always {
            found.push(self.missed_each_time(notes, *times));
        }
        let mut told = vec![false; self.notes.len()];
        always.iter().flat_map(|(notes, _)| notes).for_each(|&note| told[note] = true);
        let left: Vec<usize> = missed.into_iter().filter(|&note| !told[note]).collect();
        for run in left.chunk_by(|before, after| before + 1 == *after) {
            let (first, last) = (run[0], run[run.len() - 1]);
            if run.len() > 1 && self.is_last_time(first, last) {
                found.push(self.repeat_not_taken(first));
                continue;
            }
            if let Some(finding) = self.not_played(first, last) {
                found.push(finding);
                continue;
            }
            match run {
                [first, .., last] if run.len() >= RUN => found.push(self.missed_run(*first, *last)),
                _ => found.extend(run.iter().map(|&note| {
                    let (id, bar, place) = self.place_of(note);
                    let says = format!("{bar}: the attack on {place} was missed");
                    let notes = vec![id];
                    let (confidence, slip) = (self.unanswered(note), Some(Slip::Missed));
                    Finding { notes, confidence, slip, ..Finding::at(kind, id, says) }
                })),
            }
        }
    }

    /// The places in the bar whose attack is missed every time it is written (three times at least), with how often that is.
    fn always_missed(&self, missed: &[usize]) -> Vec<(Vec<usize>, usize)> {
        let mut is_missed = vec![false; self.notes.len()];
        missed.iter().for_each(|&note| is_missed[note] = true);
        let mut places: BTreeMap<Span, (Vec<usize>, usize)> = BTreeMap::new();
        for (note, written) in self.notes.iter().enumerate() {
            let place = places.entry(written.id.at).or_default();
            place.1 += 1;
            if is_missed[note] {
                place.0.push(note);
            }
        }
        let alone = |notes: &[usize]| {
            // A run of missed notes is told as a run.
            notes.iter().all(|note| {
                let near = [note.checked_sub(1), note.checked_add(1)];
                near.iter().flatten().all(|&other| !is_missed.get(other).copied().unwrap_or(false))
            })
        };
        places
            .into_values()
            .filter(|(notes, times)| notes.len() >= 3 && notes.len() == *times && alone(notes))
            .collect()
    }

    fn missed_each_time(&self, notes: &[usize], times: usize) -> Finding {
        let (_, _, place) = self.place_of(notes[0]);
        let ids = notes.iter().map(|&note| self.notes[note].id).collect();
        let says = format!("the attack on {place} was missed every time it is written: {times} times");
        of_places(FindingKind::AttackMissed, ids, Vec::new(), confidence(times as f64), says)
    }

    /// Whether notes from `first` to `last` are all of the last time through a passage, and nothing follows.
    fn is_last_time(&self, first: usize, last: usize) -> bool {
        let (id, before) = (self.notes[first].id, first.checked_sub(1).map(|note| self.notes[note].id));
        last + 1 == self.notes.len()
            && id.pass > 1
            && before.is_some_and(|before| before.pass + 1 == id.pass && id.bar <= before.bar)
    }

    fn repeat_not_taken(&self, first: usize) -> Finding {
        let (id, ..) = self.place_of(first);
        let notes = self.notes[first..].iter().map(|note| note.id).collect();
        let says = self.not_taken(self.written.notes[first]);
        // Whoever stops exactly where the repeat begins passed it over, unless he stopped there: what that costs more.
        let gain = crate::moves::STOPPED_FOR_A_REPEAT;
        Finding { notes, confidence: confidence(gain), ..Finding::at(FindingKind::RepeatNotTaken, id, says) }
    }

    fn missed_run(&self, first: usize, last: usize) -> Finding {
        let (from, from_bar, from_place) = self.place_of(first);
        let (to, to_bar, mut to_place) = self.place_of(last);
        if (from.bar, from.pass) != (to.bar, to.pass) {
            to_place = format!("{to_place} in {to_bar}");
        }
        let missed = wording::attacks(last - first + 1);
        let says = format!("{from_bar}: {missed} in a row missed, from {from_place} to {to_place}");
        let notes = self.notes[first..=last].iter().map(|note| note.id).collect();
        let confidence = (first..=last).map(|note| self.unanswered(note)).fold(0.999, f64::min);
        Finding { notes, confidence, ..Finding::at(FindingKind::AttackMissed, from, says) }
    }
}

/// What was struck in a bar.
#[derive(Clone, Debug, Default)]
struct Tally {
    counts: Range<usize>,
    /// Felt beats, whatever is done there, and how many of them were struck.
    beats: usize,
    beats_struck: usize,
    attacks: usize,
    attacks_struck: usize,
    /// Attacks between the beats, and how many of them were missed.
    between: usize,
    between_missed: usize,
    /// Counts of rests and holds, and how many of them were struck.
    silent: usize,
    silent_struck: usize,
}

impl Tally {
    /// Whether this could be a bar in which only the beats were struck.
    fn is_beat(&self) -> bool {
        self.beats > 0
            && self.beats_struck * 100 >= self.beats * 85
            && self.between_missed as f64 >= HARDLY_ANY * self.between as f64
    }

    /// Whether this could be a bar in which every count was struck.
    fn is_every_count(&self) -> bool {
        self.silent_struck as f64 >= MOSTLY * self.silent as f64
            && self.attacks_struck * 10 >= self.attacks * 8
    }

    fn add(&mut self, other: &Self) {
        self.between_missed += other.between_missed;
        self.silent_struck += other.silent_struck;
        self.between += other.between;
        self.silent += other.silent;
    }
}

/// How many bars from the first on go on alike, if they are enough together; the first and the last show it themselves.
fn stretch(bars: &[Tally], alike: fn(&Tally) -> bool, enough: impl Fn(&Tally) -> bool) -> Option<usize> {
    let shows = |tally: &Tally| tally.between_missed + tally.silent_struck > 0;
    let length = bars.iter().take_while(|tally| alike(tally)).count();
    let length = bars[..length].iter().rposition(shows)? + 1;
    let mut sum = Tally::default();
    bars[..length].iter().for_each(|tally| sum.add(tally));
    (shows(&bars[0]) && enough(&sum)).then_some(length)
}
