//! The strokes of a take as the judge takes them.

use judge::{Hand, Played};
use live::stored::{StoredPlayer, played};
use take::Stroke;
use timebase::{Moment, Seconds};

use super::judge::TakeFile;
use crate::failure::Failure;
use crate::flags::TeacherFlags;
use crate::rubric_file::RubricFile;

/// How strokes are to be taken: what latency is to be taken off, and which notes are whose hand's.
#[derive(Debug)]
pub(super) struct Strokes<'a> {
    flags: &'a TeacherFlags,
    rubric: Option<&'a RubricFile>,
    latency: Option<Seconds>,
    calibrated: Vec<String>,
}

impl<'a> Strokes<'a> {
    /// As the flags and the rubric say.
    ///
    /// # Errors
    /// A note given to both hands, or a latency for a take whose latency was taken off before.
    pub(super) fn of(
        flags: &'a TeacherFlags,
        rubric: Option<&'a RubricFile>,
        take: &TakeFile,
    ) -> Result<Self, Failure> {
        if let Some(note) = flags.left.iter().find(|note| flags.right.contains(note)) {
            return Err(Failure::Call(format!(
                "the MIDI note {note} is given to --left and to --right: give each note to one hand"
            )));
        }
        if let (Some(_), Some(player)) = (flags.latency_ms, take.calibrated.first()) {
            return Err(Failure::Call(format!(
                "the latency of {player} was taken off when the take was recorded: leave out --latency-ms"
            )));
        }
        let latency = flags.latency_ms.map(Seconds::from_millis_f64);
        Ok(Self { flags, rubric, latency, calibrated: take.calibrated.clone() })
    }

    /// Whether this player's distance from the click is the player's own.
    pub(super) fn is_calibrated(&self, player: &str) -> bool {
        self.latency.is_some() || self.calibrated.iter().any(|known| known == player)
    }

    /// What a player struck, from count 1 of bar 1.
    pub(super) fn played(&self, player: &StoredPlayer<'_>, bar_one: Moment) -> Vec<Played> {
        let latency = self.latency.unwrap_or(Seconds::ZERO);
        let with_hand = |stroke: &Stroke| {
            let played = played(stroke, bar_one + latency);
            self.hand(player.label(), stroke.note).map_or(played, |hand| played.with_hand(hand))
        };
        player.strokes().iter().map(with_hand).collect()
    }

    /// Whose hand a note is: as the rubric has it for the player, else as the flags have it for all.
    fn hand(&self, player: &str, note: u8) -> Option<Hand> {
        let own = self.rubric.and_then(|rubric| rubric.player(player));
        let own = own.map(|own| (&own.left, &own.right)).filter(|(left, right)| left.len() + right.len() > 0);
        let (left, right) = own.unwrap_or((&self.flags.left, &self.flags.right));
        if left.contains(&note) { Some(Hand::Left) } else { right.contains(&note).then_some(Hand::Right) }
    }
}
