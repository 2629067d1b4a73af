use rhythm::Meter;
use timebase::{Moment, Position, Span, Tempo, TempoMap};

use super::Error;

/// What is known of the beat that was tapped to.
#[derive(Clone, Debug, PartialEq)]
pub enum Timing {
    /// There was a click, or the strokes stand in a file with a tempo of its own.
    Known(Grid),
    /// Nothing sounded: the tempo has to be found.
    Free(Free),
}

/// A click: its tempo, its meters, and when its count 1 fell.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    tempo: TempoMap,
    bar_one: Moment,
    meters: Vec<(i64, Meter)>,
}

/// What may be known without a click.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Free {
    /// About how fast it was; within a tenth. `None`: found.
    pub tempo: Option<Tempo>,
    /// The meter. `None`: found among 2/4, 3/4, 4/4, and 6/8 where that has been taught.
    pub meter: Option<Meter>,
}

impl Grid {
    /// A click in one meter.
    ///
    /// `tempo` has its zero at count 1 of bar 1, which fell at `bar_one`.
    #[must_use]
    pub fn new(tempo: TempoMap, bar_one: Moment, meter: Meter) -> Self {
        Self { tempo, bar_one, meters: vec![(1, meter)] }
    }

    /// The same click with meters that change: each with the number of the bar from which it holds.
    ///
    /// # Errors
    /// If there is none, the first holds from a bar later than 1, or the bars do not rise.
    pub fn with_meters(self, meters: Vec<(i64, Meter)>) -> Result<Self, Error> {
        let first = meters.first().map_or(i64::MAX, |(bar, _)| *bar);
        if first > 1 {
            return Err(Error::MeterOrder { bar: first });
        }
        if let Some(pair) = meters.windows(2).find(|pair| pair[0].0 >= pair[1].0) {
            return Err(Error::MeterOrder { bar: pair[1].0 });
        }
        Ok(Self { meters, ..self })
    }

    /// The tempo, from count 1 of bar 1.
    #[must_use]
    pub fn tempo(&self) -> &TempoMap {
        &self.tempo
    }

    /// When count 1 of bar 1 fell.
    #[must_use]
    pub fn bar_one(&self) -> Moment {
        self.bar_one
    }

    /// The meter of bar `number`; the bar before bar 1 is number 0.
    #[must_use]
    pub fn meter(&self, number: i64) -> Meter {
        let after = self.meters.partition_point(|(bar, _)| *bar <= number);
        self.meters[after.saturating_sub(1)].1
    }

    /// Seconds from count 1 of bar 1.
    pub(super) fn seconds(&self, position: Position) -> f64 {
        self.tempo.moment_at(position).as_secs_f64()
    }
}

/// A bar that strokes may lie in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct PlannedBar {
    pub(super) meter: Meter,
    /// Where it begins, from where the first of them begins.
    pub(super) at: Span,
    /// Its first cell.
    pub(super) cell: usize,
    /// How many cells it has.
    pub(super) cells: usize,
    /// How long each of them is.
    pub(super) cell_length: Span,
}
