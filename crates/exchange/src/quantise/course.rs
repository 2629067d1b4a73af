//! The most likely way through all cells while the player's beat is followed, and the beat that comes of it.

use super::cell_steps::{Expected, Role, Scratch, Step, roles, steps};
use super::heard::{Heard, widened};
use super::motion::{Motion, State};
use super::pattern::{MEMORIES, Patterns, SILENT, Strength};

/// Places where a cell may begin among the strokes, at most, that are followed at once.
const FOLLOWED: usize = 6;
/// How far below the best a beginning is still followed, in nats.
const WORTH: f64 = 22.0;
/// How far below the best step of its cell a step is still weighed exactly.
const WEIGHED: f64 = 14.0;

/// The cells that the strokes are laid into.
#[derive(Clone, Debug)]
pub(super) struct Plan<'a> {
    /// Where each cell is expected to begin, in seconds, and last where the last one ends.
    pub(super) expected: Vec<f64>,
    /// All kinds of cells there are.
    pub(super) kinds: &'a [Patterns],
    pub(super) cells: Vec<PlannedCell>,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct PlannedCell {
    /// Which of the kinds.
    pub(super) kind: usize,
    pub(super) strength: Strength,
}

impl Plan<'_> {
    pub(super) fn patterns(&self, cell: usize) -> &Patterns {
        &self.kinds[self.cells[cell].kind]
    }

    fn lasts(&self, cell: usize) -> f64 {
        self.expected[cell + 1] - self.expected[cell]
    }

    pub(super) fn priors(&self, cell: usize, memory: usize) -> &[f64] {
        self.patterns(cell).priors(self.cells[cell].strength, memory)
    }
}

/// The way that was taken: for each cell from the first, the stroke it begins with and the step.
#[derive(Clone, Debug)]
pub(super) struct Course {
    /// The log density of everything heard, by this way.
    pub(super) log: f64,
    pub(super) way: Vec<(usize, Step)>,
}

/// A beginning of a cell among the strokes.
#[derive(Clone, Debug)]
struct Node {
    stroke: usize,
    /// Per memory: the best log density.
    log: [f64; MEMORIES],
    /// Per memory: where that came from, as node, memory and step.
    from: [Option<(usize, usize, Step)>; MEMORIES],
    /// What the best way of all knows of the player's beat, and how good that is.
    state: State,
    best: f64,
}

impl Node {
    fn at(stroke: usize, state: State) -> Self {
        Self {
            stroke,
            log: [f64::NEG_INFINITY; MEMORIES],
            from: [None; MEMORIES],
            state,
            best: f64::NEG_INFINITY,
        }
    }
}

fn expected(plan: &Plan<'_>, motion: &Motion, cell: usize, state: &State) -> Expected {
    let (from, to) = (motion.place(state, 0.0), motion.place(state, 1.0));
    let lasts = plan.lasts(cell);
    let own = motion.stroke_variance();
    Expected {
        begins: plan.expected[cell] + from.0,
        // Nobody goes four times as fast from one beat to the next.
        lasts: (lasts + to.0 - from.0).clamp(0.25 * lasts, 4.0 * lasts),
        variance: (from.1 + own, to.1 + own),
    }
}

/// The best way through the cells of `plan` that uses up every stroke, or `None` if they are too few.
pub(super) fn follow(heard: &Heard, plan: &Plan<'_>, motion: &Motion) -> Option<Course> {
    let mut first = Node::at(0, motion.start());
    first.log[SILENT] = 0.0;
    first.best = 0.0;
    let mut layers = vec![vec![first]];
    let mut ended: Option<(f64, usize, usize, usize)> = None;
    let mut scratch = Scratch::default();
    for cell in 0..plan.cells.len() {
        let layer = &layers[cell];
        let mut next: Vec<Node> = Vec::with_capacity(FOLLOWED);
        for (index, node) in layer.iter().enumerate() {
            if node.stroke == heard.len() {
                // Every stroke is used up: the rest is silence, whose chance is the same for all ways that end here.
                continue;
            }
            go_on(heard, plan, motion, cell, (index, node), &mut next, &mut scratch);
        }
        let best = next.iter().map(|node| node.best).fold(f64::NEG_INFINITY, f64::max);
        next.retain(|node| node.best > best - WORTH);
        next.sort_by(|a, b| b.best.total_cmp(&a.best));
        next.truncate(FOLLOWED);
        if let Some((index, node)) = next.iter().enumerate().find(|(_, node)| node.stroke == heard.len()) {
            for (memory, &log) in node.log.iter().enumerate() {
                if ended.is_none_or(|(before, ..)| log > before) {
                    ended = Some((log, cell + 1, index, memory));
                }
            }
        }
        let hopeless = ended.is_some_and(|(log, ..)| {
            next.iter().all(|node| node.stroke == heard.len() || node.best < log - WORTH)
        });
        layers.push(next);
        if hopeless {
            break;
        }
    }
    let (log, mut layer, mut index, mut memory) = ended?;
    let mut way = Vec::with_capacity(layer);
    while layer > 0 {
        let (from, before, step) = layers[layer][index].from[memory]?;
        layer -= 1;
        way.push((layers[layer][from].stroke, step));
        (index, memory) = (from, before);
    }
    way.reverse();
    Some(Course { log, way })
}

fn go_on(
    heard: &Heard,
    plan: &Plan<'_>,
    motion: &Motion,
    cell: usize,
    (index, node): (usize, &Node),
    next: &mut Vec<Node>,
    scratch: &mut Scratch,
) {
    let patterns = plan.patterns(cell);
    let expected = expected(plan, motion, cell, &node.state);
    let mut found = steps(heard, patterns, node.stroke, &expected, scratch);
    let rough = |step: &Step| step.log + patterns.priors(Strength::Unknown, 0)[step.pattern];
    let best = found.iter().map(rough).fold(f64::NEG_INFINITY, f64::max);
    found.retain(|step| rough(step) > best - WEIGHED);
    for mut step in found {
        let heard_here = struck(heard, plan, cell, node.stroke, &step, &expected);
        // The strokes of a cell share the player's beat: each tells where the next is to be expected.
        let mut state = node.state;
        for &(part, offset, rough) in &heard_here {
            let (after, log) = motion.struck(&state, part, offset);
            step.log += log - rough;
            state = after;
        }
        let state = motion.moved(&state);
        let place = match next.iter().position(|other| other.stroke == step.next) {
            Some(place) => place,
            None => {
                next.push(Node::at(step.next, state));
                next.len() - 1
            }
        };
        let target = &mut next[place];
        for memory in 0..MEMORIES {
            if node.log[memory] == f64::NEG_INFINITY {
                continue;
            }
            let log = node.log[memory] + plan.priors(cell, memory)[step.pattern] + step.log;
            let after = patterns.remembered(step.pattern, memory);
            if log > target.log[after] {
                target.log[after] = log;
                target.from[after] = Some((index, memory, step));
            }
            if log > target.best {
                target.best = log;
                target.state = state;
            }
        }
    }
}

/// The attacks of a step: the part of the cell, the offset from where that part was planned, and the log density that
/// was reckoned for it.
fn struck(
    heard: &Heard,
    plan: &Plan<'_>,
    cell: usize,
    from: usize,
    step: &Step,
    expected: &Expected,
) -> Vec<(f64, f64, f64)> {
    let patterns = plan.patterns(cell);
    let pattern = &patterns.list[step.pattern];
    roles(heard, patterns, from, step, expected)
        .into_iter()
        .enumerate()
        .filter_map(|(stroke, role)| match role {
            Role::Attack(index) => {
                let part = patterns.places[pattern.at[index]];
                let at = heard.at[from + stroke];
                let offset = at - plan.expected[cell] - part * plan.lasts(cell);
                Some((part, offset, expected.fit(at, part)))
            }
            Role::Grace | Role::Slip => None,
        })
        .collect()
}

/// The player's beat as it was found: where every cell begins, and how well that is known.
#[derive(Clone, Debug)]
pub(super) struct Beat {
    /// Seconds; one more than there are cells.
    pub(super) begins: Vec<f64>,
    /// The variance of each.
    pub(super) variance: Vec<f64>,
    /// The spread of single strokes about it, in seconds.
    pub(super) spread: f64,
    /// The steady bias against the click, where there is one.
    pub(super) bias: Option<f64>,
}

impl Beat {
    pub(super) fn expected(&self, cell: usize) -> Expected {
        let own = self.spread * self.spread;
        let begins = self.begins[cell];
        Expected {
            begins,
            lasts: (self.begins[cell + 1] - begins).max(1e-3),
            variance: (own + self.variance[cell], own + self.variance[cell + 1]),
        }
    }
}

/// No spread is believed below this, in seconds: files are written in milliseconds and coarser.
pub(super) const LEAST_SPREAD: f64 = 0.001;
/// As much as so many strokes, what was assumed of the spread is kept in what is found.
const ASSUMED: f64 = 3.0;

/// The beat of a player who went this way, smoothed over everything heard, and carried on to the end of the plan.
pub(super) fn beat(heard: &Heard, plan: &Plan<'_>, motion: &Motion, course: &Course) -> Beat {
    let mut cells: Vec<Vec<(f64, f64)>> = Vec::with_capacity(plan.cells.len());
    let mut state = motion.start();
    for (cell, (from, step)) in course.way.iter().enumerate() {
        let expected = expected(plan, motion, cell, &state);
        let strokes: Vec<(f64, f64)> = struck(heard, plan, cell, *from, step, &expected)
            .into_iter()
            .map(|(part, offset, _)| (part, offset))
            .collect();
        for &(part, offset) in &strokes {
            state = motion.struck(&state, part, offset).0;
        }
        state = motion.moved(&state);
        cells.push(strokes);
    }
    cells.resize(plan.cells.len(), Vec::new());
    let states = motion.smoothed(&cells);
    let (mut squares, mut many) = (ASSUMED * motion.stroke_variance(), ASSUMED);
    for (strokes, state) in cells.iter().zip(&states) {
        for &(part, offset) in strokes {
            let (middle, variance) = motion.place(state, part);
            let off = offset - middle;
            // A wild stroke tells less of the spread.
            squares += off * off / widened(off, variance + motion.stroke_variance()) + variance;
            many += 1.0;
        }
    }
    let places: Vec<(f64, f64)> = states.iter().map(|state| motion.place(state, 0.0)).collect();
    let mut begins: Vec<f64> = plan.expected.iter().zip(&places).map(|(at, place)| at + place.0).collect();
    // A beat never goes back, however it was lost.
    for index in 1..begins.len() {
        begins[index] = begins[index].max(begins[index - 1] + 0.25 * plan.lasts(index - 1));
    }
    let middle = states[states.len() / 2];
    Beat {
        begins,
        variance: places.iter().map(|place| place.1).collect(),
        spread: (squares / many).sqrt().max(LEAST_SPREAD),
        bias: motion.bias(&middle),
    }
}
