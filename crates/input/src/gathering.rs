use timebase::{HostTime, Seconds};

use crate::{Instrument, Pad, Stroke};

/// Finds the strokes of one player that are one attack: the notes of a chord, and a flam's grace with its main stroke.
///
/// Only attacks are to be told ([`Stroke::is_attack`]), in the order in which they come.
#[derive(Clone, Debug)]
pub struct Gathering {
    chord: Seconds,
    flam: Seconds,
    last: Option<Last>,
}

/// What a stroke is beside the ones just before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gathered {
    /// An attack of its own.
    Attack,
    /// Another note of the attack before: nothing more to be judged.
    Chord,
    /// The main stroke of a flam. The attack before was its grace, and this one takes its place.
    Main,
    /// The grace of the attack before, heard of too late: nothing more to be judged.
    Grace,
}

#[derive(Clone, Debug)]
struct Last {
    at: HostTime,
    pad: Pad,
    velocity: u8,
    /// A chord, or a flam's main stroke: no grace of anything.
    is_whole: bool,
}

impl Gathering {
    /// Keys that are struck together fall up to so far apart. Skilled pianists spread a chord by about 10 to 30 ms
    /// (second-hand); learners by more (common practice, no source).
    pub const KEYS_TOGETHER: Seconds = Seconds::from_millis(40);

    /// Pads that are struck together: both hands at once. More apart the strokes are heard as a flam (common practice, no
    /// source).
    pub const PADS_TOGETHER: Seconds = Seconds::from_millis(12);

    /// The grace of a flam falls at most so long before its main stroke: usual are 40 to 50 ms (second-hand, from studies of
    /// drummers).
    pub const FLAM: Seconds = Seconds::from_millis(60);

    /// For a player on this kind of thing. No two written attacks of the rhythm lie closer than `closest`; what is nearer
    /// to it than its half is never taken for one attack.
    #[must_use]
    pub fn new(instrument: Instrument, closest: Seconds) -> Self {
        let half = closest.divided_by(2);
        let (chord, flam) = match instrument {
            Instrument::Keys => (Self::KEYS_TOGETHER, Seconds::ZERO),
            Instrument::Pad => (Self::PADS_TOGETHER, Self::FLAM),
        };
        Self { chord: chord.min(half), flam: flam.min(half), last: None }
    }

    /// Takes the next stroke and says what it is.
    pub fn take(&mut self, stroke: &Stroke) -> Gathered {
        let gathered = self.last.as_ref().map_or(Gathered::Attack, |last| self.beside(last, stroke));
        let Stroke { stamp: at, velocity, .. } = *stroke;
        match (gathered, &mut self.last) {
            (Gathered::Chord, Some(last)) => {
                last.is_whole = true;
                last.velocity = last.velocity.max(velocity);
            }
            (Gathered::Grace, Some(last)) => last.is_whole = true,
            _ => {
                let is_whole = gathered == Gathered::Main;
                self.last = Some(Last { at, pad: stroke.pad(), velocity, is_whole });
            }
        }
        gathered
    }

    fn beside(&self, last: &Last, stroke: &Stroke) -> Gathered {
        let after = stroke.stamp - last.at;
        // One key cannot be struck twice in a chord; two pads may well send one note.
        if after.abs() <= self.chord && stroke.pad() != last.pad {
            return Gathered::Chord;
        }
        if last.is_whole || after.abs() > self.flam {
            return Gathered::Attack;
        }
        // Strokes of two devices may be heard of in the wrong order.
        if after >= Seconds::ZERO && is_grace(last.velocity, stroke.velocity) {
            Gathered::Main
        } else if after < Seconds::ZERO && is_grace(stroke.velocity, last.velocity) {
            Gathered::Grace
        } else {
            Gathered::Attack
        }
    }
}

/// A grace is clearly softer than its main stroke: by a sixth at least (common practice, no source).
fn is_grace(grace: u8, main: u8) -> bool {
    u16::from(grace) * 6 <= u16::from(main) * 5
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::PlayerId;

    const FAR: Seconds = Seconds::from_millis(250);

    fn stroke(ms: i64, note: u8, velocity: u8) -> Stroke {
        let at = HostTime::from_nanos(ms * 1_000_000);
        Stroke { note, velocity, ..Stroke::of_key(PlayerId::new(0), 0, at, Seconds::ZERO) }
    }

    fn check(instrument: Instrument, closest: Seconds, strokes: &[(i64, u8, u8)], expected: &[Gathered]) {
        let mut gathering = Gathering::new(instrument, closest);
        let found: Vec<_> =
            strokes.iter().map(|&(ms, note, velocity)| gathering.take(&stroke(ms, note, velocity))).collect();
        assert_eq!(found, expected, "{strokes:?}");
    }

    use Gathered::{Attack, Chord, Grace, Main};

    #[test]
    fn a_flam_is_a_grace_and_a_main_stroke() {
        check(Instrument::Pad, FAR, &[(0, 38, 50), (45, 38, 100)], &[Attack, Main]);
        check(Instrument::Pad, FAR, &[(0, 38, 50), (45, 40, 100)], &[Attack, Main]);
        // Two strokes alike are two strokes, and so are a hard one and its soft follower.
        check(Instrument::Pad, FAR, &[(0, 38, 95), (45, 38, 100)], &[Attack, Attack]);
        check(Instrument::Pad, FAR, &[(0, 38, 100), (45, 38, 50)], &[Attack, Attack]);
        check(Instrument::Pad, FAR, &[(0, 38, 50), (61, 38, 100)], &[Attack, Attack]);
        // A main stroke is no grace of the next.
        check(Instrument::Pad, FAR, &[(0, 38, 40), (45, 38, 70), (90, 38, 110)], &[Attack, Main, Attack]);
        // Heard of in the wrong order, from two devices.
        check(Instrument::Pad, FAR, &[(45, 38, 100), (0, 40, 50)], &[Attack, Grace]);
    }

    #[test]
    fn a_chord_is_one_attack() {
        check(Instrument::Keys, FAR, &[(0, 60, 80), (15, 64, 70), (38, 67, 90)], &[Attack, Chord, Chord]);
        check(Instrument::Keys, FAR, &[(0, 60, 80), (41, 64, 70)], &[Attack, Attack]);
        check(Instrument::Keys, FAR, &[(0, 60, 80), (30, 60, 70)], &[Attack, Attack]);
        check(Instrument::Pad, FAR, &[(0, 38, 80), (10, 40, 90)], &[Attack, Chord]);
    }

    /// Both hands at once, on two pads that send the same note as they come from the factory: a device or a channel apart.
    #[test]
    fn two_pads_of_one_note_are_struck_together() {
        let first = stroke(0, 38, 100);
        let second = stroke(5, 38, 95);
        for second in [Stroke { source: 1, ..second }, Stroke { channel: 1, ..second }] {
            let mut gathering = Gathering::new(Instrument::Pad, FAR);
            assert_eq!([gathering.take(&first), gathering.take(&second)], [Attack, Chord]);
        }
    }

    /// Thirty-seconds at a march are 62 ms apart: no two of them are ever one attack.
    #[test]
    fn what_is_written_close_together_stays_apart() {
        let closest = Seconds::from_millis(62);
        check(Instrument::Pad, closest, &[(0, 38, 50), (45, 38, 100)], &[Attack, Attack]);
        check(Instrument::Keys, closest, &[(0, 60, 80), (35, 64, 80)], &[Attack, Attack]);
    }

    proptest! {
        /// Strokes further apart than a flam are attacks, whatever they are.
        #[test]
        fn strokes_apart_are_attacks(
            steps in prop::collection::vec((61i64..500, 0u8..128, 1u8..128), 1..40),
            keys in any::<bool>(),
        ) {
            let instrument = if keys { Instrument::Keys } else { Instrument::Pad };
            let mut gathering = Gathering::new(instrument, FAR);
            let mut ms = 0;
            for (step, note, velocity) in steps {
                ms += step;
                prop_assert_eq!(gathering.take(&stroke(ms, note, velocity)), Attack);
            }
        }
    }
}
