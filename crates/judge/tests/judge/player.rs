use counting::TimedCount;
use judge::{Judgement, Played, Settings, judge};
use timebase::{Moment, Seconds};

pub(crate) use crate::chance::Chance;

/// A player who corrects part of each asynchrony at the next attack: A' = (1−α)A + T + ΔM, with a timekeeper of
/// standard deviation σT and a motor delay of σM.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Player {
    /// α.
    pub(crate) correction: f64,
    /// σT in ms.
    pub(crate) timekeeper_ms: f64,
    /// σM in ms.
    pub(crate) motor_ms: f64,
    /// A steady distance from the click in ms.
    pub(crate) bias_ms: f64,
    /// Percent faster than written.
    pub(crate) rush_percent: f64,
}

impl Player {
    /// The variance of the asynchronies: (σT² + 2ασM²) / (α(2−α)).
    pub(crate) fn variance(&self) -> f64 {
        let alpha = self.correction;
        (self.timekeeper_ms.powi(2) + 2.0 * alpha * self.motor_ms.powi(2)) / (alpha * (2.0 - alpha))
    }

    /// What this player's standard deviation is scaled by to come to `spread_ms`.
    pub(crate) fn with_spread(self, spread_ms: f64) -> Self {
        let scale = spread_ms / self.variance().sqrt();
        Self { timekeeper_ms: self.timekeeper_ms * scale, motor_ms: self.motor_ms * scale, ..self }
    }

    /// Plays attacks written at these moments, in ms.
    pub(crate) fn play(&self, written_ms: &[f64], chance: &mut Chance) -> Vec<Played> {
        let mut asynchrony = self.variance().sqrt() * chance.normal();
        let mut motor = self.motor_ms * chance.normal();
        let mut played = Vec::new();
        for &written in written_ms {
            let at = written / (1.0 + self.rush_percent / 100.0) + self.bias_ms + asynchrony;
            played.push(Played::new(Moment::ZERO + Seconds::from_millis_f64(at)));
            let before = std::mem::replace(&mut motor, self.motor_ms * chance.normal());
            asynchrony =
                (1.0 - self.correction) * asynchrony + self.timekeeper_ms * chance.normal() + motor - before;
        }
        played
    }
}

/// A clean player with the constants most tests use.
pub(crate) const EVEN: Player =
    Player { correction: 0.5, timekeeper_ms: 20.0, motor_ms: 10.0, bias_ms: 0.0, rush_percent: 0.0 };

/// How far the strokes of [`judged`] scatter, as a standard deviation in ms.
const SPREAD_MS: f64 = 16.0;

/// Strokes meant for these moments, in ms, by a player who is not quite even, judged as usual.
pub(crate) fn judged(counts: &[TimedCount], meant_ms: &[f64], seed: u64) -> Judgement {
    let mut chance = Chance::new(seed);
    let mut struck: Vec<f64> = meant_ms.iter().map(|at| at + SPREAD_MS * chance.normal()).collect();
    struck.sort_by(f64::total_cmp);
    judge(counts, &crate::pattern::played(struck), &Settings::default())
}
