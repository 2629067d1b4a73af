use std::collections::BTreeMap;

use rhythm::AttackId;
use timebase::{Moment, Seconds};

use crate::{Fate, Judgement};

/// How close the players of a section fell at one written attack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Together {
    /// The written attack.
    pub id: AttackId,
    /// When it is written.
    pub at: Moment,
    /// How many players struck it.
    pub players: usize,
    /// The standard deviation of their attacks about their mean (divided by n − 1); `None` below two players.
    pub spread: Option<Seconds>,
    /// From the first of them to the last; `None` below two players.
    pub range: Option<Seconds>,
}

/// How close the players fell, at each written attack in order of time.
///
/// The judgements are of one rhythm. The attacks are taken as they fell and not from each player's own bias: being
/// together is what is heard, and two steady players 60 ms apart are not together.
#[must_use]
pub fn section(judgements: &[Judgement]) -> Vec<Together> {
    let mut places: BTreeMap<(Moment, AttackId), Vec<Seconds>> = BTreeMap::new();
    for judgement in judgements {
        for note in judgement.notes() {
            let offsets = places.entry((note.at, note.id)).or_default();
            if let Fate::Struck(attack) = note.fate {
                offsets.push(judgement.attacks()[attack].played.at - note.at);
            }
        }
    }
    places.into_iter().map(|((at, id), offsets)| together(id, at, &offsets)).collect()
}

fn together(id: AttackId, at: Moment, offsets: &[Seconds]) -> Together {
    let players = offsets.len();
    let range = match (offsets.iter().min(), offsets.iter().max()) {
        (Some(&first), Some(&last)) if players >= 2 => Some(last - first),
        _ => None,
    };
    let spread = range.map(|_| {
        let count = players as f64;
        let mean = offsets.iter().map(|offset| offset.as_millis_f64()).sum::<f64>() / count;
        let squares: f64 = offsets.iter().map(|offset| (offset.as_millis_f64() - mean).powi(2)).sum();
        Seconds::from_millis_f64((squares / (count - 1.0)).sqrt())
    });
    Together { id, at, players, spread, range }
}
