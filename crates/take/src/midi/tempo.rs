//! The tempo of a sequence as a MIDI file can say it.

use midly::num::u24;
use timebase::{Position, Ratio, Span, TempoMap};

use crate::Error;
use crate::limits::QUARTER_MICROS;

/// So many nanoseconds may what is written stray from what is exact before it is put right.
const STRAY: i128 = 50_000;
/// At most so many nanoseconds a gradual change may lie off the straight steps that stand for it.
const BEND: i128 = 20_000;
/// It is looked at so often whether it must be put right. A step of one microsecond then moves it by 16 µs at most.
const LOOK_EVERY: Span = Span::new(4, 1);

/// From where on a quarter lasts so many microseconds.
pub(super) type TempoEvent = (Position, u24);

/// The tempo from `start` to `end` in whole microseconds a quarter, as `FF 51` has it whatever the felt beat.
///
/// A tempo that is no whole number of microseconds is written as the nearest, and where that has strayed 50 µs from the
/// exact time, as the next one on the other side for some bars: so however long the piece is, times read from the file lie
/// within 100 µs of the exact ones. A gradual change is written in steps so short that the same holds. `tick` is the shortest step.
pub(super) fn tempo_events(
    map: &TempoMap,
    start: Position,
    end: Position,
    tick: Span,
) -> Result<Vec<TempoEvent>, Error> {
    tempo_events_after(&mut Stray::default(), map, start, end, tick)
}

/// How much later than exact the end of what is written falls, in nanoseconds: what one stretch after the other goes on from.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Stray(i128);

/// The same for a stretch that is written behind another one.
pub(super) fn tempo_events_after(
    stray: &mut Stray,
    map: &TempoMap,
    start: Position,
    end: Position,
    tick: Span,
) -> Result<Vec<TempoEvent>, Error> {
    let changes = map.changes().map(|change| change.at);
    let nanos = |at: Position| i128::from(map.moment_at(at).since_zero().as_nanos());
    events_of(stray, changes, nanos, start, end, tick)
}

/// The same for any times: `nanos` says when a position falls, and is straight between `changes` or gently bent.
fn events_of(
    stray: &mut Stray,
    changes: impl Iterator<Item = Position>,
    nanos: impl Fn(Position) -> i128,
    start: Position,
    end: Position,
    tick: Span,
) -> Result<Vec<TempoEvent>, Error> {
    // The first tempo stands at bar 1 and holds for the count-in too.
    let mut corners: Vec<Position> = changes.filter(|at| *at > Position::ZERO && *at < end).collect();
    corners.insert(0, start);
    corners.push(end.max(start + tick));
    let mut writer = Writer { nanos, tick, stray: stray.0, mending: false, events: Vec::new() };
    for corner in corners.windows(2) {
        let mut from = corner[0];
        while from < corner[1] {
            let to = corner[1].min(from + LOOK_EVERY);
            writer.stretch(from, to)?;
            from = to;
        }
    }
    *stray = Stray(writer.stray);
    Ok(writer.events)
}

struct Writer<F> {
    nanos: F,
    tick: Span,
    /// How much later than exact the end of what is written falls, in nanoseconds.
    stray: i128,
    mending: bool,
    events: Vec<TempoEvent>,
}

impl<F: Fn(Position) -> i128> Writer<F> {
    fn stretch(&mut self, from: Position, to: Position) -> Result<(), Error> {
        let (begins, ends) = ((self.nanos)(from), (self.nanos)(to));
        let half = self.tick * (((to - from).in_units_of(self.tick) / 2).floor().to_integer());
        if half.is_positive() && half < to - from {
            let middle = (self.nanos)(from + half);
            let share = half.in_units_of(to - from);
            let straight = begins + (ends - begins) * i128::from(*share.numer()) / i128::from(*share.denom());
            if (middle - straight).abs() > BEND {
                self.stretch(from, from + half)?;
                return self.stretch(from + half, to);
            }
        }
        let quarters = (to - from).in_units_of(Span::QUARTER);
        let quarters = Ratio::new(i128::from(*quarters.numer()), i128::from(*quarters.denom()));
        let exact = Ratio::from_integer(ends - begins) / quarters / 1_000;
        let nearest = exact.round().to_integer();
        if self.stray.abs() > STRAY {
            self.mending = true;
        }
        let mut micros = nearest;
        if self.mending {
            micros = if self.stray > 0 { exact.floor() } else { exact.ceil() }.to_integer();
        }
        let written = (quarters * micros * 1_000).round().to_integer();
        let stray = self.stray + written - (ends - begins);
        if self.mending && (stray > 0) != (self.stray > 0) {
            self.mending = false;
        }
        self.stray = stray;
        let micros = microseconds(micros)?;
        if self.events.last().is_none_or(|(_, last)| *last != micros) {
            self.events.push((from, micros));
        }
        Ok(())
    }
}

fn microseconds(micros: i128) -> Result<u24, Error> {
    let fits =
        u32::try_from(micros).ok().filter(|&m| QUARTER_MICROS.holds(i64::from(m))).and_then(u24::try_from);
    fits.ok_or(Error::OutOfRange { given: i64::try_from(micros).unwrap_or(i64::MAX), limit: QUARTER_MICROS })
}

#[cfg(test)]
mod tests {
    use timebase::{Tempo, TempoChange};

    use super::*;

    const TICK: Span = Span::new(1, 3_840);

    fn at(quarters: i64) -> Position {
        Position::ZERO + Span::QUARTER * quarters
    }

    /// How far, in nanoseconds, what a reader makes of the events lies from the exact time, at its worst
    /// in steps of `step`.
    fn worst(
        events: &[TempoEvent],
        nanos: impl Fn(Position) -> i128,
        start: Position,
        end: Position,
        step: Span,
    ) -> i128 {
        let mut worst = 0;
        let (mut reached, mut now) = (start, 0_i128);
        let mut rest = events.iter().peekable();
        let mut micros = 0_i128;
        let exact_start = nanos(start);
        let mut place = start;
        while place <= end {
            while let Some((from, next)) = rest.next_if(|(from, _)| *from <= place) {
                now += length(reached, *from, micros);
                (reached, micros) = (*from, i128::from(next.as_int()));
            }
            let read = now + length(reached, place, micros);
            worst = worst.max((read - (nanos(place) - exact_start)).abs());
            place += step;
        }
        worst
    }

    fn length(from: Position, to: Position, micros: i128) -> i128 {
        let quarters = (to - from).in_units_of(Span::QUARTER);
        micros * 1_000 * i128::from(*quarters.numer()) / i128::from(*quarters.denom())
    }

    #[test]
    fn a_tempo_that_is_no_whole_number_of_microseconds_does_not_drift() {
        for (bpm, most_events) in [(120, 1), (88, 90), (299, 90), (131, 90)] {
            let map = TempoMap::constant(Tempo::new(Span::QUARTER, bpm.into()).expect("in range"));
            let (start, end) = (at(-4), at(10_000));
            let events = tempo_events(&map, start, end, TICK).expect("in range");
            assert!(events.len() <= most_events, "{bpm}: {} events", events.len());
            assert_eq!(events[0].0, start);
            let nearest = (60_000_000_f64 / f64::from(bpm)).round();
            assert!(events.iter().all(|(_, micros)| (f64::from(micros.as_int()) - nearest).abs() <= 1.0));
            let nanos = |at: Position| i128::from(map.moment_at(at).since_zero().as_nanos());
            let worst = worst(&events, nanos, start, end, Span::QUARTER);
            assert!(worst < 100_000, "{bpm}: {worst} ns");
        }
    }

    #[test]
    fn changes_stand_where_they_are() {
        let tempo = |bpm: u32| Tempo::new(Span::QUARTER, bpm.into()).expect("in range");
        let change = |quarters, bpm| TempoChange { at: at(quarters), tempo: tempo(bpm) };
        let map = TempoMap::new(&[change(0, 60), change(3, 120), change(7, 60)]).expect("rising");
        let events = tempo_events(&map, at(-4), at(12), TICK).expect("in range");
        let events: Vec<_> = events.iter().map(|(at, micros)| (*at, micros.as_int())).collect();
        assert_eq!(events, [(at(-4), 1_000_000), (at(3), 500_000), (at(7), 1_000_000)]);
    }

    /// From 60 to 120 a minute over 16 quarters, a quarter's length falling evenly: the time of x quarters is x − x²/64 s (computed).
    #[test]
    fn a_gradual_change_is_steps_within_a_tenth_of_a_millisecond() {
        let nanos = |at: Position| {
            let quarters = (at - Position::ZERO).in_units_of(Span::QUARTER);
            let x = Ratio::new(i128::from(*quarters.numer()), i128::from(*quarters.denom()));
            let bent = x.clamp(Ratio::from_integer(0), Ratio::from_integer(16));
            let after = (x - bent) * if x > bent { Ratio::new(1, 2) } else { Ratio::from_integer(1) };
            ((bent - bent * bent / 64 + after) * 1_000_000_000).round().to_integer()
        };
        let changes = [at(0), at(16)];
        let events = events_of(&mut Stray::default(), changes.into_iter(), nanos, at(-4), at(40), TICK)
            .expect("in range");
        let worst = worst(&events, nanos, at(-4), at(40), Span::new(1, 256));
        assert!(worst < 100_000, "{worst} ns in {} events", events.len());
        assert!((20..400).contains(&events.len()), "{} events", events.len());
        assert_eq!(events.last().map(|(at, micros)| (*at, micros.as_int())), Some((at(16), 500_000)));
    }

    #[test]
    fn a_tempo_slower_than_the_format_says_is_refused() {
        let nanos = |at: Position| {
            let quarters = (at - Position::ZERO).in_units_of(Span::QUARTER);
            i128::from(*quarters.numer()) * 20_000_000_000 / i128::from(*quarters.denom())
        };
        let error = events_of(&mut Stray::default(), std::iter::empty(), nanos, at(0), at(4), TICK)
            .expect_err("too slow")
            .to_string();
        assert!(error.contains("20000000"), "{error}");
    }
}
