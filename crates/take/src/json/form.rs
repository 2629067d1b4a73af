//! The file forms that the journal and `take.json` share. Core types are not serde types: here they are turned into
//! their file form and back.

use serde::{Deserialize, Serialize};
use timebase::{Moment, Ratio, SampleRate, Seconds, Span, Tempo};

use super::drilled::DrilledForm;
use crate::{Absence, Click, Disturbance, Header, Instrument, PlayerNote, SoundNote};

/// Milliseconds in a file. Nanoseconds of a take (under 2^47 of them) survive the way through the float exactly.
pub(crate) fn ms(length: Seconds) -> f64 {
    length.as_millis_f64()
}

pub(crate) fn moment(ms: f64) -> Moment {
    Moment::ZERO + Seconds::from_millis_f64(ms)
}

/// Milliseconds as they are shown: to the microsecond, and never a negative zero.
pub(crate) fn shown_ms(length: Seconds) -> f64 {
    ms(Seconds::from_micros(length.as_micros()))
}

/// A number as it is shown: to three decimals, and never a negative zero.
pub(crate) fn rounded(value: f64) -> f64 {
    (value * 1e3).round() / 1e3 + 0.0
}

/// [`Header`] as it stands in a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct HeaderForm {
    title: Option<String>,
    rhythm: String,
    tempo: TempoForm,
    count_in_bars: u32,
    recorded_at: String,
    bar_one_ms: f64,
    players: Vec<PlayerForm>,
    sound: SoundForm,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    drill: Option<DrilledForm>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct TempoForm {
    /// The beat as a fraction of a whole note.
    beat: String,
    bpm: f64,
}

/// [`PlayerNote`] as it stands in a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct PlayerForm {
    player: String,
    source: String,
    latency_ms: Option<f64>,
    resolution_ms: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    instrument: Option<Instrument>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    absent: Vec<AbsenceForm>,
}

/// [`Absence`] as it stands in a file.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
struct AbsenceForm {
    from_ms: f64,
    to_ms: Option<f64>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct SoundForm {
    rate_hz: u32,
    output: Option<String>,
    input: Option<String>,
    output_latency_ms: Option<f64>,
    input_latency_ms: Option<f64>,
    latency_from: Option<String>,
}

/// [`Click`] as it stands in a file.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct ClickForm {
    at_ms: f64,
    accented: bool,
}

/// [`Disturbance`] as it stands in a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct DisturbanceForm {
    from_ms: f64,
    to_ms: f64,
    why: String,
}

impl HeaderForm {
    pub(crate) fn of(header: &Header) -> Self {
        let sound = &header.sound;
        Self {
            title: header.title.clone(),
            rhythm: header.rhythm.clone(),
            tempo: TempoForm::of(header.tempo),
            count_in_bars: header.count_in_bars,
            recorded_at: header.recorded_at.clone(),
            bar_one_ms: ms(header.bar_one.since_zero()),
            players: header.players.iter().map(PlayerForm::of).collect(),
            sound: SoundForm {
                rate_hz: sound.rate.hz(),
                output: sound.output.clone(),
                input: sound.input.clone(),
                output_latency_ms: sound.output_latency.map(ms),
                input_latency_ms: sound.input_latency.map(ms),
                latency_from: sound.latency_from.clone(),
            },
            drill: header.drill.as_ref().map(DrilledForm::of),
        }
    }

    /// The header again, without its clicks; else what is wrong with it.
    pub(crate) fn header(self) -> Result<Header, String> {
        Ok(Header {
            title: self.title,
            rhythm: self.rhythm,
            tempo: self.tempo.tempo()?,
            count_in_bars: self.count_in_bars,
            recorded_at: self.recorded_at,
            bar_one: moment(self.bar_one_ms),
            clicks: Vec::new(),
            players: self.players.into_iter().map(PlayerForm::note).collect(),
            sound: SoundNote {
                rate: SampleRate::new(self.sound.rate_hz).map_err(|e| e.to_string())?,
                output: self.sound.output,
                input: self.sound.input,
                output_latency: self.sound.output_latency_ms.map(Seconds::from_millis_f64),
                input_latency: self.sound.input_latency_ms.map(Seconds::from_millis_f64),
                latency_from: self.sound.latency_from,
            },
            drill: self.drill.map(DrilledForm::drilled).transpose()?,
        })
    }
}

impl TempoForm {
    pub(crate) fn of(tempo: Tempo) -> Self {
        Self { beat: tempo.beat().to_string(), bpm: tempo.bpm_f64() }
    }

    /// The tempo again; else what is wrong with it.
    pub(crate) fn tempo(&self) -> Result<Tempo, String> {
        let beat: Span = self.beat.parse().map_err(|e: timebase::Error| e.to_string())?;
        let bpm = ratio(self.bpm).ok_or_else(|| format!("{} is no number of beats a minute", self.bpm))?;
        Tempo::new(beat, bpm).map_err(|e| e.to_string())
    }
}

/// The ratio that a tempo's float stands for. A tempo's denominator is at most 1000, so of two such ratios no two have
/// the same float, and the one that gives it back is the one that was written.
fn ratio(bpm: f64) -> Option<Ratio<u32>> {
    (1..=1_000_u32).find_map(|parts| {
        let numerator = (bpm * f64::from(parts)).round();
        if !(1.0..=1e6).contains(&numerator) {
            return None;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a whole number between 1 and a million, as just seen"
        )]
        let numerator = numerator as u32;
        let same = (f64::from(numerator) / f64::from(parts)).to_bits() == bpm.to_bits();
        same.then(|| Ratio::new(numerator, parts))
    })
}

impl PlayerForm {
    pub(crate) fn of(note: &PlayerNote) -> Self {
        Self {
            player: note.label.clone(),
            source: note.source.clone(),
            latency_ms: note.latency.map(ms),
            resolution_ms: note.resolution.map(ms),
            instrument: note.instrument,
            absent: note.absent.iter().map(AbsenceForm::of).collect(),
        }
    }

    pub(crate) fn note(self) -> PlayerNote {
        PlayerNote {
            label: self.player,
            source: self.source,
            latency: self.latency_ms.map(Seconds::from_millis_f64),
            resolution: self.resolution_ms.map(Seconds::from_millis_f64),
            instrument: self.instrument,
            absent: self.absent.into_iter().map(AbsenceForm::absence).collect(),
        }
    }
}

impl AbsenceForm {
    fn of(absence: &Absence) -> Self {
        Self { from_ms: ms(absence.from.since_zero()), to_ms: absence.to.map(|to| ms(to.since_zero())) }
    }

    fn absence(self) -> Absence {
        Absence { from: moment(self.from_ms), to: self.to_ms.map(moment) }
    }
}

impl ClickForm {
    pub(crate) fn of(click: &Click) -> Self {
        Self { at_ms: ms(click.at.since_zero()), accented: click.accented }
    }

    pub(crate) fn click(self) -> Click {
        Click { at: moment(self.at_ms), accented: self.accented }
    }
}

impl DisturbanceForm {
    pub(crate) fn of(disturbance: &Disturbance) -> Self {
        Self {
            from_ms: ms(disturbance.from.since_zero()),
            to_ms: ms(disturbance.to.since_zero()),
            why: disturbance.why.clone(),
        }
    }

    pub(crate) fn disturbance(self) -> Disturbance {
        Disturbance { from: moment(self.from_ms), to: moment(self.to_ms), why: self.why }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_tempo_survives_the_float(numerator in 1u32..300_000, parts in 1u32..=1_000) {
            let bpm = Ratio::new(numerator, parts);
            prop_assume!(Tempo::new(Span::QUARTER, bpm).is_ok());
            let float = f64::from(*bpm.numer()) / f64::from(*bpm.denom());
            prop_assert_eq!(ratio(float), Some(bpm));
        }

        #[test]
        fn a_nanosecond_survives_the_float(nanos in 0i64..86_400_000_000_000) {
            let length = Seconds::from_nanos(nanos);
            prop_assert_eq!(moment(ms(length)).since_zero(), length);
        }
    }

    #[test]
    fn shown_milliseconds_have_three_decimals_and_no_negative_zero() {
        assert_eq!(shown_ms(Seconds::from_nanos(12_345_678)).to_string(), "12.346");
        assert_eq!(shown_ms(Seconds::from_nanos(-400)).to_string(), "0");
        assert_eq!(rounded(-2.71049).to_string(), "-2.71");
        assert_eq!(rounded(-0.0001).to_string(), "0");
    }
}
