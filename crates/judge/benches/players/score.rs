//! What the judge says of a take, held against what was planted.

use std::collections::BTreeMap;

use judge::{Fate, Finding, FindingKind, Judgement};

use super::take::Take;

/// A finding that follows truly from the mistake that was planted is no false one: what was planted, what may be said
/// too, and why. Only deeds that were done are in it, never another explanation of the same strokes.
pub(crate) const CONSEQUENCES: [(FindingKind, FindingKind, &str); 9] = {
    use FindingKind as K;
    [
        (
            K::HalfSpeed,
            K::AttackMissed,
            "where the recording ends with the click, the second half was not struck",
        ),
        (K::RepeatNotTaken, K::AttackMissed, "the second time was not struck"),
        (K::BarSkipped, K::AttackMissed, "the bar was not struck"),
        (K::BeatDropped, K::AttackMissed, "the attacks of the beat were not struck"),
        (K::BeatStruck, K::AttackMissed, "the attacks between the beats were not struck"),
        (K::BeatStruck, K::HoldStruck, "beats within held notes were struck"),
        (K::BeatStruck, K::RestStruck, "beats within rests were struck"),
        (K::CountsStruck, K::HoldStruck, "counts within held notes were struck"),
        (K::CountsStruck, K::RestStruck, "counts within rests were struck"),
    ]
};

/// From this real spread on, calling a player unsteady is no mistake: the tolerance is 50 ms, and one attack in twelve is out of it.
const LOOSE_MS: f64 = 28.0;
/// An attack that sounded so many spreads and ms off is early or late whoever meant it to be, and one that did not is not. Of 400
/// strokes of a steady player one falls so far off by chance; the ms are those of the tolerance.
pub(crate) const ASTRAY_SPREADS: f64 = 3.5;
pub(crate) const ASTRAY_MS: f64 = 50.0;

/// What is counted of an alignment: labels of match, deletion and insertion that are right, given and true.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Labels {
    pub(crate) right: [usize; 3],
    pub(crate) given: [usize; 3],
    pub(crate) true_ones: [usize; 3],
}

impl Labels {
    pub(crate) fn add(&mut self, other: &Self) {
        for kind in 0..3 {
            self.right[kind] += other.right[kind];
            self.given[kind] += other.given[kind];
            self.true_ones[kind] += other.true_ones[kind];
        }
    }

    /// F over all three.
    pub(crate) fn f(&self) -> f64 {
        f(self.right.iter().sum(), self.given.iter().sum::<usize>() + self.true_ones.iter().sum::<usize>())
    }

    /// F of one of them: 0 match, 1 deletion, 2 insertion.
    pub(crate) fn f_of(&self, kind: usize) -> f64 {
        f(self.right[kind], self.given[kind] + self.true_ones[kind])
    }
}

fn f(right: usize, given_and_true: usize) -> f64 {
    if given_and_true == 0 { 1.0 } else { 2.0 * right as f64 / given_and_true as f64 }
}

/// What one take came to.
#[derive(Clone, Debug)]
pub(crate) struct Result {
    /// Whether the planted kind was told at its place.
    pub(crate) told: bool,
    /// Whether it was told, but only elsewhere.
    pub(crate) elsewhere: bool,
    /// Every mistake that was told and is none, by kind.
    pub(crate) false_ones: Vec<FindingKind>,
    /// How sure every mistake was said to be, and whether it was one.
    pub(crate) sure: Vec<(Told, bool)>,
    /// The same of those that were told as doubtful.
    pub(crate) doubtful: Vec<(Told, bool)>,
    pub(crate) labels: Labels,
}

/// How a mistake was told.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Told {
    pub(crate) kind: FindingKind,
    pub(crate) confidence: f64,
    /// What its own evidence says, before the rest of the take is looked at.
    pub(crate) evidence: f64,
    /// How well the take around it was understood.
    pub(crate) understood: judge::Understood,
}

/// Holds a judgement against the truth.
pub(crate) fn score(take: &Take, judgement: &Judgement) -> Result {
    let mistakes = judgement.findings().iter().filter(|finding| finding.kind.is_mistake());
    let own: Vec<&Finding> = mistakes.clone().filter(|finding| Some(finding.kind) == take.kind).collect();
    let told = own.iter().any(|finding| is_at_place(take, finding));
    let sure = mistakes.clone().map(|finding| (self::told(finding), is_true(take, finding))).collect();
    let doubtful = judgement.doubtful().iter().filter(|finding| finding.kind.is_mistake());
    let doubtful = doubtful.map(|finding| (self::told(finding), is_true(take, finding)));
    let false_ones = mistakes.filter(|finding| !is_true(take, finding)).map(|finding| finding.kind);
    Result {
        told,
        elsewhere: !told && !own.is_empty(),
        false_ones: false_ones.collect(),
        sure,
        doubtful: doubtful.collect(),
        labels: labels(take, judgement),
    }
}

/// How a finding was told.
pub(crate) fn told(finding: &Finding) -> Told {
    let Finding { kind, confidence, evidence, understood, .. } = *finding;
    Told { kind, confidence, evidence, understood }
}

/// Within a beat of where it was planted; anywhere, where it is about the whole take.
pub(crate) fn is_at_place(take: &Take, finding: &Finding) -> bool {
    let beat = take.written.beat_ms + 1.0;
    if take.planted.places.is_empty() {
        return true;
    }
    let counts = &take.written.counts;
    let place = finding.place.and_then(|id| counts.iter().find(|count| count.id == id));
    // No place is before the first count, or the whole take: true of what was planted at the very beginning.
    let at_ms = place.or(counts.first()).map_or(0.0, |count| count.at.as_millis_f64());
    take.planted.places.iter().any(|(from, to)| at_ms >= from - beat && at_ms <= to + beat)
}

pub(crate) fn is_true(take: &Take, finding: &Finding) -> bool {
    let planted = take.kind == Some(finding.kind);
    let follows =
        CONSEQUENCES.iter().any(|(planted, told, _)| take.kind == Some(*planted) && finding.kind == *told);
    let there = finding.place.is_none() || is_at_place(take, finding);
    let unclear = finding.kind == FindingKind::Unclear && strikes_otherwise(take) && there;
    planted || follows || unclear || is_true_by_chance(take, finding)
}

/// Whether other strokes are missing, too many or elsewhere than written: what may be told to be not clear.
fn strikes_otherwise(take: &Take) -> bool {
    use FindingKind as K;
    let touch = [K::ReleasedEarly, K::HeldThroughRest, K::WrongHand, K::AccentMissed, K::AccentAdded];
    take.kind.is_some_and(|kind| !touch.contains(&kind))
}

/// A mistake that nobody planted and that the player's own looseness made.
fn is_true_by_chance(take: &Take, finding: &Finding) -> bool {
    let side = match finding.kind {
        FindingKind::Unsteady => return take.real_spread_ms() >= LOOSE_MS,
        FindingKind::EarlyAttack | FindingKind::EarlyEntry | FindingKind::CutShort => -1.0,
        FindingKind::LateAttack => 1.0,
        _ => return false,
    };
    let note =
        take.written.notes.iter().position(|note| Some(take.written.counts[note.count].id) == finding.place);
    let astray = (ASTRAY_SPREADS * take.spread_ms).max(ASTRAY_MS);
    let is_it = |sounded: &super::player::Sounded| {
        sounded.stroke.answers == note && side * sounded.error_ms >= astray
    };
    note.is_some() && take.sounded.iter().any(is_it)
}

fn labels(take: &Take, judgement: &Judgement) -> Labels {
    if !take.planted.is_aligned {
        return Labels::default();
    }
    let mut answer_of: Vec<Option<usize>> = vec![None; take.sounded.len()];
    let mut pending = 0;
    for (note, told) in judgement.notes().iter().enumerate() {
        match told.fate {
            Fate::Struck(attack) => answer_of[judgement.attacks()[attack].index] = Some(note),
            Fate::Missed => {}
            Fate::Pending => pending += 1,
        }
    }
    assert_eq!(pending, 0, "a whole take leaves nothing pending");
    let notes = take.written.notes.len();
    let truth: Vec<Option<usize>> = take.planted.strokes.iter().map(|stroke| stroke.answers).collect();
    let first = compared(notes, &truth, &answer_of);
    match &take.planted.or_answers {
        Some(other) => {
            let second = compared(notes, other, &answer_of);
            if second.f() > first.f() { second } else { first }
        }
        None => first,
    }
}

/// Labels over exact pairs of written note and stroke.
fn compared(notes: usize, truth: &[Option<usize>], told: &[Option<usize>]) -> Labels {
    let answered = |answers: &[Option<usize>]| {
        let mut answered = vec![false; notes];
        for note in answers.iter().flatten() {
            answered[*note] = true;
        }
        answered
    };
    let mut labels = Labels::default();
    for (truth, told) in truth.iter().zip(told) {
        labels.true_ones[if truth.is_some() { 0 } else { 2 }] += 1;
        labels.given[if told.is_some() { 0 } else { 2 }] += 1;
        labels.right[if truth.is_some() { 0 } else { 2 }] += usize::from(truth == told);
    }
    for (truth, told) in answered(truth).into_iter().zip(answered(told)) {
        labels.true_ones[1] += usize::from(!truth);
        labels.given[1] += usize::from(!told);
        labels.right[1] += usize::from(!truth && !told);
    }
    labels
}

/// What all takes of one kind, or the clean ones, came to.
#[derive(Clone, Debug, Default)]
pub(crate) struct Row {
    pub(crate) takes: usize,
    pub(crate) told: usize,
    pub(crate) elsewhere: usize,
    pub(crate) false_findings: usize,
    pub(crate) labels: Labels,
}

/// Everything at one spread.
#[derive(Clone, Debug, Default)]
pub(crate) struct Table {
    pub(crate) rows: BTreeMap<Option<FindingKind>, Row>,
    /// In how many takes of what (the first) a kind (the second) was told and should not have been.
    pub(crate) confused: BTreeMap<(Option<FindingKind>, FindingKind), usize>,
    /// How sure every mistake was said to be, and whether it was one.
    pub(crate) sure: Vec<(Told, bool)>,
    /// The same of those that were told as doubtful.
    pub(crate) doubtful: Vec<(Told, bool)>,
}

impl Table {
    pub(crate) fn add(&mut self, take: &Take, result: &Result) {
        let row = self.rows.entry(take.kind).or_default();
        row.takes += 1;
        row.told += usize::from(result.told);
        row.elsewhere += usize::from(result.elsewhere);
        row.false_findings += result.false_ones.len();
        row.labels.add(&result.labels);
        self.sure.extend(&result.sure);
        self.doubtful.extend(&result.doubtful);
        let mut kinds = result.false_ones.clone();
        kinds.sort_unstable();
        kinds.dedup();
        for kind in kinds {
            *self.confused.entry((take.kind, kind)).or_default() += 1;
        }
    }

    /// The share of the takes it was planted in that it is told of, at its place.
    pub(crate) fn recall(&self, kind: FindingKind) -> Option<f64> {
        let row = self.rows.get(&Some(kind)).filter(|row| row.takes > 0)?;
        Some(row.told as f64 / row.takes as f64)
    }

    /// The share of the takes it is told of, in the whole pool, that it was planted in; a kind of which fewer
    /// takes were found weighs as much as the others. `None` where it is never told.
    pub(crate) fn precision(&self, kind: FindingKind) -> Option<f64> {
        let row = self.rows.get(&Some(kind)).filter(|row| row.takes > 0)?;
        let right = (row.told + row.elsewhere) as f64 / row.takes as f64;
        let wrong = self.confused.iter().filter(|((_, told), _)| *told == kind);
        let wrong: f64 = wrong.map(|((planted, _), many)| *many as f64 / self.takes(*planted)).sum();
        (right + wrong > 0.0).then(|| right / (right + wrong))
    }

    fn takes(&self, planted: Option<FindingKind>) -> f64 {
        self.rows.get(&planted).map_or(1, |row| row.takes.max(1)) as f64
    }

    /// F over the takes of everything.
    pub(crate) fn labels(&self) -> Labels {
        let mut labels = Labels::default();
        for row in self.rows.values() {
            labels.add(&row.labels);
        }
        labels
    }

    /// False findings per clean take.
    pub(crate) fn false_per_clean(&self) -> f64 {
        self.rows.get(&None).map_or(0.0, |row| row.false_findings as f64 / row.takes.max(1) as f64)
    }
}
