//! How sure a finding is, from what it rests on.

use super::{Evidence, confidence};
use crate::Fate;
use crate::estimate::chi_square_below;

/// So little confidence is never told, and no finding is surer than this.
const LEAST: f64 = 0.5;
const MOST: f64 = 0.999;

/// How sure it is that so many standard deviations are no chance, the largest of so many having been picked.
pub(super) fn no_chance(deviations: f64, among: usize) -> f64 {
    let by_chance = 1.0 - chi_square_below(deviations * deviations, 1.0);
    (1.0 - by_chance * among.max(1) as f64).clamp(LEAST, MOST)
}

/// How sure it is that a scatter seen in so many attacks is beyond a limit: the logarithm of a standard deviation of n values
/// scatters by 1/√(2(n−1)).
pub(super) fn beyond(spread: f64, limit: f64, attacks: usize) -> f64 {
    let deviations = (spread / limit).ln() * (2.0 * (attacks as f64 - 1.0).max(1.0)).sqrt();
    let below = 0.5 * chi_square_below(deviations * deviations, 1.0);
    (0.5 + below.copysign(deviations)).clamp(LEAST, MOST)
}

/// How sure one reading of a velocity is that is so much likelier than the other, as a logarithm.
pub(super) fn likelier(by: f64) -> f64 {
    (1.0 / (1.0 + (-by).exp())).clamp(LEAST, MOST)
}

impl Evidence<'_> {
    /// How sure it is that a stroke was not meant for a note that was missed: by how far the nearest of them lies.
    pub(super) fn stray(&self, stroke: usize) -> f64 {
        let missed = (0..self.notes.len()).filter(|&note| self.notes[note].fate == Fate::Missed);
        let apart = missed.map(|note| (self.strokes[stroke] - self.expected(self.written.notes[note])).abs());
        self.apart(apart.min())
    }

    /// How sure it is that a missed note was not meant by a stroke that answers none.
    pub(super) fn unanswered(&self, note: usize) -> f64 {
        let at = self.expected(self.written.notes[note]);
        let strays = self.attacks.iter().zip(self.strokes).filter(|(attack, _)| attack.answer.is_none());
        self.apart(strays.map(|(_, stroke)| (stroke - at).abs()).min())
    }

    /// At the reach a stroke and a note are as likely one late attack as a stray beside a missed note.
    fn apart(&self, nearest: Option<i64>) -> f64 {
        let gain = nearest.map_or(f64::MAX, |apart| {
            2.0 * (apart as f64 / self.alignment.reach.max(1) as f64).powi(2) - 2.0
        });
        confidence(gain).clamp(LEAST, MOST)
    }

    /// How sure it is that a stroke answers the note it is taken for.
    pub(super) fn answers(&self, note: usize, stroke: usize) -> f64 {
        let distance =
            (self.strokes[stroke] - self.expected(note)) as f64 / self.alignment.reach.max(1) as f64;
        confidence(2.0 - 2.0 * distance.powi(2)).clamp(LEAST, MOST)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The normal table: 4.55 % lie beyond two standard deviations, 0.27 % beyond three (common practice, no source).
    #[test]
    fn chance_is_that_of_the_normal_table() {
        assert!((no_chance(2.0, 1) - 0.9545).abs() < 1e-4);
        assert!((no_chance(3.0, 10) - (1.0 - 10.0 * 0.0027)).abs() < 1e-4);
        assert!(
            (no_chance(0.1, 5) - LEAST).abs() < f64::EPSILON
                && (no_chance(9.0, 5) - MOST).abs() < f64::EPSILON
        );
    }

    #[test]
    fn a_spread_at_the_limit_is_even_odds_and_more_attacks_are_surer() {
        assert!((beyond(33.0, 33.0, 20) - 0.5).abs() < 1e-9);
        assert!(beyond(40.0, 33.0, 10) < beyond(40.0, 33.0, 40));
        assert!((beyond(20.0, 33.0, 20) - LEAST).abs() < f64::EPSILON);
    }
}
