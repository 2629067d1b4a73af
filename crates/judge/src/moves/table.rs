//! The cheapest way to every distance at every moment.

/// The least cost of being at each distance at each moment, and how one came there.
pub(super) struct Table {
    distances: usize,
    costs: Vec<f64>,
    steps: Vec<Step>,
}

/// From which distance and how many moments before; packed, for there are many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Step(u32);

impl Step {
    /// From nowhere.
    pub(super) const BEGIN: Self = Self(u32::MAX);

    pub(super) fn new(back: usize, distance: usize) -> Self {
        Self(u32::try_from(back << 8 | distance).unwrap_or(u32::MAX))
    }
}

impl Table {
    pub(super) fn new(moments: usize, distances: usize) -> Self {
        let cells = moments * distances;
        Self { distances, costs: vec![f64::MAX; cells], steps: vec![Step::BEGIN; cells] }
    }

    pub(super) fn cost(&self, k: usize, s: usize) -> f64 {
        self.costs[k * self.distances + s]
    }

    pub(super) fn offer(&mut self, k: usize, s: usize, cost: f64, step: Step) {
        let cell = k * self.distances + s;
        if cost < self.costs[cell] {
            self.costs[cell] = cost;
            self.steps[cell] = step;
        }
    }

    pub(super) fn came(&self, k: usize, s: usize) -> Option<(usize, usize)> {
        let step = self.steps[k * self.distances + s];
        (step != Step::BEGIN).then_some(((step.0 >> 8) as usize, (step.0 & 0xff) as usize))
    }
}
