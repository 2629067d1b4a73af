//! What `countline sound` writes and sends.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use take::wav::WavSamples;
use timebase::SampleRate;

/// Files instead of the loudspeakers.
#[derive(Debug, Args)]
#[command(next_help_heading = "Files")]
pub(crate) struct FileFlags {
    /// Write the sound to this WAV file, each bar's beginning marked in it
    #[arg(long, value_name = "OUT")]
    pub(crate) wav: Option<PathBuf>,
    /// Write each kind of sound to a WAV file of its own in this folder, all equally long: click.wav, count.wav,
    /// clap.wav and, with --take, player-NAME.wav
    #[arg(long, value_name = "DIR")]
    pub(crate) tracks: Option<PathBuf>,
    /// Write click, attacks and counts (as lyrics) to this Standard MIDI file of format 1, each bar's beginning marked. What is
    /// muted has no track; levels and places are for sound alone
    #[arg(long, value_name = "OUT")]
    pub(crate) midi: Option<PathBuf>,
    /// Bits a sample in WAV files
    #[arg(long, value_enum, value_name = "BITS", default_value_t = Bits::Sixteen)]
    pub(crate) bits: Bits,
    /// Frames a second in WAV files, 8000 to 192000
    #[arg(long, value_name = "HZ", default_value = "48000", value_parser = rate)]
    pub(crate) rate: SampleRate,
    /// Add the players of this take (a Standard MIDI file or a take folder) to the MIDI file and to the tracks, a
    /// track each
    #[arg(long, value_name = "TAKE")]
    pub(crate) take: Option<PathBuf>,
}

impl FileFlags {
    /// Frames a second where nothing else is asked for.
    pub(crate) const USUAL_RATE: SampleRate = SampleRate::HZ_48000;

    /// Whether any WAV file is to be written.
    pub(crate) fn ask_for_sound(&self) -> bool {
        self.wav.is_some() || self.tracks.is_some()
    }

    /// Whether any file is to be written.
    pub(crate) fn ask_for_files(&self) -> bool {
        self.ask_for_sound() || self.midi.is_some()
    }
}

/// How samples are kept in a WAV file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Bits {
    /// Whole numbers of 16 bits, with dither: every program opens them
    #[value(name = "16")]
    Sixteen,
    /// Whole numbers of 24 bits
    #[value(name = "24")]
    TwentyFour,
    /// 32-bit floating point
    #[value(name = "float")]
    Float,
}

impl Bits {
    pub(crate) fn samples(self) -> WavSamples {
        match self {
            Self::Sixteen => WavSamples::Int16,
            Self::TwentyFour => WavSamples::Int24,
            Self::Float => WavSamples::Float32,
        }
    }
}

pub(super) fn rate(text: &str) -> Result<SampleRate, String> {
    let hz = text
        .parse()
        .map_err(|_| format!("\"{text}\" is not a number of frames a second: write 44100 or 48000"))?;
    SampleRate::new(hz).map_err(|error| error.to_string())
}
