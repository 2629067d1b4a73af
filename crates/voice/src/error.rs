use timebase::Seconds;

use crate::limits::{MANIFEST_BYTES_MOST, PACK_MOST};

/// What can be wrong with a voice pack, or with what is asked of one.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// No shipped voice of this name.
    #[error("there is no voice \"{given}\": choose {}", .shipped.join(" or "))]
    UnknownVoice {
        /// The name given.
        given: String,
        /// The names there are.
        shipped: Vec<&'static str>,
    },
    /// A word the pack has no syllable for.
    #[error("the voice \"{voice}\" cannot say \"{given}\": it says {}", .says.join(" "))]
    UnknownWord {
        /// The voice's name.
        voice: String,
        /// The word given.
        given: String,
        /// Every word it can say.
        says: Vec<String>,
    },
    /// No language of this name.
    #[error("there is no table of the language \"{given}\": choose {}", .known.join(", "))]
    UnknownLanguage {
        /// The name given.
        given: String,
        /// Those there are.
        known: Vec<String>,
    },
    /// Recordings of another language than the voice's that they are to join.
    #[error(
        "the voice \"{voice}\" speaks \"{standing}\", and the new recordings are said to be \"{given}\": say --language {standing}, choose another name, or begin the voice anew with --anew"
    )]
    OtherLanguage {
        /// The voice's name.
        voice: String,
        /// Its language.
        standing: String,
        /// The language given.
        given: String,
    },
    /// A voice of another rate than that of the recordings that are to join it.
    #[error(
        "the voice \"{voice}\" has {standing} Hz, and recordings are made at {needed}: choose another name, or begin the voice anew with --anew"
    )]
    OtherRate {
        /// The voice's name.
        voice: String,
        /// Its rate in Hz.
        standing: u32,
        /// The rate of recordings in Hz.
        needed: u32,
    },
    /// A pack would hold nothing.
    #[error("there is no syllable to make a voice of: record or name at least one")]
    NothingRecorded,
    /// The manifest is not JSON of the form expected.
    #[error("the manifest cannot be read: {0}; see the table of its fields in the voices' README")]
    Manifest(String),
    /// The manifest is larger than any honest one.
    #[error(
        "the manifest has {given} bytes, and at most {} are read: leave out what is not needed",
        MANIFEST_BYTES_MOST
    )]
    ManifestTooLarge {
        /// Its size in bytes.
        given: usize,
    },
    /// The manifest has a form this program does not know.
    #[error(
        "the manifest is of version {given}; this program reads version 1: use a newer program, or make the pack again"
    )]
    Version {
        /// The version it gives.
        given: u32,
    },
    /// Something in the manifest is named that does not exist in it.
    #[error("{wanted_by} names the {what} \"{given}\", which the manifest does not have: it has {}", .known.join(", "))]
    Unknown {
        /// What names it, as "the word \"3\"".
        wanted_by: String,
        /// What kind of thing is named.
        what: &'static str,
        /// Its name.
        given: String,
        /// Those that exist.
        known: Vec<String>,
    },
    /// A joined word of too few or too many syllables.
    #[error("the joined word \"{word}\" has {given} syllables: two to eight are joined")]
    Joined {
        /// The word.
        word: String,
        /// How many.
        given: usize,
    },
    /// A syllable without any recording.
    #[error("the syllable \"{0}\" has no recording: give it one at any speed, or take it out")]
    NoRecording(String),
    /// A file name that leads out of the pack.
    #[error(
        "\"{0}\" is not the name of a file within the pack: write it from the manifest's folder, with / and without .."
    )]
    FileName(String),
    /// A file that the manifest names is not there.
    #[error(
        "the file \"{0}\", which the manifest names, is not in the pack: add it, or take its recording out"
    )]
    MissingFile(String),
    /// A file is no WAV file that can be read.
    #[error("\"{file}\" cannot be read as a WAV file: {reason}; save it again as 16-bit PCM")]
    Wav {
        /// Its name.
        file: String,
        /// What the reader found.
        reason: String,
    },
    /// A file that is called a WAV file and is none.
    #[error(
        "\"{file}\" is no WAV file, whatever its name says: it begins with \"{begins}\" where \"RIFF\" is expected; export the recording as WAV (16-bit PCM) or FLAC"
    )]
    NoWav {
        /// Its name.
        file: String,
        /// Its first four bytes, as far as they can be shown.
        begins: String,
    },
    /// A file too short to be a WAV file.
    #[error("\"{file}\" has {given} bytes, fewer than the head of a WAV file: record or copy it again")]
    ShortFile {
        /// Its name.
        file: String,
        /// How many bytes it has.
        given: usize,
    },
    /// A WAV file of samples that are not read.
    #[error(
        "\"{file}\" has {given} samples; a WAV file may have 8 to 32-bit integer or 32-bit float samples: save it again as 16-bit PCM"
    )]
    Samples {
        /// Its name.
        file: String,
        /// What it has: "64-bit float".
        given: String,
    },
    /// A file is no FLAC file that can be read.
    #[error("\"{file}\" cannot be read as a FLAC file: {reason}; save it again, or as 16-bit WAV")]
    Flac {
        /// Its name.
        file: String,
        /// What the reader found.
        reason: String,
    },
    /// A file without a single byte.
    #[error("\"{file}\" is empty, 0 bytes: record or copy it again")]
    EmptyFile {
        /// Its name.
        file: String,
    },
    /// A WAV file of another form than the pack's.
    #[error("\"{file}\" has {given}; the pack needs {needed}: convert it")]
    Form {
        /// Its name.
        file: String,
        /// What it is.
        given: String,
        /// What it has to be.
        needed: String,
    },
    /// A recording is longer than a syllable can be, or empty.
    #[error("\"{file}\" lasts {given}; a syllable lasts more than nothing and at most {most}: trim it")]
    Length {
        /// Its name.
        file: String,
        /// How long it is, or goes on for at least.
        given: Seconds,
        /// How long it may be.
        most: Seconds,
    },
    /// All recordings together are too long.
    #[error("the recordings of the pack last longer than {} together: leave some out", PACK_MOST)]
    TooMuch,
    /// A perceptual centre outside its recording.
    #[error(
        "\"{file}\" has its perceptual centre at {given_ms} ms but lasts only {length}: it lies within the recording, from 0 on"
    )]
    Centre {
        /// The file's name.
        file: String,
        /// The centre given, in milliseconds.
        given_ms: f64,
        /// How long it is.
        length: Seconds,
    },
    /// A sample rate no sound device has.
    #[error(transparent)]
    Rate(#[from] timebase::Error),
    /// A file holds something that is no sound.
    #[error("\"{file}\": {reason}")]
    Sample {
        /// Its name.
        file: String,
        /// What is wrong with its frames.
        reason: mixer::Error,
    },
    /// The pack could not be brought to another sample rate.
    #[error(
        "the voice cannot be brought from {from} to {to} Hz: {reason}; choose another rate of the sound device"
    )]
    Resample {
        /// The pack's rate in Hz.
        from: u32,
        /// The rate wanted in Hz.
        to: u32,
        /// What the resampler said.
        reason: String,
    },
}
