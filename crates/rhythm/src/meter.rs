use std::fmt;

use timebase::Span;

use crate::limits::{GROUP_UNITS, METER_BEATS, METER_GROUPS};
use crate::{Error, division};

/// The meter of a bar and how it is felt: 6/8 in two, 6/8 in six, 2/2 in four, 7/8 in groups of 2, 2 and 3.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Meter {
    beats: u32,
    unit: u32,
    felt: u32,
    groups: Groups,
    by_group: bool,
}

/// Declared groups of units, or none: a list of fixed size, so that a meter is copied freely.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
struct Groups {
    units: [u8; 12],
    many: u8,
}

impl Groups {
    const NONE: Self = Self { units: [0; 12], many: 0 };

    fn as_slice(&self) -> &[u8] {
        &self.units[..usize::from(self.many)]
    }
}

/// Into how many equal parts a felt beat divides first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Division {
    /// Simple: in two, counted `1 e & a`.
    Two,
    /// Compound: in three, counted `1 la li`.
    Three,
}

impl Meter {
    /// Four quarters, felt in four.
    pub const COMMON: Self = Self { beats: 4, unit: 4, felt: 4, groups: Groups::NONE, by_group: false };

    /// The meter `beats/unit` with its usual felt beat: the quarter in x/4, the half in x/2, the dotted
    /// quarter in 6/8, 9/8 and 12/8 (common practice), otherwise the unit itself.
    ///
    /// # Errors
    /// If `beats` lies outside [`METER_BEATS`] or `unit` is none of 1, 2, 4, 8, 16, 32.
    pub fn new(beats: u32, unit: u32) -> Result<Self, Error> {
        if !METER_BEATS.holds(i64::from(beats)) || !unit.is_power_of_two() || unit > 32 {
            return Err(Error::Meter { given: format!("{beats}/{unit}") });
        }
        let compound = unit >= 8 && beats > 3 && beats.is_multiple_of(3);
        let felt = if compound { beats / 3 } else { beats };
        Ok(Self { beats, unit, felt, groups: Groups::NONE, by_group: false })
    }

    /// The same meter felt in `felt` beats: `[6/8 in 6]`, `[2/2 in 4]`.
    ///
    /// # Errors
    /// If the bar does not divide into so many beats whose parts have a count; the error lists the numbers that do.
    pub fn felt_in(self, felt: u32) -> Result<Self, Error> {
        if self.felt_choices().any(|choice| choice == felt) {
            Ok(Self { felt, by_group: false, ..self })
        } else {
            let allowed = self.felt_choices().map(|n| n.to_string()).collect::<Vec<_>>().join(", ");
            Err(Error::FeltBeat { meter: format!("{}/{}", self.beats, self.unit), given: felt, allowed })
        }
    }

    /// The same meter with its units in these groups: `[7/8 2+2+3]`, `[4/4 3+3+2]`.
    ///
    /// The groups add up to the upper number, or to twice it (4/4 in eighths). A compound meter that is grouped
    /// unequally, 9/8 in 2+2+2+3, is felt by its unit.
    ///
    /// # Errors
    /// If the groups do not add up so, or are too few, too many or too large.
    pub fn grouped(self, groups: &[u32]) -> Result<Self, Error> {
        let wrong = || {
            let given = groups.iter().map(u32::to_string).collect::<Vec<_>>().join("+");
            Error::Grouping { meter: format!("{}/{}", self.beats, self.unit), given }
        };
        let many = i64::try_from(groups.len()).unwrap_or(i64::MAX);
        if !METER_GROUPS.holds(many) || groups.iter().any(|&units| !GROUP_UNITS.holds(i64::from(units))) {
            return Err(wrong());
        }
        let sum: u32 = groups.iter().sum();
        if sum != self.beats && sum != self.beats * 2 {
            return Err(wrong());
        }
        let mut kept = Groups { many: u8::try_from(groups.len()).map_err(|_| wrong())?, ..Groups::NONE };
        for (place, &units) in kept.units.iter_mut().zip(groups) {
            *place = u8::try_from(units).map_err(|_| wrong())?;
        }
        let compound = self.division() == Division::Three && groups.iter().any(|&units| units != groups[0]);
        let felt = if compound { self.beats } else { self.felt };
        Ok(Self { groups: kept, felt, ..self })
    }

    /// The same meter counted from 1 in each of its groups: 7/8 in 2+2+3 is then 1 2 1 2 1 2 3. The counts are
    /// the units of the groups.
    ///
    /// # Errors
    /// If it has no groups.
    pub fn counted_by_group(self) -> Result<Self, Error> {
        if self.groups.many == 0 {
            return Err(Error::Grouping { meter: self.to_string(), given: "by group".to_owned() });
        }
        let felt = self.groups.as_slice().iter().map(|&units| u32::from(units)).sum();
        Ok(Self { by_group: true, felt, ..self })
    }

    /// The declared groups, each as a number of [`Meter::group_unit`]s; empty where none are declared.
    #[must_use]
    pub fn groups(&self) -> &[u8] {
        self.groups.as_slice()
    }

    /// The unit that the groups count; the meter's unit where none are declared.
    #[must_use]
    pub fn group_unit(self) -> Span {
        let sum: i64 = self.groups.as_slice().iter().map(|&units| i64::from(units)).sum();
        if sum == 0 { Span::new(1, i64::from(self.unit)) } else { self.bar_length() / sum }
    }

    /// Where each declared group begins and how long it lasts, in order; nothing where none are declared.
    pub fn group_spans(&self) -> impl Iterator<Item = (Span, Span)> + '_ {
        let unit = self.group_unit();
        let mut at = Span::ZERO;
        self.groups().iter().map(move |&units| {
            let begins = at;
            at += unit * i64::from(units);
            (begins, at - begins)
        })
    }

    /// Whether counting begins again at 1 in every group.
    #[must_use]
    pub fn is_counted_by_group(self) -> bool {
        self.by_group
    }

    /// The number that is said on felt beat `number`, from 1: the same, or its number within its group.
    #[must_use]
    pub fn said_number(self, number: u32) -> u32 {
        if !self.by_group {
            return number;
        }
        let mut left = number;
        for &units in self.groups.as_slice() {
            if left <= u32::from(units) {
                return left;
            }
            left -= u32::from(units);
        }
        left
    }

    /// Every number of beats this meter can be felt in, rising.
    ///
    /// A felt beat is the unit (6/8 in six), half of it (2/2 in four), or two, three, four or six units
    /// together (4/4 in two, 6/8 in two, 4/4 in one, 6/4 in one).
    pub fn felt_choices(self) -> impl Iterator<Item = u32> {
        let whole = self.beats;
        (1..=whole * 2).filter(move |&felt| {
            let joined = whole.is_multiple_of(felt) && matches!(whole / felt, 1 | 2 | 3 | 4 | 6);
            joined || felt == whole * 2
        })
    }

    /// The upper number.
    #[must_use]
    pub fn beats(self) -> u32 {
        self.beats
    }

    /// The lower number.
    #[must_use]
    pub fn unit(self) -> u32 {
        self.unit
    }

    /// How many felt beats a bar has: its highest count.
    #[must_use]
    pub fn felt_beats(self) -> u32 {
        self.felt
    }

    /// Whether the felt beat is the usual one, so that writing it is unnecessary.
    #[must_use]
    pub fn is_felt_as_usual(self) -> bool {
        let plain = Self { groups: Groups::NONE, by_group: false, ..self };
        let usual = Self::new(self.beats, self.unit);
        let regrouped = self.groups().iter().any(|&units| units != self.groups()[0]);
        self.by_group
            || usual.is_ok_and(|usual| {
                usual == plain
                    || (regrouped && usual.division() == Division::Three && self.felt == self.beats)
            })
    }

    /// How long a full bar lasts.
    #[must_use]
    pub fn bar_length(self) -> Span {
        Span::new(i64::from(self.beats), i64::from(self.unit))
    }

    /// How long a felt beat lasts.
    #[must_use]
    pub fn felt_beat(self) -> Span {
        Span::new(i64::from(self.beats), i64::from(self.unit) * i64::from(self.felt))
    }

    /// Into how many parts the felt beat divides.
    #[must_use]
    pub fn division(self) -> Division {
        if self.felt_beat().numerator() == 3 { Division::Three } else { Division::Two }
    }

    /// Where count `number` falls, from the beginning of the bar.
    #[must_use]
    pub fn count_at(self, number: u32) -> Span {
        self.felt_beat() * (i64::from(number) - 1)
    }

    /// The number of the felt beat that `at` lies in, from 1, and how far into it, as a fraction of the beat.
    #[must_use]
    pub fn beat_of(self, at: Span) -> (u32, timebase::Ratio<i64>) {
        let beats = at.in_units_of(self.felt_beat());
        let whole = beats.floor();
        let number = u32::try_from(whole.to_integer() + 1).unwrap_or(u32::MAX);
        (number, beats - whole)
    }

    /// The count of the place `at`, as it is written in the numbers system: `2 &`; `None` where it has no word.
    #[must_use]
    pub fn count_word(self, at: Span) -> Option<String> {
        let (number, part) = self.beat_of(at);
        let word = division::word_at(self.division(), part)?;
        let said = self.said_number(number);
        Some(if word.is_empty() { said.to_string() } else { format!("{said} {word}") })
    }
}

/// As it is written in rhythm text: `4/4`, `6/8 in 6` where the felt beat is not the usual one, `7/8 2+2+3`,
/// `7/8 2+2+3 by group`.
impl fmt::Display for Meter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.beats, self.unit)?;
        for (index, units) in self.groups().iter().enumerate() {
            write!(f, "{}{units}", if index == 0 { ' ' } else { '+' })?;
        }
        if !self.is_felt_as_usual() {
            write!(f, " in {}", self.felt)?;
        }
        if self.by_group { write!(f, " by group") } else { Ok(()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice: the quarter in x/4, the half in 2/2, the dotted quarter in 6/8, 9/8, 12/8.
    #[test]
    fn the_usual_felt_beat() {
        let check = |beats, unit, felt, beat: Span, division| {
            let meter = Meter::new(beats, unit).expect("a meter");
            assert_eq!((meter.felt_beats(), meter.felt_beat(), meter.division()), (felt, beat, division));
        };
        let dotted_quarter = Span::new(3, 8);
        check(2, 4, 2, Span::QUARTER, Division::Two);
        check(3, 4, 3, Span::QUARTER, Division::Two);
        check(4, 4, 4, Span::QUARTER, Division::Two);
        check(2, 2, 2, Span::HALF, Division::Two);
        check(6, 8, 2, dotted_quarter, Division::Three);
        check(9, 8, 3, dotted_quarter, Division::Three);
        check(12, 8, 4, dotted_quarter, Division::Three);
        check(3, 8, 3, Span::EIGHTH, Division::Two);
    }

    #[test]
    fn the_felt_beat_can_be_chosen() {
        let in_six = Meter::new(6, 8).and_then(|m| m.felt_in(6)).expect("six eighths");
        assert_eq!((in_six.felt_beat(), in_six.division()), (Span::EIGHTH, Division::Two));
        let in_four = Meter::new(2, 2).and_then(|m| m.felt_in(4)).expect("four quarters");
        assert_eq!(in_four.felt_beat(), Span::QUARTER);
        assert_eq!(in_four.to_string(), "2/2 in 4");
        let error = Meter::new(6, 8).and_then(|m| m.felt_in(5)).expect_err("no such beat").to_string();
        assert!(error.contains("1, 2, 3, 6, 12"), "{error}");
    }
}
