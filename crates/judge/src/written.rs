//! What is written, as the alignment looks at it: counts with their times in whole nanoseconds, felt beats and bars.

use std::ops::Range;

use counting::TimedCount;
use rhythm::Deed;
use timebase::Moment;

/// So many parts a felt beat is divided into to name the places of figures: halves to sixteenths and all thirds of them are whole.
pub(crate) const PARTS: i64 = 48;

const FIFTY_DAYS: i64 = 4_320_000_000_000_000;

/// The counts of a performed rhythm.
#[derive(Clone, Debug)]
pub(crate) struct Written<'a> {
    pub(crate) counts: &'a [TimedCount],
    /// When each count falls, in nanoseconds; rising.
    pub(crate) at: Vec<i64>,
    /// The counts that are attacks.
    pub(crate) notes: Vec<usize>,
    /// The counts that are felt beats.
    pub(crate) beats: Vec<usize>,
    /// The counts of each performed bar, in order; a pickup is a bar.
    pub(crate) bars: Vec<Range<usize>>,
}

/// A moment in nanoseconds from count 1 of bar 1. Beyond fifty days to either side it is taken for fifty days, so that no sum overflows.
pub(crate) fn nanos(moment: Moment) -> i64 {
    moment.since_zero().as_nanos().clamp(-FIFTY_DAYS, FIFTY_DAYS)
}

/// The whole number nearest to a value that lies well within an i64: sums of nanoseconds, counts of parts.
#[expect(clippy::cast_possible_truncation, reason = "values are times within fifty days, or small")]
pub(crate) fn rounded(value: f64) -> i64 {
    value.round() as i64
}

/// The median, the upper one of two; in no order afterwards. `None` of nothing.
pub(crate) fn middle(values: &mut [i64]) -> Option<i64> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable(middle).1)
}

impl<'a> Written<'a> {
    pub(crate) fn new(counts: &'a [TimedCount]) -> Self {
        let at = counts.iter().map(|count| nanos(count.at)).collect();
        let of = |is: fn(&TimedCount) -> bool| (0..counts.len()).filter(|&n| is(&counts[n])).collect();
        let mut bars: Vec<Range<usize>> = Vec::new();
        let mut from = 0;
        for bar in counts.chunk_by(|a, b| (a.id.bar, a.id.pass) == (b.id.bar, b.id.pass)) {
            bars.push(from..from + bar.len());
            from += bar.len();
        }
        Self { counts, at, notes: of(|c| c.deed == Deed::Attack), beats: of(|c| c.on_beat), bars }
    }

    pub(crate) fn deed(&self, count: usize) -> Deed {
        self.counts[count].deed
    }

    /// How far into its felt beat a count falls, in [`PARTS`] of the beat; `None` where that is no whole number.
    pub(crate) fn part(&self, count: usize) -> Option<i64> {
        let count = &self.counts[count];
        let (at, beat) = (count.id.at, count.beat);
        let numerator = i128::from(at.numerator()) * i128::from(beat.denominator()) * i128::from(PARTS);
        let denominator = i128::from(at.denominator()) * i128::from(beat.numerator());
        let whole = (denominator > 0 && numerator % denominator == 0).then(|| numerator / denominator)?;
        i64::try_from(whole.rem_euclid(i128::from(PARTS))).ok()
    }

    /// How many felt beats lie between two counts of one bar, in [`PARTS`]; `None` where that is no whole number.
    pub(crate) fn parts_between(&self, from: usize, to: usize) -> Option<i64> {
        let (a, b) = (&self.counts[from], &self.counts[to]);
        let length = b.id.at - a.id.at;
        let numerator = i128::from(length.numerator()) * i128::from(a.beat.denominator()) * i128::from(PARTS);
        let denominator = i128::from(length.denominator()) * i128::from(a.beat.numerator());
        let whole = (denominator > 0 && numerator % denominator == 0).then(|| numerator / denominator)?;
        i64::try_from(whole).ok()
    }

    /// Whether the felt beat of a count divides in three.
    pub(crate) fn divides_in_three(&self, count: usize) -> bool {
        self.counts[count].beat.numerator() == 3
    }

    /// The felt beat a count lies in, as an index into [`Self::beats`]; `None` before the first.
    pub(crate) fn beat_of(&self, count: usize) -> Option<usize> {
        self.beats.partition_point(|&beat| beat <= count).checked_sub(1)
    }

    /// The length of the felt beat around a count in nanoseconds, from one beat to the next (at the end, from the one before).
    pub(crate) fn beat_nanos(&self, count: usize) -> i64 {
        let beat = self.beat_of(count).unwrap_or(0);
        let length = |a: usize| Some(self.at[*self.beats.get(a + 1)?] - self.at[*self.beats.get(a)?]);
        length(beat).or_else(|| length(beat.checked_sub(1)?)).filter(|&l| l > 0).unwrap_or(500_000_000)
    }

    /// The bar a count lies in, as an index into [`Self::bars`].
    pub(crate) fn bar_of(&self, count: usize) -> usize {
        self.bars.partition_point(|bar| bar.end <= count).min(self.bars.len().saturating_sub(1))
    }

    /// The count before which a note has stopped sounding: the next one that is not a hold. `None` at the end.
    pub(crate) fn end_of(&self, note: usize) -> Option<usize> {
        (note + 1..self.counts.len()).find(|&count| self.deed(count) != Deed::Hold)
    }
}
