use engrave::Engraving;
use timebase::{Moment, Seconds, TempoMap};

/// Where every moment of a performance stands on the page.
#[derive(Clone, Debug)]
pub struct Timeline {
    /// In order of time; of each bar its places and its end.
    bars: Vec<Bar>,
}

#[derive(Clone, Debug)]
struct Bar {
    system: usize,
    knots: Vec<(Moment, f64)>,
}

impl Timeline {
    /// The timeline of an engraving played along `tempo`.
    #[must_use]
    pub fn new(engraving: &Engraving, tempo: &TempoMap) -> Self {
        let bars = engraving
            .passages()
            .iter()
            .map(|passage| {
                let knots =
                    passage.knots.iter().map(|&(position, x)| (tempo.moment_at(position), x)).collect();
                Bar { system: passage.system, knots }
            })
            .collect();
        Self { bars }
    }

    /// The system, from 0, and the x in staff spaces at which a moment stands; before the first note and
    /// after the end `None`.
    #[must_use]
    pub fn x_at(&self, moment: Moment) -> Option<(usize, f64)> {
        let (first, last) = (self.bars.first()?.knots.first()?.0, self.bars.last()?.knots.last()?.0);
        (first <= moment && moment <= last).then(|| self.nearest(moment)).flatten()
    }

    /// The same, but a moment before the first note stands at the first note, and one after the end at the end.
    #[must_use]
    pub fn nearest(&self, moment: Moment) -> Option<(usize, f64)> {
        let begun = self.bars.partition_point(|bar| bar.knots.first().is_some_and(|knot| knot.0 <= moment));
        let bar = &self.bars.get(begun.saturating_sub(1))?;
        let next = bar.knots.partition_point(|knot| knot.0 <= moment);
        let before = bar.knots.get(next.saturating_sub(1))?;
        let x = match bar.knots.get(next) {
            Some(after) if next > 0 && after.0 > before.0 => {
                let part = share(moment - before.0, after.0 - before.0);
                before.1 + (after.1 - before.1) * part
            }
            _ => before.1,
        };
        Some((bar.system, x))
    }
}

fn share(part: Seconds, whole: Seconds) -> f64 {
    part.as_secs_f64() / whole.as_secs_f64()
}
