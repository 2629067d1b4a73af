use num_rational::Ratio;

use crate::frame::nearest;
use crate::{Error, Frame, Moment, Position, SampleRate, Seconds, Tempo};

/// From this position on, this tempo.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TempoChange {
    /// Where it begins.
    pub at: Position,
    /// The tempo from there on.
    pub tempo: Tempo,
}

/// The tempo of a whole piece: where every musical position falls in time.
///
/// Zero is count 1 of bar 1 in musical time, in seconds and in frames. Before the first change its
/// tempo holds too, so a pickup and a count-in have negative moments. All sums are exact; only the
/// result is rounded, so the ten-thousandth beat is right to the frame.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TempoMap {
    /// Rising in position; never empty; the first stands at position 0.
    segments: Vec<Segment>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Segment {
    change: TempoChange,
    /// Seconds from zero at which it begins, exactly.
    begins: Ratio<i128>,
}

impl TempoMap {
    /// One tempo throughout.
    #[must_use]
    pub fn constant(tempo: Tempo) -> Self {
        let change = TempoChange { at: Position::ZERO, tempo };
        Self { segments: vec![Segment { change, begins: Ratio::from_integer(0) }] }
    }

    /// The tempo changes in rising order, the first at [`Position::ZERO`].
    ///
    /// # Errors
    /// If there is none, the first stands elsewhere, or they do not rise.
    pub fn new(changes: &[TempoChange]) -> Result<Self, Error> {
        let [first, rest @ ..] = changes else {
            return Err(Error::TempoOrder("no change at all".to_owned()));
        };
        if first.at != Position::ZERO {
            return Err(Error::TempoOrder(first.at.to_string()));
        }
        let mut map = Self::constant(first.tempo);
        for &change in rest {
            let last = map.segments[map.segments.len() - 1];
            if change.at <= last.change.at {
                return Err(Error::TempoOrder(change.at.to_string()));
            }
            map.segments.push(Segment { change, begins: last.seconds_at(change.at) });
        }
        Ok(map)
    }

    /// The tempo in force at `position`.
    #[must_use]
    pub fn tempo_at(&self, position: Position) -> Tempo {
        self.segment_at(position).change.tempo
    }

    /// The changes it was made of.
    pub fn changes(&self) -> impl Iterator<Item = TempoChange> {
        self.segments.iter().map(|segment| segment.change)
    }

    /// When `position` falls, counted from count 1 of bar 1: rounded once, to the nearest nanosecond.
    #[must_use]
    pub fn moment_at(&self, position: Position) -> Moment {
        let nanos = self.exact_seconds_at(position) * 1_000_000_000;
        Moment::ZERO + Seconds::from_nanos(nearest(*nanos.numer(), *nanos.denom()))
    }

    /// The frame at which `position` falls, counted from count 1 of bar 1: rounded once, to the nearest, a half up.
    #[must_use]
    pub fn frame_at(&self, position: Position, rate: SampleRate) -> Frame {
        let frames = self.exact_seconds_at(position) * i128::from(rate.hz());
        Frame::new(nearest(*frames.numer(), *frames.denom()))
    }

    fn exact_seconds_at(&self, position: Position) -> Ratio<i128> {
        self.segment_at(position).seconds_at(position)
    }

    fn segment_at(&self, position: Position) -> &Segment {
        let after = self.segments.partition_point(|segment| segment.change.at <= position);
        &self.segments[after.saturating_sub(1)]
    }
}

impl Segment {
    fn seconds_at(&self, position: Position) -> Ratio<i128> {
        let into = (position - self.change.at).ratio();
        let into = Ratio::new(i128::from(*into.numer()), i128::from(*into.denom()));
        self.begins + into * self.change.tempo.seconds_per_whole()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::Span;

    fn quarter(bpm: u32) -> Tempo {
        Tempo::new(Span::QUARTER, bpm.into()).expect("a tempo in range")
    }

    fn at(numerator: i64, denominator: i64) -> Position {
        Position::ZERO + Span::new(numerator, denominator)
    }

    /// ms per beat = 60000 / bpm, computed: 60 → 1000, 500, 250, 333.3; 72 → 833.3; 96 → 625;
    /// 120 → 500, 250, 125, 166.7; 144 → 416.7.
    #[test]
    fn milliseconds_a_note_follow_the_tempo() {
        let check = |bpm, n, d, expected: f64| {
            let ms = TempoMap::constant(quarter(bpm)).moment_at(at(n, d)).as_millis_f64();
            assert!((ms - expected).abs() < 0.05, "{n}/{d} at {bpm}: {ms} instead of {expected}");
        };
        for (n, d, expected) in [(1, 4, 1000.0), (1, 8, 500.0), (1, 16, 250.0), (1, 12, 333.333)] {
            check(60, n, d, expected);
        }
        check(72, 1, 4, 833.333);
        check(96, 1, 4, 625.0);
        for (n, d, expected) in [(1, 4, 500.0), (1, 8, 250.0), (1, 16, 125.0), (1, 12, 166.667)] {
            check(120, n, d, expected);
        }
        check(144, 1, 4, 416.667);
    }

    /// Computed: a dotted quarter of 60 puts eighths 333.3 ms apart.
    #[test]
    fn a_dotted_beat_divides_in_three() {
        let tempo = Tempo::new(Span::new(3, 8), 60.into()).expect("in range");
        let ms = TempoMap::constant(tempo).moment_at(at(1, 8)).as_millis_f64();
        assert!((ms - 333.333).abs() < 0.001, "{ms}");
    }

    #[test]
    fn the_ten_thousandth_beat_is_right_to_the_frame() {
        // 10,000 beats at 87.5 a minute are 6857.142857… s, or 329,142,857.14 frames at 48 kHz.
        let tempo = Tempo::new(Span::QUARTER, Ratio::new(175, 2)).expect("in range");
        let frame = TempoMap::constant(tempo).frame_at(at(10_000, 4), SampleRate::HZ_48000);
        assert_eq!(frame.index(), 329_142_857);
    }

    #[test]
    fn a_change_holds_from_its_place_on() {
        let changes = [
            TempoChange { at: Position::ZERO, tempo: quarter(60) },
            TempoChange { at: at(1, 1), tempo: quarter(120) },
        ];
        let map = TempoMap::new(&changes).expect("rising");
        assert_eq!(map.moment_at(at(5, 4)).as_millis_f64(), 4500.0);
        assert_eq!(map.moment_at(at(-1, 4)).as_millis_f64(), -1000.0);
        assert_eq!(map.tempo_at(at(1, 1)), quarter(120));
        let reversed = [changes[0], TempoChange { at: at(-1, 4), tempo: quarter(90) }];
        assert!(TempoMap::new(&reversed).is_err());
        assert!(TempoMap::new(&[]).is_err());
    }

    proptest! {
        #[test]
        fn time_rises_with_position(bpm in 20u32..=300, a in 0i64..40_000, step in 1i64..100) {
            let map = TempoMap::constant(quarter(bpm));
            prop_assert!(map.moment_at(at(a + step, 96)) > map.moment_at(at(a, 96)));
        }
    }
}
