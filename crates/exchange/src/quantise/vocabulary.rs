use rhythm::{Division, Meter};
use timebase::Span;

use super::Error;

/// One thing that pupils have been taught, and that a tapped rhythm may therefore be written with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Taught {
    /// Quarters and longer; always known.
    Quarters,
    /// Eighths.
    Eighths,
    /// Sixteenths.
    Sixteenths,
    /// Thirty-seconds.
    ThirtySeconds,
    /// Three in the time of two: a beat that divides in two, divided in three.
    Triplets,
    /// Six in the time of four: triplets, divided again.
    Sextuplets,
    /// Five in the time of four.
    Quintuplets,
    /// Dotted notes: held over the beat to an off-beat attack, or long and short within a beat.
    Dotted,
    /// An attack off the beat that is held over a stronger place.
    Syncopation,
    /// Meters whose beat divides in three; only asked where the meter is to be found.
    Compound,
    /// A grace stroke just before the main one.
    Flams,
}

impl Taught {
    /// Everything there is, with the word for each.
    pub const NAMED: [(&'static str, Self); 11] = [
        ("quarters", Self::Quarters),
        ("eighths", Self::Eighths),
        ("sixteenths", Self::Sixteenths),
        ("thirty-seconds", Self::ThirtySeconds),
        ("triplets", Self::Triplets),
        ("sextuplets", Self::Sextuplets),
        ("quintuplets", Self::Quintuplets),
        ("dotted", Self::Dotted),
        ("syncopation", Self::Syncopation),
        ("6/8", Self::Compound),
        ("flams", Self::Flams),
    ];
}

/// What has been taught: the only places in a beat where an attack may be written.
///
/// A taught value brings every longer one along: sixteenths are never taught before eighths.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Vocabulary {
    taught: u16,
}

impl Vocabulary {
    /// These and the quarters.
    #[must_use]
    pub fn new(taught: impl IntoIterator<Item = Taught>) -> Self {
        taught.into_iter().fold(Self { taught: bit(Taught::Quarters) }, Self::with)
    }

    /// The same and this.
    #[must_use]
    pub fn with(self, taught: Taught) -> Self {
        Self { taught: self.taught | bit(taught) }
    }

    /// Reads a list of the words of [`Taught::NAMED`], parted by commas.
    ///
    /// # Errors
    /// If a word is none of them; the error lists them.
    pub fn parse(list: &str) -> Result<Self, Error> {
        let mut vocabulary = Self::new([]);
        for word in list.split(',').map(str::trim).filter(|word| !word.is_empty()) {
            let named = Taught::NAMED.iter().find(|(name, _)| name.eq_ignore_ascii_case(word));
            let Some((_, taught)) = named else {
                let allowed = Taught::NAMED.map(|(name, _)| name).join(", ");
                return Err(Error::NotTaught { given: word.to_owned(), allowed });
            };
            vocabulary = vocabulary.with(*taught);
        }
        Ok(vocabulary)
    }

    /// Whether this has been taught.
    #[must_use]
    pub fn has(self, taught: Taught) -> bool {
        self.taught & own(taught) != 0
    }

    /// Everything that has been taught, in the order of [`Taught::NAMED`].
    pub fn taught(self) -> impl Iterator<Item = Taught> {
        Taught::NAMED.into_iter().map(|(_, taught)| taught).filter(move |taught| self.has(*taught))
    }

    /// The shortest plain value.
    fn shortest(self) -> Span {
        if self.has(Taught::ThirtySeconds) {
            Span::new(1, 32)
        } else if self.has(Taught::Sixteenths) {
            Span::SIXTEENTH
        } else if self.has(Taught::Eighths) {
            Span::EIGHTH
        } else {
            Span::QUARTER
        }
    }

    /// Into how many equal parts a cell of this meter may divide; rising, 1 first.
    pub(super) fn parts(self, cell: Cell) -> Vec<u32> {
        let reaches = |parts: u32| cell.length / i64::from(parts) >= self.shortest();
        let mut parts = vec![1];
        if cell.in_three {
            parts.extend([3, 6, 12].into_iter().filter(|&parts| reaches(parts)));
        } else {
            parts.extend([2, 4, 8].into_iter().filter(|&parts| reaches(parts)));
            // A triplet of a beat shorter than the quarter needs the notes of half that beat.
            let may_turn = cell.length >= Span::QUARTER || reaches(2);
            let turned = [(Taught::Triplets, 3), (Taught::Sextuplets, 6), (Taught::Quintuplets, 5)];
            parts
                .extend(turned.into_iter().filter(|(t, _)| may_turn && self.has(*t)).map(|(_, parts)| parts));
            parts.sort_unstable();
        }
        parts
    }
}

/// Quarters to sixteenths, triplets, dotted notes, syncopation, flams and compound meters: two years of lessons.
impl Default for Vocabulary {
    fn default() -> Self {
        Self::new([
            Taught::Sixteenths,
            Taught::Triplets,
            Taught::Dotted,
            Taught::Syncopation,
            Taught::Compound,
            Taught::Flams,
        ])
    }
}

/// The place of a word in the set.
fn own(taught: Taught) -> u16 {
    1 << Taught::NAMED.iter().position(|(_, named)| *named == taught).unwrap_or(0)
}

/// The same with the longer values that it brings along.
fn bit(taught: Taught) -> u16 {
    let longer = match taught {
        Taught::Sixteenths => bit(Taught::Eighths),
        Taught::ThirtySeconds => bit(Taught::Sixteenths),
        Taught::Sextuplets => bit(Taught::Triplets),
        _ => 0,
    };
    own(taught) | longer
}

/// What is divided: a felt beat, or the quarters of a longer one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Cell {
    pub(super) length: Span,
    /// Whether it divides in three first.
    pub(super) in_three: bool,
}

impl Cell {
    /// The cells that a bar of `meter` is made of, all alike.
    pub(super) fn of(meter: Meter) -> Self {
        let beat = meter.felt_beat();
        let unit = Span::new(1, i64::from(meter.unit()));
        match meter.division() {
            // A waltz felt in one, or 6/4 in two, is written in quarters.
            Division::Three if unit >= Span::QUARTER => Self { length: Span::QUARTER, in_three: false },
            Division::Three => Self { length: beat.min(unit * 3), in_three: true },
            Division::Two if beat > Span::QUARTER && meter.bar_length().is_multiple_of(Span::QUARTER) => {
                Self { length: Span::QUARTER, in_three: false }
            }
            Division::Two => Self { length: beat, in_three: false },
        }
    }

    /// How many of them fill a bar of `meter`.
    pub(super) fn in_bar(self, meter: Meter) -> usize {
        let cells = meter.bar_length().in_units_of(self.length);
        usize::try_from(cells.to_integer()).unwrap_or(1).max(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_read_and_wrong_ones_answered_with_the_list() {
        let read = Vocabulary::parse("eighths, Triplets,6/8").expect("words");
        assert_eq!(
            read.taught().collect::<Vec<_>>(),
            [Taught::Quarters, Taught::Eighths, Taught::Triplets, Taught::Compound]
        );
        let error = Vocabulary::parse("eights").expect_err("no word").to_string();
        assert!(error.contains("\"eights\"") && error.contains("eighths, sixteenths"), "{error}");
    }

    #[test]
    fn a_cell_divides_as_far_as_was_taught() {
        let check = |taught: &str, beats, unit, length: Span, parts: &[u32]| {
            let cell = Cell::of(Meter::new(beats, unit).expect("a meter"));
            assert_eq!(cell.length, length, "{beats}/{unit}");
            assert_eq!(
                Vocabulary::parse(taught).expect(taught).parts(cell),
                parts,
                "{taught} in {beats}/{unit}"
            );
        };
        let dotted = Span::new(3, 8);
        check("quarters", 4, 4, Span::QUARTER, &[1]);
        check("eighths", 4, 4, Span::QUARTER, &[1, 2]);
        check("sixteenths, triplets", 3, 4, Span::QUARTER, &[1, 2, 3, 4]);
        check("thirty-seconds, sextuplets", 2, 2, Span::QUARTER, &[1, 2, 3, 4, 6, 8]);
        check("quarters", 6, 8, dotted, &[1]);
        check("eighths, triplets", 6, 8, dotted, &[1, 3]);
        check("sixteenths", 12, 8, dotted, &[1, 3, 6]);
        check("eighths", 7, 8, Span::EIGHTH, &[1]);
        check("sixteenths", 7, 8, Span::EIGHTH, &[1, 2]);
    }

    /// Every meter is cut into cells without a rest, however it is felt.
    #[test]
    fn cells_fill_every_bar() {
        for unit in [1, 2, 4, 8, 16, 32] {
            for beats in 1..=32 {
                let meter = Meter::new(beats, unit).expect("a meter");
                for felt in meter.felt_choices() {
                    let meter = meter.felt_in(felt).expect("a choice");
                    let cell = Cell::of(meter);
                    let cells = i64::try_from(cell.in_bar(meter)).expect("few");
                    assert_eq!(cell.length * cells, meter.bar_length(), "{meter}");
                }
            }
        }
    }
}
