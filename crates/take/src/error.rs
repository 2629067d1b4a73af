use std::io;
use std::path::{Path, PathBuf};

use timebase::limits::Limit;

/// What can go wrong with the files of a take.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A number outside its limit.
    #[error("{given} is not a {} that is allowed: it goes from {} to {}", .limit.what, .limit.least, .limit.most)]
    OutOfRange {
        /// What was given.
        given: i64,
        /// What is allowed.
        limit: Limit,
    },
    /// The bytes are no Standard MIDI file.
    #[error(
        "this is no Standard MIDI file: it begins with {begins} where `MThd` is expected; export the take as a .mid file of format 0 or 1"
    )]
    NotMidi {
        /// The first bytes, readable.
        begins: String,
    },
    /// A MIDI file of another format.
    #[error(
        "this MIDI file is of format {format}: {why}; export it as format 0 (one track) or 1 (several tracks at once)"
    )]
    MidiFormat {
        /// The format it gives.
        format: u16,
        /// Why that cannot be read as a take.
        why: &'static str,
    },
    /// The division of a MIDI file cannot be.
    #[error(
        "this MIDI file divides time by {given:#06x}: allowed are 1 to 32767 ticks a quarter, or 24, 25, 29 or 30 SMPTE frames of 1 to 255 ticks; export it again"
    )]
    MidiDivision {
        /// The two bytes as they stand.
        given: u16,
    },
    /// A chunk of a MIDI file is longer than the rest of the file.
    #[error(
        "this MIDI file is cut off: {chunk} says it holds {says} bytes, and {holds} are there; copy or export the file again"
    )]
    MidiCutOff {
        /// Which chunk: `the header`, `track 2`.
        chunk: String,
        /// How many bytes it says.
        says: u64,
        /// How many are left.
        holds: u64,
    },
    /// Fewer tracks than the header says.
    #[error(
        "this MIDI file is cut off: its header says {says} tracks, and {holds} are there; copy or export the file again"
    )]
    MidiTracks {
        /// How many the header says.
        says: u16,
        /// How many there are.
        holds: usize,
    },
    /// An event of a MIDI file that cannot be read.
    #[error(
        "track {track} of this MIDI file cannot be read from byte {byte} of the file on: no MIDI event begins there; copy or export the file again"
    )]
    MidiEvent {
        /// The track, from 1.
        track: usize,
        /// The byte of the file, from 0.
        byte: usize,
    },
    /// A tempo of no length in a MIDI file.
    #[error(
        "track {track} of this MIDI file sets a tempo of 0 microseconds a quarter: at least 1 is allowed; mend the tempo and export the file again"
    )]
    MidiTempo {
        /// The track, from 1.
        track: usize,
    },
    /// A meter of a MIDI file that cannot be written.
    #[error(
        "this MIDI file sets a meter of {beats}/2^{power}: the upper number goes from 1 to 32, the lower from 2^0 to 2^5; mend the meter and export the file again"
    )]
    MidiMeter {
        /// The upper number.
        beats: u8,
        /// The lower, as a power of two.
        power: u8,
    },
    /// A tempo of a MIDI file that cannot be written.
    #[error(
        "this MIDI file sets a tempo of {micros} microseconds a quarter: no note value from the sixteenth to the whole then goes at 20 to 300 beats a minute; mend the tempo and export the file again"
    )]
    MidiSpeed {
        /// Microseconds a quarter.
        micros: u32,
    },
    /// A MIDI file nobody plays in.
    #[error(
        "nobody plays in this MIDI file: of its {tracks} tracks none has a note but the click; choose a file with one player a track"
    )]
    NoPlayer {
        /// How many tracks there are.
        tracks: usize,
    },
    /// A WAV file that cannot be read.
    #[error("{} cannot be read as WAV: {why}; export it as PCM of 8, 16, 24 or 32 bits, or 32-bit float", path.display())]
    NotWav {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// Channels of different lengths.
    #[error(
        "the model has {model} samples and the player {player}: both channels of a take are equally long"
    )]
    ChannelLengths {
        /// Samples of the model.
        model: usize,
        /// Samples of the player.
        player: usize,
    },
    /// A WAV file would pass 4 GiB.
    #[error("{} is full after {frames} frames: a WAV file holds 4 GiB at most. The recording is kept up to here; begin a new take", path.display())]
    WavFull {
        /// The file.
        path: PathBuf,
        /// How many frames it holds.
        frames: u64,
    },
    /// A WAV file that would pass 4 GiB.
    #[error(
        "{} would last {}, and a WAV file of this form holds {} at most (4 GiB): write it in pieces, or with fewer bits, one channel or a lower rate",
        path.display(), hours(*.seconds), hours(*.most)
    )]
    WavTooLong {
        /// The file that was to be written.
        path: PathBuf,
        /// How many seconds it would last, rounded up.
        seconds: u64,
        /// How many whole seconds it may last.
        most: u64,
    },
    /// A WAV file that was given another length than it was begun with.
    #[error("{} was to hold {promised} frames and was given {given}: begin it with the length that it will have", path.display())]
    WavFrames {
        /// The file.
        path: PathBuf,
        /// How many frames it was begun for.
        promised: u64,
        /// How many it was given.
        given: u64,
    },
    /// A file that may not grow any further.
    #[error(
        "{} cannot grow: this disk, or a limit set for this program, allows no larger file. A file that was there \
         before stays unchanged, and a take stays as far as it is written; write to another disk, or in pieces",
        path.display()
    )]
    FileTooLarge {
        /// The file that was being written.
        path: PathBuf,
    },
    /// The disk is nearly full.
    #[error(
        "the disk of {} has {free_mb} MB left: no more sound is recorded, strokes still are. Make room for {needed_mb} MB at \
         least, or keep takes on another disk",
        dir.display()
    )]
    LittleSpace {
        /// The take's folder.
        dir: PathBuf,
        /// How much is free.
        free_mb: u64,
        /// How much must stay free.
        needed_mb: u64,
    },
    /// The disk is full.
    #[error(
        "the disk is full: {} cannot grow. A file that was there before stays unchanged, and a take stays as far as it \
         is written; make room and begin anew",
        path.display()
    )]
    DiskFull {
        /// The file that was being written.
        path: PathBuf,
    },
    /// A file or folder that cannot be read or written.
    #[error("{} cannot be {done}: {source}; check that it exists and that you may use it", path.display())]
    File {
        /// What was to be done with it: `read`, `written`.
        done: &'static str,
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// A folder that already holds a take.
    #[error("{} already holds a take: choose another folder, takes are never written over", dir.display())]
    TakeExists {
        /// The folder.
        dir: PathBuf,
    },
    /// A folder without a take.
    #[error("{} holds no take: there is neither a journal.jsonl nor a take.json in it; choose a take's folder", dir.display())]
    NoTake {
        /// The folder.
        dir: PathBuf,
    },
    /// A take that is being recorded.
    #[error("{} is being recorded at this moment: end the recording first", dir.display())]
    InUse {
        /// The folder.
        dir: PathBuf,
    },
    /// A recording that has ended before.
    #[error("the recording has ended: {why}. What was recorded is kept up to there; begin a new take")]
    Ended {
        /// Why it ended.
        why: String,
    },
    /// A player who is not in the take's list.
    #[error("there is no player {given} in this take: it has {players}, counted from 0")]
    NoSuchPlayer {
        /// Which was given.
        given: usize,
        /// How many there are.
        players: usize,
    },
    /// A round of a take that is of one rhythm.
    #[error("the take is of one rhythm and has no rounds: name the rhythms of the drill plan when it begins")]
    NoDrill,
    /// A line of a journal that is no record.
    #[error("line {line} of {} is no record of a take's journal: {why}; restore the file from a copy", path.display())]
    JournalLine {
        /// The journal.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
        /// What is wrong with it.
        why: String,
    },
    /// A journal or a description written by a later version.
    #[error("{} is of version {given}: this program reads version {reads}; open it with a newer one", path.display())]
    Version {
        /// The file.
        path: PathBuf,
        /// Its version.
        given: u32,
        /// The version that is read.
        reads: u32,
    },
    /// No voice of this name.
    #[error("there is no voice \"{given}\": choose {}, or give the folder of one, with a / in it", .known.join(", "))]
    NoVoice {
        /// The name given.
        given: String,
        /// Those there are.
        known: Vec<String>,
    },
    /// A name that no voice can be given.
    #[error(
        "\"{given}\" cannot be the name of a voice of your own: choose letters, digits, hyphens, blanks, full stops and _, with a letter or digit first and last, and no shipped voice's name"
    )]
    VoiceName {
        /// The name given.
        given: String,
    },
    /// A folder in which something else stands than a voice.
    #[error("{} holds something that is no voice: choose another name or folder, nothing is written over", dir.display())]
    NoVoiceThere {
        /// The folder.
        dir: PathBuf,
    },
    /// A disk too full for a voice.
    #[error("the disk is full: the voice {} cannot be written, and what stood there stands there still; make room and try again", dir.display())]
    VoiceDiskFull {
        /// Its folder.
        dir: PathBuf,
    },
    /// Something wrong with a voice.
    #[error(transparent)]
    Voice(#[from] voice::Error),
    /// Something wrong with the voice in a folder.
    #[error("the voice in {} cannot be used: {reason}", dir.display())]
    VoiceIn {
        /// The folder.
        dir: PathBuf,
        /// What is wrong.
        reason: Box<voice::Error>,
    },
    /// A folder to import from with no recordings, or far too many.
    #[error("{} holds {given} sound files that can be used: 1 to 1000 are expected, .wav or .flac, each named by the syllable said in it{}", dir.display(), also(passed_over))]
    SoundFiles {
        /// The folder.
        dir: PathBuf,
        /// How many there are.
        given: usize,
        /// What else is there, and why it is passed over.
        passed_over: Vec<String>,
    },
    /// A file far larger than a recording of a syllable.
    #[error("{} has {given} bytes, far more than a syllable needs: cut it, 64 MiB are read at most", path.display())]
    SoundTooLarge {
        /// The file.
        path: PathBuf,
        /// Its size.
        given: u64,
    },
    /// A user without a home folder.
    #[error(
        "there is no home folder in which voices could be kept: give a folder, with a / in it, instead of a name"
    )]
    NoHome,
    /// Notes that cannot be read.
    #[error("{} holds no notes that can be read: {why}; it is left as it is: restore it from a copy, or move it away to begin anew", path.display())]
    NotesDamaged {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// A description that is none.
    #[error("{} is no description of a take: {why}; restore it from a copy, or remove it and recover the take from its journal", path.display())]
    Description {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
}

impl Error {
    /// A failure to read.
    pub(crate) fn reading(path: &Path, source: io::Error) -> Self {
        Self::File { done: "read", path: path.to_owned(), source }
    }

    /// A failure to write; a full disk is told apart, for it is mended otherwise.
    pub(crate) fn writing(path: &Path, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                Self::DiskFull { path: path.to_owned() }
            }
            io::ErrorKind::FileTooLarge => Self::FileTooLarge { path: path.to_owned() },
            _ => Self::File { done: "written", path: path.to_owned(), source },
        }
    }
}

/// Seconds as a person reads them: `6 h 12 min 49 s`.
fn hours(seconds: u64) -> String {
    format!("{} h {} min {} s", seconds / 3_600, seconds / 60 % 60, seconds % 60)
}

/// What else a folder holds, behind a message.
fn also(passed_over: &[String]) -> String {
    if passed_over.is_empty() { String::new() } else { format!("; passed over: {}", passed_over.join("; ")) }
}
