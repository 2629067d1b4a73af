use rhythm::Rhythm;
use sequencer::Sequence;
use serde::{Deserialize, Serialize};
use timebase::{Moment, Position, SampleRate, Seconds, Tempo};

use crate::{Click, Drilled};

/// What is known of a take when it begins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Header {
    /// The title of the rhythm, if it has one.
    pub title: Option<String>,
    /// The rhythm as rhythm text, so that the take can be judged again without any other file.
    pub rhythm: String,
    /// How fast it was played.
    pub tempo: Tempo,
    /// Bars counted in.
    pub count_in_bars: u32,
    /// When it was recorded, as the caller puts it (date and time of day as in RFC 3339): this crate reads no clock.
    pub recorded_at: String,
    /// Where count 1 of bar 1 falls, from the beginning of the take's sound.
    pub bar_one: Moment,
    /// The felt beats as the click marks them, from the beginning of the take's sound, in order of time.
    pub clicks: Vec<Click>,
    /// Who plays, in the order in which strokes name them. More can [enter](crate::Recorder::enter) later.
    pub players: Vec<PlayerNote>,
    /// The sound device.
    pub sound: SoundNote,
    /// The rounds, where the take is of a drill plan. Its rhythm and tempo above are then those of the first round, and its bar 1 is
    /// where that round's first bar line falls.
    pub drill: Option<Drilled>,
}

/// A player and what is known of the way from the hand to the stamp.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlayerNote {
    /// What the player is called in files and lists: a code rather than a name.
    pub label: String,
    /// What is played on: a MIDI port, the space bar, a microphone.
    pub source: String,
    /// The latency taken out of every stroke; `None` where none was measured.
    pub latency: Option<Seconds>,
    /// How fine the stamps are; `None` where that is not known.
    pub resolution: Option<Seconds>,
    /// What kind of thing is played on; `None` where that is not known, as in older takes.
    pub instrument: Option<Instrument>,
    /// When what is played on was not there or could not be heard, in order of time.
    pub absent: Vec<Absence>,
}

/// What kind of thing is played on, which says what of it is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Instrument {
    /// Pads and drums: when a stroke is let go means nothing.
    Pads,
    /// Keys that are held, for as long as is written.
    Keys,
    /// A pedal that keeps the pulse: it strikes the beats, whatever is written.
    Pedal,
}

/// A stretch of a take in which a player's device was not there or could not be heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Absence {
    /// From when on, in the take's own time.
    pub from: Moment,
    /// Until when; `None` where it did not come back.
    pub to: Option<Moment>,
}

/// The sound device and what is known of its latency.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SoundNote {
    /// Frames a second.
    pub rate: SampleRate,
    /// What the model sounded through.
    pub output: Option<String>,
    /// The microphone in the right channel; `None` where the right channel is rendered from the strokes.
    pub input: Option<String>,
    /// From a frame's place in the stream to the ear; `None` where it is not known.
    pub output_latency: Option<Seconds>,
    /// From the microphone to a frame's place in the stream; `None` where it is not known.
    pub input_latency: Option<Seconds>,
    /// Where the latencies are from: `loopback`, `reported by the driver`.
    pub latency_from: Option<String>,
}

impl SoundNote {
    /// Nothing known but the rate.
    #[must_use]
    pub const fn new(rate: SampleRate) -> Self {
        Self {
            rate,
            output: None,
            input: None,
            output_latency: None,
            input_latency: None,
            latency_from: None,
        }
    }
}

impl PlayerNote {
    /// A player who plays on `source`, nothing known of latencies.
    #[must_use]
    pub fn new(label: &str, source: &str) -> Self {
        Self {
            label: label.to_owned(),
            source: source.to_owned(),
            latency: None,
            resolution: None,
            instrument: None,
            absent: Vec::new(),
        }
    }
}

impl Header {
    /// The header of a take of `sequence`, whose sound begins with the take. Players, devices and latencies are to be filled in.
    ///
    /// `sequence` must be of `rhythm`.
    #[must_use]
    pub fn of(rhythm: &Rhythm, sequence: &Sequence, sound: SoundNote, recorded_at: &str) -> Self {
        let bar_one = Moment::ZERO + sequence.before_bar_one();
        Self {
            title: rhythm.title().map(str::to_owned),
            rhythm: rhythm::text::write(rhythm),
            tempo: sequence.plan().tempo(),
            count_in_bars: sequence.plan().count_in_bars(),
            recorded_at: recorded_at.to_owned(),
            bar_one,
            clicks: clicks(sequence, bar_one),
            players: Vec::new(),
            sound,
            drill: None,
        }
    }
}

/// The felt beats of `sequence`, where it clicks unless the plan says otherwise, in a take in which count 1 of bar 1 falls at `bar_one`.
#[must_use]
pub fn clicks(sequence: &Sequence, bar_one: Moment) -> Vec<Click> {
    let click = |&(at, accented): &(Position, bool)| Click {
        at: bar_one + sequence.tempo().moment_at(at).since_zero(),
        accented,
    };
    sequence.beats().iter().map(click).collect()
}
