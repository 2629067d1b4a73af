//! One simulated take: a rhythm, a player, and what was planted.

use judge::{FindingKind, Played};

use super::chance::Chance;
use super::mistakes::{Ground, Planted, faultless, plant};
use super::ornaments::dressed;
use super::player::{Instrument, Player, Sounded};
use super::rhythms::{Written, page, written};
use super::score::{ASTRAY_MS, ASTRAY_SPREADS};

/// One take and the truth about it.
#[derive(Clone, Debug)]
pub(crate) struct Take {
    pub(crate) seed: u64,
    pub(crate) spread_ms: f64,
    pub(crate) written: Written,
    /// What was planted; `None` in a clean take.
    pub(crate) kind: Option<FindingKind>,
    pub(crate) planted: Planted,
    pub(crate) sounded: Vec<Sounded>,
}

/// So many rhythms are looked through for a place for a mistake.
const TRIES: usize = 400;

impl Take {
    /// The take of this seed; `None` where no rhythm looked through has a place for the mistake.
    pub(crate) fn new(kind: Option<FindingKind>, spread_ms: f64, seed: u64) -> Option<Self> {
        let mut chance = Chance::new(seed);
        for _ in 0..TRIES {
            let page = page(&mut chance);
            let written = written(page, &mut chance);
            let instrument = instrument(kind, &written, &mut chance);
            let planted = match kind {
                None => Planted::clean(faultless(&written)),
                Some(kind) => {
                    let ground = Ground { written: &written, spread_ms, instrument };
                    let Some(planted) = plant(kind, &ground, &mut chance) else { continue };
                    planted
                }
            };
            if written.has_ornaments() && kind.is_some_and(strikes_otherwise) {
                continue;
            }
            let planted = dressed(planted, &written, &mut chance);
            let player = Player::any(spread_ms * planted.looser, &mut chance);
            let sounded = player.play(&planted.strokes, instrument, &mut chance);
            if kind.is_some_and(|kind| !left_a_trace(kind, &written, &sounded, spread_ms)) {
                continue;
            }
            return Some(Self { seed, spread_ms, written, kind, planted, sounded });
        }
        None
    }

    /// What the judge is given.
    pub(crate) fn played(&self) -> Vec<Played> {
        self.sounded.iter().map(|sounded| sounded.played).collect()
    }

    /// The standard deviation of the strokes about where they were meant, in ms; those that only follow another have none
    /// of their own.
    pub(crate) fn real_spread_ms(&self) -> f64 {
        let own = self.sounded.iter().filter(|sounded| sounded.stroke.bounce_ms.is_none());
        let errors: Vec<f64> = own.map(|sounded| sounded.error_ms).collect();
        let many = errors.len().max(1) as f64;
        let mean = errors.iter().sum::<f64>() / many;
        (errors.iter().map(|error| (error - mean).powi(2)).sum::<f64>() / many).sqrt()
    }
}

/// Whether what was planted can be heard in what sounded. The looseness of the player himself can undo a mistake: a note that he meant to
/// strike too soon and struck in its place is no mistake to tell. So strokes that are displaced must lie nearer to where they were
/// meant than to where they are written, all together, and a single attack so far off as counts for early or late.
pub(crate) fn left_a_trace(
    kind: FindingKind,
    written: &Written,
    sounded: &[Sounded],
    spread_ms: f64,
) -> bool {
    use FindingKind as K;
    let single = matches!(kind, K::EarlyAttack | K::LateAttack);
    if !single && !(K::DottedEven..=K::ValuesConfused).contains(&kind) {
        return true;
    }
    let (mut meant, mut heard) = (0.0, 0.0);
    for stroke in sounded {
        let Some(note) = stroke.stroke.answers else { continue };
        let by = stroke.stroke.at_ms - written.notes[note].at_ms;
        meant += by * by;
        heard += by * (by + stroke.error_ms);
    }
    let astray = (ASTRAY_SPREADS * spread_ms).max(ASTRAY_MS);
    heard > 0.5 * meant && (!single || heard >= astray * meant.sqrt())
}

/// Mistakes of which nobody knows what they make of a flam or a roll.
fn strikes_otherwise(kind: FindingKind) -> bool {
    use FindingKind as K;
    let strokes =
        [K::BeatStruck, K::CountsStruck, K::HoldStruck, K::RestStruck, K::ExtraAttack, K::OtherRhythm];
    let entries = [K::EarlyEntry, K::CutShort, K::EarlyAttack, K::LateAttack, K::Unsteady];
    let keys = [K::ReleasedEarly, K::HeldThroughRest];
    strokes.contains(&kind) || entries.contains(&kind) || keys.contains(&kind)
}

/// What the instrument tells: for a mistake of the hands what it takes to tell it, else as it comes.
pub(crate) fn instrument(kind: Option<FindingKind>, written: &Written, chance: &mut Chance) -> Instrument {
    use FindingKind as K;
    let needs = |kinds: &[K]| kind.is_some_and(|kind| kinds.contains(&kind));
    let sticking = written.notes.iter().any(|note| note.marks.sticking.is_some());
    let (velocity, hand, release) = (chance.percent(60), chance.percent(50), chance.percent(25));
    Instrument {
        velocity: velocity || needs(&[K::AccentMissed, K::AccentAdded]),
        hand: sticking && (hand || needs(&[K::WrongHand])),
        release: release || needs(&[K::ReleasedEarly, K::HeldThroughRest]),
    }
}
