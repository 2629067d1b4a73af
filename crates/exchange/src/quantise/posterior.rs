//! With the player's beat known: the most likely rhythm, and how likely each bar of it is, by summing over all ways.

use std::ops::Range;

use super::cell_steps::{Scratch, Step, steps};
use super::course::{Beat, Plan};
use super::heard::Heard;
use super::pattern::{MEMORIES, SILENT, log_sum};

/// Beginnings of a cell that are kept.
const KEPT: usize = 8;
/// How far below the best a beginning is still summed, in nats.
const WORTH: f64 = 30.0;
/// Readings of a bar that are less likely than this are not followed.
const FAINT: f64 = 1e-4;

/// How some cells were filled: for each, the stroke it begins with and the step.
pub(super) type Way = Vec<(usize, Step)>;

/// A beginning of a cell, and the steps from it.
#[derive(Clone, Debug)]
struct Node {
    stroke: usize,
    /// Per memory: the log of the sum of all ways to here.
    forward: [f64; MEMORIES],
    /// The same of all ways from here to the end.
    backward: [f64; MEMORIES],
    /// Per memory: the best single way to here.
    best: [f64; MEMORIES],
    from: [Option<(usize, usize, Step)>; MEMORIES],
    steps: Vec<Step>,
}

impl Node {
    fn at(stroke: usize) -> Self {
        Self {
            stroke,
            forward: [f64::NEG_INFINITY; MEMORIES],
            backward: [f64::NEG_INFINITY; MEMORIES],
            best: [f64::NEG_INFINITY; MEMORIES],
            from: [None; MEMORIES],
            steps: Vec::new(),
        }
    }

    fn weight(&self) -> f64 {
        self.forward.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }
}

/// Everything that can be said about the cells, given the beat.
#[derive(Debug)]
pub(super) struct Posterior<'a> {
    plan: &'a Plan<'a>,
    layers: Vec<Vec<Node>>,
    /// The log density of everything heard, over all ways.
    pub(super) evidence: f64,
}

/// One reading of a bar.
#[derive(Clone, Debug)]
pub(super) struct Reading {
    /// Its most likely way.
    pub(super) way: Way,
    /// How likely it is, 0 to 1.
    pub(super) probability: f64,
}

impl<'a> Posterior<'a> {
    pub(super) fn of(heard: &Heard, plan: &'a Plan<'a>, beat: &Beat) -> Self {
        let mut first = Node::at(0);
        (first.forward[SILENT], first.best[SILENT]) = (0.0, 0.0);
        let mut layers = vec![vec![first]];
        let mut scratch = Scratch::default();
        for cell in 0..plan.cells.len() {
            let mut next: Vec<Node> = Vec::new();
            let expected = beat.expected(cell);
            for (index, node) in layers[cell].iter_mut().enumerate() {
                node.steps = steps(heard, plan.patterns(cell), node.stroke, &expected, &mut scratch);
                spread(plan, cell, (index, node), &mut next);
            }
            let best = next.iter().map(Node::weight).fold(f64::NEG_INFINITY, f64::max);
            let last = cell + 1 == plan.cells.len();
            next.retain(|node| {
                // Behind the last cell no stroke may be left.
                if last { node.stroke == heard.len() } else { node.weight() > best - WORTH }
            });
            next.sort_by(|a, b| b.weight().total_cmp(&a.weight()));
            next.truncate(KEPT);
            layers.push(next);
        }
        let mut posterior = Self { plan, layers, evidence: f64::NEG_INFINITY };
        posterior.go_back();
        posterior
    }

    fn go_back(&mut self) {
        let ends = self.layers.len() - 1;
        for node in &mut self.layers[ends] {
            node.backward = [0.0; MEMORIES];
        }
        for cell in (0..ends).rev() {
            let (before, after) = self.layers.split_at_mut(cell + 1);
            let (layer, next) = (&mut before[cell], &after[0]);
            for node in layer {
                for memory in 0..MEMORIES {
                    if node.forward[memory] == f64::NEG_INFINITY {
                        continue;
                    }
                    let logs = node.steps.iter().filter_map(|step| {
                        let after = self.plan.patterns(cell).remembered(step.pattern, memory);
                        let target = next.iter().find(|target| target.stroke == step.next)?;
                        let prior = self.plan.priors(cell, memory)[step.pattern];
                        Some(prior + step.log + target.backward[after])
                    });
                    node.backward[memory] = log_sum(logs.collect::<Vec<_>>().into_iter());
                }
            }
        }
        self.evidence = self.layers[0][0].backward[SILENT];
    }

    /// The most likely way through all cells; `None` where the strokes do not go into them.
    pub(super) fn most_likely(&self) -> Option<Way> {
        let ends = self.layers.last()?;
        let (mut index, mut memory) = ends
            .iter()
            .enumerate()
            .flat_map(|(index, node)| (0..MEMORIES).map(move |memory| (index, memory, node.best[memory])))
            .filter(|(.., log)| *log > f64::NEG_INFINITY)
            .max_by(|a, b| a.2.total_cmp(&b.2))
            .map(|(index, memory, _)| (index, memory))?;
        let mut way = Vec::with_capacity(self.plan.cells.len());
        for cell in (0..self.plan.cells.len()).rev() {
            let (from, before, step) = self.layers[cell + 1][index].from[memory]?;
            way.push((self.layers[cell][from].stroke, step));
            (index, memory) = (from, before);
        }
        way.reverse();
        Some(way)
    }

    /// The likeliest readings of `cells`, at most so many, the likeliest first.
    pub(super) fn readings(&self, cells: Range<usize>, most: usize) -> Vec<Reading> {
        let mut partial: Vec<Partial> = Vec::new();
        for node in &self.layers[cells.start] {
            for memory in 0..MEMORIES {
                let log = node.forward[memory] - self.evidence;
                if log + node.backward[memory] > FAINT.ln() {
                    partial.push(Partial { stroke: node.stroke, memory, way: Vec::new(), log, best: log });
                }
            }
        }
        for cell in cells.clone() {
            partial = self.extended(cell, &partial);
        }
        let mut readings: Vec<(Vec<usize>, Partial)> = Vec::new();
        for mut one in partial {
            let Some(node) = self.layers[cells.end].iter().find(|node| node.stroke == one.stroke) else {
                continue;
            };
            one.log += node.backward[one.memory];
            one.best += node.backward[one.memory];
            let name: Vec<usize> = one.way.iter().map(|(_, step)| step.pattern).collect();
            match readings.iter_mut().find(|(other, _)| *other == name) {
                Some((_, other)) => other.join(one),
                None => readings.push((name, one)),
            }
        }
        let mut readings: Vec<Reading> = readings
            .into_iter()
            .map(|(_, one)| Reading { way: one.way, probability: one.log.exp().min(1.0) })
            .collect();
        readings.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        readings.truncate(most);
        readings
    }

    fn extended(&self, cell: usize, partial: &[Partial]) -> Vec<Partial> {
        let patterns = self.plan.patterns(cell);
        let mut longer: Vec<Partial> = Vec::new();
        for one in partial {
            let Some(node) = self.layers[cell].iter().find(|node| node.stroke == one.stroke) else {
                continue;
            };
            for step in &node.steps {
                let Some(target) = self.layers[cell + 1].iter().find(|node| node.stroke == step.next) else {
                    continue;
                };
                let memory = patterns.remembered(step.pattern, one.memory);
                let more = self.plan.priors(cell, one.memory)[step.pattern] + step.log;
                if one.log + more + target.backward[memory] < FAINT.ln() {
                    continue;
                }
                let mut way = one.way.clone();
                way.push((one.stroke, *step));
                let new =
                    Partial { stroke: step.next, memory, way, log: one.log + more, best: one.best + more };
                match longer.iter_mut().find(|other| other.same(&new)) {
                    Some(other) => other.join(new),
                    None => longer.push(new),
                }
            }
        }
        longer
    }
}

/// The beginning of a reading of a bar.
#[derive(Clone, Debug)]
struct Partial {
    stroke: usize,
    memory: usize,
    way: Way,
    /// Of all ways that read the same.
    log: f64,
    /// Of this way alone.
    best: f64,
}

impl Partial {
    /// Whether both read the same and can go on alike.
    fn same(&self, other: &Self) -> bool {
        let patterns = |one: &Self| one.way.iter().map(|(_, step)| step.pattern).collect::<Vec<_>>();
        self.stroke == other.stroke && self.memory == other.memory && patterns(self) == patterns(other)
    }

    fn join(&mut self, other: Self) {
        self.log = log_sum([self.log, other.log].into_iter());
        if other.best > self.best {
            (self.best, self.way) = (other.best, other.way);
        }
    }
}

fn spread(plan: &Plan<'_>, cell: usize, (index, node): (usize, &Node), next: &mut Vec<Node>) {
    let patterns = plan.patterns(cell);
    for step in &node.steps {
        let place = match next.iter().position(|other| other.stroke == step.next) {
            Some(place) => place,
            None => {
                next.push(Node::at(step.next));
                next.len() - 1
            }
        };
        let target = &mut next[place];
        for memory in 0..MEMORIES {
            if node.forward[memory] == f64::NEG_INFINITY {
                continue;
            }
            let after = patterns.remembered(step.pattern, memory);
            let more = plan.priors(cell, memory)[step.pattern] + step.log;
            target.forward[after] = log_sum([target.forward[after], node.forward[memory] + more].into_iter());
            if node.best[memory] + more > target.best[after] {
                target.best[after] = node.best[memory] + more;
                target.from[after] = Some((index, memory, *step));
            }
        }
    }
}
