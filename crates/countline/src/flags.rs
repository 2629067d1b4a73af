//! The command line as it is typed.

mod chart;
mod drill;
mod files;
mod judge_paper;
mod named;
mod pack;
pub(crate) mod paper;
pub(crate) mod parts;
mod picture;
mod planned;
mod section;
mod sheet;
pub(crate) mod sounds;
mod voice;

use std::ops::RangeInclusive;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use sequencer::limits::COUNT_IN_BARS;
use timebase::limits::Limit;
use timebase::{Ratio, Tempo};

pub(crate) use self::chart::{ChartFlag, ChartFlags};
pub(crate) use self::drill::{CountedFlag, DrillFlags, OutcomeFlag, PickupFlag, TurnsFlag};
pub(crate) use self::files::{Bits, FileFlags};
pub(crate) use self::judge_paper::JudgePaperFlags;
pub(crate) use self::pack::PackFlags;
pub(crate) use self::picture::{PictureCountFlags, PictureFlags};
pub(crate) use self::planned::PlannedFlags;
pub(crate) use self::section::{
    CalibrateFlags, Calibration, LoopbackFlags, PadFlags, PlayersFlags, SectionFlags, TappingFlags,
};
pub(crate) use self::sheet::{AnswersFlag, SheetFlags};
pub(crate) use self::sounds::{Sound, SoundsFlags};
pub(crate) use self::voice::{
    JoinFlags, VoiceCheckFlags, VoiceFlags, VoiceImportFlags, VoiceJob, VoiceRecordFlags,
};

/// Turns a written rhythm into its counting and its click, listens while it is played, and says what to fix.
#[derive(Debug, Parser)]
#[command(name = "countline", version, about, max_term_width = 100)]
#[command(
    after_help = "A rhythm is a text file: `| 1 2 & 3 (4) |` strikes 1, 2, the & of 2 and 3, and rests on 4.\n\n\
    Listen at a moderate level, keep turns short, and stop when something hurts. Takes are pupils' records: use \
    codes instead of names; local rules and the school decide."
)]
pub(crate) struct Call {
    #[command(subcommand)]
    pub(crate) job: Job,
}

/// What is to be done.
#[derive(Debug, Subcommand)]
pub(crate) enum Job {
    /// Write the counting under a rhythm
    Count(CountFlags),
    /// Engrave a rhythm with its counting underneath, as an SVG picture
    Picture(PictureFlags),
    /// Rewrite a rhythm text in its canonical form, comments kept
    Format(FormatFlags),
    /// Show the note values of a rhythm beside the usual ones, and why they differ
    Spelling(SpellingFlags),
    /// Check pupils' written counting: count by count, and what was misunderstood
    CheckCounts(CheckCountsFlags),
    /// Show the counting systems and their variants
    Systems(SystemsFlags),
    /// Write down the rhythm that was tapped in a take, or that stands in a MIDI file or as written counting
    Write(WriteFlags),
    /// Make rhythm text of a MusicXML file
    Import(ImportFlags),
    /// Write a rhythm as a MusicXML file
    Export(ExportFlags),
    /// Hear a rhythm clicked, counted and clapped, or write it as WAV and MIDI files
    Sound(SoundFlags),
    /// Plan a drill, call and response, round by round, or write its sound
    Drill(Box<DrillFlags>),
    /// Compare a take with its rhythm: where each attack landed, and what to fix
    Judge(JudgeFlags),
    /// Print rhythms to write the counting under, and the answer key
    Sheet(SheetFlags),
    /// Make a folder with sheets and sounding models that any browser opens, for home or for a substitute
    Pack(PackFlags),
    /// Print a page to look things up on: note values, or what a counting system says
    Chart(ChartFlags),
    /// Print a rubric to start from, every line explained, or check one of your own
    Rubric(RubricFlags),
    /// Play a rhythm live in the terminal, without a window
    Listen(ListenFlags),
    /// Open the window
    Practice(PracticeFlags),
    /// Show what sound and MIDI devices there are
    Devices(DevicesFlags),
    /// Record, import and check voices of your own
    Voice(VoiceFlags),
    /// Keep who plays on what: learnt by playing, or told
    Players(PlayersFlags),
    /// Measure how late sound is heard and strokes are known
    Calibrate(CalibrateFlags),
}

/// `countline import`
#[derive(Debug, Args)]
pub(crate) struct ImportFlags {
    /// The MusicXML file: .musicxml, .xml or .mxl
    pub(crate) file: PathBuf,
    /// Show its parts and voices and read nothing
    #[arg(long, conflicts_with_all = ["part", "voice", "out", "lengths"])]
    pub(crate) list: bool,
    /// Which part, by its name or number; by default all of them
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
    /// Which voice, as --list shows it; by default the first of each part
    #[arg(long, value_name = "VOICE")]
    pub(crate) voice: Option<String>,
    /// Write every bar in lengths, as the file has them; by default a bar is written in counts where they give the
    /// same notes
    #[arg(long)]
    pub(crate) lengths: bool,
    /// Write the rhythm text to this file instead of standard output
    #[arg(long, short, value_name = "OUT")]
    pub(crate) out: Option<PathBuf>,
}

/// `countline export`
#[derive(Debug, Args)]
pub(crate) struct ExportFlags {
    /// The rhythm text; `-` reads standard input
    pub(crate) file: PathBuf,
    /// The MusicXML file to write: .musicxml or .xml, or .mxl for a packed one
    #[arg(long, short, value_name = "OUT")]
    pub(crate) out: PathBuf,
}

/// `countline count`
#[derive(Debug, Args)]
pub(crate) struct CountFlags {
    /// The rhythm text; `-` reads standard input
    pub(crate) file: PathBuf,
    /// Which part of a piece with several, by its name or number
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
    #[command(flatten)]
    pub(crate) system: CountingFlags,
    /// What is counted
    #[arg(long, value_enum, default_value_t = Say::Beats)]
    pub(crate) say: Say,
    /// How counts inside a held note are said; by default as the counting system has it
    #[arg(long, value_enum)]
    pub(crate) holds: Option<Voicing>,
    /// How counts inside a silence are said; by default as the counting system has it
    #[arg(long, value_enum)]
    pub(crate) rests: Option<Voicing>,
    /// Write the foot's way under the counts: down and up
    #[arg(long)]
    pub(crate) feet: bool,
    /// Print JSON for other programs instead
    #[arg(long)]
    pub(crate) json: bool,
}

/// `countline spelling`
#[derive(Debug, Args)]
pub(crate) struct SpellingFlags {
    /// The rhythm text; `-` reads standard input
    pub(crate) file: PathBuf,
    /// Which part of a piece with several, by its name or number
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
}

/// `countline format`
#[derive(Debug, Args)]
pub(crate) struct FormatFlags {
    /// The rhythm texts to rewrite; `-` reads standard input and prints
    #[arg(required = true)]
    pub(crate) files: Vec<PathBuf>,
    /// Change nothing; fail if a text is not in its canonical form
    #[arg(long)]
    pub(crate) check: bool,
}

/// `countline write`
#[derive(Debug, Args)]
pub(crate) struct WriteFlags {
    /// The take: a Standard MIDI file, a take folder, or a WAV recording (of two channels the right one is the player)
    #[arg(long, value_name = "TAKE", conflicts_with = "from_counting")]
    pub(crate) from_take: Option<PathBuf>,
    /// Written counting: words with bar lines between the bars, `| ta ta-di ta (ta) |`; `-` reads standard input
    #[arg(long, value_name = "FILE")]
    pub(crate) from_counting: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) counting: CountingFlags,
    /// The meter, as in rhythm text: 6/8, "2/2 in 4". By default that of the take; without a click it is found
    #[arg(long, value_name = "METER")]
    pub(crate) meter: Option<String>,
    /// What has been taught, parted by commas: quarters, eighths, sixteenths, thirty-seconds, triplets, sextuplets,
    /// quintuplets, dotted, syncopation, 6/8, flams. By default sixteenths and what goes before, triplets, dotted,
    /// syncopation, 6/8 and flams
    #[arg(long, value_name = "LIST")]
    pub(crate) taught: Option<String>,
    /// Beats a minute, 20 to 300: of the click, or about how fast it was without one
    #[arg(long, value_name = "BPM", value_parser = bpm)]
    pub(crate) tempo: Option<Ratio<u32>>,
    /// Where count 1 of bar 1 falls in the take; by default the take's own mark
    #[arg(long, value_name = "MS", allow_negative_numbers = true, value_parser = millis, conflicts_with = "free")]
    pub(crate) start_ms: Option<f64>,
    /// Find the tempo in the strokes, whatever click or tempo the take has
    #[arg(long)]
    pub(crate) free: bool,
    /// Whose strokes, where several play
    #[arg(long, value_name = "NAME")]
    pub(crate) player: Option<String>,
    /// How long sounds are written
    #[arg(long, value_enum, default_value_t = EndsFlag::AsPlayed)]
    pub(crate) ends: EndsFlag,
    /// The title of the rhythm
    #[arg(long)]
    pub(crate) title: Option<String>,
    /// Write what else each bar may be, as comments behind the rhythm
    #[arg(long)]
    pub(crate) alternatives: bool,
    /// Write the rhythm text to this file instead of printing it
    #[arg(short, long, value_name = "OUT")]
    pub(crate) out: Option<PathBuf>,
    /// Print JSON for other programs instead
    #[arg(long, conflicts_with = "from_counting")]
    pub(crate) json: bool,
}

/// `countline check-counts`
#[derive(Debug, Args)]
#[command(
    after_help = "An answer is the counting as it is typed under the notes: `1 2 & 3 (4) | 1 _2 3 4`, in any case, with or without \
    blanks and bar lines. `(3)` is a rest, `_3` is held. A class stands in one file with a line a pupil: `K07: 1 2 & 3 (4)`. \
    Use codes instead of names: answers are pupils' records."
)]
pub(crate) struct CheckCountsFlags {
    /// The rhythm text; `-` reads standard input
    pub(crate) file: PathBuf,
    /// The answers: a text file a pupil, called by the pupil's code, or a file with lines `code: counts`; `-` reads standard
    /// input
    #[arg(required = true)]
    pub(crate) answers: Vec<PathBuf>,
    /// Which part of a piece with several, by its name or number
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
    #[command(flatten)]
    pub(crate) counting: CountingFlags,
    /// Compare the words only, for a class that does not mark holds and rests
    #[arg(long)]
    pub(crate) words_only: bool,
    /// Also write a table of the class to this CSV file
    #[arg(long, value_name = "OUT")]
    pub(crate) table: Option<PathBuf>,
    /// Print JSON for other programs instead
    #[arg(long)]
    pub(crate) json: bool,
}

/// How it is counted.
#[derive(Debug, Args)]
pub(crate) struct CountingFlags {
    /// The counting system: a name that `countline systems` shows, or the table of your own, a file ending in .toml
    #[arg(long, value_name = "NAME|FILE.toml", default_value = "numbers")]
    pub(crate) counting: String,
    /// A variant of the counting system; may be given several times
    #[arg(long, value_name = "NAME")]
    pub(crate) variant: Vec<String>,
}

/// What is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Say {
    /// Every beat, and between the beats what begins there
    Beats,
    /// Every division of the smallest value in the bar
    Divisions,
    /// What is struck, and nothing else
    Attacks,
}

/// How a count is said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Voicing {
    /// Aloud
    Said,
    /// Softer than the others
    Softer,
    /// Thought, and written in parentheses
    Parentheses,
    /// Neither said nor written
    Silent,
}

/// `countline systems`
#[derive(Debug, Args)]
pub(crate) struct SystemsFlags {
    /// Only this one, by its name, or the table of your own: it is checked and shown
    #[arg(value_name = "NAME|FILE.toml")]
    pub(crate) counting: Option<String>,
}

/// How long sounds are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum EndsFlag {
    /// As keys were let go; on pads to the next attack
    AsPlayed,
    /// To the next attack in the bar, or within the first beat of the next; else to the end of the bar
    Next,
    /// To the next attack, at most to the end of the beat
    Beat,
}

/// How a rhythm is to sound.
#[derive(Debug, Args)]
pub(crate) struct PlanFlags {
    /// Beats a minute, 20 to 300; the beat is that of the rhythm's own tempo
    #[arg(long, value_name = "BPM", value_parser = bpm)]
    pub(crate) tempo: Option<Ratio<u32>>,
    /// Bars counted before the rhythm begins; before a pickup, the counts up to it are added
    #[arg(long, value_name = "BARS", default_value_t = 1, value_parser = whole(COUNT_IN_BARS), allow_negative_numbers = true)]
    pub(crate) count_in: u32,
    /// The voice that counts: one that `countline devices` shows, or the folder of one, with a / in it
    #[arg(long, value_name = "NAME|FOLDER")]
    pub(crate) voice: Option<String>,
}

/// `countline sound`
#[derive(Debug, Args)]
pub(crate) struct SoundFlags {
    /// The rhythm text; `-` reads standard input
    pub(crate) file: PathBuf,
    /// Which part of a piece with several, by its name or number
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
    #[command(flatten)]
    pub(crate) counting: CountingFlags,
    #[command(flatten)]
    pub(crate) plan: PlanFlags,
    #[command(flatten)]
    pub(crate) sounds: SoundsFlags,
    #[command(flatten)]
    pub(crate) sound: OutputFlags,
    /// Send click and clap to this MIDI output instead of the loudspeakers, by the name or a part of the name that
    /// `countline devices` shows: General MIDI percussion on channel 10. --level makes it strike harder or softer
    #[arg(long, value_name = "NAME", conflicts_with_all = ["wav", "tracks", "midi", "device"])]
    pub(crate) midi_out: Option<String>,
    #[command(flatten)]
    pub(crate) files: FileFlags,
}

/// `countline judge`
#[derive(Debug, Args)]
pub(crate) struct JudgeFlags {
    /// The rhythm text; `-` reads standard input. Or the drill plan that the take folder is of, a file ending in .drill
    pub(crate) file: PathBuf,
    /// Which part of a piece with several, by its name or number
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
    /// The take: a Standard MIDI file with one player a track (or a channel of a single track), a take folder, or a
    /// WAV recording of one player who claps or drums (8 to 192 kHz)
    pub(crate) take: PathBuf,
    /// Where the player is in a recording of two channels. By default to the right, with the click and the count that
    /// the loudspeaker played to the left, as a take has them; what is only the loudspeaker is then no stroke
    #[arg(long, value_enum, value_name = "WHICH")]
    pub(crate) channel: Option<ChannelFlag>,
    /// Where count 1 of bar 1 falls in the take; by default the take's own mark. For a recording: what its take's
    /// folder says, else the second accented click of its left channel, else its beginning
    #[arg(long, value_name = "MS", allow_negative_numbers = true, value_parser = millis)]
    pub(crate) start_ms: Option<f64>,
    /// How far from the written place still counts as on time, about the player's own bias
    #[arg(long, value_name = "MS", default_value_t = 50.0, value_parser = millis, conflicts_with = "rubric")]
    pub(crate) tolerance_ms: f64,
    #[command(flatten)]
    pub(crate) teacher: TeacherFlags,
    /// Nobody kept a click: when the player began and how fast is found from the strokes
    #[arg(long, conflicts_with_all = ["start_ms", "tempo"])]
    pub(crate) no_click: bool,
    /// How many findings are told of each player, the most useful first: 1 for a beginner, or `all`, with those that are in doubt last
    #[arg(long, value_name = "NUMBER", default_value = "3", value_parser = findings)]
    pub(crate) findings: usize,
    /// Beats a minute the take was played at; by default the take's own, else the rhythm's
    #[arg(long, value_name = "BPM", value_parser = bpm)]
    pub(crate) tempo: Option<Ratio<u32>>,
    /// Print JSON for other programs instead
    #[arg(long, conflicts_with = "svg")]
    pub(crate) json: bool,
    /// Also draw where the attacks landed to this SVG file
    #[arg(long, value_name = "OUT")]
    pub(crate) svg: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) paper: JudgePaperFlags,
}

/// Which channel of a recording is searched for strokes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum ChannelFlag {
    /// The left channel alone
    Left,
    /// The right channel alone
    Right,
    /// All channels together
    Mix,
}

/// What the teacher says of a take.
#[derive(Debug, Args)]
pub(crate) struct TeacherFlags {
    /// Say how the right rhythm and a steady pulse come out by this rubric (see `countline rubric`); it has the
    /// tolerances too
    #[arg(long, value_name = "RUBRIC.toml")]
    pub(crate) rubric: Option<PathBuf>,
    /// How long sound takes to the ear and a stroke to the recording together, as measured; it is taken off every
    /// stroke. Where it is not known the rubric says nothing of ahead of or behind the click
    #[arg(long, value_name = "MS", allow_negative_numbers = true, value_parser = latency)]
    pub(crate) latency_ms: Option<f64>,
    /// The MIDI notes that the left hand strikes, parted by commas
    #[arg(long, value_name = "NOTES", value_delimiter = ',', value_parser = clap::value_parser!(u8).range(0..=127))]
    pub(crate) left: Vec<u8>,
    /// The MIDI notes that the right hand strikes, parted by commas
    #[arg(long, value_name = "NOTES", value_delimiter = ',', value_parser = clap::value_parser!(u8).range(0..=127))]
    pub(crate) right: Vec<u8>,
    /// Overrule a finding, for good: it stays with the take folder, is marked and not counted by a rubric. The finding
    /// is PLAYER:KIND:BAR:AT, as --json has them (K2:rest-struck:4:3/4), or PLAYER:KIND if it is about the whole take
    #[arg(long, value_name = "FINDING", conflicts_with = "uphold")]
    pub(crate) overrule: Option<String>,
    /// Let a finding that was overruled count again
    #[arg(long, value_name = "FINDING")]
    pub(crate) uphold: Option<String>,
    /// Add a note, to what is overruled or to the take; it stays with the take folder
    #[arg(long, value_name = "TEXT")]
    pub(crate) note: Option<String>,
}

/// `countline rubric`
#[derive(Debug, Args)]
pub(crate) struct RubricFlags {
    /// Check this rubric instead
    #[arg(value_name = "RUBRIC.toml")]
    pub(crate) file: Option<PathBuf>,
}

/// Where sound goes and strokes come from.
#[derive(Debug, Args)]
pub(crate) struct OutputFlags {
    /// The sound system: the computer's own, or a running JACK server
    #[arg(long, value_enum, default_value_t = System::Own)]
    pub(crate) system: System,
    /// The sound device, by the name or a part of the name that `countline devices` shows
    #[arg(long, value_name = "NAME")]
    pub(crate) device: Option<String>,
}

/// Which sound and MIDI system is used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum System {
    /// The computer's own
    Own,
    /// A running JACK server: exact to the frame
    Jack,
}

/// `countline listen`
#[derive(Debug, Args)]
pub(crate) struct ListenFlags {
    /// The rhythm text; `-` reads standard input. Or a drill plan, a file ending in .drill, which is played round after round
    /// (see `countline drill`): its calls are heard, its responses judged, its tempo steps as they go. It has a count-in and a
    /// choice of sounds of its own
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) planned: PlannedFlags,
    /// Which part of a piece with several, by its name or number
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
    #[command(flatten)]
    pub(crate) counting: CountingFlags,
    #[command(flatten)]
    pub(crate) plan: PlanFlags,
    #[command(flatten)]
    pub(crate) sounds: SoundsFlags,
    #[command(flatten)]
    pub(crate) sound: OutputFlags,
    #[command(flatten)]
    pub(crate) players: PlayerFlags,
    /// Keep the take in this new folder (by default one under `takes`, named by date and title); where players take turns, or
    /// somebody may ask for it again, each take in a folder of its own in there
    #[arg(long, value_name = "DIR", conflicts_with = "no_take")]
    pub(crate) take: Option<PathBuf>,
    /// Keep no take
    #[arg(long)]
    pub(crate) no_take: bool,
    /// How far from the written place still counts as on time, about the player's own bias
    #[arg(long, value_name = "MS", default_value_t = 50.0, value_parser = millis)]
    pub(crate) tolerance_ms: f64,
    /// Let the players of this take (a Standard MIDI file or a take folder) play along, through the same way as a pad
    #[arg(long, value_name = "TAKE")]
    pub(crate) replay: Option<PathBuf>,
    /// Many pupils at few pads: PAD=CODE,CODE,... gives the turns at a pad, by the label its player else has (P1, or a code
    /// that is kept). One drill for each; `next` by a pad or pedal, or the Enter key, calls the next one. May be given for several
    /// pads
    #[arg(long, value_name = "PAD=CODES")]
    pub(crate) turns: Vec<String>,
    /// Print the final judgement as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Who plays on what.
#[derive(Debug, Default, Args)]
pub(crate) struct PlayerFlags {
    /// Listen to this MIDI input, by its name or a part of it; may be given several times. By default to all
    #[arg(long, value_name = "NAME")]
    pub(crate) midi_in: Vec<String>,
    /// Tell players on one input apart by MIDI channel
    #[arg(long)]
    pub(crate) by_channel: bool,
    /// How long sound takes to the ear and a stroke to the program together; it is taken off every stroke. By default what
    /// `countline calibrate` has measured for these devices
    #[arg(long, value_name = "MS", allow_negative_numbers = true, value_parser = latency)]
    pub(crate) latency_ms: Option<f64>,
    #[command(flatten)]
    pub(crate) section: SectionFlags,
}

/// `countline practice`
#[derive(Debug, Args)]
pub(crate) struct PracticeFlags {
    /// The rhythm text to open, or a drill plan, a file ending in .drill
    pub(crate) file: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) planned: PlannedFlags,
    /// Which part of a piece with several, by its name or number
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
    #[command(flatten)]
    pub(crate) counting: CountingFlags,
    #[command(flatten)]
    pub(crate) plan: PlanFlags,
    #[command(flatten)]
    pub(crate) sound: OutputFlags,
    #[command(flatten)]
    pub(crate) players: PlayerFlags,
    #[command(flatten)]
    pub(crate) sounds: SoundsFlags,
    /// Many pupils at few pads: PAD=CODE,CODE,... gives the turns at a pad, by the label its player else has (P1, or a code
    /// that is kept). The next one is called large on the screen. May be given for several pads
    #[arg(long, value_name = "PAD=CODES")]
    pub(crate) turns: Vec<String>,
    /// The folder in which takes are kept, each in a new one
    #[arg(long, value_name = "DIR", default_value = "takes", conflicts_with = "no_take")]
    pub(crate) takes: PathBuf,
    /// Keep no takes
    #[arg(long)]
    pub(crate) no_take: bool,
    /// How far from the written place still counts as on time, about the player's own bias
    #[arg(long, value_name = "MS", default_value_t = 50.0, value_parser = millis)]
    pub(crate) tolerance_ms: f64,
    /// Let the players of this take (a Standard MIDI file or a take folder) play along in every drill
    #[arg(long, value_name = "TAKE", requires = "file")]
    pub(crate) replay: Option<PathBuf>,
}

/// `countline devices`
#[derive(Debug, Args)]
pub(crate) struct DevicesFlags {
    /// Show those of a running JACK server too
    #[arg(long, value_enum, default_value_t = System::Own)]
    pub(crate) system: System,
}

fn bpm(text: &str) -> Result<Ratio<u32>, String> {
    let hint = || match text.split_once(['.', ',']) {
        Some((_, part)) if text.contains(',') && part.bytes().all(|digit| digit.is_ascii_digit()) => {
            ". Write a point where it has a comma"
        }
        Some((_, part)) if part.len() > 3 => ". Three decimals are the most it is told with",
        _ => "",
    };
    Tempo::parse_bpm(text).map_err(|error| format!("{error}{}", hint()))
}

/// A whole number within a limit.
fn whole(limit: Limit) -> impl Fn(&str) -> Result<u32, String> + Clone + Send + Sync + 'static {
    move |text| {
        let within = text.parse::<u32>().ok().filter(|number| limit.holds(i64::from(*number)));
        within.ok_or_else(|| {
            format!(
                "{text} is not a {}: write a whole number from {} to {}",
                limit.what, limit.least, limit.most
            )
        })
    }
}

/// A number of findings, or all of them.
fn findings(text: &str) -> Result<usize, String> {
    match (text, text.parse()) {
        ("all", _) => Ok(usize::MAX),
        (_, Ok(number)) if number > 0 => Ok(number),
        _ => Err("how many findings are told is a number from 1, or `all`".to_owned()),
    }
}

/// What the sound and the strokes of a room can lag, or a device that is set to be early run ahead: wireless speakers take up to
/// half a second (common practice, no source).
const LATENCY_MS: RangeInclusive<f64> = -1_000.0..=2_000.0;

fn latency(text: &str) -> Result<f64, String> {
    let value = millis(text)?;
    let (least, most) = (LATENCY_MS.start(), LATENCY_MS.end());
    let wrong = || {
        format!(
            "\"{text}\" is no latency: give milliseconds from {least} to {most}, as `countline calibrate` measures them"
        )
    };
    if LATENCY_MS.contains(&value) { Ok(value) } else { Err(wrong()) }
}

fn millis(text: &str) -> Result<f64, String> {
    let wrong = || format!("\"{text}\" is not a number of milliseconds: write a number such as 50 or 12.5");
    let value: f64 = text.parse().map_err(|_| wrong())?;
    if value.is_finite() && value.abs() <= 86_400_000.0 { Ok(value) } else { Err(wrong()) }
}
