use timebase::{Moment, Seconds};

use sequencer::{Levels, Plan};

use super::{CalibrationError, Typical, taps};
use crate::{Drill, MeasuredTap, PlayerState, SoundAt};

/// Tapped along with: six bars of quarters at 100.
const CLICK: &str = "meter: 4/4\ntempo: quarter = 100\n|: 1 2 3 4 :| 6 times\n";

/// A click to be tapped along with, and what is made of the taps.
#[derive(Clone, Debug)]
pub struct Tapping {
    drill: Drill,
    clicks: Vec<Moment>,
}

impl Tapping {
    /// Six bars of quarters at 100 after one bar of count-in, nothing sounding but the click.
    ///
    /// # Errors
    /// If the click cannot be read, which is a fault of this program.
    pub fn new() -> Result<Self, CalibrationError> {
        let unread = || CalibrationError::Lost { why: "the click cannot be read".to_owned() };
        let rhythm = rhythm::text::read(CLICK).rhythm.ok_or_else(unread)?;
        let plan = Plan::of(&rhythm);
        let sequence = sequencer::sequence(&rhythm, &counting::count(&rhythm), &plan);
        let clicks = sequence.counts().iter().map(|count| count.at).collect();
        let levels = Levels { count: 0.0, clap: 0.0, ..Levels::default() };
        let drill = Drill { levels, latency: Some(Seconds::ZERO), ..Drill::new(rhythm, plan) };
        Ok(Self { drill, clicks })
    }

    /// What is to be played. Its click alone sounds, no take is kept and no latency taken off.
    #[must_use]
    pub fn drill(&self) -> Drill {
        self.drill.clone()
    }

    /// How late the one is who tapped the most, when the drill is over; `at` is the output as it ran.
    ///
    /// # Errors
    /// If too few taps fell near a click.
    pub fn measured(
        &self,
        players: &[PlayerState],
        at: SoundAt,
    ) -> Result<(MeasuredTap, Typical), CalibrationError> {
        let tapped = players.iter().max_by_key(|player| player.judgement.attacks().len());
        let of = |player: &PlayerState| -> Vec<Moment> {
            player.judgement.attacks().iter().map(|attack| attack.played.at).collect()
        };
        let late = taps(&tapped.map(of).unwrap_or_default(), &self.clicks)?;
        let port = tapped.map_or_else(String::new, |player| player.source.clone());
        Ok((MeasuredTap { at, port, late: late.median, uncertainty: late.uncertainty }, late))
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use judge::{Played, Settings, judge};
    use timebase::{Frames, SampleRate, TempoMap};

    use super::*;

    #[test]
    fn the_one_who_tapped_most_is_measured() {
        let tapping = Tapping::new().expect("a click");
        let rhythm = &tapping.drill.rhythm;
        let tempo = TempoMap::constant(rhythm.tempo());
        let counts = counting::count(rhythm).timed(rhythm, &rhythm.performance(), &tempo);
        let state = |label: &str, ms: i64, of: usize| {
            let taps: Vec<Played> = tapping
                .clicks
                .iter()
                .take(of)
                .map(|&at| Played::new(at + Seconds::from_millis(ms)))
                .collect();
            let judgement = Arc::new(judge(&counts, &taps, &Settings::default()));
            let source = format!("pad of {label}");
            PlayerState {
                label: label.to_owned(),
                source,
                missing: Vec::new(),
                is_there: true,
                held: Vec::new(),
                resolution: None,
                shaken: 0,
                judgement,
            }
        };
        let at = SoundAt { output: "Card".to_owned(), rate: SampleRate::HZ_48000, block: Frames::new(256) };
        let players = [state("P1", 90, 4), state("P2", -25, 24)];
        let (tap, typical) = tapping.measured(&players, at.clone()).expect("enough");
        assert_eq!(
            (tap.port.as_str(), tap.late, typical.count),
            ("pad of P2", Seconds::from_millis(-25), 20)
        );
        assert_eq!(tap.at, at);
        assert!(tapping.measured(&players[..1], at.clone()).is_err(), "four taps are too few");
        assert!(tapping.measured(&[], at).is_err());
    }
}
