//! Hands, accents and how long keys were held.

use rhythm::{Deed, Sticking};

use super::strokes::TWICE;
use super::sure::{likelier, no_chance};
use super::{Evidence, of_places};
use crate::alignment::Speed;
use crate::written::nanos;
use crate::{Finding, FindingKind, Hand, Releases};

/// Velocities nearer than this are alike: about the least difference of loudness that players mean.
const AS_LOUD: f64 = 8.0;
/// Where so many strokes at least, and this share of those that have a hand written, are the other hand, left and right may be
/// exchanged: the pads, or how they were told apart.
const FEWEST_EXCHANGED: usize = 8;
const EXCHANGED: f64 = 0.9;
/// So many accented and plain attacks there must be before accents are spoken of.
const FEWEST: usize = 3;
/// By how much a velocity must be likelier one than the other, as a logarithm, beyond what so many attacks show by chance.
const SURE: f64 = 1.0;
/// No scatter of velocities below this is believed.
const LEAST_SCATTER: f64 = 4.0;
/// Where it is not known what was played on: strokes let go sooner than this, in nanoseconds, by more than half, come from a pad,
/// which knows no length.
const PAD: i64 = 120_000_000;
/// The share of a note's length that must be held at least, and how much must be lacking, in nanoseconds.
const HELD: f64 = 0.6;
const LACKING: i64 = 180_000_000;
/// How far a note may ring into a rest: so much of a beat, and of the rest.
const INTO_REST: f64 = 0.3;
impl Evidence<'_> {
    pub(super) fn touch(&self, found: &mut Vec<Finding>) {
        if self.alignment.instead.is_some() {
            return;
        }
        self.hands(found);
        self.accents(found);
        self.lengths(found);
    }

    fn hands(&self, found: &mut Vec<Finding>) {
        let mut marked = 0;
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
                marked += 1;
                (hand != meant && !self.also_struck_by(meant, stroke)).then_some((note, stroke))
            })
            .collect();
        let Some(&(first, stroke)) = wrong.first() else { return };
        let (_, bar, on) = self.count_place(first);
        let name = |hand| if hand == Hand::Right { "right" } else { "left" };
        let hand = self.attacks[stroke].played.hand.map_or("other", name);
        let meant = if hand == "right" { "left" } else { "right" };
        let mut says = format!(
            "{bar}: the attack on {on} was struck with the {hand} hand, written is the {meant}{}",
            self.also_in(&wrong.iter().map(|&(note, _)| note).collect::<Vec<_>>())
        );
        if wrong.len() >= FEWEST_EXCHANGED && wrong.len() as f64 >= EXCHANGED * f64::from(marked) {
            says += "; nearly every stroke is the other hand: left and right may be exchanged";
        }
        let (notes, strokes) =
            wrong.iter().map(|&(note, stroke)| (self.written.counts[note].id, stroke)).unzip();
        found.push(of_places(FindingKind::WrongHand, notes, strokes, self.answers(first, stroke), says));
    }

    /// Whether a stroke that answers nothing fell so close to this one that either may be the note, and with that hand.
    fn also_struck_by(&self, hand: Hand, stroke: usize) -> bool {
        let beside = [stroke.checked_sub(1), stroke.checked_add(1)];
        beside.into_iter().flatten().filter_map(|other| self.attacks.get(other)).any(|other| {
            let apart = (other.played.at - self.attacks[stroke].played.at).abs();
            other.answer.is_none() && other.played.hand == Some(hand) && apart <= TWICE
        })
    }

    /// Accents against the player's own plain attacks.
    fn accents(&self, found: &mut Vec<Finding>) {
        let (mut accented, mut plain) = (Vec::new(), Vec::new());
        for &note in &self.written.notes {
            let Some(stroke) = self.alignment.strokes[note] else { continue };
            let Some(velocity) = self.attacks[stroke].played.velocity else { continue };
            let each = (note, stroke, f64::from(velocity));
            if self.written.counts[note].marks.accent.is_some() {
                accented.push(each);
            } else {
                plain.push(each);
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
        let scatter = |each: &[(usize, usize, f64)], middle: f64| {
            let mut sizes: Vec<f64> = each.iter().map(|(.., velocity)| velocity - middle).collect();
            (1.4826 * crate::drift::median_size(&mut sizes)).max(LEAST_SCATTER)
        };
        if loud - soft < AS_LOUD {
            let (notes, strokes) =
                accented.iter().map(|&(note, stroke, _)| (self.written.counts[note].id, stroke)).unzip();
            let says = "the accents were no louder than the other attacks".to_owned();
            // How far the loud lie from where they should at least be, in their own standard errors.
            let error =
                scatter(&plain, soft) * (1.0 / accented.len() as f64 + 1.0 / plain.len() as f64).sqrt();
            let sure = no_chance((AS_LOUD - (loud - soft)) / error, 1);
            found.push(of_places(FindingKind::AccentMissed, notes, strokes, sure, says));
            return;
        }
        let (of_loud, of_soft) = (scatter(&accented, loud), scatter(&plain, soft));
        // How much likelier a velocity is as an accent than as a plain attack, as a logarithm.
        let accent = |velocity: f64| {
            let (as_soft, as_loud) = ((velocity - soft) / of_soft, (velocity - loud) / of_loud);
            // Louder than an accent is no less of one, softer than plain no less plain.
            0.5 * (as_soft.max(0.0).powi(2) - as_loud.min(0.0).powi(2)) + (of_soft / of_loud).ln()
        };
        let doubt = |among: usize| SURE + (among as f64).ln();
        let missed: Vec<_> = accented.iter().filter(|(.., v)| -accent(*v) > doubt(accented.len())).collect();
        let added: Vec<_> = plain.iter().filter(|(.., v)| accent(*v) > doubt(plain.len())).collect();
        for (kind, what, places) in [
            (FindingKind::AccentMissed, "has an accent and was no louder than the others", missed),
            (FindingKind::AccentAdded, "was as loud as an accent and has none", added),
        ] {
            let Some(&&(first, _, velocity)) = places.first() else { continue };
            let (_, bar, on) = self.count_place(first);
            let among = if kind == FindingKind::AccentMissed { accented.len() } else { plain.len() };
            let sure = likelier(accent(velocity).abs() - (among as f64).ln());
            let also = self.also_in(&places.iter().map(|&&(note, ..)| note).collect::<Vec<_>>());
            let says = format!("{bar}: the attack on {on} {what}{also}");
            let (notes, strokes) =
                places.iter().map(|(note, stroke, _)| (self.written.counts[*note].id, *stroke)).unzip();
            found.push(of_places(kind, notes, strokes, sure, says));
        }
    }

    /// Where the last felt beat ends by the player's pulse.
    fn end_of_all(&self) -> i64 {
        self.written.beats.last().map_or(0, |&beat| self.expected(beat) + self.written.beat_nanos(beat))
    }

    /// Keys let go early or held into a rest. Where nobody said that they are keys, and most strokes are let go at once, they come
    /// from a pad and nothing is said.
    fn lengths(&self, found: &mut Vec<Finding>) {
        // At another speed nobody knows how long a note should be held.
        if self.alignment.speed != Speed::Written || self.alignment.altered.is_some() {
            return;
        }
        let mut held: Vec<i64> = self
            .attacks
            .iter()
            .filter_map(|attack| Some(nanos(attack.played.released?) - nanos(attack.played.at)))
            .collect();
        held.sort_unstable();
        let are_keys = self.settings.releases() == Releases::OfKeys;
        if held.is_empty() || !are_keys && held[held.len() / 2] < PAD {
            return;
        }
        let (mut early, mut into) = (Vec::new(), Vec::new());
        let mut share = 0.0;
        for &note in &self.written.notes {
            let Some(stroke) = self.alignment.strokes[note].filter(|_| !self.misread[note]) else { continue };
            let Some(released) = self.attacks[stroke].played.released else { continue };
            let (at, released) = (nanos(self.attacks[stroke].played.at), nanos(released));
            let beat = self.written.beat_nanos(note);
            let end = self.written.end_of(note);
            let until = end.unwrap_or(self.written.counts.len());
            // Who strikes a held note again has let it go, and a pause within a note is no length of the note.
            if (note + 1..until)
                .any(|count| self.alignment.strokes[count].is_some() || self.alignment.skipped[count])
            {
                continue;
            }
            let length = match end {
                Some(end) => {
                    let as_written = self.written.at[end] - self.written.at[note];
                    (self.expected(end) - self.expected(note)).min(as_written + as_written / 10)
                }
                None => self.end_of_all() - self.expected(note),
            };
            // The next stroke ends the note, wherever it is written.
            let next = self.strokes.get(stroke + 1).map_or(i64::MAX, |next| next - at);
            let length = length.min(next);
            let held = released - at;
            if length * 10 >= beat * 9 && (held as f64) < HELD * length as f64 && length - held > LACKING {
                if early.is_empty() {
                    share = held as f64 / length as f64;
                }
                early.push((note, stroke));
            }
            let Some(end) = end else { continue };
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
            let also = self.also_in(&places.iter().map(|&(note, _)| note).collect::<Vec<_>>());
            let says = if kind == FindingKind::ReleasedEarly {
                format!("{bar}: the note on {on} was let go {}{also}", after(share))
            } else {
                format!("{bar}: the note on {on} was held on into the rest{also}")
            };
            let (notes, strokes) =
                places.iter().map(|&(note, stroke)| (self.written.counts[note].id, stroke)).unzip();
            // The keys tell how long they were held; whether it was this note is what can be wrong.
            let sure = self.answers(first, stroke);
            found.push(of_places(kind, notes, strokes, sure, says));
        }
    }
}

/// After which part of a note's length it was let go, as one says it.
fn after(share: f64) -> &'static str {
    match share {
        share if share < 0.18 => "almost at once",
        share if share < 0.29 => "after a quarter of its length",
        share if share < 0.42 => "after a third of its length",
        _ => "after half of its length",
    }
}
