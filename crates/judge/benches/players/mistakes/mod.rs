//! Mistakes as pupils make them, one planter for each kind of finding that is one.
//!
//! A planter is given a rhythm, the spread of the player who will play it, and chance; it gives back what the player
//! means to strike, for every stroke the written attack it is meant for, and the places; or nothing, where the rhythm has no
//! place for this mistake. The click goes on whatever the player does.
//!
//! # What may be planted
//!
//! Only what somebody with good ears could tell from the strokes alone. "Near" is within 2.5 spreads or 40 ms, whichever is
//! more.
//!
//! - *Attacks displaced* within a figure, a beat or a run: each by at least 40 ms and 2.5 spreads, and by more where there
//!   are few of them: the displacement times the square root of their number comes to 4 spreads. At four places or more,
//!   as a habit has them, 25 ms are enough where they come to 5 spreads so counted: see [`tellable`].
//! - *A single attack early or late* lies 5.5 spreads and 80 ms off, not half-way to its neighbour, and away from the
//!   places where another figure would have it (quarters and thirds of a simple beat, thirds and the half of one in three),
//!   by 1.8 spreads and 36 ms. None early after a rest or a long note: that is an early entry, or a note cut short.
//! - *Strokes beside the written ones* lie 5 spreads and 100 ms from every written attack, but for a bounce, which follows
//!   its stroke by 30 to 60 ms and lies in the first third of the time to the next.
//! - *Attacks left out* have their neighbours 4 spreads away.
//! - *What follows is shifted* (bars and beats left out or put in, repeats passed over, pauses): as many as three strokes
//!   fit the rhythm as written no more, and no other place for the same mistake gives the same strokes but for one. Three
//!   or four strokes come before it, else it is another way to begin, and four after it. Beats that may as well have been
//!   others (a run of quarters) are one place if they lie together, else nothing is planted. A skipped or repeated bar
//!   differs from both its neighbours; a repeat passed over is of two bars or more.
//! - *Another bar in the place of one* (the one before or behind it, or both changed places): as many as five strokes fit the rhythm
//!   as written no more, and no other bars put so give the same strokes but for one.
//! - *Another reading throughout* (the beats, every count, the whole phrase a beat off, another rhythm): at least four
//!   strokes and a fifth of all have no written attack near, or the reverse.
//! - *The pulse* that runs away gains at least 120 ms and 6 spreads and not more than a beat and a half; in runs of short
//!   notes what is said of displaced attacks, and less than half a note. An unsteady player's spread is at least 2.5 times
//!   his usual one and 55 ms, and the shortest interval at least 3.5 times as long.
//! - *Hands, accents and keys* only where the instrument tells them; accents where four are written; keys held or let go
//!   early on notes of a beat and a half, and through rests of half a beat and a quarter of a second.
//!
//! A test (`no_mistake_is_another`) tries every planter on the takes of every other, for strokes that would be the same.

mod deeds;
mod figures;
mod hands;
mod place;
mod pulse;

use judge::{FindingKind, Hand};
use rhythm::Sticking;

use super::chance::Chance;
use super::player::{Instrument, Stroke};
use super::rhythms::Written;

/// What one player means to do, and what is wrong with it.
#[derive(Clone, Debug)]
pub(crate) struct Planted {
    pub(crate) strokes: Vec<Stroke>,
    /// Where, as stretches of written time in ms, both ends included; none where it is the whole take.
    pub(crate) places: Vec<(f64, f64)>,
    /// The deed in words, for whoever looks at a take.
    pub(crate) what: String,
    /// Another way to say which stroke answers what, as good as the first: of a bar played twice either may be the answer.
    pub(crate) or_answers: Option<Vec<Option<usize>>>,
    /// How much looser than usual this player is.
    pub(crate) looser: f64,
    /// Whether the strokes answer this rhythm at all.
    pub(crate) is_aligned: bool,
}

impl Planted {
    /// Nothing wrong.
    pub(crate) fn clean(strokes: Vec<Stroke>) -> Self {
        Self::new(strokes, vec![], "nothing")
    }

    fn new(strokes: Vec<Stroke>, places: Vec<(f64, f64)>, what: impl Into<String>) -> Self {
        Self { strokes, places, what: what.into(), or_answers: None, looser: 1.0, is_aligned: true }
    }
}

/// What a planter is given.
pub(crate) struct Ground<'w> {
    pub(crate) written: &'w Written,
    pub(crate) spread_ms: f64,
    pub(crate) instrument: Instrument,
}

/// What a faultless player means to do.
pub(crate) fn faultless(written: &Written) -> Vec<Stroke> {
    let stroke = |(index, note): (usize, &super::rhythms::WrittenNote)| Stroke {
        at_ms: note.at_ms,
        answers: Some(index),
        bounce_ms: None,
        accent: note.marks.accent.is_some(),
        hand: note.marks.sticking.map(|hand| if hand == Sticking::Left { Hand::Left } else { Hand::Right }),
        held_ms: 0.85 * written.ms(note.length),
    };
    written.notes.iter().enumerate().map(stroke).collect()
}

/// Plants a mistake of this kind, or finds no place for it.
pub(crate) fn plant(kind: FindingKind, ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    use FindingKind as K;
    match kind {
        K::OtherRhythm => place::other_rhythm(ground, chance),
        K::HalfSpeed => place::speed(ground, 2.0, chance),
        K::DoubleSpeed => place::speed(ground, 0.5, chance),
        K::PhraseEarly => place::phrase(ground, -1.0, chance),
        K::PhraseLate => place::phrase(ground, 1.0, chance),
        K::RepeatNotTaken => place::repeat_not_taken(ground),
        K::BarSkipped => place::bar_skipped(ground, chance),
        K::BarRepeated => place::bar_repeated(ground, chance),
        K::BarExchanged => place::bar_exchanged(ground, chance),
        K::BeatDropped => place::beat_dropped(ground, chance),
        K::PauseAtBarLine => place::pause(ground, true, chance),
        K::BeatAdded => place::pause(ground, false, chance),
        K::BeatStruck => deeds::beats(ground),
        K::CountsStruck => deeds::every_count(ground),
        K::HoldStruck => deeds::silence(ground, rhythm::Deed::Hold, chance),
        K::RestStruck => deeds::silence(ground, rhythm::Deed::Rest, chance),
        K::EarlyEntry => deeds::early_entry(ground, chance),
        K::CutShort => deeds::cut_short(ground, chance),
        K::AttackMissed => deeds::missed(ground, chance),
        K::ExtraAttack => deeds::extra(ground, chance),
        K::DottedEven
        | K::DottedAsTriplet
        | K::TripletAsSixteenths
        | K::SixteenthsAsTriplet
        | K::EAndForAndA
        | K::AndAForEAnd
        | K::SyncopationEvened
        | K::SyncopationOnBeat
        | K::LongShortEvened
        | K::ValuesConfused => figures::figure(kind, ground, chance),
        K::AndsSwung => figures::ands(ground, true, chance),
        K::AndsBunched => figures::ands(ground, false, chance),
        K::Rushing => pulse::runs_away(ground, true, chance),
        K::Dragging => pulse::runs_away(ground, false, chance),
        K::Unsteady => pulse::unsteady(ground),
        K::EarlyAttack => pulse::single(ground, -1.0, chance),
        K::LateAttack => pulse::single(ground, 1.0, chance),
        K::ReleasedEarly => hands::released_early(ground, chance),
        K::HeldThroughRest => hands::held_through_rest(ground, chance),
        K::WrongHand => hands::wrong_hand(ground, chance),
        K::AccentMissed => hands::accents(ground, true, chance),
        K::AccentAdded => hands::accents(ground, false, chance),
        // What is not clear is nobody's mistake by name.
        K::NotThere | K::Unclear | K::GoodTake | K::SteadyLead | K::SteadyLag => None,
    }
}

impl Ground<'_> {
    /// What is near enough to pass for it, in ms.
    fn near_ms(&self) -> f64 {
        (2.5 * self.spread_ms).max(40.0)
    }

    /// Whether a displacement at so many places can be told.
    fn tellable(&self, displaced_ms: f64, places: usize) -> bool {
        tellable(displaced_ms, places, self.spread_ms)
    }

    /// Whether two ways to strike differ throughout.
    fn reads_otherwise(&self, strokes: &[Stroke], others: &[Stroke]) -> bool {
        let least = 4.max(others.len() / 5);
        differ(strokes, others, self.near_ms()) >= least
    }
}

/// The rule for displaced attacks that the module's page tells.
pub(crate) fn tellable(displaced_ms: f64, places: usize, spread_ms: f64) -> bool {
    let together = displaced_ms.abs() * (places as f64).sqrt();
    let plain = displaced_ms.abs() >= 40.0_f64.max(2.5 * spread_ms) && together >= 4.0 * spread_ms;
    let habit = places >= 4 && displaced_ms.abs() >= 25.0 && together >= 5.0 * spread_ms;
    places > 0 && (plain || habit)
}

/// How many strokes of the one have none of the other near, and the reverse.
pub(crate) fn differ(strokes: &[Stroke], others: &[Stroke], near_ms: f64) -> usize {
    let sorted = |strokes: &[Stroke]| {
        let mut at: Vec<f64> = strokes.iter().map(|stroke| stroke.at_ms).collect();
        at.sort_by(f64::total_cmp);
        at
    };
    let (ones, others) = (sorted(strokes), sorted(others));
    let (mut one, mut other, mut pairs) = (0, 0, 0);
    while let (Some(a), Some(b)) = (ones.get(one), others.get(other)) {
        if (a - b).abs() <= near_ms {
            pairs += 1;
        }
        // Whichever is behind, or both where they meet.
        one += usize::from(a - b <= near_ms);
        other += usize::from(b - a <= near_ms);
    }
    ones.len() + others.len() - 2 * pairs
}

/// In the order in which they are struck.
fn in_order(mut strokes: Vec<Stroke>) -> Vec<Stroke> {
    strokes.sort_by(|a, b| a.at_ms.total_cmp(&b.at_ms));
    strokes
}

/// The counts of bars from 1 and of beats from 1 at a place in twelfths, for whoever looks at a take.
fn told(written: &Written, at: i64) -> String {
    let bar = written.bars.iter().rposition(|bar| bar.start <= at).unwrap_or(0);
    let beat = (at - written.bars[bar].start) as f64 / super::rhythms::PARTS as f64 + 1.0;
    format!("performed bar {} beat {beat:.2}", bar + 1)
}
