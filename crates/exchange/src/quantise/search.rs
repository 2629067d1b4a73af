//! Which beat was meant: several are tried on the beginning, and the best are carried through.

use std::borrow::Cow;

use super::course::{Beat, Course, Plan, PlannedCell, beat, follow};
use super::heard::Heard;
use super::motion::Motion;
use super::pattern::{Patterns, Strength};
use super::posterior::{Posterior, Way};

/// Strokes on which everything is tried.
const TRIED: usize = 48;
/// Strokes on which what is left is tried again.
const TRIED_AGAIN: usize = 160;
/// How many are tried again.
const LEFT: usize = 5;
/// Rounds in which spread and beat are fitted to one another.
const ROUNDS: usize = 4;
/// The spreads of single strokes that are tried with a click, in seconds, with their chances: adults have 10 to
/// 20 ms, children more, files almost nothing.
const SPREADS: [(f64, f64); 6] =
    [(0.0012, 0.10), (0.005, 0.10), (0.010, 0.25), (0.016, 0.25), (0.025, 0.20), (0.040, 0.10)];
/// The same without a click, where the beat takes up a part of the spread.
const FREE_SPREADS: [(f64, f64); 3] = [(0.0015, 0.1), (0.008, 0.4), (0.020, 0.5)];
/// What speaks against a player who leaves the click, in nats.
const LEAVING: f64 = 3.0;
/// What a stroke weighs in the choice of the tempo, against how well the rhythm fits.
const TEMPO_WEIGHT: f64 = 0.3;

/// How a player's beat may move.
#[derive(Clone, Copy, Debug)]
pub(super) enum Style {
    /// With the click.
    Click,
    /// Away from the click, whose cells last so long.
    Leaving(f64),
    /// Without a click, cells lasting about so long.
    Alone(f64),
}

impl Style {
    fn motion(self, spread: f64) -> Motion {
        match self {
            Self::Click => Motion::with_click(spread),
            Self::Leaving(cell) => Motion::leaving(spread, cell),
            Self::Alone(cell) => Motion::alone(spread, 0.004 * cell, (0.0, spread), 0.04 * cell),
        }
    }
}

/// A beat that may have been meant.
#[derive(Clone, Debug)]
pub(super) struct Trial<'a> {
    cells: Cells<'a>,
    style: Style,
    spread: f64,
    /// What speaks for it before anything is heard.
    before: f64,
    /// What speaks for it for every stroke.
    each: f64,
}

/// The cells of a trial.
#[derive(Clone, Copy, Debug)]
enum Cells<'a> {
    Laid(&'a Plan<'a>),
    /// All alike, of length `period`, the first stroke at `part` of the first of them.
    Even {
        kinds: &'a [Patterns],
        kind: usize,
        period: f64,
        part: f64,
    },
}

/// By so much a player may get faster than at first before even cells run out, and cells more than that.
const FASTER: f64 = 1.25;
const SPARE: usize = 8;

impl<'a> Cells<'a> {
    /// The cells as far as strokes up to second `last` can reach.
    fn plan(&self, last: f64) -> Cow<'a, Plan<'a>> {
        match *self {
            Self::Laid(plan) => Cow::Borrowed(plan),
            Self::Even { kinds, kind, period, part } => {
                let cells = whole(last / period * FASTER) + SPARE;
                let expected = (0..=cells).map(|cell| (cell as f64 - part) * period).collect();
                let cells = vec![PlannedCell { kind, strength: Strength::Unknown }; cells];
                Cow::Owned(Plan { expected, kinds, cells })
            }
        }
    }
}

/// How many cells of `period` seconds strokes up to second `last` may need.
pub(super) fn cells_needed(last: f64, period: f64) -> f64 {
    last / period * FASTER + SPARE as f64
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "whoever lays cells has bounded them"
)]
fn whole(cells: f64) -> usize {
    cells.max(0.0) as usize
}

/// A beat that was carried through.
#[derive(Clone, Debug)]
pub(super) struct Found<'a> {
    pub(super) plan: Cow<'a, Plan<'a>>,
    pub(super) beat: Beat,
    pub(super) motion: Motion,
    pub(super) way: Way,
    log: f64,
}

/// All ways to be with a click or to leave it.
pub(super) fn with_click<'a>(plan: &'a Plan<'a>, cell: f64) -> Vec<Trial<'a>> {
    let styles = [(Style::Click, 0.0), (Style::Leaving(cell), -LEAVING)];
    styles
        .into_iter()
        .flat_map(|(style, before)| {
            SPREADS.map(|(spread, chance)| Trial {
                cells: Cells::Laid(plan),
                style,
                spread,
                before: before + chance.ln(),
                each: 0.0,
            })
        })
        .collect()
}

/// Cells that last `period`, the first stroke at `part` of the first of them.
pub(super) fn alone<'a>(
    kinds: &'a [Patterns],
    kind: usize,
    (period, part): (f64, f64),
    preference: f64,
) -> Vec<Trial<'a>> {
    FREE_SPREADS
        .map(|(spread, chance)| Trial {
            cells: Cells::Even { kinds, kind, period, part },
            style: Style::Alone(period),
            spread,
            before: chance.ln(),
            each: TEMPO_WEIGHT * preference,
        })
        .into()
}

impl<'a> Trial<'a> {
    fn plan(&self, heard: &Heard) -> Cow<'a, Plan<'a>> {
        self.cells.plan(heard.at.last().copied().unwrap_or_default())
    }

    /// What speaks for it after these strokes.
    fn weight(&self, heard: &Heard) -> f64 {
        let motion = self.style.motion(self.spread);
        follow(heard, &self.plan(heard), &motion)
            .map_or(f64::NEG_INFINITY, |course| self.total(course.log, heard.len()))
    }

    fn total(&self, log: f64, strokes: usize) -> f64 {
        self.before + log + self.each * strokes as f64
    }

    /// Spread and beat fitted to one another on `heard`; `None` if the strokes do not go into the plan.
    fn carried(&self, heard: &Heard) -> Option<Found<'a>> {
        let mut best: Option<Found<'a>> = None;
        let mut spread = self.spread;
        let plan = self.plan(heard);
        for _ in 0..ROUNDS {
            let motion = self.style.motion(spread);
            let course = follow(heard, &plan, &motion)?;
            let beat = beat(heard, &plan, &motion, &course);
            let (log, settled) =
                (self.total(course.log, heard.len()), (beat.spread / spread).ln().abs() < 0.03);
            spread = beat.spread;
            if best.as_ref().is_none_or(|best| log > best.log) {
                best = Some(Found { plan: plan.clone(), beat, motion, way: course.way, log });
            } else {
                break;
            }
            if settled {
                break;
            }
        }
        best
    }
}

/// The best of the trials, carried through everything heard.
pub(super) fn best<'a>(heard: &Heard, mut trials: Vec<Trial<'a>>) -> Option<Found<'a>> {
    for many in [TRIED, TRIED_AGAIN] {
        if trials.len() <= 1 {
            break;
        }
        let beginning = heard.first(many);
        let again = many > TRIED;
        if again && heard.len() <= TRIED {
            break;
        }
        let weights = trials.iter().map(|trial| trial.weight(&beginning)).collect::<Vec<_>>();
        let mut order: Vec<usize> = (0..trials.len()).collect();
        order.sort_by(|&a, &b| weights[b].total_cmp(&weights[a]));
        order.truncate(if again { 2 } else { LEFT });
        trials = order.into_iter().map(|index| trials[index].clone()).collect();
    }
    let carried = trials.iter().filter_map(|trial| trial.carried(heard));
    carried.max_by(|a, b| a.log.total_cmp(&b.log))
}

/// Rounds in which beat and rhythm are fitted to one another at the end.
const SETTLING: usize = 3;

/// The beat fitted to the most likely rhythm, and all that can be said of the rhythm then.
pub(super) fn settled<'p>(
    heard: &Heard,
    plan: &'p Plan<'p>,
    motion: &Motion,
    mut known: Beat,
) -> Option<(Beat, Posterior<'p>, Way)> {
    let mut posterior = Posterior::of(heard, plan, &known);
    let mut way = posterior.most_likely()?;
    for _ in 0..SETTLING {
        let fitted = beat(heard, plan, motion, &Course { log: 0.0, way: way.clone() });
        let again = Posterior::of(heard, plan, &fitted);
        let Some(new) = again.most_likely() else { break };
        if again.evidence < posterior.evidence {
            break;
        }
        let same = patterns(&new) == patterns(&way);
        (known, posterior, way) = (fitted, again, new);
        if same {
            break;
        }
    }
    Some((known, posterior, way))
}

fn patterns(way: &Way) -> Vec<usize> {
    way.iter().map(|(_, step)| step.pattern).collect()
}
