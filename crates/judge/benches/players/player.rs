//! How a person strikes what he means to strike.
//!
//! The timing is that of linear phase correction, A' = (1−α)A + T + ΔM, with a timekeeper of standard deviation σT and a motor
//! delay of σM as in Wing and Kristofferson's model; σT : σM is 2 : 1, and both are scaled so that the asynchronies come
//! to the spread that is asked for: var(A) = (σT² + 2ασM²) / (α(2−α)). On top of that every player has a steady bias
//! between −60 and +20 ms (taps lead a click by 30 to 50 ms on average, Aschersleben and Prinz 1995); half of them a
//! pulse that wanders slowly about the click, counted into the spread; a third lose attention now and then and keep time
//! 1.8 times as loosely for three strokes, not counted into it.

use judge::{Hand, Played};
use timebase::{Moment, Seconds};

use super::chance::Chance;

/// What a player means to do: one stroke.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stroke {
    /// When, in ms by the click.
    pub(crate) at_ms: f64,
    /// Which written attack it is meant for.
    pub(crate) answers: Option<usize>,
    /// Follows the stroke before by exactly so many ms: a bounce has no timing of its own.
    pub(crate) bounce_ms: Option<f64>,
    pub(crate) accent: bool,
    pub(crate) hand: Option<Hand>,
    /// How long the key is held down, in ms.
    pub(crate) held_ms: f64,
}

/// What the instrument tells beside the time.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Instrument {
    pub(crate) velocity: bool,
    pub(crate) hand: bool,
    pub(crate) release: bool,
}

/// One player.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Player {
    /// α.
    correction: f64,
    timekeeper_ms: f64,
    motor_ms: f64,
    bias_ms: f64,
    wander_ms: f64,
    wander_period_ms: f64,
    wander_phase: f64,
    lapses: bool,
}

/// One stroke as it was played.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sounded {
    pub(crate) played: Played,
    pub(crate) stroke: Stroke,
    /// How far it fell from where it was meant, the bias left out, in ms.
    pub(crate) error_ms: f64,
}

/// How hard a stroke is as a MIDI velocity, how much that scatters, and how much harder an accent is (own guess, no source): a
/// plain stroke and an accent lie seven standard deviations apart, so that each can be told.
const VELOCITY: f64 = 64.0;
const VELOCITY_SPREAD: f64 = 5.0;
const ACCENT: f64 = 36.0;
/// How much looser a player is whose attention lapses, and for how many strokes.
const LAPSE: f64 = 1.8;
const LAPSE_STROKES: u32 = 3;
/// A key is let go at the latest at this share of the time to the next stroke: it must come up before it goes down.
const UP_BEFORE_NEXT: f64 = 0.92;
/// No hand strikes again sooner.
const SOONEST_MS: f64 = 20.0;

impl Player {
    /// Any player of this spread.
    pub(crate) fn any(spread_ms: f64, chance: &mut Chance) -> Self {
        let correction = chance.between(0.25, 0.8);
        let wander_ms = if chance.percent(50) { chance.between(0.3, 0.7) * spread_ms } else { 0.0 };
        // A sine has half its amplitude squared as variance.
        let left = (spread_ms.powi(2) - wander_ms.powi(2) / 2.0).sqrt();
        let (timekeeper, motor) = (2.0_f64, 1.0_f64);
        let variance =
            (timekeeper.powi(2) + 2.0 * correction * motor.powi(2)) / (correction * (2.0 - correction));
        let scale = left / variance.sqrt();
        Self {
            correction,
            timekeeper_ms: timekeeper * scale,
            motor_ms: motor * scale,
            bias_ms: chance.between(-60.0, 20.0),
            wander_ms,
            wander_period_ms: chance.between(12_000.0, 40_000.0),
            wander_phase: chance.between(0.0, std::f64::consts::TAU),
            lapses: chance.percent(33),
        }
    }

    /// Plays strokes in the order they are meant in.
    pub(crate) fn play(
        &self,
        strokes: &[Stroke],
        instrument: Instrument,
        chance: &mut Chance,
    ) -> Vec<Sounded> {
        let variance = (self.timekeeper_ms.powi(2) + 2.0 * self.correction * self.motor_ms.powi(2))
            / (self.correction * (2.0 - self.correction));
        let mut asynchrony = variance.sqrt() * chance.normal();
        let mut motor = self.motor_ms * chance.normal();
        let mut lapse = 0;
        let mut sounded: Vec<Sounded> = Vec::with_capacity(strokes.len());
        for stroke in strokes {
            let before = sounded.last().map(|sounded| sounded.played.at.as_millis_f64());
            let turn = std::f64::consts::TAU * stroke.at_ms / self.wander_period_ms + self.wander_phase;
            let own = stroke.at_ms + self.bias_ms + asynchrony + self.wander_ms * turn.sin();
            let at_ms = match (stroke.bounce_ms, before) {
                (Some(bounce), Some(before)) => before + bounce,
                (None, Some(before)) => own.max(before + SOONEST_MS),
                (_, None) => own,
            };
            let error_ms = at_ms - stroke.at_ms - self.bias_ms;
            sounded.push(Sounded {
                played: sound(stroke, at_ms, instrument, chance),
                stroke: *stroke,
                error_ms,
            });
            if stroke.bounce_ms.is_some() {
                continue;
            }
            lapse = if lapse > 0 {
                lapse - 1
            } else if self.lapses && chance.percent(2) {
                LAPSE_STROKES
            } else {
                0
            };
            let loose = if lapse > 0 { LAPSE } else { 1.0 };
            let last = std::mem::replace(&mut motor, self.motor_ms * chance.normal());
            let timekeeper = loose * self.timekeeper_ms * chance.normal();
            asynchrony = (1.0 - self.correction) * asynchrony + timekeeper + motor - last;
        }
        let_go_in_time(&mut sounded);
        sounded
    }
}

fn let_go_in_time(sounded: &mut [Sounded]) {
    for index in 1..sounded.len() {
        let next = sounded[index].played.at;
        let played = &mut sounded[index - 1].played;
        let latest = moment(
            played.at.as_millis_f64() + UP_BEFORE_NEXT * (next.as_millis_f64() - played.at.as_millis_f64()),
        );
        played.released = played.released.map(|released| released.min(latest));
    }
}

fn moment(ms: f64) -> Moment {
    Moment::ZERO + Seconds::from_millis_f64(ms)
}

fn sound(stroke: &Stroke, at_ms: f64, instrument: Instrument, chance: &mut Chance) -> Played {
    let mut played = Played::new(moment(at_ms));
    let accent = if stroke.accent { ACCENT } else { 0.0 };
    let velocity = (VELOCITY + accent + VELOCITY_SPREAD * chance.normal()).clamp(1.0, 127.0);
    if instrument.velocity {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 1 to 127")]
        let velocity = velocity as u8;
        played = played.with_velocity(velocity);
    }
    let loose = 1.0 + 0.08 * chance.normal().clamp(-3.0, 3.0);
    if instrument.release {
        played = played.with_release(moment(at_ms + (stroke.held_ms * loose).max(20.0)));
    }
    // Where pads tell the hand, every stroke has one.
    let any = if chance.percent(50) { Hand::Right } else { Hand::Left };
    if instrument.hand { played.with_hand(stroke.hand.unwrap_or(any)) } else { played }
}
