//! How a player's beat moves against the expected one: a Kalman filter over cells, and its smoother.

/// Two numbers that say where the player's beat lies, and how they change from cell to cell.
///
/// With a click: how far the beat wandered off, and the steady bias it wanders about. The wandering shrinks by
/// [`CORRECTION`] a beat, as in the linear phase correction model (its gains lie between 0.2 and 0.8 for adults).
/// Without one: how far the beat lies from where it was expected, and by how much more each cell.
#[derive(Clone, Copy, Debug)]
pub(super) struct Motion {
    click: bool,
    /// Variance that a cell adds to each number.
    noise: [f64; 2],
    /// Of single strokes about the player's beat.
    variance: f64,
    start: State,
}

/// What is known of the two numbers at the beginning of a cell.
#[derive(Clone, Copy, Debug)]
pub(super) struct State {
    pub(super) mean: [f64; 2],
    /// Variance of the first, covariance, variance of the second.
    pub(super) spread: [f64; 3],
}

/// The part of an asynchrony that is taken back a beat.
const CORRECTION: f64 = 0.25;
/// Variance that the timekeeper adds a beat, in parts of a stroke's own: half its standard deviation.
const WANDER: f64 = 0.25;
/// People lead a click by some tens of milliseconds: the mean and the standard deviation of that before anything is
/// heard. Whoever spreads less leads less. Aschersleben & Prinz (1995): 30 to 50 ms on average; drummers 2 to 10 (Fujii et al. 2011); files not at all.
const LEAD: (f64, f64) = (-0.010, 0.030);
/// The spread from which on a player is taken to lead so; below, the lead shrinks with the spread.
const LEADING_SPREAD: f64 = 0.010;

fn lead(spread: f64) -> (f64, f64) {
    let part = (spread / LEADING_SPREAD).min(1.0);
    (LEAD.0 * part, LEAD.1 * part)
}

impl Motion {
    /// A player who follows a click, with so much spread in seconds.
    pub(super) fn with_click(spread: f64) -> Self {
        let variance = spread * spread;
        let (middle, unsure) = lead(spread);
        let start = State { mean: [0.0, middle], spread: [variance * 0.5, 0.0, unsure * unsure] };
        Self { click: true, noise: [WANDER * variance, 0.0], variance, start }
    }

    /// A player who goes their own way. `drift` is by how many seconds a cell may grow or shrink from one to the next,
    /// `unsure` how far the first cell may be from the expected length.
    pub(super) fn alone(spread: f64, drift: f64, lead: (f64, f64), unsure: f64) -> Self {
        let variance = spread * spread;
        let start = State { mean: [lead.0, 0.0], spread: [lead.1 * lead.1, 0.0, unsure * unsure] };
        Self { click: false, noise: [WANDER * variance, drift * drift], variance, start }
    }

    /// A player who was with a click and leaves it.
    pub(super) fn leaving(spread: f64, cell: f64) -> Self {
        Self::alone(spread, 0.003 * cell, lead(spread), 0.01 * cell)
    }

    pub(super) fn start(&self) -> State {
        self.start
    }

    pub(super) fn stroke_variance(&self) -> f64 {
        self.variance
    }

    /// How the two numbers move a place that lies at `part` of the cell.
    fn seen(&self, part: f64) -> [f64; 2] {
        if self.click { [1.0, 1.0] } else { [1.0, part] }
    }

    /// The mean and the variance of the player's beat at `part` of a cell.
    pub(super) fn place(&self, state: &State, part: f64) -> (f64, f64) {
        let [a, b] = self.seen(part);
        let [first, both, second] = state.spread;
        let variance = a * a * first + 2.0 * a * b * both + b * b * second;
        (a * state.mean[0] + b * state.mean[1], variance.max(0.0))
    }

    /// What is known at the beginning of the next cell.
    pub(super) fn moved(&self, state: &State) -> State {
        let [[a, b], [c, d]] = self.transition();
        let [first, both, second] = state.spread;
        let [x, y] = state.mean;
        State {
            mean: [a * x + b * y, c * x + d * y],
            spread: [
                a * a * first + 2.0 * a * b * both + b * b * second + self.noise[0],
                a * c * first + (a * d + b * c) * both + b * d * second,
                c * c * first + 2.0 * c * d * both + d * d * second + self.noise[1],
            ],
        }
    }

    fn transition(&self) -> [[f64; 2]; 2] {
        if self.click { [[1.0 - CORRECTION, 0.0], [0.0, 1.0]] } else { [[1.0, 1.0], [0.0, 1.0]] }
    }

    /// What is known after a stroke that fell `offset` seconds from where `part` of the cell was expected, and the log
    /// density of that.
    pub(super) fn struck(&self, state: &State, part: f64, offset: f64) -> (State, f64) {
        let [a, b] = self.seen(part);
        let [first, both, second] = state.spread;
        let (middle, variance) = self.place(state, part);
        let off = offset - middle;
        let log = super::heard::stroke(off, variance + self.variance);
        // A wild stroke tells less of the beat.
        let all = variance + self.variance * super::heard::widened(off, variance + self.variance);
        let (u, v) = (a * first + b * both, a * both + b * second);
        let (gain_u, gain_v) = (u / all, v / all);
        let after = State {
            mean: [state.mean[0] + gain_u * off, state.mean[1] + gain_v * off],
            spread: [(first - gain_u * u).max(0.0), both - gain_u * v, (second - gain_v * v).max(0.0)],
        };
        (after, log)
    }

    /// What is known of every cell's beginning when everything is heard. `cells` holds what each cell heard: the part
    /// of the cell and the offset of each stroke. One state more than there are cells (Rauch, Tung & Striebel 1965).
    pub(super) fn smoothed(&self, cells: &[Vec<(f64, f64)>]) -> Vec<State> {
        let mut filtered = Vec::with_capacity(cells.len() + 1);
        let mut state = self.start;
        for strokes in cells {
            for &(part, offset) in strokes {
                state = self.struck(&state, part, offset).0;
            }
            filtered.push(state);
            state = self.moved(&state);
        }
        let mut smoothed = vec![state; cells.len() + 1];
        for index in (0..cells.len()).rev() {
            let (here, ahead) = (filtered[index], self.moved(&filtered[index]));
            smoothed[index] = self.corrected(&here, &ahead, &smoothed[index + 1]);
        }
        smoothed
    }

    /// `here`, with what was learnt later: `ahead` is what was expected of the next cell, `known` what is known of it.
    fn corrected(&self, here: &State, ahead: &State, known: &State) -> State {
        let [p, q, r] = ahead.spread;
        let determinant = p * r - q * q;
        let [[a, b], [c, d]] = self.transition();
        let [first, both, second] = here.spread;
        // The covariance of the two numbers now with those of the next cell.
        let cross =
            [[first * a + both * b, first * c + both * d], [both * a + second * b, both * c + second * d]];
        let gain = if determinant > 1e-9 * p * r && determinant > 0.0 {
            let inverse = [[r / determinant, -q / determinant], [-q / determinant, p / determinant]];
            product(cross, inverse)
        } else if p > 0.0 {
            // One of the two is known exactly: the first carries all that can be learnt.
            [[cross[0][0] / p, 0.0], [cross[1][0] / p, 0.0]]
        } else {
            [[0.0; 2]; 2]
        };
        let learnt = [known.mean[0] - ahead.mean[0], known.mean[1] - ahead.mean[1]];
        let change = [known.spread[0] - p, known.spread[1] - q, known.spread[2] - r];
        let [[g, h], [i, j]] = gain;
        State {
            mean: [
                here.mean[0] + g * learnt[0] + h * learnt[1],
                here.mean[1] + i * learnt[0] + j * learnt[1],
            ],
            spread: [
                (first + g * g * change[0] + 2.0 * g * h * change[1] + h * h * change[2]).max(0.0),
                both + g * i * change[0] + (g * j + h * i) * change[1] + h * j * change[2],
                (second + i * i * change[0] + 2.0 * i * j * change[1] + j * j * change[2]).max(0.0),
            ],
        }
    }

    /// The steady bias of a player with a click, where the numbers tell one.
    pub(super) fn bias(&self, state: &State) -> Option<f64> {
        self.click.then_some(state.mean[1])
    }
}

fn product(a: [[f64; 2]; 2], b: [[f64; 2]; 2]) -> [[f64; 2]; 2] {
    std::array::from_fn(|row| {
        std::array::from_fn(|column| a[row][0] * b[0][column] + a[row][1] * b[1][column])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Strokes on an exact line are followed to it.
    #[test]
    fn a_steady_rush_is_followed() {
        let motion = Motion::alone(0.01, 0.002, (0.0, 0.03), 0.02);
        let cells: Vec<Vec<(f64, f64)>> = (0..40)
            .map(|cell| vec![(0.0, -0.008 * f64::from(cell)), (0.5, -0.008 * (f64::from(cell) + 0.5))])
            .collect();
        let states = motion.smoothed(&cells);
        for (cell, state) in (0..40).zip(&states) {
            assert!((state.mean[0] + 0.008 * f64::from(cell)).abs() < 1e-3, "{cell}: {state:?}");
            assert!((state.mean[1] + 0.008).abs() < 1e-3, "{cell}: {state:?}");
        }
    }

    #[test]
    fn a_steady_lead_is_found() {
        let motion = Motion::with_click(0.01);
        let cells: Vec<Vec<(f64, f64)>> = (0..40).map(|_| vec![(0.0, -0.04), (0.5, -0.04)]).collect();
        let states = motion.smoothed(&cells);
        let bias = motion.bias(&states[20]).expect("with a click");
        assert!((bias + 0.04).abs() < 3e-3, "{bias}");
        assert!((motion.place(&states[20], 0.5).0 + 0.04).abs() < 2e-3);
    }
}
