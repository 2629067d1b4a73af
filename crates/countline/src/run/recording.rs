//! A take that is a sound recording: its strokes are found, and what had to be assumed is told.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use onset::{Settings, Stroke as Found, strokes, strokes_beside};
use take::midi::{CLAP_KEY, MidiTake};
use take::wav::{WavSound, read_wav};
use take::{Click, Player, Role, Stroke, Take};
use timebase::{Moment, SampleRate, Tempo};

use super::clicks;
use super::judge::TakeFile;
use crate::failure::Failure;
use crate::flags::ChannelFlag;

/// What had to be assumed of a recording, as sentences for the report.
#[derive(Debug)]
pub(crate) struct Assumed {
    /// Which channel is whose.
    pub(crate) channels: String,
    /// How it is known where count 1 of bar 1 falls, where it is.
    pub(crate) bar_one: Option<String>,
}

/// Two channels that differ by no more than this are one: 50 dB.
const SAME: f32 = 0.003;

/// A recording without a stroke whose peak is below −50 dBFS was recorded too softly.
const QUIET: f32 = 0.003;

/// Whether the file at `path` says that it is a WAV file.
pub(crate) fn is_wav(path: &Path) -> bool {
    let mut head = [0; 12];
    File::open(path).and_then(|mut file| file.read_exact(&mut head)).is_ok()
        && head.starts_with(b"RIFF")
        && head.ends_with(b"WAVE")
}

/// The recording at `path` as a take of one player.
pub(crate) fn read(path: &Path, channel: Option<ChannelFlag>) -> Result<TakeFile, Failure> {
    let failed = |error: &dyn std::fmt::Display| Failure::Job(format!("{}: {error}", path.display()));
    let sound = read_wav(path).map_err(|error| match error {
        take::Error::OutOfRange { .. } => failed(&format!("{error}; cut it into pieces")),
        told => Failure::job(told),
    })?;
    let Channels { player, model, clicked, said } =
        Channels::of(&sound, channel).map_err(|why| failed(&why))?;
    let settings = Settings::default();
    let found = match &model {
        Some(model) => strokes_beside(&player, model, sound.rate, &settings),
        None => strokes(&player, sound.rate, &settings),
    };
    let found = found.map_err(|error| failed(&error))?;
    let no_numbers = sound.samples.iter().filter(|sample| !sample.is_finite()).count();
    if found.is_empty() && no_numbers > 0 {
        return Err(failed(&"it holds samples that are no numbers (NaN or infinite): write it anew"));
    }
    if found.is_empty() {
        let hint = if model.is_some() {
            "; of two channels the right one is searched, without what the left one has; --channel mix searches both"
        } else {
            ""
        };
        let peak = player.iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
        let why = if peak == 0.0 {
            ": it is silent; see that the microphone is on".to_owned()
        } else if peak < QUIET {
            let peak_dbfs = 20.0 * peak.log10();
            format!(
                ": its highest peak is {peak_dbfs:.0} dBFS, which is too quiet; turn the input up and record it again"
            )
        } else {
            String::new()
        };
        return Err(failed(&format!("no stroke was found in {said}{why}{hint}")));
    }
    let clicks = match &clicked {
        Some(clicked) => clicks::heard(clicked, sound.rate).map_err(|error| failed(&error))?,
        None => Vec::new(),
    };
    let start = Start::of(path, &clicks);
    // A tempo is read from clicks by counting them, so none may be missing.
    let clicks = if clicks::are_even(&clicks) { clicks } else { Vec::new() };
    let count = found.len();
    let mut channels = format!("{count} strokes were found in {said}");
    if no_numbers > 0 {
        let samples = if no_numbers == 1 {
            "sample is no number".to_owned()
        } else {
            "samples are no numbers".to_owned()
        };
        channels += &format!(
            "; {no_numbers} {samples} (NaN or infinite) and were taken as silence: a stroke that lies there is missing, so write the file anew"
        );
    }
    Ok(TakeFile {
        calibrated: Vec::new(),
        resolution: None,
        take: None,
        midi: MidiTake {
            title: None,
            bar_one: start.bar_one,
            clicks,
            players: vec![Player { label: label(path), strokes: as_played(&found, sound.rate) }],
            end: Moment::ZERO + sound.length(),
            ..MidiTake::default()
        },
        tempo: start.tempo,
        assumed: Some(Assumed { channels, bar_one: start.said }),
    })
}

/// Which channel is whose.
struct Channels {
    player: Vec<f32>,
    model: Option<Vec<f32>>,
    /// In which the click is looked for.
    clicked: Option<Vec<f32>>,
    /// In which the player was searched, in words.
    said: String,
}

impl Channels {
    fn of(sound: &WavSound, channel: Option<ChannelFlag>) -> Result<Self, String> {
        let only = |player, said: &str| Self { player, model: None, clicked: None, said: said.to_owned() };
        let take = |index| sound.channel(index).collect::<Vec<f32>>();
        match (sound.channels, channel) {
            (1, None | Some(ChannelFlag::Mix)) => Ok(only(take(0), "the one channel")),
            (1, Some(_)) => Err("it has one channel: leave --channel away".to_owned()),
            (2, Some(ChannelFlag::Left)) => Ok(only(take(0), "the left channel alone")),
            (2, Some(ChannelFlag::Right)) => {
                let clicked = (!same(sound)).then(|| take(0));
                Ok(Self { clicked, ..only(take(1), "the right channel alone") })
            }
            (2, Some(ChannelFlag::Mix)) => Ok(only(mix(sound), "both channels together")),
            (2, None) if same(sound) => Ok(only(take(0), "the left channel, the right one being the same")),
            (2, None) => Ok(Self {
                player: take(1),
                model: Some(take(0)),
                clicked: Some(take(0)),
                said: "the right channel, the left one being the click and the count".to_owned(),
            }),
            (many, Some(ChannelFlag::Mix)) if many > 2 => Ok(only(mix(sound), "all channels together")),
            (many, _) => Err(format!("it has {many} channels: give one or two, or --channel mix")),
        }
    }
}

/// All channels in one.
fn mix(sound: &WavSound) -> Vec<f32> {
    let channels = usize::from(sound.channels.max(1));
    let share = 1.0 / f32::from(sound.channels.max(1));
    sound.samples.chunks(channels).map(|frame| frame.iter().sum::<f32>() * share).collect()
}

/// Whether both channels are one.
fn same(sound: &WavSound) -> bool {
    let loudest = sound.samples.iter().fold(0.0_f32, |loudest, sample| loudest.max(sample.abs()));
    sound.samples.chunks_exact(2).all(|frame| (frame[0] - frame[1]).abs() <= SAME * loudest)
}

/// Where count 1 of bar 1 falls, and how that is known.
struct Start {
    bar_one: Option<Moment>,
    tempo: Option<Tempo>,
    said: Option<String>,
}

impl Start {
    fn of(path: &Path, clicks: &[Click]) -> Self {
        if let Some(take) = folder_of(path) {
            let bar_one = take.header().bar_one;
            return Self {
                bar_one: Some(bar_one),
                tempo: Some(take.header().tempo),
                said: Some(format!("count 1 of bar 1 is at {}, as the take's folder says", seconds(bar_one))),
            };
        }
        let bar_one = clicks::bar_one(clicks);
        Self { bar_one, tempo: None, said: bar_one.map(clicks::bar_one_in_words) }
    }
}

/// The take whose sound this is, if it lies in a take's folder under its own name.
fn folder_of(path: &Path) -> Option<Take> {
    let take = Take::open(path.parent()?).ok()?;
    (take.folder().wav().file_name() == path.file_name()).then_some(take)
}

fn seconds(at: Moment) -> String {
    format!("{:.3} s", at.as_secs_f64())
}

/// Who plays is called as the file is.
fn label(path: &Path) -> String {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let label: String = stem.chars().filter(|c| !c.is_control()).take(80).collect();
    if label.trim().is_empty() { "player".to_owned() } else { label }
}

/// As pads would have sent it: the loudest at full velocity, the others as much softer as General MIDI has it, where
/// a note of velocity v is 40·log₁₀(v/127) dB loud (General MIDI level 2).
fn as_played(found: &[Found], rate: SampleRate) -> Vec<Stroke> {
    let loudest = found.iter().map(|stroke| stroke.peak_dbfs).fold(f64::NEG_INFINITY, f64::max);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 1 to 127")]
    let velocity = |peak: f64| (127.0 * 10_f64.powf((peak - loudest) / 40.0)).round().clamp(1.0, 127.0) as u8;
    found
        .iter()
        .map(|stroke| Stroke {
            at: stroke.at.moment(rate),
            note: CLAP_KEY,
            velocity: velocity(stroke.peak_dbfs),
            released: None,
            origin: None,
            role: Role::Attack,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use timebase::{Frame, Seconds};

    use super::*;

    fn sound(channels: u16, samples: &[f32]) -> WavSound {
        WavSound { rate: SampleRate::HZ_48000, channels, samples: samples.to_vec() }
    }

    #[test]
    fn of_two_channels_the_right_one_plays_unless_both_are_the_same() {
        let check = |sound: &WavSound, flag, player: &[f32], model: Option<&[f32]>| {
            let channels = Channels::of(sound, flag).expect("allowed");
            assert_eq!((channels.player.as_slice(), channels.model.as_deref()), (player, model));
        };
        let two = sound(2, &[0.5, 0.0, 0.25, 1.0]);
        check(&two, None, &[0.0, 1.0], Some(&[0.5, 0.25]));
        check(&two, Some(ChannelFlag::Left), &[0.5, 0.25], None);
        check(&two, Some(ChannelFlag::Right), &[0.0, 1.0], None);
        check(&two, Some(ChannelFlag::Mix), &[0.25, 0.625], None);
        check(&sound(2, &[0.5, 0.5, 1.0, 1.0]), None, &[0.5, 1.0], None);
        check(&sound(1, &[0.5, 1.0]), None, &[0.5, 1.0], None);
        check(&sound(3, &[0.3, 0.3, 0.3]), Some(ChannelFlag::Mix), &[0.3], None);
        assert!(Channels::of(&sound(3, &[0.0; 3]), None).is_err());
        assert!(Channels::of(&sound(1, &[0.0; 3]), Some(ChannelFlag::Left)).is_err());
    }

    #[test]
    fn the_softer_stroke_has_the_lower_velocity() {
        let found = [-6.0, -18.04, -90.0].map(|peak_dbfs| Found { at: Frame::new(480), peak_dbfs });
        let played = as_played(&found, SampleRate::HZ_48000);
        assert_eq!(played.iter().map(|stroke| stroke.velocity).collect::<Vec<_>>(), [127, 64, 1]);
        assert_eq!(played[0].at, Moment::ZERO + Seconds::from_millis(10));
    }
}
