//! What is to be said about a take.

mod absence;
mod altered;
mod calibration;
mod course;
mod each_time;
mod entries;
mod exchanged;
mod few;
mod gaps;
mod hands_apart;
mod leftovers;
mod lengths;
mod places;
mod pulse;
mod readings;
mod strokes;
mod sure;
mod tangles;
mod touch;
mod waiting;

use rhythm::AttackId;
use timebase::Seconds;

use crate::alignment::Alignment;
use crate::sums::TakePulse;
use crate::trend::Trend;
use crate::written::Written;
use crate::{Answer, Attack, Fate, Finding, FindingKind, Note, Settings, Sums, wording};

/// Everything a finding may rest on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Evidence<'a> {
    pub(crate) written: &'a Written<'a>,
    pub(crate) alignment: &'a Alignment,
    /// For each count, whether it was read as part of something else.
    pub(crate) misread: &'a [bool],
    /// When every attack was struck, in nanoseconds.
    pub(crate) strokes: &'a [i64],
    pub(crate) attacks: &'a [Attack],
    pub(crate) notes: &'a [Note],
    /// Written time and offset of each match that was not misread, in nanoseconds.
    pub(crate) matches: &'a [(i64, i64)],
    pub(crate) sums: &'a Sums,
    pub(crate) pulse: &'a TakePulse,
    /// The pulse of a take that is steady first and drifts from somewhere on.
    pub(crate) bent: Option<Trend>,
    pub(crate) settings: &'a Settings,
    /// Whether all strokes are in.
    pub(crate) complete: bool,
}

/// What is to be said of a take.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Found {
    /// The most useful first.
    pub(crate) findings: Vec<Finding>,
    /// What is likelier wrong than right, in the same order.
    pub(crate) doubtful: Vec<Finding>,
}

impl Found {
    /// Whether it is said that the take does not fit the rhythm.
    pub(crate) fn is_of_another_rhythm(&self) -> bool {
        self.findings.iter().any(|finding| finding.kind == FindingKind::OtherRhythm)
    }
}

/// All that is to be said.
pub(crate) fn findings(evidence: &Evidence<'_>) -> Found {
    let mut found = Vec::new();
    if let Some(finding) = evidence.too_few() {
        return Found { findings: vec![finding], ..Found::default() };
    }
    if let Some(finding) = evidence.other_rhythm() {
        found.push(finding);
        let doubtful = evidence.calibrate(&mut found);
        evidence.not_there(&mut found);
        return Found { findings: found, doubtful };
    }
    evidence.course(&mut found);
    evidence.exchanged(&mut found);
    evidence.waiting(&mut found);
    evidence.readings(&mut found);
    evidence.places(&mut found);
    evidence.hands_apart(&mut found);
    evidence.strokes_too_many(&mut found);
    evidence.missed(&mut found);
    evidence.touch(&mut found);
    evidence.pulse(&mut found);
    evidence.leave_out(&mut found);
    evidence.leave_out_leftovers(&mut found);
    evidence.untangle(&mut found);
    evidence.join_each_time(&mut found);
    let doubtful = evidence.calibrate(&mut found);
    evidence.good_take(&mut found);
    evidence.without_rolls(&mut found);
    evidence.bias(&mut found);
    evidence.not_there(&mut found);
    Found { findings: in_order(found), doubtful: in_order(doubtful) }
}

/// The first of every kind by kind, then the rest as they stand: whoever reads three findings reads of three things. Among what
/// was read or struck wrongly at single places, what was so in several bars comes before what happened once.
fn in_order(found: Vec<Finding>) -> Vec<Finding> {
    let mut seen = Vec::new();
    let (mut firsts, rest): (Vec<_>, Vec<_>) = found.into_iter().partition(|finding| {
        let first = !seen.contains(&finding.kind);
        if first {
            seen.push(finding.kind);
        }
        first
    });
    let of_places = FindingKind::HoldStruck..=FindingKind::AndsBunched;
    firsts.sort_by_key(|finding| {
        let is_of_places = of_places.contains(&finding.kind);
        let group = if is_of_places { FindingKind::HoldStruck } else { finding.kind };
        (group, is_of_places && !is_habit(finding), finding.kind)
    });
    firsts.extend(rest);
    firsts
}

/// Whether it was so in several bars.
fn is_habit(finding: &Finding) -> bool {
    let mut bars: Vec<(u32, u32)> = finding.notes.iter().map(|note| (note.bar, note.pass)).collect();
    bars.dedup();
    bars.len() >= HABIT_BARS
}

/// In so many bars something is a habit.
const HABIT_BARS: usize = 3;

/// How far from its note an unsteady player's stroke may lie and be meant for it, in nanoseconds.
const LOOSE: i64 = 300_000_000;

/// How sure something is that makes the take so much cheaper to explain, in units of a miss. At the reach, 3.8
/// standard deviations, a stroke costs two of them: one is e to the 3.6th in likelihood.
pub(crate) fn confidence(gain: f64) -> f64 {
    (1.0 / (1.0 + (-3.6 * gain).exp())).clamp(0.5, 0.999)
}

impl Evidence<'_> {
    /// Takes out what something else that is told explains.
    fn leave_out(&self, found: &mut Vec<Finding>) {
        let told = |kind| found.iter().any(|finding: &Finding| finding.kind == kind);
        let (bunched, swung, unsteady) =
            (told(FindingKind::AndsBunched), told(FindingKind::AndsSwung), told(FindingKind::Unsteady));
        // Where the &s are late or early throughout, figures with an & in them look like others, and all of it like scatter.
        let habit = bunched || swung;
        found.retain(|finding| match finding.kind {
            FindingKind::DottedAsTriplet if swung && self.reads_late(finding) => false,
            FindingKind::SixteenthsAsTriplet => !swung,
            FindingKind::DottedAsTriplet => !bunched,
            FindingKind::DottedEven
            | FindingKind::SyncopationEvened
            | FindingKind::ValuesConfused
            | FindingKind::Unsteady => !habit,
            _ => true,
        });
        if unsteady && !habit {
            self.leave_out_loose_pairs(found);
        }
    }

    /// Whether a finding is of dotted figures whose short note came late.
    fn reads_late(&self, finding: &Finding) -> bool {
        let mut late = self.alignment.readings.iter().filter(|reading| reading.is_late());
        late.any(|reading| Some(self.written.counts[reading.notes[0]].id) == finding.notes.first().copied())
    }

    /// Where a player is unsteady, a stroke beside a missed note is that note, only further off than a gate reaches.
    fn leave_out_loose_pairs(&self, found: &mut Vec<Finding>) {
        let missed: Vec<usize> =
            (0..self.notes.len()).filter(|&note| self.notes[note].fate == Fate::Missed).collect();
        let mut explained: Vec<AttackId> = Vec::new();
        found.retain(|finding| {
            let [stroke] = finding.strokes[..] else { return true };
            if finding.kind != FindingKind::ExtraAttack {
                return true;
            }
            let near = missed.iter().find(|&&note| {
                let count = self.written.notes[note];
                let apart = (self.strokes[stroke] - self.expected(count)).abs();
                apart < (self.written.beat_nanos(count) / 2).min(LOOSE)
                    && !explained.contains(&self.notes[note].id)
            });
            explained.extend(near.map(|&note| self.notes[note].id));
            near.is_none()
        });
        found.retain(|finding| {
            finding.kind != FindingKind::AttackMissed
                || finding.notes.len() != 1
                || !explained.contains(&finding.notes[0])
        });
    }

    /// A note's name, and its bar and count in words.
    fn place_of(&self, note: usize) -> (AttackId, String, String) {
        self.count_place(self.written.notes[note])
    }

    /// The same of any count.
    fn count_place(&self, count: usize) -> (AttackId, String, String) {
        let id = self.written.counts[count].id;
        (id, wording::bar(id), wording::count(self.written.counts, count))
    }

    /// What follows the place of a finding of several, as counts in the order they are gone through.
    fn also_in(&self, counts: &[usize]) -> String {
        let ids: Vec<AttackId> = counts.iter().map(|&count| self.written.counts[count].id).collect();
        wording::also_in(&ids)
    }

    /// The answer to a note.
    fn answer(&self, note: usize) -> Option<&Answer> {
        match self.notes[note].fate {
            Fate::Struck(attack) => self.attacks[attack].answer.as_ref(),
            Fate::Missed | Fate::Pending => None,
        }
    }

    /// The shortest interval from a note to its neighbours.
    fn room(&self, note: usize) -> Seconds {
        let apart = |other: Option<usize>| Some((self.notes.get(other?)?.at - self.notes[note].at).abs());
        let both = apart(note.checked_sub(1)).into_iter().chain(apart(Some(note + 1)));
        both.min().unwrap_or(Seconds::from_nanos(i64::MAX))
    }

    /// A length in ms, no finer than the stamps.
    fn ms(&self, length_ms: f64) -> String {
        wording::ms_in(length_ms, self.settings.resolution())
    }

    /// Where a count lies by the player's own pulse, in nanoseconds.
    fn expected(&self, count: usize) -> i64 {
        self.alignment.moved[count] + self.alignment.course[count]
    }
}

/// A finding of several places.
fn of_places(
    kind: FindingKind,
    notes: Vec<AttackId>,
    strokes: Vec<usize>,
    confidence: f64,
    says: String,
) -> Finding {
    Finding {
        place: notes.first().copied(),
        notes,
        strokes,
        confidence: confidence.clamp(0.5, 0.999),
        ..Finding::of_all(kind, says)
    }
}
