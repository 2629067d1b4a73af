use std::collections::BTreeSet;

use timebase::Moment;

use crate::limits::LABEL_CHARS;
use crate::midi::CLICK_TRACK;

/// One stroke of a player, in the take's own time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Stroke {
    /// When it fell, from the beginning of the take.
    pub at: Moment,
    /// The MIDI key that was struck, 0 to 127.
    pub note: u8,
    /// How hard, 1 to 127.
    pub velocity: u8,
    /// When it was let go; `None` where that is not known.
    pub released: Option<Moment>,
    /// Where it came from; `None` where that is not known: in MIDI files, and in takes of before.
    pub origin: Option<Origin>,
    /// What it is beside the others.
    pub role: Role,
}

/// Which of a player's devices a stroke came from, and by which channel: what is let go on one keyboard is held on another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Origin {
    /// The device, by its number while the take was played.
    pub device: u16,
    /// The MIDI channel, 0 to 15.
    pub channel: u8,
}

impl Stroke {
    /// The key that was struck: no two of them are let go by one release.
    #[must_use]
    pub const fn key(&self) -> (Option<Origin>, u8) {
        (self.origin, self.note)
    }
}

/// What a stroke is beside the others of its player. Only attacks are judged.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Role {
    /// An attack of its own, as far as is known.
    #[default]
    Attack,
    /// Another note of the attack before: a chord, or both hands at once.
    Chord,
    /// The grace of a flam, of which the main stroke is the attack.
    Grace,
    /// The pad's own bouncing. Kept in the journal and left out of MIDI files.
    Bounce,
    /// Another pad's blow, felt through the rack. Kept in the journal and left out of MIDI files.
    Crosstalk,
    /// One of so many that no hands can strike them: the pad had gone wild. Kept in the journal and left out of MIDI files.
    Wild,
}

impl Role {
    /// Whether the pad did it and no hand.
    #[must_use]
    pub const fn is_of_the_pad(self) -> bool {
        matches!(self, Self::Bounce | Self::Crosstalk | Self::Wild)
    }
}

/// One click as it sounded, in the take's own time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Click {
    /// When it sounded, from the beginning of the take.
    pub at: Moment,
    /// Whether it was count 1 of a bar.
    pub accented: bool,
}

/// A player and what they played.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Player {
    /// What the player is called: a code, a pad's name; no two players of a take are called alike.
    pub label: String,
    /// The strokes in order of time.
    pub strokes: Vec<Stroke>,
}

/// Names as they are fit for a file and a list: one line, not empty, not too long, no two alike.
#[derive(Debug, Default)]
pub(crate) struct Labels(BTreeSet<String>);

impl Labels {
    /// `given` made fit: control characters become blanks, the ends are trimmed, `fallback` stands for
    /// nothing, the name of the click's track is kept free for it, and the second of two equal names gets a number.
    pub(crate) fn fit(&mut self, given: &str, fallback: &str) -> String {
        let most = usize::try_from(LABEL_CHARS.most).unwrap_or(usize::MAX);
        let plain: String = given.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        let mut label: String = plain.trim().chars().take(most).collect();
        if label.is_empty() {
            fallback.clone_into(&mut label);
        }
        if label.eq_ignore_ascii_case(CLICK_TRACK) {
            label.push_str(" (player)");
        }
        let mut fitted = label.clone();
        let mut number = 2_u32;
        while !self.0.insert(fitted.clone()) {
            fitted = format!("{label} ({number})");
            number += 1;
        }
        fitted
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_fit_for_a_file() {
        let mut labels = Labels::default();
        let mut check = |given: &str, expected: &str| assert_eq!(labels.fit(given, "track 3"), expected);
        check("K07", "K07");
        check(" K07\t", "K07 (2)");
        check("K07", "K07 (3)");
        check("two\nlines", "two lines");
        check("\0", "track 3");
        check("Click", "Click (player)");
        check(&"x".repeat(500), &"x".repeat(200));
    }
}
