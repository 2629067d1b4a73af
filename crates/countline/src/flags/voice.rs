//! `countline voice`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

use super::OutputFlags;

/// `countline voice`
#[derive(Debug, Args)]
#[command(
    after_help = "A voice of your own is used like the shipped ones: `--voice NAME`, or `--voice ./FOLDER` for one that lies \
    elsewhere. Words it has no recording of are said by a shipped voice. A recorded voice is a person's: ask before you \
    record somebody, a pupil above all, and follow your school's rules."
)]
pub(crate) struct VoiceFlags {
    #[command(subcommand)]
    pub(crate) job: VoiceJob,
}

/// How recordings come to a voice.
#[derive(Debug, Args)]
pub(crate) struct JoinFlags {
    /// The language of the numbers, as its table is called: en, es or de. Without it that of the voice they join, or en
    #[arg(long, value_name = "CODE")]
    pub(crate) language: Option<String>,
    /// The speed they are of, where the voice has several: slow, normal, quick
    #[arg(long, value_name = "SPEED")]
    pub(crate) speed: Option<String>,
    /// Begin the voice anew: all that stands in its folder is taken away
    #[arg(long)]
    pub(crate) anew: bool,
}

/// What is to be done about a voice.
#[derive(Debug, Subcommand)]
pub(crate) enum VoiceJob {
    /// Record a voice of your own, syllable by syllable, from the microphone
    Record(VoiceRecordFlags),
    /// Make a voice of sound files, each named by the syllable that is said in it
    Import(VoiceImportFlags),
    /// Show each syllable's length, level and perceptual centre, and what the voice cannot say
    Check(VoiceCheckFlags),
}

/// `countline voice record`
#[derive(Debug, Args)]
#[command(
    after_help = "Where a voice of this name stands, the new recordings join it: each takes the place of the old one of its \
    word, everything else stays. So a word is said again with --words \"3\", and a long list is recorded in parts."
)]
pub(crate) struct VoiceRecordFlags {
    /// What the voice is to be called; or the folder to put it in, with a / in it
    #[arg(value_name = "NAME|FOLDER")]
    pub(crate) name: String,
    /// The words to record, as they are written under the notes, with blanks between them
    #[arg(long, value_name = "WORDS", default_value = "1 2 3 4 5 6 7 8 9 10 11 12 & e a la li ta")]
    pub(crate) words: String,
    /// How long the microphone listens for each word
    #[arg(long, value_name = "SECONDS", default_value_t = 2.0, value_parser = seconds)]
    pub(crate) listen: f64,
    #[command(flatten)]
    pub(crate) join: JoinFlags,
    #[command(flatten)]
    pub(crate) sound: OutputFlags,
}

/// `countline voice import`
#[derive(Debug, Args)]
#[command(
    after_help = "The files are WAV or FLAC, 8 to 192 kHz, mono or stereo: two.wav, and.wav, ta.wav; or by the word, 2.wav. \
    Recordings at several speeds stand in folders slow, normal and quick. A name that the language's table does not have is \
    a word of your own counting system. Where a voice of this name stands, the new recordings join it: each takes the place \
    of the old one of its word and speed, everything else stays, and so does every centre that you set by hand. A file that \
    is refused is named with the reason, and the others are taken: the call fails only where none of them can be used."
)]
pub(crate) struct VoiceImportFlags {
    /// The folder with the sound files
    #[arg(value_name = "FOLDER")]
    pub(crate) folder: PathBuf,
    /// What the voice is to be called; or the folder to put it in, with a / in it
    #[arg(short = 'o', long = "out", value_name = "NAME|FOLDER")]
    pub(crate) out: String,
    #[command(flatten)]
    pub(crate) join: JoinFlags,
}

/// `countline voice check`
#[derive(Debug, Args)]
pub(crate) struct VoiceCheckFlags {
    /// The voice: a shipped one, one of your own, or a folder, with a / in it
    #[arg(value_name = "NAME|FOLDER")]
    pub(crate) name: String,
    /// Also draw every waveform with its centre marked to this SVG file
    #[arg(short = 'o', long, value_name = "OUT")]
    pub(crate) svg: Option<PathBuf>,
}

fn seconds(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (0.5..=10.0).contains(&value) => Ok(value),
        _ => Err("the microphone listens for 0.5 to 10 seconds".to_owned()),
    }
}
