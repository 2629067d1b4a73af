//! Who plays on what, and what was measured: flags of `listen`, `practice`, `players` and `calibrate`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

use super::OutputFlags;

/// The section, beside what [`PlayerFlags`](super::PlayerFlags) says.
#[derive(Debug, Default, Args)]
pub(crate) struct SectionFlags {
    /// A player and what is played on: CODE=PORT, and of the port only `,channel=10`, `,notes=36-40` or `,pedal=64`; `,keys`
    /// for a keyboard whose notes are held (how long is judged then), `,retrigger=30` for a mask of the player's own in ms. `CODE=space bar` is the
    /// computer's keyboard. Who has pedals only keeps the pulse: the beats are what is judged. May be given several times, also for one player. By default the players kept by `countline players`
    #[arg(long, value_name = "CODE=PORT[,...]")]
    pub(crate) player: Vec<String>,
    /// Read players and controls from this file instead of the one that `countline players` keeps
    #[arg(long, value_name = "FILE.toml", conflicts_with = "player")]
    pub(crate) players: Option<PathBuf>,
    /// How soon after a stroke the same pad's next one is its own bouncing, for everybody; 0 marks none. By default 25
    #[arg(long, value_name = "MS", value_parser = super::millis)]
    pub(crate) retrigger_ms: Option<f64>,
    /// What a pad, a pedal or a key asks for: start, stop, next or again, as ORDER=PORT with `,notes=51` or `,pedal=64`. One blow
    /// asks once, and strikes nothing; a port that is named here and by no player is nobody's until a note comes from it that
    /// is no order
    #[arg(long, value_name = "ORDER=PORT[,...]")]
    pub(crate) control: Vec<String>,
    /// Let a struck pad sound at once through the program, so loud in percent: as the drum that its note is on MIDI channel 10,
    /// else as a clap. 0 where the pads sound themselves
    #[arg(long, value_name = "PERCENT", default_value_t = 0, value_parser = clap::value_parser!(u8).range(0..=100))]
    pub(crate) thru: u8,
    /// Send what is struck on to this MIDI output at once, by its name or a part of it: a sound module, say. Not to a port that
    /// sends back what it is sent, and not to a module whose pads sound by themselves
    #[arg(long, value_name = "NAME")]
    pub(crate) through: Option<String>,
    /// Record this input as the players' channel of the take, by its name or a part of it, with `#2` for its second channel;
    /// `default` for the system's. A microphone hears everybody in the room: local rules and the school decide. Without it the
    /// strokes are rendered
    #[arg(long, value_name = "NAME[#CHANNEL]")]
    pub(crate) record: Option<String>,
}

/// `countline players`
#[derive(Debug, Args)]
#[command(
    after_help = "Use codes instead of names: what is kept here is used for takes, and those are pupils' records."
)]
pub(crate) struct PlayersFlags {
    /// Learn by playing: each of these players in turn strikes everything that is theirs, and treads on their pedals. Who is kept and
    /// not named here keeps what is theirs
    #[arg(long, value_name = "CODES", value_delimiter = ',', conflicts_with_all = ["set", "remove"])]
    pub(crate) learn: Vec<String>,
    /// Keep a player and what is played on, as --player of `countline listen` has it; several times for one player's two pads
    #[arg(long, value_name = "CODE=PORT[,...]")]
    pub(crate) set: Vec<String>,
    /// Keep what a pad, a pedal or a key asks for, as --control of `countline listen` has it
    #[arg(long, value_name = "ORDER=PORT[,...]")]
    pub(crate) control: Vec<String>,
    /// Forget a player, or an order
    #[arg(long, value_name = "CODE")]
    pub(crate) remove: Vec<String>,
    /// Use this file instead of the one in the settings folder
    #[arg(long, value_name = "FILE.toml")]
    pub(crate) file: Option<PathBuf>,
    /// The MIDI system: the computer's own, or a running JACK server
    #[arg(long, value_enum, default_value_t = super::System::Own)]
    pub(crate) system: super::System,
}

/// `countline calibrate`
#[derive(Debug, Args)]
pub(crate) struct CalibrateFlags {
    #[command(subcommand)]
    pub(crate) how: Calibration,
}

/// How a latency is measured.
#[derive(Debug, Subcommand)]
pub(crate) enum Calibration {
    /// Play bursts of noise and find them again in what an input records: through a cable, or a microphone before the
    /// loudspeaker. Begin with the volume low
    Loopback(LoopbackFlags),
    /// Strike a pad beside the microphone: how late its stamps are
    Pad(PadFlags),
    /// Tap along with a click, where there is no microphone. What comes out contains your own lead
    Tapping(TappingFlags),
    /// Show what was measured
    Show,
    /// Forget everything that was measured
    Forget,
}

/// `countline calibrate loopback`
#[derive(Debug, Args)]
pub(crate) struct LoopbackFlags {
    #[command(flatten)]
    pub(crate) sound: OutputFlags,
    /// The input that hears it, by its name or a part of it, with `#2` for its second channel; the system's default without it
    #[arg(long, value_name = "NAME[#CHANNEL]")]
    pub(crate) input: Option<String>,
}

/// `countline calibrate pad`
#[derive(Debug, Args)]
pub(crate) struct PadFlags {
    #[command(flatten)]
    pub(crate) sound: OutputFlags,
    /// The microphone beside the pad, as for `loopback`
    #[arg(long, value_name = "NAME[#CHANNEL]")]
    pub(crate) input: Option<String>,
    /// The MIDI port of the pad, by its name or a part of it
    #[arg(long, value_name = "NAME")]
    pub(crate) port: String,
    /// How many strokes are measured
    #[arg(long, value_name = "NUMBER", default_value_t = 16, value_parser = clap::value_parser!(u8).range(8..=100))]
    pub(crate) strokes: u8,
}

/// `countline calibrate tapping`
#[derive(Debug, Args)]
pub(crate) struct TappingFlags {
    #[command(flatten)]
    pub(crate) sound: OutputFlags,
    /// The MIDI port that is tapped on; the space bar without it
    #[arg(long, value_name = "NAME")]
    pub(crate) port: Option<String>,
}
