use timebase::Seconds;
use timebase::limits::Limit;

use crate::Error;
use crate::limits::{GATE_MS, TOLERANCE_MS, holds_ms};

/// What the teacher sets: how strict to be, and which attack may answer which note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    tolerance: Seconds,
    gate: Gate,
    tempo: TempoOf,
    resolution: Seconds,
    releases: Releases,
    task: Task,
    delay: Delay,
}

/// What is known of the releases of strokes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Releases {
    /// Nothing: where most strokes are let go at once they come from a pad, and nothing is said of lengths.
    #[default]
    Unknown,
    /// They are those of keys: however short they were held, that is how long.
    OfKeys,
}

/// What is known of the delay of pads, microphone and loudspeaker.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Delay {
    /// Nothing: it is in every distance from the click, and nothing is said of the player being ahead of it or behind.
    #[default]
    Unknown,
    /// It was measured and taken off: a distance from the click is the player's own.
    TakenOff,
}

/// What a player is to strike.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Task {
    /// The written attacks.
    #[default]
    Rhythm,
    /// Every felt beat of every bar, whatever is written there: a pedal that keeps the pulse.
    Pulse,
}

/// Whose tempo a take was played in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum TempoOf {
    /// The click's, which everybody heard: times are those of the click, and a distance from it is the player's.
    #[default]
    Click,
    /// The player's own, with no click: neither when he began nor how fast is known. Both are found from the strokes,
    /// between two fifths and two and a half times the written tempo; nothing is then said of a distance from the click.
    Player,
    /// The written one, by a click of which is not known where it lies in the recording: times are from where the strokes fit the
    /// rhythm best ([`crate::beginning`]). Nothing is said of a distance from the click.
    Written,
}

/// Which attacks may answer a written note. A question apart from the tolerance: an attack 120 ms late
/// answers its note and is late, and it is the gate, not the tolerance, that lets it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gate {
    /// The gate follows the player's own pulse, wherever steady bias and drift have carried it, and reaches
    /// half-way to the neighbouring written attacks, but `most` at the outside. Where notes are closer than the player is
    /// steady it reaches up to the neighbours, and order decides.
    Following {
        /// The widest it opens to either side, within [`GATE_MS`].
        most: Seconds,
    },
    /// This window about the click, both ends included, whatever the neighbours and the player: as many
    /// notes are answered as can be, and among the ways to do that the closest is taken. The practice of
    /// evaluating onsets with a window of ±50 ms.
    Fixed(Seconds),
}

impl Settings {
    /// ±50 ms: the usual window for onsets; which child needs which is the teacher's to say.
    pub const DEFAULT_TOLERANCE: Seconds = Seconds::from_millis(50);

    /// What the stamps of pads and keyboards are worth at best: MIDI takes about a millisecond to send a note.
    pub const DEFAULT_RESOLUTION: Seconds = Seconds::from_millis(1);

    /// These settings with another tolerance to either side.
    ///
    /// # Errors
    /// Outside [`TOLERANCE_MS`].
    pub fn with_tolerance(self, tolerance: Seconds) -> Result<Self, Error> {
        allowed(tolerance, TOLERANCE_MS)?;
        Ok(Self { tolerance, ..self })
    }

    /// These settings with another gate.
    ///
    /// # Errors
    /// If its width lies outside [`GATE_MS`].
    pub fn with_gate(self, gate: Gate) -> Result<Self, Error> {
        let (Gate::Following { most: width } | Gate::Fixed(width)) = gate;
        allowed(width, GATE_MS)?;
        Ok(Self { gate, ..self })
    }

    /// These settings for a take in another tempo.
    #[must_use]
    pub fn with_tempo_of(self, tempo: TempoOf) -> Self {
        Self { tempo, ..self }
    }

    /// These settings for stamps that are worth so much; less than [`Self::DEFAULT_RESOLUTION`] is taken for that.
    #[must_use]
    pub fn with_resolution(self, resolution: Seconds) -> Self {
        Self { resolution: resolution.max(Self::DEFAULT_RESOLUTION), ..self }
    }

    /// These settings for strokes of whose releases so much is known.
    #[must_use]
    pub fn with_releases(self, releases: Releases) -> Self {
        Self { releases, ..self }
    }

    /// These settings for a player who is to strike this.
    #[must_use]
    pub fn with_task(self, task: Task) -> Self {
        Self { task, ..self }
    }

    /// These settings for strokes of whose delay so much is known.
    #[must_use]
    pub fn with_delay(self, delay: Delay) -> Self {
        Self { delay, ..self }
    }

    /// What is known of the equipment's delay.
    #[must_use]
    pub fn delay(&self) -> Delay {
        self.delay
    }

    /// What is known of releases.
    #[must_use]
    pub fn releases(&self) -> Releases {
        self.releases
    }

    /// What is to be struck.
    #[must_use]
    pub fn task(&self) -> Task {
        self.task
    }

    /// What the stamps of the strokes are worth: no sentence names a time finer, and nothing nearer to a limit than that is told
    /// as beyond it.
    #[must_use]
    pub fn resolution(&self) -> Seconds {
        self.resolution
    }

    /// Whose tempo the take was played in.
    #[must_use]
    pub fn tempo_of(&self) -> TempoOf {
        self.tempo
    }

    /// How far from the player's own bias an attack is still on time, before the neighbours have their say.
    #[must_use]
    pub fn tolerance(&self) -> Seconds {
        self.tolerance
    }

    /// Which attacks may answer a note.
    #[must_use]
    pub fn gate(&self) -> Gate {
        self.gate
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            tolerance: Self::DEFAULT_TOLERANCE,
            gate: Gate::default(),
            tempo: TempoOf::Click,
            resolution: Self::DEFAULT_RESOLUTION,
            releases: Releases::Unknown,
            task: Task::Rhythm,
            delay: Delay::Unknown,
        }
    }
}

impl Default for Gate {
    /// Following, at most 250 ms: half a beat at 60 to the minute, so that a stroke on the "&" of a slow beat answers neither number.
    fn default() -> Self {
        Self::Following { most: Seconds::from_millis(250) }
    }
}

fn allowed(given: Seconds, limit: Limit) -> Result<(), Error> {
    if holds_ms(&limit, given) {
        Ok(())
    } else {
        Err(Error::OutOfRange { given: given.as_millis_f64().to_string(), limit })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_outside_their_limit_are_refused_with_the_limit() {
        let check = |tolerance_ms, expected: Option<&str>| {
            let result = Settings::default().with_tolerance(Seconds::from_millis_f64(tolerance_ms));
            assert_eq!(result.err().map(|error| error.to_string()).as_deref(), expected);
        };
        check(5.0, None);
        check(250.0, None);
        check(4.999, Some("4.999 is not a tolerance in ms: it goes from 5 to 250"));
        check(-50.0, Some("-50 is not a tolerance in ms: it goes from 5 to 250"));
        let wide = Settings::default().with_gate(Gate::Fixed(Seconds::from_millis(1_001)));
        assert_eq!(
            wide.expect_err("too wide").to_string(),
            "1001 is not a gate in ms: it goes from 5 to 1000"
        );
    }
}
