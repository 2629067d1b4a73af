use timebase::{Moment, Seconds};

/// One stroke that is to be written down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tap {
    /// When it fell.
    pub at: Moment,
    /// When it was let go; `None` where that is not known, as on most pads.
    pub released: Option<Moment>,
    /// How hard, 1 to 127; `None` where that is not known.
    pub velocity: Option<u8>,
}

impl Tap {
    /// A stroke of which nothing is known but its time.
    #[must_use]
    pub const fn new(at: Moment) -> Self {
        Self { at, released: None, velocity: None }
    }
}

/// Strokes nearer than this are one: the fingers of a chord fall within 20 to 30 ms of one another.
const CHORD: f64 = 0.025;
/// Between the strokes of a flam: 25 to 50 ms, second-hand from studies of drummers; the mean and the spread taken here.
const FLAM: (f64, f64) = (0.038, 0.009);
/// No flam is wider than this.
const FLAM_WIDEST: f64 = 0.06;
/// How many attacks of a hundred have a grace stroke before them.
const FLAM_CHANCE: f64 = 0.02;
/// The log density of a stroke that means nothing: hardly anybody who taps an exercise in does it. ln 10⁻⁵ a second.
pub(super) const SLIP: f64 = -11.5;

/// Of a hundred strokes three are wild: spread three times as wide. The log of that, and of the third of the density.
const WILD: f64 = -4.605;
const WIDER: f64 = 9.0;

/// The strokes in order, chords made one.
#[derive(Clone, Debug, Default)]
pub(super) struct Heard {
    /// Seconds from the origin.
    pub(super) at: Vec<f64>,
    /// The log density of leading into the next as its grace stroke; minus infinity where that cannot be.
    pub(super) grace: Vec<f64>,
    pub(super) released: Vec<Option<f64>>,
    pub(super) velocity: Vec<Option<u8>>,
    /// Each in the time of the taps.
    pub(super) moment: Vec<Moment>,
}

impl Heard {
    /// `step` is the shortest time in seconds between two written places, if that is known.
    pub(super) fn of(taps: &[Tap], origin: Moment, step: Option<f64>, flams: bool) -> Self {
        let mut taps = taps.to_vec();
        taps.sort_by_key(|tap| tap.at);
        let chord = step.map_or(CHORD, |step| CHORD.min(0.3 * step));
        let seconds = |moment: Moment| (moment - origin).as_secs_f64();
        let mut heard = Self::default();
        let mut rest = taps.as_slice();
        while let Some(first) = rest.first() {
            let many = rest.partition_point(|tap| (tap.at - first.at).as_secs_f64() <= chord);
            let (together, later) = rest.split_at(many);
            let sum: f64 = together.iter().map(|tap| (tap.at - first.at).as_secs_f64()).sum();
            let moment = first.at + Seconds::from_secs_f64(sum / together.len() as f64);
            heard.moment.push(moment);
            heard.at.push(seconds(moment));
            heard.released.push(together.iter().filter_map(|tap| tap.released).max().map(seconds));
            heard.velocity.push(together.iter().filter_map(|tap| tap.velocity).max());
            rest = later;
        }
        let gaps = heard.at.windows(2).map(|pair| pair[1] - pair[0]);
        let leads = |gap: f64| {
            if flams && gap <= FLAM_WIDEST {
                FLAM_CHANCE.ln() + normal(gap - FLAM.0, FLAM.1 * FLAM.1)
            } else {
                f64::NEG_INFINITY
            }
        };
        heard.grace = gaps.map(leads).chain([f64::NEG_INFINITY]).take(heard.at.len()).collect();
        heard
    }

    pub(super) fn len(&self) -> usize {
        self.at.len()
    }

    /// The first so many of them.
    pub(super) fn first(&self, many: usize) -> Self {
        let many = many.min(self.len());
        let mut grace = self.grace[..many].to_vec();
        // What it would lead into is not there.
        if let Some(last) = grace.last_mut() {
            *last = f64::NEG_INFINITY;
        }
        Self {
            at: self.at[..many].to_vec(),
            grace,
            released: self.released[..many].to_vec(),
            velocity: self.velocity[..many].to_vec(),
            moment: self.moment[..many].to_vec(),
        }
    }
}

/// The log density of a stroke at `distance` from its place: normal with `variance`, or wild, whichever is likelier.
pub(super) fn stroke(distance: f64, variance: f64) -> f64 {
    let squares = 0.5 * distance * distance / variance;
    let off = squares.min(squares / WIDER - WILD);
    -off - 0.5 * (std::f64::consts::TAU * variance).ln()
}

/// How many times wider than usual the variance of a stroke is that fell at `distance` from its place.
pub(super) fn widened(distance: f64, variance: f64) -> f64 {
    let squares = 0.5 * distance * distance / variance;
    if squares > squares / WIDER - WILD { WIDER } else { 1.0 }
}

/// The log density of a normal distribution at `distance` from its mean.
pub(super) fn normal(distance: f64, variance: f64) -> f64 {
    -0.5 * (distance * distance / variance + (std::f64::consts::TAU * variance).ln())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(ms: &[i64], flams: bool) -> Heard {
        let taps: Vec<Tap> = ms.iter().map(|&ms| Tap::new(Moment::ZERO + Seconds::from_millis(ms))).collect();
        Heard::of(&taps, Moment::ZERO, None, flams)
    }

    /// Nobody is certain of a stroke that lies off everything.
    #[test]
    fn a_wild_stroke_costs_less_than_a_normal_one_would() {
        assert!((stroke(0.01, 1e-4) - normal(0.01, 1e-4)).abs() < 1e-12);
        assert!(stroke(0.06, 1e-4) > normal(0.06, 1e-4) + 5.0);
        assert!(widened(0.06, 1e-4) > widened(0.02, 1e-4));
    }

    #[test]
    fn a_chord_is_one_stroke_and_a_flam_is_two() {
        let chord = heard(&[500, 0, 10, 20], true);
        assert_eq!(chord.at, [0.01, 0.5]);
        let flam = heard(&[0, 35, 500], true);
        assert_eq!(flam.len(), 3);
        assert!(flam.grace[0] > -2.0 && flam.grace[1] == f64::NEG_INFINITY, "{:?}", flam.grace);
        assert_eq!(heard(&[0, 35, 500], false).grace, [f64::NEG_INFINITY; 3]);
    }
}
