//! Hands, accents and how long keys were held.

use rhythm::{Deed, Sticking};

use super::{Evidence, and_more, of_places};
use crate::written::nanos;
use crate::{Finding, FindingKind, Hand, wording};

/// Velocities nearer than this are alike: about the least difference of loudness that players mean.
const AS_LOUD: f64 = 8.0;
/// So many accented and plain attacks there must be before accents are spoken of.
const FEWEST: usize = 3;
/// How many of the player's own standard deviations of loudness are no chance.
const CHANCE: f64 = 3.2;
/// Keys let go sooner than this, in nanoseconds, by more than half of a player's strokes: a pad, which knows no length.
const PAD: i64 = 120_000_000;
/// The share of a note's length that must be held at least, and how much must be lacking, in nanoseconds.
const HELD: f64 = 0.6;
const LACKING: i64 = 180_000_000;
/// How far a note may ring into a rest: so much of a beat, and of the rest.
const INTO_REST: f64 = 0.3;

impl Evidence<'_> {
    pub(super) fn touch(&self, found: &mut Vec<Finding>) {
        self.hands(found);
        self.accents(found);
        self.lengths(found);
    }

    fn hands(&self, found: &mut Vec<Finding>) {
        let wrong: Vec<(usize, usize)> = self
            .written
            .notes
            .iter()
            .filter_map(|&note| {
                let stroke = self.alignment.strokes[note]?;
                let hand = self.attacks[stroke].played.hand?;
                let meant = match self.written.counts[note].marks.sticking? {
                    Sticking::Right => Hand::Right,
                    Sticking::Left => Hand::Left,
                    Sticking::Both => return None,
                };
                (hand != meant).then_some((note, stroke))
            })
            .collect();
        let Some(&(first, stroke)) = wrong.first() else { return };
        let (_, bar, on) = self.count_place(first);
        let name = |hand| if hand == Hand::Right { "right" } else { "left" };
        let hand = self.attacks[stroke].played.hand.map_or("other", name);
        let meant = if hand == "right" { "left" } else { "right" };
        let says = format!(
            "{bar}: the attack on {on} was struck with the {hand} hand, written is the {meant}{}",
            and_more(wrong.len() - 1)
        );
        let (notes, strokes) =
            wrong.iter().map(|&(note, stroke)| (self.written.counts[note].id, stroke)).unzip();
        found.push(of_places(FindingKind::WrongHand, notes, strokes, 0.99, says));
    }

    /// Accents against the player's own plain attacks.
    fn accents(&self, found: &mut Vec<Finding>) {
        let (mut accented, mut plain) = (Vec::new(), Vec::new());
        for &note in &self.written.notes {
            let Some(stroke) = self.alignment.strokes[note] else { continue };
            let Some(velocity) = self.attacks[stroke].played.velocity else { continue };
            let each = (note, stroke, f64::from(velocity));
            if self.written.counts[note].marks.accent.is_some() {
                accented.push(each)
            } else {
                plain.push(each)
            }
        }
        if accented.len() < FEWEST || plain.len() < FEWEST {
            return;
        }
        let middle = |each: &[(usize, usize, f64)]| {
            let mut sorted: Vec<f64> = each.iter().map(|(.., velocity)| *velocity).collect();
            sorted.sort_unstable_by(f64::total_cmp);
            sorted[sorted.len() / 2]
        };
        let (loud, soft) = (middle(&accented), middle(&plain));
        if loud - soft < AS_LOUD {
            let (notes, strokes) =
                accented.iter().map(|&(note, stroke, _)| (self.written.counts[note].id, stroke)).unzip();
            let says = "the accents were no louder than the other attacks".to_owned();
            found.push(of_places(FindingKind::AccentMissed, notes, strokes, 0.95, says));
            return;
        }
        let between = f64::midpoint(loud, soft);
        let missed: Vec<_> =
            accented.iter().filter(|(.., velocity)| *velocity < between - AS_LOUD / 4.0).collect();
        let added: Vec<_> =
            plain.iter().filter(|(.., velocity)| *velocity > between + AS_LOUD / 4.0).collect();
        for (kind, what, places) in [
            (FindingKind::AccentMissed, "has an accent and was no louder than the others", missed),
            (FindingKind::AccentAdded, "was as loud as an accent and has none", added),
        ] {
            let Some(&&(first, ..)) = places.first() else { continue };
            let (_, bar, on) = self.count_place(first);
            let says = format!("{bar}: the attack on {on} {what}{}", and_more(places.len() - 1));
            let (notes, strokes) =
                places.iter().map(|(note, stroke, _)| (self.written.counts[*note].id, *stroke)).unzip();
            found.push(of_places(kind, notes, strokes, 0.9, says));
        }
    }

    /// Keys let go early or held into a rest. Where most strokes are let go at once they come from a pad and nothing is said.
    fn lengths(&self, found: &mut Vec<Finding>) {
        let mut held: Vec<i64> = self
            .attacks
            .iter()
            .filter_map(|attack| Some(nanos(attack.played.released?) - nanos(attack.played.at)))
            .collect();
        held.sort_unstable();
        if held.is_empty() || held[held.len() / 2] < PAD {
            return;
        }
        let (mut early, mut into) = (Vec::new(), Vec::new());
        for &note in &self.written.notes {
            let Some(stroke) = self.alignment.strokes[note].filter(|_| !self.misread[note]) else { continue };
            let (Some(released), Some(end)) =
                (self.attacks[stroke].played.released, self.written.end_of(note))
            else {
                continue;
            };
            let (at, released) = (nanos(self.attacks[stroke].played.at), nanos(released));
            // A pause within a note is no length of the note, and who strikes a held note again has let it go.
            let as_written = self.written.at[end] - self.written.at[note];
            let length = (self.expected(end) - self.expected(note)).min(as_written.max(1) * 2);
            let length = if self.alignment.moved[end] - self.alignment.moved[note] == as_written { length } else { length.min(as_written) };
            if (note + 1..end).any(|count| self.alignment.strokes[count].is_some()) {
                continue;
            }
            let beat = self.written.beat_nanos(note);
            if length * 10 >= beat * 9
                && ((released - at) as f64) < HELD * length as f64
                && length - (released - at) > LACKING
            {
                early.push((note, stroke));
            }
            if self.written.deed(end) == Deed::Rest {
                let rest = self.written.counts[end..].iter().position(|count| count.deed != Deed::Rest);
                let rest = rest.map_or(beat, |next| self.expected(end + next) - self.expected(end));
                let rings = released - self.expected(end).max(at);
                if rings as f64 > (INTO_REST * beat as f64).max(0.5 * rest.min(beat) as f64) {
                    into.push((note, stroke));
                }
            }
        }
        for (kind, places) in [(FindingKind::ReleasedEarly, early), (FindingKind::HeldThroughRest, into)] {
            let Some(&(first, stroke)) = places.first() else { continue };
            let (_, bar, on) = self.count_place(first);
            let more = and_more(places.len() - 1);
            let says = if kind == FindingKind::ReleasedEarly {
                let attack = &self.attacks[stroke].played;
                let lasted = attack.released.map_or(0.0, |released| (released - attack.at).as_millis_f64());
                format!(
                    "{bar}: the note on {on} was let go after {}, before its length was over{more}",
                    wording::ms(lasted)
                )
            } else {
                format!("{bar}: the note on {on} was held on into the rest{more}")
            };
            let (notes, strokes) =
                places.iter().map(|&(note, stroke)| (self.written.counts[note].id, stroke)).unzip();
            found.push(of_places(kind, notes, strokes, 0.9, says));
        }
    }
}
