//! A stretch of a tempo map: at one tempo, or from one to another.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::ToPrimitive;

use crate::exact::{self, Exact, Wide};
use crate::limits::TEMPO_BPM;
use crate::{Position, Span, Tempo, TempoChange};

/// From `at` on, until the next stretch begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Stretch {
    pub(crate) at: Position,
    /// Seconds from zero at which it begins.
    pub(crate) begins: Exact,
    pub(crate) course: Course,
}

/// How the tempo goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Course {
    Steady(Tempo),
    Gradual(Gradual),
}

/// A tempo that changes by the same amount every second: its square is linear over musical position, and squares of fractions
/// are fractions, also where it is joined in the middle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Gradual {
    /// The beat in which the tempo is told.
    beat: Span,
    /// The square of the beats a minute at its beginning.
    square: Exact,
    /// What the square grows by each beat.
    growth: Exact,
}

/// How long a step is by which a gradual change is told to those who know steady tempos only.
const STEP: Span = Span::SIXTEENTH;

impl Stretch {
    /// What comes when this one ends at `at`.
    pub(crate) fn ending_at(&self, at: Position, course: Course) -> Self {
        Self { at, begins: self.seconds_at(at), course }
    }

    /// The gradual change that goes on from this stretch at `at` and reaches `tempo` at `until`.
    pub(crate) fn gradual(&self, at: Position, until: Position, tempo: Tempo) -> Gradual {
        let (beat, square) = match self.course.after(at - self.at) {
            Course::Steady(now) => (now.beat(), squared(bpm(now))),
            Course::Gradual(now) => (now.beat, now.square),
        };
        let reached = bpm(tempo) * beats(tempo.beat(), beat);
        Gradual { beat, square, growth: (squared(reached) - square) / beats(until - at, beat) }
    }

    /// Seconds from zero at which `position` falls: exactly where that is a fraction of reasonable size.
    pub(crate) fn seconds_at(&self, position: Position) -> Exact {
        let into = position - self.at;
        match self.course {
            Course::Steady(tempo) => {
                let whole = tempo.seconds_per_whole();
                let fits = || {
                    let into = into.ratio();
                    let upper = i128::from(*into.numer()).checked_mul(*whole.numer())?;
                    let lower = i128::from(*into.denom()).checked_mul(*whole.denom())?;
                    Some(Ratio::new(upper, lower))
                };
                match fits() {
                    Some(gone) => exact::sum(self.begins, gone),
                    None => exact::kept(&(exact::wide(self.begins) + wide_ratio(into) * exact::wide(whole))),
                }
            }
            Course::Gradual(gradual) => {
                exact::kept(&(exact::wide(self.begins) + gradual.seconds_after(into)))
            }
        }
    }

    /// The same `times` over, to the nearest whole number, a half up.
    pub(crate) fn nearest_at(&self, position: Position, times: i128) -> i64 {
        let into = position - self.at;
        match self.course {
            Course::Steady(tempo) => {
                exact::nearest_along(self.begins, into.ratio(), tempo.seconds_per_whole(), times)
            }
            Course::Gradual(gradual) => {
                exact::nearest_times(&(exact::wide(self.begins) + gradual.seconds_after(into)), times)
            }
        }
    }

    /// A gradual change in steps, each of which ends when the gradual change does there.
    pub(crate) fn steps(&self, until: Option<Position>) -> Vec<TempoChange> {
        let Course::Gradual(gradual) = self.course else { return Vec::new() };
        let Some(until) = until else { return Vec::new() };
        let mut steps = Vec::new();
        let (mut at, mut reached) = (self.at, Exact::from_integer(0));
        while at < until {
            let end = (at + STEP).min(until);
            let gone = beats(end - at, gradual.beat);
            let minutes = (gradual.seconds_after(end - self.at) - exact::wide(reached)) / BigInt::from(60);
            let tempo = nearest_tempo(&(exact::wide(gone) / minutes), gradual.beat);
            reached = exact::sum(reached, gone * 60 / bpm(tempo));
            steps.push(TempoChange { at, tempo });
            at = end;
        }
        steps
    }
}

impl Course {
    /// The same from `into` on.
    pub(crate) fn after(self, into: Span) -> Self {
        match self {
            Self::Steady(_) => self,
            Self::Gradual(gradual) => {
                Self::Gradual(Gradual { square: gradual.square_after(into), ..gradual })
            }
        }
    }

    /// The tempo `into` the stretch, to the nearest thousandth of a beat a minute where it changes.
    pub(crate) fn tempo_after(self, into: Span) -> Tempo {
        match self {
            Self::Steady(tempo) => tempo,
            Self::Gradual(gradual) => {
                nearest_tempo(&exact::root(&exact::wide(gradual.square_after(into))), gradual.beat)
            }
        }
    }
}

impl Gradual {
    fn square_after(&self, into: Span) -> Exact {
        self.square + self.growth * beats(into, self.beat)
    }

    /// Seconds from its beginning: exactly where both tempos are fractions, else to 160 bits behind the point.
    fn seconds_after(&self, into: Span) -> Wide {
        let from = exact::root(&exact::wide(self.square));
        let to = exact::root(&exact::wide(self.square_after(into)));
        exact::wide(beats(into, self.beat)) * BigInt::from(120) / (from + to)
    }
}

fn squared(number: Exact) -> Exact {
    number * number
}

/// Beats a minute.
fn bpm(tempo: Tempo) -> Exact {
    Ratio::new(i128::from(*tempo.bpm().numer()), i128::from(*tempo.bpm().denom()))
}

/// How many beats long `span` is.
fn beats(span: Span, beat: Span) -> Exact {
    let (span, beat) = (span.ratio(), beat.ratio());
    let wide = |number: i64| i128::from(number);
    Ratio::new(wide(*span.numer()) * wide(*beat.denom()), wide(*span.denom()) * wide(*beat.numer()))
}

fn wide_ratio(span: Span) -> Wide {
    let ratio = span.ratio();
    Ratio::new_raw(BigInt::from(*ratio.numer()), BigInt::from(*ratio.denom()))
}

/// The tempo of so many beats a minute, to the nearest thousandth, within the limits of a tempo.
fn nearest_tempo(bpm: &Wide, beat: Span) -> Tempo {
    let thousandths = (bpm * BigInt::from(1_000)).round().to_integer().to_i64().unwrap_or(i64::MAX);
    let within = thousandths.clamp(TEMPO_BPM.least * 1_000, TEMPO_BPM.most * 1_000);
    let bpm = Ratio::new(u32::try_from(within).unwrap_or(u32::MAX), 1_000);
    Tempo::new(beat, bpm).expect("a tempo within its limits")
}
