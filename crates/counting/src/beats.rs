use rhythm::{Bar, Division, Meter};
use timebase::Span;

use crate::Word;
use crate::table::{Asymmetrical, Compound, Kind, Table};

/// One beat of a full bar, as a system counts it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Beat {
    pub(crate) at: Span,
    pub(crate) end: Span,
    pub(crate) number: Word,
    pub(crate) kind: Kind,
    /// How often it is longer by two than the other beats of its kind: a group of four units among twos and threes.
    pub(crate) doubled: u32,
}

impl Beat {
    /// Where `at`, which lies inside, falls, as a fraction of the beat in lowest terms.
    pub(crate) fn part(&self, at: Span) -> (i64, i64) {
        // Beats are short and of small denominators, so the products stay far inside an i64: a place of a bar is at
        // most 32 times its denominator, and that at most two to the fortieth.
        let (begin, length) = (self.at, self.end - self.at);
        let into = at.numerator() * begin.denominator() - begin.numerator() * at.denominator();
        let numerator = into * length.denominator();
        let denominator = at.denominator() * begin.denominator() * length.numerator();
        let divisor = crate::table::gcd(numerator, denominator);
        (numerator / divisor, denominator / divisor)
    }

    /// The place `numerator / denominator` into it.
    pub(crate) fn place(&self, numerator: i64, denominator: i64) -> Span {
        self.at + (self.end - self.at) * numerator / denominator
    }
}

/// Whether `at` lies before the edge of a beat. A comparison of the fractions themselves is many times slower.
pub(crate) fn is_before(at: Span, edge: Span) -> bool {
    at.numerator() * edge.denominator() < edge.numerator() * at.denominator()
}

/// The beats of a meter as a system counts them, kept from bar to bar as long as the meter is the same.
#[derive(Clone, Debug)]
pub(crate) struct Beats {
    meter: Meter,
    beats: Vec<Beat>,
}

impl Beats {
    pub(crate) fn of(meter: Meter, table: &Table) -> Self {
        Self { meter, beats: beats(meter, table) }
    }

    /// The beats of a full bar of the meter they are kept for.
    pub(crate) fn full(&self) -> &[Beat] {
        &self.beats
    }

    /// The beats of a full bar of the meter of `bar`.
    pub(crate) fn in_bar(&mut self, bar: &Bar, table: &Table) -> &[Beat] {
        if bar.meter() != self.meter {
            *self = Self::of(bar.meter(), table);
        }
        &self.beats
    }
}

fn beats(meter: Meter, table: &Table) -> Vec<Beat> {
    let groups = meter.groups();
    let unequal = groups.iter().any(|&units| units != groups[0]);
    // Groups of quarters are no beats but bars in the bar: 5/4 as 3+2 is felt in five.
    let short = meter.group_unit() < Span::QUARTER;
    if table.asymmetrical == Asymmetrical::Beats && short && (unequal || meter.is_counted_by_group()) {
        return (1..)
            .zip(groups.iter().zip(meter.group_spans()))
            .map(|(number, (&units, (at, length)))| {
                let (kind, doubled) = group(units);
                Beat { at, end: at + length, number: Word::number(number), kind, doubled }
            })
            .collect();
    }
    let mut meter = meter;
    if table.compound == Compound::Units && meter.division() == Division::Three {
        meter = meter.felt_in(meter.beats()).unwrap_or(meter);
    }
    if table.asymmetrical == Asymmetrical::Group && unequal {
        meter = meter.counted_by_group().unwrap_or(meter);
    }
    let kind = match meter.division() {
        Division::Two => Kind::Simple,
        Division::Three => Kind::Compound,
    };
    (1..=meter.felt_beats())
        .map(|number| Beat {
            at: meter.count_at(number),
            end: meter.count_at(number + 1),
            number: Word::number(meter.said_number(number)),
            kind,
            doubled: 0,
        })
        .collect()
}

/// The kind of a group of so many units. What is made neither of twos nor of threes (five, seven) divides as two.
fn group(units: u8) -> (Kind, u32) {
    let doubled = units.trailing_zeros();
    match units >> doubled {
        3 => (Kind::Three, doubled),
        1 => (Kind::Two, doubled.saturating_sub(1)),
        _ => (Kind::Two, 0),
    }
}
