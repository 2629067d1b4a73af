use counting::TimedCount;
use rhythm::{AttackId, Deed};
use timebase::{Moment, Seconds};

use crate::alignment::nanos;
use crate::limits::FEWEST_FOR_DRIFT;
use crate::sums::TakePulse;
use crate::{Attack, Fate, Finding, FindingKind, Note, Settings, Sums, wording};

/// Everything a finding may rest on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Evidence<'a> {
    pub(crate) counts: &'a [TimedCount],
    /// The player's pulse minus the click at each count, in nanoseconds.
    pub(crate) course: &'a [i64],
    pub(crate) attacks: &'a [Attack],
    pub(crate) notes: &'a [Note],
    /// Which count each note is.
    pub(crate) written: &'a [usize],
    /// Written time and offset of each match, in nanoseconds.
    pub(crate) matches: &'a [(i64, i64)],
    pub(crate) sums: &'a Sums,
    pub(crate) pulse: &'a TakePulse,
    pub(crate) settings: &'a Settings,
}

/// So many missed in a row are told as one: nobody wants sixteen sentences on four bars that were not played.
const RUN: usize = 4;
/// A second stroke within this time of an answer is the same note struck twice. The strokes of a flam are 40 to 50 ms apart
/// (second-hand), a beginner's bounce somewhat more.
const TWICE: Seconds = Seconds::from_millis(75);
/// A single attack is a finding of its own only beyond so many standard deviations of the player's own scatter:
/// one in sixteen thousand does that by chance.
const OUTLYING: f64 = 4.0;
/// A scatter beyond this share of the tolerance is unsteady: one attack in eight is then out of it.
const UNSTEADY: f64 = 2.0 / 3.0;
/// A bias smaller than this is not worth a word, in ms.
const LEAST_BIAS_MS: f64 = 20.0;
/// Up to here a steady bias is what people do, in ms: taps lead a click by 30 to 50 ms (Aschersleben and Prinz 1995).
const USUAL_BIAS_MS: f64 = 60.0;

/// All findings, the most useful first.
pub(crate) fn findings(evidence: &Evidence<'_>) -> Vec<Finding> {
    let mut found = Vec::new();
    evidence.strokes_too_many(&mut found);
    evidence.missed(&mut found);
    evidence.pulse(&mut found);
    evidence.single_attacks(&mut found);
    evidence.good_take(&mut found);
    evidence.bias(&mut found);
    in_order(found)
}

/// The first of every kind by kind, then the rest as they stand: whoever reads three findings reads of three things.
fn in_order(found: Vec<Finding>) -> Vec<Finding> {
    let mut seen = Vec::new();
    let (mut firsts, rest): (Vec<_>, Vec<_>) = found.into_iter().partition(|finding| {
        let first = !seen.contains(&finding.kind);
        if first {
            seen.push(finding.kind);
        }
        first
    });
    firsts.sort_by_key(|finding| finding.kind);
    firsts.extend(rest);
    firsts
}

impl Evidence<'_> {
    /// Extra attacks: on a rest, on a hold, a note struck twice, or elsewhere.
    fn strokes_too_many(&self, found: &mut Vec<Finding>) {
        let mut silences = self.counts.iter().enumerate();
        let mut answered: Vec<Option<usize>> = vec![None; self.attacks.len()];
        for (index, note) in self.notes.iter().enumerate() {
            if let Fate::Struck(attack) = note.fate {
                answered[attack] = Some(index);
            }
        }
        for (index, attack) in self.attacks.iter().enumerate().filter(|(_, attack)| attack.answer.is_none()) {
            if let Some((id, deed)) = attack.fell_on {
                // Strokes fall on counts in order, so one walk along the counts finds them all.
                let Some((count, _)) = silences.find(|(_, count)| count.id == id) else {
                    continue;
                };
                let (bar, place) = (wording::bar(id), wording::count(self.counts, count));
                let (kind, says) = match deed {
                    Deed::Rest => (FindingKind::RestStruck, format!("{bar}: the rest on {place} was struck")),
                    Deed::Hold | Deed::Attack => {
                        (FindingKind::HoldStruck, format!("{bar}: the held note was struck again on {place}"))
                    }
                };
                found.push(Finding::at(kind, id, says));
            } else {
                found.push(self.extra(index, &answered));
            }
        }
    }

    /// An attack that neither answers a note nor falls on a count of a silence.
    fn extra(&self, index: usize, answered: &[Option<usize>]) -> Finding {
        let at = self.attacks[index].played.at;
        let kind = FindingKind::ExtraAttack;
        let beside = [index.checked_sub(1), Some(index + 1)];
        let twice = beside.into_iter().flatten().find_map(|other| {
            let note = (*answered.get(other)?)?;
            let apart = (self.attacks[other].played.at - at).abs();
            (apart <= TWICE && apart + apart < self.room(note)).then_some(note)
        });
        if let Some(note) = twice {
            let (id, bar, place) = self.place_of(note);
            return Finding::at(kind, id, format!("{bar}: the attack on {place} was struck twice"));
        }
        match self.count_before(at) {
            Some(count) => {
                let id = self.counts[count].id;
                let (bar, place) = (wording::bar(id), wording::count(self.counts, count));
                let says = match self.counts[count].deed {
                    Deed::Rest => format!("{bar}: an extra attack in the rest after {place}"),
                    Deed::Attack | Deed::Hold => format!("{bar}: an extra attack after {place}"),
                };
                Finding::at(kind, id, says)
            }
            None => Finding::of_all(kind, "an extra attack before the first count".to_owned()),
        }
    }

    /// The shortest interval from a note to its neighbours.
    fn room(&self, note: usize) -> Seconds {
        let apart = |other: Option<usize>| Some((self.notes.get(other?)?.at - self.notes[note].at).abs());
        let both = apart(note.checked_sub(1)).into_iter().chain(apart(Some(note + 1)));
        both.min().unwrap_or(Seconds::from_nanos(i64::MAX))
    }

    /// The last count that had begun, by the player's own pulse, when something was played.
    fn count_before(&self, at: Moment) -> Option<usize> {
        let near = self.counts.partition_point(|count| count.at <= at).min(self.counts.len().checked_sub(1)?);
        let heard = at - Seconds::from_nanos(self.course[near]);
        self.counts.partition_point(|count| count.at <= heard).checked_sub(1)
    }

    fn missed(&self, found: &mut Vec<Finding>) {
        let kind = FindingKind::AttackMissed;
        let all_missed = self.notes.iter().all(|note| note.fate == Fate::Missed);
        if all_missed && self.attacks.is_empty() && !self.notes.is_empty() {
            let missed = wording::attacks(self.notes.len());
            found.push(Finding::of_all(kind, format!("nothing was struck: {missed} missed")));
            return;
        }
        let missed: Vec<usize> =
            (0..self.notes.len()).filter(|&note| self.notes[note].fate == Fate::Missed).collect();
        for run in missed.chunk_by(|before, after| before + 1 == *after) {
            match run {
                [first, .., last] if run.len() >= RUN => found.push(self.missed_run(*first, *last)),
                _ => found.extend(run.iter().map(|&note| {
                    let (id, bar, place) = self.place_of(note);
                    let says = format!("{bar}: the attack on {place} was missed");
                    Finding::at(kind, id, says)
                })),
            }
        }
    }

    fn missed_run(&self, first: usize, last: usize) -> Finding {
        let (from, from_bar, from_place) = self.place_of(first);
        let (to, to_bar, mut to_place) = self.place_of(last);
        if (from.bar, from.pass) != (to.bar, to.pass) {
            to_place = format!("{to_place} in {to_bar}");
        }
        let missed = wording::attacks(last - first + 1);
        let says = format!("{from_bar}: {missed} in a row missed, from {from_place} to {to_place}");
        Finding::at(FindingKind::AttackMissed, from, says)
    }

    /// A note's name, and its bar and count in words.
    fn place_of(&self, note: usize) -> (AttackId, String, String) {
        let id = self.notes[note].id;
        (id, wording::bar(id), wording::count(self.counts, self.written[note]))
    }

    /// Rushing, dragging, unsteady.
    fn pulse(&self, found: &mut Vec<Finding>) {
        if let Some(drift) = self.drift_to_tell() {
            let speed = wording::percent(drift.percent, drift.error_percent);
            let carried = wording::ms(drift.carried.as_millis_f64());
            let bars = self.bars_played();
            let (kind, says) = if drift.percent > 0.0 {
                (
                    FindingKind::Rushing,
                    format!("rushing: {speed} faster than written, {carried} gained{bars}"),
                )
            } else {
                (
                    FindingKind::Dragging,
                    format!("dragging: {speed} slower than written, {carried} lost{bars}"),
                )
            };
            found.push(Finding::of_all(kind, says));
        }
        if let (true, Some(spread)) = (self.is_unsteady(), self.sums.spread) {
            let spread = wording::ms(spread.as_millis_f64());
            let says = format!("unsteady: the attacks scatter by {spread} about the pulse");
            found.push(Finding::of_all(FindingKind::Unsteady, says));
        }
    }

    /// A drift that is no chance and has carried the player out of the tolerance. Less is not heard as rushing.
    fn drift_to_tell(&self) -> Option<crate::Drift> {
        let drift = self.sums.drift.filter(|drift| drift.sure)?;
        (drift.carried.abs() >= self.settings.tolerance()).then_some(drift)
    }

    fn bars_played(&self) -> String {
        let struck = |note: &&Note| matches!(note.fate, Fate::Struck(_));
        let first = self.notes.iter().find(struck).map(|note| wording::bar(note.id));
        let last = self.notes.iter().rfind(struck).map(|note| wording::bar(note.id));
        match (first, last) {
            (Some(first), Some(last)) if first != last => format!(" from {first} to {last}"),
            _ => String::new(),
        }
    }

    /// Scatter is told by the standard deviation with and without outliers, so that one slip among steady
    /// attacks is not called unsteady.
    fn is_unsteady(&self) -> bool {
        let Some(spread) = self.sums.spread.filter(|_| self.sums.matched >= FEWEST_FOR_DRIFT) else {
            return false;
        };
        let limit = UNSTEADY * self.settings.tolerance().as_millis_f64();
        let loose = spread.as_millis_f64() > limit && self.pulse.scatter(self.matches) > limit;
        // A quarter off the pulse is unsteady too, where notes are close and the tolerance is a third of their interval.
        loose || self.off_pulse().count() * 4 > self.sums.matched
    }

    /// The notes that were struck further from the pulse of the take than their tolerance, and how far in ms.
    fn off_pulse(&self) -> impl Iterator<Item = (usize, f64)> {
        self.notes.iter().enumerate().filter_map(|(index, note)| {
            let Fate::Struck(attack) = note.fate else {
                return None;
            };
            let answer = self.attacks[attack].answer?;
            let distance = answer.offset.as_millis_f64() - self.pulse.at(nanos(note.at));
            (distance.abs() > answer.tolerance.as_millis_f64()).then_some((index, distance))
        })
    }

    /// Attacks far off by the player's own standard.
    fn single_attacks(&self, found: &mut Vec<Finding>) {
        if self.sums.bias.is_none() || self.is_unsteady() {
            return;
        }
        let limit = OUTLYING * self.pulse.scatter(self.matches);
        for (note, distance) in self.off_pulse().filter(|(_, distance)| distance.abs() > limit) {
            let (id, bar, place) = self.place_of(note);
            let (kind, side) = if distance < 0.0 {
                (FindingKind::EarlyAttack, "early")
            } else {
                (FindingKind::LateAttack, "late")
            };
            let says = format!("{bar}: the attack on {place} came {} {side}", wording::ms(distance));
            found.push(Finding::at(kind, id, says));
        }
    }

    fn good_take(&self, found: &mut Vec<Finding>) {
        let complete = self.notes.iter().all(|note| matches!(note.fate, Fate::Struck(_)));
        let (Some(spread), true, true) = (self.sums.spread, complete, found.is_empty()) else {
            return;
        };
        let on_time = self.sums.matched - self.off_pulse().count();
        let spread = wording::ms(spread.as_millis_f64());
        let says = format!(
            "a good take: all {} attacks were struck and nothing else, {on_time} of them on time, spread {spread}",
            self.sums.matched,
        );
        found.push(Finding::of_all(FindingKind::GoodTake, says));
    }

    /// A steady distance from the click, where it is heard and is no chance.
    fn bias(&self, found: &mut Vec<Finding>) {
        let Some(bias) = self.sums.bias.filter(|_| self.drift_to_tell().is_none() && !self.is_unsteady())
        else {
            return;
        };
        let bias = bias.as_millis_f64();
        // The standard error of a median is 1.25 times that of a mean.
        let error = 1.2533 * self.pulse.scatter(self.matches) / (self.sums.matched as f64).sqrt();
        if bias.abs() < LEAST_BIAS_MS.max(self.just_noticeable_ms()) || bias.abs() <= 3.0 * error {
            return;
        }
        let (kind, side) = if bias < 0.0 {
            (FindingKind::SteadyLead, "ahead of")
        } else {
            (FindingKind::SteadyLag, "behind")
        };
        let remark = if bias.abs() <= USUAL_BIAS_MS {
            "steady, a distance of some tens of milliseconds is no fault"
        } else {
            "so much may be the equipment's delay, so measure that first"
        };
        let says = format!("the attacks fall {} {side} the click throughout; {remark}", wording::ms(bias));
        found.push(Finding::of_all(kind, says));
    }

    /// The least displacement that is heard, at the median interval between notes: 6 ms below 240 ms, 2.5 % above
    /// (Friberg and Sundberg 1995).
    fn just_noticeable_ms(&self) -> f64 {
        let mut intervals: Vec<f64> =
            self.notes.windows(2).map(|pair| (pair[1].at - pair[0].at).as_millis_f64()).collect();
        (0.025 * crate::drift::median_size(&mut intervals)).max(6.0)
    }
}
