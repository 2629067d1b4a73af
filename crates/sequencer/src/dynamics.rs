//! How loud the model is, bar by bar.

use rhythm::{Loudness, Performance, Rhythm, Swell};
use timebase::Position;

use crate::limits::LOUDNESS_STEP;

/// The loudness of a performance, in tenths of a decibel against where nothing is written.
#[derive(Clone, Debug, Default)]
pub(crate) struct Course {
    /// Where something is written, in order: the loudness there, and the one it grows or falls to by the next place.
    places: Vec<(Position, i32, i32)>,
}

impl Course {
    /// A level holds until the next; what swells reaches the next one that is written, or one step where none is.
    pub(crate) fn of(rhythm: &Rhythm, performance: &Performance) -> Self {
        let mut written: Vec<(Position, i32, Option<Swell>)> = Vec::new();
        let mut level = 0;
        for bar in performance.bars() {
            let dynamics = rhythm.bars()[bar.index].dynamics();
            if dynamics.level.is_none() && dynamics.swell.is_none() {
                continue;
            }
            // Where only a swell is written it begins from where the one before ends.
            level = dynamics.level.map_or_else(|| written.last().map_or(level, ends_alone), tenths);
            written.push((bar.start, level, dynamics.swell));
        }
        let places = written.iter().enumerate().map(|(index, here)| {
            let next = written.get(index + 1).map(|(_, level, _)| *level);
            let ends = match here.2 {
                None => here.1,
                Some(_) => next.unwrap_or_else(|| ends_alone(here)),
            };
            (here.0, here.1, ends)
        });
        let mut places: Vec<_> = places.collect();
        // A swell that nothing ends lasts as long as the piece.
        places.push((performance.end(), places.last().map_or(0, |(.., ends)| *ends), 0));
        Self { places }
    }

    /// The loudness at a place.
    pub(crate) fn at(&self, place: Position) -> i32 {
        let after = self.places.partition_point(|(at, ..)| *at <= place);
        let Some(&(from, level, ends)) = after.checked_sub(1).and_then(|before| self.places.get(before))
        else {
            return 0;
        };
        let Some(&(until, ..)) = self.places.get(after).filter(|_| level != ends) else { return level };
        // By whole tenths of the way, so that no place has a float: nobody hears a tenth of a step.
        let tenths = (0..10).filter(|tenth| (place - from) * 10 >= (until - from) * (tenth + 1)).count();
        level + (ends - level) * i32::try_from(tenths).unwrap_or(0) / 10
    }
}

/// Where a swell ends beside which nothing else is written: one step on.
fn ends_alone((_, level, swell): &(Position, i32, Option<Swell>)) -> i32 {
    match swell {
        None => *level,
        // However often it swells, it never goes further than one step past the ends of what is written.
        Some(Swell::Crescendo) => (level + LOUDNESS_STEP).min(tenths(Loudness::Fff) + LOUDNESS_STEP),
        Some(Swell::Decrescendo) => (level - LOUDNESS_STEP).max(tenths(Loudness::Ppp) - LOUDNESS_STEP),
    }
}

/// Mezzo forte is as loud as where nothing is written, and each step as much more or less.
fn tenths(loudness: Loudness) -> i32 {
    LOUDNESS_STEP
        * match loudness {
            Loudness::Ppp => -4,
            Loudness::Pp => -3,
            Loudness::P => -2,
            Loudness::Mp => -1,
            Loudness::Mf => 0,
            Loudness::F => 1,
            Loudness::Ff => 2,
            Loudness::Fff => 3,
        }
}
