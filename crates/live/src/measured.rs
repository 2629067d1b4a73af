use timebase::{Frames, SampleRate, Seconds};

/// Latencies that were measured, each with the devices it is true of.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Measured {
    /// From a frame's reckoned moment at a loudspeaker to its reckoned moment at a microphone.
    pub loops: Vec<MeasuredLoop>,
    /// From a knock's reckoned moment at a microphone to a pad's stamp.
    pub pads: Vec<MeasuredPad>,
    /// From a click's reckoned moment to the stamps of a person who taps along.
    pub taps: Vec<MeasuredTap>,
}

/// What a loopback has measured. It is true of this output at this rate and block size; another has its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MeasuredLoop {
    /// What was played through.
    pub at: SoundAt,
    /// What was recorded from.
    pub input: String,
    /// How late.
    pub late: Seconds,
    /// How far the single measures lay apart.
    pub moved: Seconds,
}

/// An output as it ran.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SoundAt {
    /// Its name.
    pub output: String,
    /// Its rate.
    pub rate: SampleRate,
    /// Frames a block.
    pub block: Frames,
}

/// What knocks have measured.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MeasuredPad {
    /// The port.
    pub port: String,
    /// The microphone that heard the knocks.
    pub input: String,
    /// How much later the stamp is than the knock, less the microphone's own lateness.
    pub late: Seconds,
    /// How sure that is.
    pub uncertainty: Seconds,
}

/// What tapping has measured: loudspeaker, pad and the person's own lead in one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MeasuredTap {
    /// The output that clicked.
    pub at: SoundAt,
    /// What was tapped on: a port, or "keyboard".
    pub port: String,
    /// How late.
    pub late: Seconds,
    /// How sure that is, the lead not reckoned.
    pub uncertainty: Seconds,
}

/// What is taken off strokes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Latency {
    /// Off every stroke...
    pub all: Seconds,
    /// ...but those of these devices.
    pub own: Vec<(String, Seconds)>,
    /// Where it is from, in a few words.
    pub from: String,
}

impl Measured {
    /// What is taken off strokes while this output runs so.
    ///
    /// A stroke is late by the way from the loudspeaker to the ear and from the hand to the stamp. A loop measures the
    /// loudspeaker and the microphone, a knock the pad less the microphone: together they are what is wanted, the microphone
    /// gone. A loop alone is too much by the microphone's own lateness, which behind a wire is a few milliseconds.
    #[must_use]
    pub fn latency(&self, at: &SoundAt) -> Latency {
        let looped = self.loops.iter().find(|looped| looped.at == *at);
        let mut from = Vec::new();
        if looped.is_some() {
            from.push("loopback");
        }
        let all = looped.map_or(Seconds::ZERO, |looped| looped.late);
        let mut own: Vec<(String, Seconds)> = Vec::new();
        for pad in &self.pads {
            let beside = self.loops.iter().find(|looped| looped.at == *at && looped.input == pad.input);
            if let Some(looped) = beside.or(looped) {
                own.push((pad.port.clone(), looped.late + pad.late));
            }
        }
        if !own.is_empty() {
            from.push("knocks");
        }
        for tap in self.taps.iter().filter(|tap| tap.at == *at) {
            if !own.iter().any(|(port, _)| *port == tap.port) {
                own.push((tap.port.clone(), tap.late));
                from.push("tapping");
            }
        }
        from.dedup();
        Latency { all, own, from: from.join(", ") }
    }

    /// How late a microphone hears what this output plays; nothing where it was not measured.
    #[must_use]
    pub fn loop_late(&self, at: &SoundAt, input: &str) -> Option<Seconds> {
        self.loops.iter().find(|looped| looped.at == *at && looped.input == input).map(|looped| looped.late)
    }

    /// Keeps a measure in the place of the one there was of the same devices.
    pub fn keep_loop(&mut self, new: MeasuredLoop) {
        self.loops.retain(|old| old.at != new.at || old.input != new.input);
        self.loops.push(new);
    }

    /// The same for a pad.
    pub fn keep_pad(&mut self, new: MeasuredPad) {
        self.pads.retain(|old| old.port != new.port || old.input != new.input);
        self.pads.push(new);
    }

    /// The same for taps.
    pub fn keep_tap(&mut self, new: MeasuredTap) {
        self.taps.retain(|old| old.at != new.at || old.port != new.port);
        self.taps.push(new);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(block: i64) -> SoundAt {
        SoundAt { output: "Card".to_owned(), rate: SampleRate::HZ_48000, block: Frames::new(block) }
    }

    fn looped(block: i64, input: &str, ms: i64) -> MeasuredLoop {
        let (late, input) = (Seconds::from_millis(ms), input.to_owned());
        MeasuredLoop { at: at(block), input, late, moved: Seconds::ZERO }
    }

    #[test]
    fn what_was_measured_is_true_of_its_own_devices_only() {
        let mut measured = Measured::default();
        assert_eq!(measured.latency(&at(256)), Latency::default());
        measured.keep_loop(looped(256, "Mic", 9));
        measured.keep_loop(looped(256, "Mic", 7));
        measured.keep_loop(looped(128, "Mic", 4));
        let pad = |port: &str, ms| MeasuredPad {
            port: port.to_owned(),
            input: "Mic".to_owned(),
            late: Seconds::from_millis(ms),
            uncertainty: Seconds::ZERO,
        };
        measured.keep_pad(pad("Pad", 5));
        let tap = |port: &str| MeasuredTap {
            at: at(256),
            port: port.to_owned(),
            late: Seconds::from_millis(-20),
            uncertainty: Seconds::ZERO,
        };
        measured.keep_tap(tap("keyboard"));
        measured.keep_tap(tap("Pad"));
        let latency = measured.latency(&at(256));
        assert_eq!(latency.all, Seconds::from_millis(7));
        // What knocks have told comes before tapping.
        let own = [
            ("Pad".to_owned(), Seconds::from_millis(12)),
            ("keyboard".to_owned(), Seconds::from_millis(-20)),
        ];
        assert_eq!(latency.own, own);
        assert_eq!(latency.from, "loopback, knocks, tapping");
        assert_eq!(measured.latency(&at(128)).own, [("Pad".to_owned(), Seconds::from_millis(9))]);
        assert_eq!(measured.latency(&at(512)), Latency::default());
        assert_eq!(measured.loop_late(&at(128), "Mic"), Some(Seconds::from_millis(4)));
        assert_eq!(measured.loop_late(&at(128), "Line"), None);
    }
}
