use std::ops::Range;

use num_rational::Ratio;

use crate::exact::{self, Exact};
use crate::tempo_stretch::{Course, Stretch};
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
/// Zero is count 1 of bar 1 in musical time, in seconds and in frames, unless the map was laid
/// [after another](TempoMap::following). Before the first change its tempo holds too, so a pickup and
/// a count-in have negative moments. All sums are exact; only the result is rounded, so the
/// ten-thousandth beat is right to the frame. (Where a sum of stretches at different tempos would need a
/// denominator beyond 10¹⁸, the beginning of each further stretch is rounded to 10⁻¹⁸ s.)
///
/// **A gradual change** ([`TempoMap::with_gradual`]) is uniform in time: the tempo grows or falls by the same amount every
/// second. So the *square* of the tempo is linear over musical position, and a passage of `n` beats from `a` to `b` beats a
/// minute lasts as long as at their mean, `2n / (a + b)` minutes; its beat `x` falls at
///
/// ```text
/// t(x) = 2x / (a + v)   with   v = √(a² + (b² − a²) · x / n)
/// ```
///
/// Of the tempo curves `v(x) = (1 + (wᵠ − 1)x)^(1/q)` that Friberg and Sundberg compared for final ritardandi ("Stopping in
/// running and in music performance, part II: a model of the final ritardando based on runners' deceleration"; abstract
/// read) this is q = 2; listeners liked q = 2 and q = 3 best.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TempoMap {
    /// Rising in position; never empty; the first stands at position 0, is steady and holds before it too. A second one may
    /// stand at 0.
    stretches: Vec<Stretch>,
}

impl TempoMap {
    /// One tempo throughout.
    #[must_use]
    pub fn constant(tempo: Tempo) -> Self {
        let begins = Ratio::from_integer(0);
        Self { stretches: vec![Stretch { at: Position::ZERO, begins, course: Course::Steady(tempo) }] }
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
        for &TempoChange { at, tempo } in rest {
            let last = &map.stretches[map.stretches.len() - 1];
            if at <= last.at {
                return Err(Error::TempoOrder(at.to_string()));
            }
            let next = last.ending_at(at, Course::Steady(tempo));
            map.stretches.push(next);
        }
        Ok(map)
    }

    /// The same map, from `at` on at `tempo`; what it had from there on is dropped.
    ///
    /// # Panics
    /// If `at` lies before [`Position::ZERO`].
    #[must_use]
    pub fn with_change(self, change: TempoChange) -> Self {
        self.then(change.at, &Self::constant(change.tempo), Position::ZERO..Position::ZERO)
    }

    /// The same map, from `change.at` on changing gradually to `change.tempo`, which it reaches at `until` and keeps; what it
    /// had from there on is dropped.
    ///
    /// # Errors
    /// If `change.at` lies before [`Position::ZERO`] or not before `until`.
    pub fn with_gradual(mut self, change: TempoChange, until: Position) -> Result<Self, Error> {
        let TempoChange { at, tempo } = change;
        if at < Position::ZERO || until <= at {
            return Err(Error::TempoOrder(if until <= at { until } else { at }.to_string()));
        }
        let begins = self.exact_seconds_at(at);
        let course = self.stretch_at(at).gradual(at, until, tempo);
        self.cut(at);
        self.stretches.push(Stretch { at, begins, course: Course::Gradual(course) });
        Ok(self.with_change(TempoChange { at: until, tempo }))
    }

    /// This map up to `at`, and from there on a passage of `other`; the tempo reached at its end holds on. A change that begins
    /// where the passage ends is none of it.
    ///
    /// # Panics
    /// If `at` lies before [`Position::ZERO`].
    #[must_use]
    pub fn then(mut self, at: Position, other: &Self, passage: Range<Position>) -> Self {
        assert!(at >= Position::ZERO, "the tempo at count 1 of bar 1 holds before it too");
        let here = |there: Position| at + (there - passage.start);
        let first = other.index_at(passage.start);
        let (first, later) = (&other.stretches[first], &other.stretches[first + 1..]);
        let begins = self.exact_seconds_at(at);
        self.cut(at);
        let mut stretch = Stretch { at, begins, course: first.course.after(passage.start - first.at) };
        for next in later.iter().take_while(|next| next.at < passage.end) {
            let next = stretch.ending_at(here(next.at), next.course);
            self.push(stretch);
            stretch = next;
        }
        if matches!(stretch.course, Course::Gradual(_)) {
            let end = here(passage.end);
            let reached = Course::Steady(stretch.course.tempo_after(end - stretch.at));
            let next = stretch.ending_at(end, reached);
            self.push(stretch);
            stretch = next;
        }
        self.push(stretch);
        self
    }

    /// The same map, moved in time so that its place `start` falls when `end` does in `before`: for music that goes on where
    /// another music ends.
    #[must_use]
    pub fn following(mut self, start: Position, before: &Self, end: Position) -> Self {
        let later = exact::difference(before.exact_seconds_at(end), self.exact_seconds_at(start));
        for stretch in &mut self.stretches {
            stretch.begins = exact::sum(stretch.begins, later);
        }
        self
    }

    /// The tempo in force at `position`; inside a gradual change to the nearest thousandth of a beat a minute.
    #[must_use]
    pub fn tempo_at(&self, position: Position) -> Tempo {
        let stretch = self.stretch_at(position);
        stretch.course.tempo_after(position - stretch.at)
    }

    /// Whether the tempo is changing gradually at `position`.
    #[must_use]
    pub fn is_gradual_at(&self, position: Position) -> bool {
        matches!(self.stretch_at(position).course, Course::Gradual(_))
    }

    /// The changes of tempo in rising order, the first at [`Position::ZERO`].
    ///
    /// A gradual change comes in steps of a sixteenth, each as long as the gradual change takes for it, for those who know
    /// steady tempos only; their rounding to a thousandth of a beat a minute never adds up.
    pub fn changes(&self) -> impl Iterator<Item = TempoChange> {
        let ends = self.stretches.iter().skip(1).map(|next| Some(next.at)).chain([None]);
        let empty = |until: Option<Position>| until == Some(Position::ZERO);
        self.stretches.iter().zip(ends).filter(move |(_, until)| !empty(*until)).flat_map(
            |(stretch, until)| match stretch.course {
                Course::Steady(tempo) => vec![TempoChange { at: stretch.at, tempo }],
                Course::Gradual(_) => stretch.steps(until),
            },
        )
    }

    /// When `position` falls, counted from count 1 of bar 1: rounded once, to the nearest nanosecond.
    #[must_use]
    pub fn moment_at(&self, position: Position) -> Moment {
        Moment::ZERO + Seconds::from_nanos(self.stretch_at(position).nearest_at(position, NANOS))
    }

    /// The frame at which `position` falls, counted from count 1 of bar 1: rounded once, to the nearest, a half up.
    #[must_use]
    pub fn frame_at(&self, position: Position, rate: SampleRate) -> Frame {
        Frame::new(self.stretch_at(position).nearest_at(position, i128::from(rate.hz())))
    }

    fn exact_seconds_at(&self, position: Position) -> Exact {
        self.stretch_at(position).seconds_at(position)
    }

    fn stretch_at(&self, position: Position) -> &Stretch {
        &self.stretches[self.index_at(position)]
    }

    fn index_at(&self, position: Position) -> usize {
        self.stretches.partition_point(|stretch| stretch.at <= position).saturating_sub(1)
    }

    /// Drops what begins at `at` or later, but for the tempo that holds before position 0.
    fn cut(&mut self, at: Position) {
        let kept = self.stretches.partition_point(|stretch| stretch.at < at);
        self.stretches.truncate(kept.max(1));
    }

    /// Adds a stretch, unless it goes on at the same steady tempo.
    fn push(&mut self, stretch: Stretch) {
        let last = self.stretches[self.stretches.len() - 1].course;
        if !matches!((last, stretch.course), (Course::Steady(a), Course::Steady(b)) if a == b) {
            self.stretches.push(stretch);
        }
    }
}

/// Nanoseconds a second.
const NANOS: i128 = 1_000_000_000;

#[cfg(test)]
mod tests {
    use num_bigint::BigInt;
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

    fn slower(from: u32, to: u32, beats: i64) -> TempoMap {
        let change = TempoChange { at: at(1, 1), tempo: quarter(to) };
        TempoMap::constant(quarter(from)).with_gradual(change, at(4 + beats, 4)).expect("in order")
    }

    /// Whether `frame` is the nearest to where beat `x` of a gradual change of `n` beats from `a` to `b` falls, `zero` seconds
    /// in: by squares of whole numbers and fractions alone, without a root. Uniform change in time: after `u` minutes
    /// x = a·u + (b² − a²)/(4n)·u² beats are played, so t ≥ τ where that is at most x.
    fn is_nearest(
        frame: i64,
        (a, b, n): (i64, i64, i64),
        x: Ratio<i64>,
        zero: Ratio<i64>,
        rate: i64,
    ) -> bool {
        let wide = |r: Ratio<i64>| Ratio::new(BigInt::from(*r.numer()), BigInt::from(*r.denom()));
        let played_by = |half_frames: i64| {
            let u = (wide(Ratio::new(half_frames, 2 * rate)) - wide(zero)) / BigInt::from(60);
            let growth = wide(Ratio::new(b * b - a * a, 4 * n));
            &u * BigInt::from(a) + growth * &u * &u
        };
        played_by(2 * frame - 1) <= wide(x) && wide(x) < played_by(2 * frame + 1)
    }

    #[test]
    fn a_gradual_change_lasts_as_long_as_its_mean() {
        // 8 beats from 120 to 60: at 90 in the mean they last 16/3 s, after a bar of 2 s.
        let map = slower(120, 60, 8);
        let end = map.moment_at(at(3, 1)).as_millis_f64();
        assert!((end - (2_000.0 + 16_000.0 / 3.0)).abs() < 1e-6, "{end}");
        assert_eq!(map.tempo_at(at(1, 1)), quarter(120));
        assert_eq!(map.tempo_at(at(3, 1)), quarter(60));
        // Half the way in beats: √((120² + 60²) / 2).
        assert_eq!(map.tempo_at(at(2, 1)).to_string(), "quarter = 94.868");
        assert_eq!(map.tempo_at(at(9, 1)), quarter(60));
        assert!(map.is_gradual_at(at(2, 1)) && !map.is_gradual_at(at(3, 1)) && !map.is_gradual_at(at(0, 1)));
        let before = map.moment_at(at(100, 1)) - map.moment_at(at(3, 1));
        assert_eq!(before, Seconds::from_millis(97 * 4_000));
        let change = TempoChange { at: at(1, 1), tempo: quarter(60) };
        assert!(map.clone().with_gradual(change, at(1, 1)).is_err());
        assert!(map.with_gradual(TempoChange { at: at(-1, 4), ..change }, at(1, 1)).is_err());
    }

    #[test]
    fn steps_of_a_gradual_change_do_not_drift() {
        let map = slower(120, 47, 37);
        let changes: Vec<TempoChange> = map.changes().collect();
        assert_eq!(changes[0], TempoChange { at: Position::ZERO, tempo: quarter(120) });
        assert_eq!(changes.len(), 1 + 37 * 4 + 1);
        let stepped = TempoMap::new(&changes).expect("rising");
        for beat in 0..60 {
            let off = map.moment_at(at(beat, 4)) - stepped.moment_at(at(beat, 4));
            assert!(off.abs() < Seconds::from_micros(10), "beat {beat}: {off:?}");
        }
    }

    #[test]
    fn a_map_goes_on_in_another() {
        // Bars 2 and 3 of a change from 120 to 60, cut out and laid behind a bar at 100.
        let whole = slower(120, 60, 8);
        let cut = TempoMap::constant(quarter(100)).then(at(1, 1), &whole, at(2, 1)..at(5, 2));
        for n in 0..=8 {
            let (there, here) = (at(2, 1) + Span::new(n, 16), at(1, 1) + Span::new(n, 16));
            let apart = (whole.moment_at(there) - whole.moment_at(at(2, 1)))
                - (cut.moment_at(here) - cut.moment_at(at(1, 1)));
            assert!(apart.abs() <= Seconds::from_nanos(1), "{n}: {apart:?}");
        }
        assert_eq!(cut.tempo_at(at(0, 1)), quarter(100));
        // Behind the passage the tempo that it reached holds: √(120² − (120² − 60²) · 6/8), to a thousandth.
        assert!(!cut.is_gradual_at(at(3, 2)));
        assert_eq!(cut.tempo_at(at(9, 1)).to_string(), "quarter = 79.373");
        // What changes where the passage ends belongs to what comes after it.
        let jump = TempoChange { at: at(1, 1), tempo: quarter(120) };
        let jumping = TempoMap::constant(quarter(60)).with_change(jump);
        let bar = TempoMap::constant(quarter(100)).then(at(1, 1), &jumping, at(0, 1)..at(1, 1));
        assert_eq!(bar.tempo_at(at(2, 1)), quarter(60));
        // The same tempo again is no change.
        let same = TempoMap::constant(quarter(100)).then(
            at(1, 1),
            &TempoMap::constant(quarter(100)),
            at(7, 1)..at(9, 1),
        );
        assert_eq!(same, TempoMap::constant(quarter(100)));
        // And following: a pickup of a beat at 60 begins when the bars at 120 have ended.
        let next =
            TempoMap::constant(quarter(60)).following(at(-1, 4), &TempoMap::constant(quarter(120)), at(2, 1));
        assert_eq!(next.moment_at(Position::ZERO).as_millis_f64(), 5_000.0);
    }

    /// Ten thousand beats, each bar at another odd tempo: the sum of so many fractions fits no machine word, and the last
    /// frame is still the one that exact arithmetic without bounds gives.
    #[test]
    fn many_changes_of_tempo_stay_right_to_the_frame() {
        let odd =
            |bar: i64| Ratio::new(u32::try_from(40_007 + (bar * 7_919) % 200_003).expect("small"), 1_000);
        let bars = 2_500;
        let (mut numerator, mut denominator) = (BigInt::from(0), BigInt::from(1));
        let mut changes = Vec::new();
        for bar in 0..bars {
            let bpm = odd(bar);
            changes.push(TempoChange {
                at: at(bar, 1),
                tempo: Tempo::new(Span::QUARTER, bpm).expect("in range"),
            });
            // A beat lasts 60 / bpm seconds; of the last bar only three go by before its fourth.
            let beats = if bar < bars - 1 { 4 } else { 3 };
            let (upper, lower) = (beats * 60 * i64::from(*bpm.denom()), i64::from(*bpm.numer()));
            numerator = numerator * lower + &denominator * upper;
            denominator *= lower;
        }
        let map = TempoMap::new(&changes).expect("rising");
        for hz in [8_000_u32, 44_100, 48_000, 192_000] {
            let expected: BigInt = (&numerator * 2 * hz + &denominator) / (&denominator * 2);
            let rate = SampleRate::new(hz).expect("in range");
            let frame = map.frame_at(at(bars * 4 - 1, 4), rate).index();
            assert_eq!(BigInt::from(frame), expected, "beat 10,000 at {hz} Hz");
        }
    }

    proptest! {
        #[test]
        fn every_place_of_a_gradual_change_is_right_to_the_frame(
            a in 20u32..=300, b in 20u32..=300, n in 1i64..400, place in 0i64..=960, hz in prop::sample::select(vec![44_100u32, 48_000])
        ) {
            let map = slower(a, b, n);
            let x = Ratio::new(n * place, 960);
            let position = at(1, 1) + Span::new(*x.numer(), *x.denom() * 4);
            let rate = SampleRate::new(hz).expect("in range");
            let frame = map.frame_at(position, rate).index();
            let curve = (i64::from(a), i64::from(b), n);
            prop_assert!(is_nearest(frame, curve, x, Ratio::new(240, i64::from(a)), i64::from(hz)));
            // And the check can fail.
            prop_assert!(!is_nearest(frame + 1, curve, x, Ratio::new(240, i64::from(a)), i64::from(hz)));
        }

        #[test]
        fn any_tempo_and_beat_are_right_to_the_frame(
            bpm in 20_000u32..=300_000, beat in prop::sample::select(vec![(1i64, 4i64), (3, 8), (1, 2), (1, 8), (5, 8), (1, 16), (3, 16)]),
            beats in 0i64..=10_000, hz in prop::sample::select(vec![44_100i64, 48_000, 96_000])
        ) {
            let beat = Span::new(beat.0, beat.1);
            let map = TempoMap::constant(Tempo::new(beat, Ratio::new(bpm, 1_000)).expect("in range"));
            let rate = SampleRate::new(u32::try_from(hz).expect("small")).expect("in range");
            let frame = map.frame_at(Position::ZERO + beat * beats, rate).index();
            // 60,000 · hz · beats / thousandths, a half up, in whole numbers.
            let (numerator, denominator) = (i128::from(60_000 * hz) * i128::from(beats), i128::from(bpm));
            prop_assert_eq!(i128::from(frame), (2 * numerator + denominator).div_euclid(2 * denominator));
        }

        #[test]
        fn time_rises_with_position(bpm in 20u32..=300, a in 0i64..40_000, step in 1i64..100) {
            let map = TempoMap::constant(quarter(bpm));
            prop_assert!(map.moment_at(at(a + step, 96)) > map.moment_at(at(a, 96)));
        }
    }
}
