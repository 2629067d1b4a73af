//! `countline drill`

use std::path::PathBuf;

use clap::{ArgGroup, Args, ValueEnum};
use sequencer::limits;
use timebase::{Ratio, SampleRate};

use super::files::{Bits, rate};
use super::sounds::{Sound, SoundsFlags};
use super::{bpm, whole};
use crate::overwriting::Files;

/// `countline drill`
#[derive(Debug, Args)]
#[command(
    group(ArgGroup::new("sound-files").args(["out", "tracks"]).multiple(true)),
    after_help = "A drill is call and response unless --play-along is given: so many bars are called, sounded and counted, and then \
    answered. Without -o, --tracks and --midi the plan is printed, round by round.\n\nKeep turns short, leave time to rest, and stop when something \
    hurts."
)]
pub(crate) struct DrillFlags {
    /// The rhythm texts in the order they are drilled, or one plan, a file ending in .drill; flags go before what the plan says
    #[arg(required_unless_present = "template")]
    pub(crate) files: Vec<PathBuf>,
    /// Print a plan to start from, every line explained
    #[arg(long, exclusive = true)]
    pub(crate) template: bool,
    /// How many bars are called at once, 1 to 64; by default the whole rhythm
    #[arg(long, value_name = "BARS", value_parser = whole(limits::PHRASE_BARS), allow_negative_numbers = true)]
    pub(crate) bars: Option<u32>,
    /// No call: players play along from the first bar on
    #[arg(long)]
    pub(crate) play_along: bool,
    /// Let every rhythm be heard as a whole first
    #[arg(long)]
    pub(crate) model: bool,
    /// Beats between call and response; 0 runs on
    #[arg(long, value_name = "BEATS", value_parser = whole(limits::BREATH_BEATS), allow_negative_numbers = true)]
    pub(crate) breath: Option<u32>,
    /// Beats between two rounds; 0 runs on
    #[arg(long, value_name = "BEATS", value_parser = whole(limits::REST_BEATS), allow_negative_numbers = true)]
    pub(crate) rest: Option<u32>,
    /// Bars counted in; before a pickup, the counts up to it are added
    #[arg(long, value_name = "BARS", value_parser = whole(limits::COUNT_IN_BARS), allow_negative_numbers = true)]
    pub(crate) count_in: Option<u32>,
    /// Before which rounds is counted in
    #[arg(long, value_enum, value_name = "WHICH")]
    pub(crate) count_in_before: Option<CountedFlag>,
    /// What is heard in a response, parted by commas: click, count, clap, tone, or `nothing`; by default the click
    #[arg(long, value_name = "SOUNDS", value_parser = heard)]
    pub(crate) response: Option<HeardFlag>,
    /// What is heard in a call; by default click, count and clap
    #[arg(long, value_name = "SOUNDS", value_parser = heard)]
    pub(crate) call: Option<HeardFlag>,
    /// Who sounds the pickup of a response
    #[arg(long, value_enum, value_name = "WHO")]
    pub(crate) pickup: Option<PickupFlag>,
    /// Hide the notation during calls
    #[arg(long)]
    pub(crate) hide: bool,
    /// Beats a minute, 20 to 300, of each rhythm's own beat; with --step those of the first round
    #[arg(long, value_name = "BPM", value_parser = bpm)]
    pub(crate) tempo: Option<Ratio<u32>>,
    /// Step up by so many beats a minute after good rounds, and down after bad ones
    #[arg(long, value_name = "BPM", value_parser = step)]
    pub(crate) step: Option<Ratio<u32>>,
    /// The slowest tempo that is stepped down to; by default the first
    #[arg(long, value_name = "BPM", value_parser = bpm)]
    pub(crate) slowest: Option<Ratio<u32>>,
    /// The fastest tempo that is stepped up to; by default the rhythm's own
    #[arg(long, value_name = "BPM", value_parser = bpm)]
    pub(crate) fastest: Option<Ratio<u32>>,
    /// Good rounds in a row before a step up; by default 2
    #[arg(long, value_name = "ROUNDS", value_parser = whole(limits::STEP_AFTER), allow_negative_numbers = true)]
    pub(crate) up_after: Option<u32>,
    /// Bad rounds in a row before a step down; by default 1
    #[arg(long, value_name = "ROUNDS", value_parser = whole(limits::STEP_AFTER), allow_negative_numbers = true)]
    pub(crate) down_after: Option<u32>,
    /// End the drill when as many rounds in a row were good at the fastest tempo
    #[arg(long)]
    pub(crate) until_fastest: bool,
    /// How often a bad round is played again before the next
    #[arg(long, value_name = "TIMES", value_parser = whole(limits::AGAIN), allow_negative_numbers = true)]
    pub(crate) again: Option<u32>,
    /// How often the whole list is gone through
    #[arg(long, value_name = "TIMES", value_parser = whole(limits::TIMES), allow_negative_numbers = true)]
    pub(crate) times: Option<u32>,
    /// Bars with and bars without the click, by turns: 2+2
    #[arg(long, value_name = "WITH+WITHOUT", value_parser = by_turns)]
    pub(crate) silent: Option<(u32, u32)>,
    /// Who takes turns, parted by commas: codes instead of names
    #[arg(long, value_name = "CODES", value_delimiter = ',')]
    pub(crate) players: Option<Vec<String>>,
    /// How players take turns
    #[arg(long, value_enum, value_name = "HOW")]
    pub(crate) turns: Option<TurnsFlag>,
    /// The voice that counts (see `countline devices` for the shipped ones)
    #[arg(long, value_name = "NAME")]
    pub(crate) voice: Option<String>,
    /// The counting system: a name that `countline systems` shows, or the table of your own, a file ending in .toml; by default
    /// numbers
    #[arg(long, value_name = "NAME|FILE.toml")]
    pub(crate) counting: Option<String>,
    /// A variant of the counting system; may be given several times
    #[arg(long, value_name = "NAME")]
    pub(crate) variant: Vec<String>,
    /// Which part of rhythms with several, by its name or number
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
    #[command(flatten)]
    pub(crate) sounds: SoundsFlags,
    /// What the rounds become, parted by commas: good or bad. The last stands for all that follow; by default all are good
    #[arg(long, value_enum, value_delimiter = ',', value_name = "LIST", default_value = "good")]
    pub(crate) rounds: Vec<OutcomeFlag>,
    /// Write the sound to this WAV file, every part of every round marked in it; in stereo where something is heard from a side
    #[arg(short, long, value_name = "OUT")]
    pub(crate) out: Option<PathBuf>,
    /// Write each kind of sound to a WAV file of its own in this folder, all equally long and marked alike: click.wav, count.wav,
    /// clap.wav and, with a tone, tone.wav
    #[arg(long, value_name = "DIR")]
    pub(crate) tracks: Option<PathBuf>,
    /// Write what is clicked, clapped and said (as lyrics) to this Standard MIDI file of format 1, each round at its tempo and every
    /// part of it marked. What is muted has no track; levels and places are for sound alone
    #[arg(long, value_name = "OUT")]
    pub(crate) midi: Option<PathBuf>,
    /// Bits a sample in WAV files
    #[arg(long, value_enum, value_name = "BITS", default_value_t = Bits::Sixteen, requires = "sound-files")]
    pub(crate) bits: Bits,
    /// Frames a second in WAV files, 8000 to 192000
    #[arg(long, value_name = "HZ", default_value = "48000", value_parser = rate, requires = "sound-files")]
    pub(crate) rate: SampleRate,
    /// Print the plan as JSON for other programs instead
    #[arg(long)]
    pub(crate) json: bool,
}

/// Before which rounds is counted in.
impl DrillFlags {
    /// The files of `--tracks`, and the sound that is heard in each.
    pub(crate) const TRACKS: [(&str, Sound); 4] = [
        ("click.wav", Sound::Click),
        ("count.wav", Sound::Count),
        ("clap.wav", Sound::Clap),
        ("tone.wav", Sound::Tone),
    ];

    /// Whether any WAV file is to be written.
    pub(crate) fn asks_for_sound(&self) -> bool {
        self.out.is_some() || self.tracks.is_some()
    }

    /// Whether a call or a response is asked to have a tone.
    pub(crate) fn names_tone(&self) -> bool {
        let heard = [&self.call, &self.response];
        heard.into_iter().flatten().any(|heard| heard.0.contains(&Sound::Tone))
    }

    /// Whether any file is to be written.
    pub(crate) fn asks_for_files(&self) -> bool {
        self.asks_for_sound() || self.midi.is_some()
    }

    /// The files that are written beside those.
    pub(crate) fn written(&self, files: Files) -> Files {
        let files = files.write("--out", self.out.as_ref()).write("--midi", self.midi.as_ref());
        let Some(folder) = &self.tracks else { return files };
        Self::TRACKS.iter().fold(files, |files, (name, _)| files.write("--tracks", Some(folder.join(name))))
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum CountedFlag {
    /// The first, and those with another tempo, meter or rhythm than the one before
    Changes,
    /// The first, and those at another tempo
    Start,
    /// Every one
    Rounds,
}

/// Who sounds the pickup of a response.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum PickupFlag {
    /// Whoever calls: players are asked from the bar line on
    Call,
    /// The players
    Players,
    /// Both
    Both,
}

/// How players take turns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum TurnsFlag {
    /// One answers a call, the next answers the next
    ByRound,
    /// All answer a call, one after the other
    WithinRound,
}

/// What became of a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum OutcomeFlag {
    /// It was good
    Good,
    /// It was not
    Bad,
}

/// What is heard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct HeardFlag(pub(crate) Vec<Sound>);

fn heard(text: &str) -> Result<HeardFlag, String> {
    if text == "nothing" {
        return Ok(HeardFlag(Vec::new()));
    }
    let sound = |name: &str| match name.trim() {
        "click" => Ok(Sound::Click),
        "count" => Ok(Sound::Count),
        "clap" => Ok(Sound::Clap),
        "tone" => Ok(Sound::Tone),
        other => Err(format!(
            "\"{other}\" is no sound: write click, count, clap, tone, parted by commas, or nothing"
        )),
    };
    text.split(',').map(sound).collect::<Result<_, _>>().map(HeardFlag)
}

fn step(text: &str) -> Result<Ratio<u32>, String> {
    let wrong = || format!("\"{text}\" is no step: write beats a minute, such as 4 or 2.5");
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits = |d: &str| d.len() <= 3 && d.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || !digits(whole) || !digits(part) {
        return Err(wrong());
    }
    let scale = 10_u32.pow(u32::try_from(part.len()).map_err(|_| wrong())?);
    let number: u32 = format!("{whole}{part}").parse().map_err(|_| wrong())?;
    if number == 0 { Err(wrong()) } else { Ok(Ratio::new(number, scale)) }
}

fn by_turns(text: &str) -> Result<(u32, u32), String> {
    let wrong = || format!("\"{text}\" is no number of bars with and without the click: write 2+2");
    let (with, without) = text.split_once('+').ok_or_else(wrong)?;
    let number = |digits: &str| digits.trim().parse::<u32>().map_err(|_| wrong());
    Ok((number(with)?, number(without)?))
}
