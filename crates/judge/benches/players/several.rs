//! Takes with several mistakes, each in a place of its own, as beginners play them.

use std::fmt::Write as _;

use judge::{Finding, FindingKind, Judgement, Settings, judge};

use super::chance::Chance;
use super::mistakes::{Ground, Planted, faultless, plant};
use super::player::{Player, Sounded, Stroke};
use super::rhythms::{Written, page, written};
use super::score::{Told, is_at_place, is_true, told};
use super::take::{Take, instrument, left_a_trace};

/// What may stand beside other mistakes: what is done in one place and leaves the rest of the take as it is.
const LOCAL: [FindingKind; 19] = {
    use FindingKind as K;
    [
        K::HoldStruck,
        K::RestStruck,
        K::EarlyEntry,
        K::CutShort,
        K::AttackMissed,
        K::ExtraAttack,
        K::DottedEven,
        K::DottedAsTriplet,
        K::TripletAsSixteenths,
        K::SixteenthsAsTriplet,
        K::EAndForAndA,
        K::AndAForEAnd,
        K::SyncopationEvened,
        K::SyncopationOnBeat,
        K::LongShortEvened,
        K::ValuesConfused,
        K::EarlyAttack,
        K::LateAttack,
        K::WrongHand,
    ]
};
/// So many are planted in one take.
pub(crate) const MANY: [usize; 3] = [2, 3, 4];
/// So many rhythms are looked through, and mistakes tried in each.
const RHYTHMS: usize = 200;
const TRIES: usize = 40;
/// The seeds of these takes lie so far behind those of the kinds.
const BEHIND: u64 = 100_000_000;

/// A mistake and what its player means to do beside it.
struct Part {
    kind: FindingKind,
    planted: Planted,
}

/// What several mistakes in one take came to.
#[derive(Clone, Debug, Default)]
pub(crate) struct Several {
    pub(crate) takes: usize,
    pub(crate) planted: usize,
    pub(crate) found: usize,
    pub(crate) told: usize,
    pub(crate) right: usize,
    /// Takes in which none of the mistakes was told.
    pub(crate) silent: usize,
    pub(crate) sure: Vec<(Told, bool)>,
    pub(crate) doubtful: Vec<(Told, bool)>,
}

/// Takes with so many mistakes each, judged.
pub(crate) fn several(many: usize, takes: u64, spread_ms: f64, seed_base: u64) -> Several {
    let mut sum = Several::default();
    let first = seed_base + BEHIND * u64::try_from(many).unwrap_or(0);
    for seed in first..first + takes {
        let Some(views) = views(many, spread_ms, seed) else { continue };
        let judgement = judge(&views[0].written.counts, &views[0].played(), &Settings::default());
        sum.add(&views, &judgement);
    }
    sum
}

impl Several {
    fn add(&mut self, views: &[Take], judgement: &Judgement) {
        let mistakes: Vec<_> = judgement.findings().iter().filter(|f| f.kind.is_mistake()).collect();
        let is_found = |view: &Take| {
            mistakes.iter().any(|finding| Some(finding.kind) == view.kind && is_at_place(view, finding))
        };
        let found = views.iter().filter(|view| is_found(view)).count();
        self.takes += 1;
        self.planted += views.len();
        self.found += found;
        self.silent += usize::from(found == 0);
        // Of whose place it is, it must be true.
        let is_right =
            |finding: &Finding| views.iter().any(|view| is_at_place(view, finding) && is_true(view, finding));
        let doubtful = judgement.doubtful().iter().filter(|finding| finding.kind.is_mistake());
        self.doubtful.extend(doubtful.map(|finding| (told(finding), is_right(finding))));
        for finding in mistakes {
            let right = is_right(finding);
            self.told += 1;
            self.right += usize::from(right);
            self.sure.push((told(finding), right));
        }
    }
}

/// One take as each of its mistakes sees it: all that sounded, and that one as what was planted.
fn views(many: usize, spread_ms: f64, seed: u64) -> Option<Vec<Take>> {
    let mut chance = Chance::new(seed);
    for _ in 0..RHYTHMS {
        let page = page(&mut chance);
        let written = written(page, &mut chance);
        if written.has_ornaments() {
            continue;
        }
        let instrument = instrument(Some(FindingKind::WrongHand), &written, &mut chance);
        let ground = Ground { written: &written, spread_ms, instrument };
        let Some(parts) = parts(many, &ground, &mut chance) else { continue };
        let strokes = together(&parts, &written);
        let player = Player::any(spread_ms, &mut chance);
        let sounded = player.play(&strokes, instrument, &mut chance);
        let heard = |part: &Part| {
            let near: Vec<Sounded> = sounded
                .iter()
                .filter(|sounded| is_near(&part.planted, &written, sounded.stroke.at_ms))
                .cloned()
                .collect();
            left_a_trace(part.kind, &written, &near, spread_ms)
        };
        if !parts.iter().all(heard) {
            continue;
        }
        let view = |part: Part| Take {
            seed,
            spread_ms,
            written: written.clone(),
            kind: Some(part.kind),
            planted: Planted { strokes: strokes.clone(), ..part.planted },
            sounded: sounded.clone(),
        };
        return Some(parts.into_iter().map(view).collect());
    }
    None
}

/// So many mistakes that do not touch one another.
fn parts(many: usize, ground: &Ground<'_>, chance: &mut Chance) -> Option<Vec<Part>> {
    let mut parts: Vec<Part> = Vec::new();
    for _ in 0..TRIES {
        let kind = *chance.pick(&LOCAL)?;
        if kind == FindingKind::WrongHand && !ground.instrument.hand {
            continue;
        }
        let Some(planted) = plant(kind, ground, chance) else { continue };
        if is_local(&planted, ground.written)
            && parts.iter().all(|part| are_apart(&part.planted, &planted, ground.written))
        {
            parts.push(Part { kind, planted });
        }
        if parts.len() == many {
            return Some(parts);
        }
    }
    None
}

/// A place and a beat to either side.
fn around(planted: &Planted, written: &Written) -> impl Iterator<Item = (f64, f64)> {
    let beat = written.beat_ms + 1.0;
    planted.places.clone().into_iter().map(move |(from, to)| (from - beat, to + beat))
}

fn is_near(planted: &Planted, written: &Written, at_ms: f64) -> bool {
    around(planted, written).any(|(from, to)| (from..=to).contains(&at_ms))
}

/// Whether the rest of the take is as written, and no more than a quarter of it is not the rest.
fn is_local(planted: &Planted, written: &Written) -> bool {
    let rest = |strokes: &[Stroke]| -> Vec<f64> {
        let at = strokes.iter().map(|stroke| stroke.at_ms);
        at.filter(|at| !is_near(planted, written, *at)).collect()
    };
    let faultless = faultless(written);
    let alike = rest(&planted.strokes) == rest(&faultless);
    !planted.places.is_empty() && alike && rest(&faultless).len() * 4 >= faultless.len() * 3
}

/// Whether two mistakes lie two beats apart at least.
fn are_apart(one: &Planted, other: &Planted, written: &Written) -> bool {
    around(one, written)
        .all(|(from, to)| around(other, written).all(|(begins, ends)| ends < from || begins > to))
}

/// What a player means to do who makes all these mistakes.
fn together(parts: &[Part], written: &Written) -> Vec<Stroke> {
    let of_none = |stroke: &Stroke| !parts.iter().any(|part| is_near(&part.planted, written, stroke.at_ms));
    let mut strokes: Vec<Stroke> = faultless(written).into_iter().filter(of_none).collect();
    for part in parts {
        let own = part.planted.strokes.iter().filter(|stroke| is_near(&part.planted, written, stroke.at_ms));
        strokes.extend(own.cloned());
    }
    strokes.sort_by(|a, b| a.at_ms.total_cmp(&b.at_ms));
    strokes
}

/// A line for each number of mistakes.
pub(crate) fn lines(sums: &[(usize, Several)]) -> String {
    let mut text = "  several mistakes in one take, two beats apart at least\n    mistakes  takes  found   right  takes of which none was told\n".to_owned();
    for (many, sum) in sums {
        let share = |part: usize, of: usize| part as f64 / of.max(1) as f64;
        let (found, right) = (share(sum.found, sum.planted), share(sum.right, sum.told));
        let _ = writeln!(text, "    {many:8}  {:5}  {found:.3}   {right:.3}  {:5}", sum.takes, sum.silent);
    }
    text
}
