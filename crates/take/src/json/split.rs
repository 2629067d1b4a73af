use judge::{ClockMotor, Estimate, Member, NotApplicable, PlaceOffset, Section, Split};
use serde::{Deserialize, Serialize};
use timebase::Seconds;

use super::form::{rounded, shown_ms};

/// A figure in ms and the interval that holds the true one in 95 of 100 takes, in whole steps of the stamps' resolution.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct EstimateForm {
    ms: f64,
    low_ms: f64,
    high_ms: f64,
}

/// The same in percent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PercentForm {
    percent: f64,
    low_percent: f64,
    high_percent: f64,
}

/// One player's offsets split into what they are; what too few attacks say nothing of is null.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SplitForm {
    resolution_ms: f64,
    bias: Option<EstimateForm>,
    drift: Option<PercentForm>,
    spread: Option<EstimateForm>,
    places: Vec<PlaceForm>,
    clock_motor: ClockMotorForm,
}

/// What belongs to one place in the beat or the bar.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlaceForm {
    place: String,
    attacks: usize,
    offset: EstimateForm,
    error_ms: f64,
}

/// The clock's and the hand's share of the intervals, or why it is not told.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum ClockMotorForm {
    /// Both are told.
    Told {
        /// The standard deviation of the clock.
        clock_ms: f64,
        /// The standard deviation of the motor delay.
        motor_ms: f64,
        /// So many intervals it rests on.
        intervals: usize,
        /// Each of them is written so long.
        interval_ms: f64,
    },
    /// The model does not apply.
    NotApplicable {
        /// Why.
        not_applicable: String,
    },
}

/// Several players as a section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionForm {
    members: Vec<MemberForm>,
    with_click: Option<WithClickForm>,
    with_each_other: Option<EstimateForm>,
    pulse: Vec<CommonPulseForm>,
}

/// One player against the section's common moments.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MemberForm {
    player: String,
    attacks: usize,
    distance: Option<EstimateForm>,
    steadiness: Option<EstimateForm>,
}

/// The section's common moments against the click.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WithClickForm {
    attacks: usize,
    bias: EstimateForm,
    spread: EstimateForm,
}

/// Where the section's common pulse lies at one written attack.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CommonPulseForm {
    bar: u32,
    pass: u32,
    at: String,
    offset_ms: f64,
    error_ms: f64,
    players: usize,
}

/// A length in whole steps of the resolution.
fn in_steps(length: Seconds, resolution: Seconds) -> f64 {
    shown_ms(Estimate { value: length, low: length, high: length }.shown(resolution).value)
}

/// An error in whole steps of the resolution, at least one.
fn error(length: Seconds, resolution: Seconds) -> f64 {
    in_steps(length.max(resolution), resolution)
}

impl EstimateForm {
    fn of(estimate: Estimate<Seconds>, resolution: Seconds) -> Self {
        let shown = estimate.shown(resolution);
        Self { ms: shown_ms(shown.value), low_ms: shown_ms(shown.low), high_ms: shown_ms(shown.high) }
    }
}

impl PercentForm {
    fn of(estimate: Estimate<f64>) -> Self {
        let Estimate { value, low, high } = estimate;
        Self { percent: rounded(value), low_percent: rounded(low), high_percent: rounded(high) }
    }
}

impl SplitForm {
    pub(super) fn of(split: &Split) -> Self {
        let resolution = split.resolution;
        let of = |estimate| EstimateForm::of(estimate, resolution);
        Self {
            resolution_ms: shown_ms(resolution),
            bias: split.bias.map(of),
            drift: split.drift_percent.map(PercentForm::of),
            spread: split.spread.map(of),
            places: split.places.iter().map(|place| PlaceForm::of(place, resolution)).collect(),
            clock_motor: ClockMotorForm::of(split.clock_motor, resolution),
        }
    }
}

impl PlaceForm {
    fn of(place: &PlaceOffset, resolution: Seconds) -> Self {
        Self {
            place: place.place.name().to_owned(),
            attacks: place.attacks,
            offset: EstimateForm::of(place.offset, resolution),
            error_ms: error(place.error, resolution),
        }
    }
}

impl ClockMotorForm {
    fn of(split: Result<ClockMotor, NotApplicable>, resolution: Seconds) -> Self {
        match split {
            Ok(split) => Self::Told {
                clock_ms: in_steps(split.clock, resolution),
                motor_ms: in_steps(split.motor, resolution),
                intervals: split.intervals,
                interval_ms: shown_ms(split.interval),
            },
            Err(why) => Self::NotApplicable { not_applicable: why.name().to_owned() },
        }
    }
}

impl SectionForm {
    pub(super) fn of<'a>(
        section: &Section,
        labels: impl Iterator<Item = &'a str>,
        resolution: Seconds,
    ) -> Self {
        let of = |estimate| EstimateForm::of(estimate, resolution);
        let member = |(label, member): (&str, &Member)| MemberForm {
            player: label.to_owned(),
            attacks: member.attacks,
            distance: member.distance.map(of),
            steadiness: member.steadiness.map(of),
        };
        let pulse = section.pulse.iter().map(|pulse| CommonPulseForm {
            bar: pulse.id.bar,
            pass: pulse.id.pass,
            at: pulse.id.at.to_string(),
            offset_ms: in_steps(pulse.offset, resolution),
            error_ms: error(pulse.error, resolution),
            players: pulse.players,
        });
        Self {
            members: labels.zip(&section.members).map(member).collect(),
            with_click: section.with_click.map(|with| WithClickForm {
                attacks: with.attacks,
                bias: of(with.bias),
                spread: of(with.spread),
            }),
            with_each_other: section.with_each_other.map(of),
            pulse: pulse.collect(),
        }
    }
}
