use mixer::Sample;
use timebase::{SampleRate, Seconds};

use crate::audible::{Audible, NotFound, count};
use crate::decode::Decoded;
use crate::limits::{IMPORT_MOST, QUIET_LUFS, SYLLABLE_MOST};
use crate::resample::Resampler;
use crate::{Error, Estimates, Loudness, Stress, Vowel};

/// Loudness of the loudest 100 ms of a prepared syllable, in LUFS.
pub const LOUDNESS_LUFS: f64 = -19.0;
/// The same of a soft one: what stands between beats in its short form, and the hush of a rest.
pub const SOFT_LOUDNESS_LUFS: f64 = -24.0;
/// The highest true peak of either, in dBFS.
pub const PEAK_DBFS: f64 = -3.0;

/// The rate at which packs are made.
pub(crate) const RATE: SampleRate = SampleRate::HZ_48000;

/// What is wanted of a recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wanted {
    /// The syllable it is of.
    pub syllable: String,
    /// Whether it is softer than the others.
    pub soft: bool,
    /// Which of its vowels is heard on the beat.
    pub stress: Stress,
}

/// A syllable found, trimmed, levelled and centred, ready to stand in a pack.
#[derive(Clone, Debug)]
pub struct Prepared {
    pub(crate) syllable: String,
    /// At 48 kHz, of values that 16 bits hold.
    pub(crate) frames: Vec<f32>,
    pub(crate) vowel: Vowel,
    pub(crate) estimates: Estimates,
    /// What the estimates are where the vowel is looked for in a plainer way.
    pub(crate) plainer: Estimates,
    pub(crate) loudness: Loudness,
}

/// Why a recording cannot be used, with what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// It cannot be read as sound.
    #[error(transparent)]
    File(#[from] Error),
    /// A file of floats may hold what is no level at all.
    #[error("from {at} on it holds samples that are no numbers: export it again, or record it again")]
    NoNumbers {
        /// The first of them.
        at: Seconds,
    },
    /// There is nothing in it.
    #[error("there is no sound in it: see that the microphone is on, and record it again")]
    Silent,
    /// There is next to nothing in it.
    #[error(
        "it is too quiet: its highest peak is {peak_dbfs:.0} dBFS, as soft as the rounding of 16 bits; turn the input up, or export it louder, and see that the right microphone is chosen"
    )]
    Inaudible {
        /// Its highest sample.
        peak_dbfs: f64,
    },
    /// It is cut off at full scale.
    #[error(
        "it is clipped: at {at}{} it stands still at full scale; turn the input down and record it again",
        and_more(*more)
    )]
    Clipped {
        /// The first place.
        at: Seconds,
        /// How many there are besides.
        more: usize,
    },
    /// It was cut off, and turned down afterwards.
    #[error(
        "it is clipped: at {at}{} it stands still at its loudest, {peak_dbfs:.1} dBFS, so it was cut off before it was turned down; turn the input down and record it again",
        and_more(*more)
    )]
    FlatTops {
        /// The first place.
        at: Seconds,
        /// How many there are besides.
        more: usize,
        /// The level of these places.
        peak_dbfs: f64,
    },
    /// It was cut off, and filtered or brought to another rate afterwards.
    #[error(
        "it is clipped: at {at}{} its loud waves are cut off straight, so it was cut off before it was filtered or brought to another rate; turn the input down and record it again",
        and_more(*more)
    )]
    BentTops {
        /// The first place.
        at: Seconds,
        /// How many there are besides.
        more: usize,
    },
    /// It is too soft to be brought up without its noise.
    #[error(
        "it is too quiet: its loudest 100 ms have {given_lufs:.0} LUFS, at least {QUIET_LUFS:.0} are needed; go nearer to the microphone or turn the input up"
    )]
    TooQuiet {
        /// Its loudness.
        given_lufs: f64,
    },
    /// What stands around it is nearly as loud.
    #[error(
        "it stands only {above_db:.0} dB above what else is heard, 20 are needed: record it where it is quiet"
    )]
    Noisy {
        /// How far it stands above the noise.
        above_db: f64,
    },
    /// There is more than one sound.
    #[error(
        "there is another sound at {at}: leave one syllable in the file, and half a second of silence about it"
    )]
    Several {
        /// When.
        at: Seconds,
    },
    /// It goes on for too long.
    #[error("it lasts {given}, and a syllable at most {SYLLABLE_MOST}: say it shorter, or cut the file")]
    TooLong {
        /// How long it is.
        given: Seconds,
    },
}

impl Prepared {
    /// Prepares a sound file: WAV or FLAC, any rate from 8 to 192 kHz, mono or of several channels. `file` is its
    /// name, for messages.
    ///
    /// # Errors
    /// Why it cannot be used.
    pub fn of_file(file: &str, bytes: &[u8], wanted: &Wanted) -> Result<Self, Refusal> {
        let decoded = Decoded::of(file, bytes, IMPORT_MOST)?;
        let rate = SampleRate::new(decoded.rate_hz).map_err(Error::from)?;
        for channel in &decoded.channels {
            refuse_damaged(channel, rate)?;
        }
        Self::prepare(&one_channel(decoded.channels), rate, wanted)
    }

    /// Prepares what a microphone recorded.
    ///
    /// # Errors
    /// Why it cannot be used.
    pub fn of_recording(frames: &[f32], rate: SampleRate, wanted: &Wanted) -> Result<Self, Refusal> {
        refuse_damaged(frames, rate)?;
        Self::prepare(frames, rate, wanted)
    }

    fn prepare(frames: &[f32], rate: SampleRate, wanted: &Wanted) -> Result<Self, Refusal> {
        let mut frames = at_pack_rate(frames, rate, &wanted.syllable)?;
        take_out_offset(&mut frames);
        let found = Audible::of(&frames, RATE).map_err(|why| match why {
            NotFound::Silent => {
                let peak = frames.iter().fold(0.0_f32, |peak, frame| peak.max(frame.abs()));
                let peak_dbfs = 20.0 * f64::from(peak).log10();
                if peak > 0.0 { Refusal::Inaudible { peak_dbfs } } else { Refusal::Silent }
            }
            NotFound::Noisy { above_db } => Refusal::Noisy { above_db },
            NotFound::Several { at } => Refusal::Several { at },
        })?;
        let mut frames = frames[found.begin..found.end].to_vec();
        let length = length_of(&frames);
        if length > SYLLABLE_MOST {
            return Err(Refusal::TooLong { given: length });
        }
        soften_ends(&mut frames);
        let given = Loudness::of(&frames, RATE);
        if given.lufs < QUIET_LUFS {
            return Err(Refusal::TooQuiet { given_lufs: given.lufs });
        }
        let lufs = if wanted.soft { SOFT_LOUDNESS_LUFS } else { LOUDNESS_LUFS };
        let gain = given.gain_to(lufs, PEAK_DBFS);
        // Estimated on what the file will hold, so that anyone can estimate it again from the file.
        frames.iter_mut().for_each(|frame| *frame = sixteen_bits(*frame * gain));
        let vowel = Vowel::find_stressed(&frames, RATE, wanted.stress).ok_or(Refusal::Silent)?;
        Ok(Self {
            syllable: wanted.syllable.clone(),
            estimates: Estimates::of(&frames, RATE, &vowel),
            plainer: plainer(&frames, wanted.stress.number, &vowel),
            loudness: Loudness::of(&frames, RATE),
            vowel,
            frames,
        })
    }

    /// The syllable it is of.
    #[must_use]
    pub fn syllable(&self) -> &str {
        &self.syllable
    }

    /// How long it is.
    #[must_use]
    pub fn length(&self) -> Seconds {
        length_of(&self.frames)
    }

    /// How loud it is now.
    #[must_use]
    pub const fn loudness(&self) -> Loudness {
        self.loudness
    }
}

/// How many places there are besides the first.
fn and_more(places: usize) -> String {
    match places {
        0 => String::new(),
        1 => " and in one more place".to_owned(),
        many => format!(" and in {many} more places"),
    }
}

/// Refuses what holds samples that are none, and what was cut off.
fn refuse_damaged(frames: &[f32], rate: SampleRate) -> Result<(), Refusal> {
    if let Some(place) = frames.iter().position(|frame| !frame.is_finite()) {
        let at = Seconds::from_secs_f64(place as f64 / f64::from(rate.hz()));
        return Err(Refusal::NoNumbers { at });
    }
    refuse_clipped(frames, rate)
}

/// A sample stands still at full scale for as long as this, and no voice does.
const STANDS_STILL: Seconds = Seconds::from_micros(80);
/// What counts as full scale: the last bits of an 8-bit file are missing.
const FULL_SCALE: f32 = 0.98;
/// Two samples this near are the same in 16 bits.
const SAME: f32 = 1.1 / 32_768.0;

/// Refuses what was cut off: stretches of samples that are the same, at full scale or in several places at the loudest
/// there is.
fn refuse_clipped(frames: &[f32], rate: SampleRate) -> Result<(), Refusal> {
    let least = count(STANDS_STILL, rate).max(3);
    let flat = frames
        .chunk_by(|a, b| (a - b).abs() <= SAME && a.abs() >= FULL_SCALE)
        .scan(0, |begin, run| {
            let at = *begin;
            *begin += run.len();
            Some((at, run))
        })
        .filter(|(_, run)| run.len() > least && run[0].abs() >= FULL_SCALE);
    let places: Vec<usize> = flat.map(|(at, _)| at).collect();
    let at = |place: usize| Seconds::from_secs_f64(place as f64 / f64::from(rate.hz()));
    if let Some(&first) = places.first() {
        return Err(Refusal::Clipped { at: at(first), more: places.len() - 1 });
    }
    let ((above, mut places), (below, others)) =
        (flat_tops(frames, 1.0, least), flat_tops(frames, -1.0, least));
    let peak = if others.len() > places.len() { below } else { above };
    places.extend(others);
    match places.iter().min() {
        Some(&first) if places.len() >= FLAT_TOPS => {
            let peak_dbfs = 20.0 * f64::from(peak).log10();
            return Err(Refusal::FlatTops { at: at(first), more: places.len() - 1, peak_dbfs });
        }
        _ => {}
    }
    let mut places = bent_tops(frames, 1.0, rate);
    places.extend(bent_tops(frames, -1.0, rate));
    match places.iter().min() {
        Some(&first) if places.len() >= FLAT_TOPS => {
            Err(Refusal::BentTops { at: at(first), more: places.len() - 1 })
        }
        _ => Ok(()),
    }
}

/// So many flat tops, above and below, are no chance: one period of a square has two.
const FLAT_TOPS: usize = 3;
/// Samples this near to the peak are as loud: what noise was put over 16 bits when it was turned down is in it.
const AS_LOUD: f32 = 3.0 / 32_768.0;
/// A flat top has edges: within half its length more it falls by so many times what counts as flat. A curve as its square
/// falls by 7 times that, one as its fourth power by 30.
const EDGE: f32 = 32.0;

/// The highest sample on this side of the zero line, 1 or -1, and where more than `least` samples stand still there between
/// two edges.
fn flat_tops(frames: &[f32], side: f32, least: usize) -> (f32, Vec<usize>) {
    let (peak, flat) = (peak(frames, side), as_flat(frames));
    let is_top = |frame: &f32| side * frame >= peak - flat;
    let falls = |frames: &[f32]| frames.iter().any(|frame| side * frame < peak - EDGE * flat);
    let mut places = Vec::new();
    let mut begin = 0;
    for run in frames.chunk_by(|a, b| is_top(a) == is_top(b)) {
        let (end, more) = (begin + run.len(), run.len() / 2);
        if run.len() > least
            && is_top(&run[0])
            && falls(&frames[begin.saturating_sub(more)..begin])
            && falls(&frames[end..frames.len().min(end + more)])
        {
            places.push(begin);
        }
        begin = end;
    }
    (peak, places)
}

fn peak(frames: &[f32], side: f32) -> f32 {
    frames.iter().fold(0.0_f32, |peak, frame| peak.max(side * frame))
}

/// By how much samples may differ that are as loud in this recording.
fn as_flat(frames: &[f32]) -> f32 {
    // Files of few bits have steps larger than that.
    let steps = frames.windows(2).map(|pair| (pair[0] - pair[1]).abs()).filter(|step| *step > 0.0);
    AS_LOUD.max(1.1 * steps.fold(f32::INFINITY, f32::min))
}

/// A top that was cut off and bent afterwards is a straight line still, to this share of the peak. Of shipped recordings that were cut
/// off 6 dB below their peak and filtered, 0.003 and 0.01 find fewer; no clean one has
/// [`FLAT_TOPS`] of them.
const STRAIGHT: f32 = 0.006;
/// Beyond its ends it falls from its line, within half its length more, by so many times what counts as straight. A curve as its
/// square falls by 3 times that, one as its fourth power by 15.
const BENT_EDGE: f32 = 32.0;
/// Tops lower than this share of the peak say nothing.
const LOUD: f32 = 0.4;
/// No more of a top than this is looked at: a filter bends what lasts longer.
const LONGEST_TOP: Seconds = Seconds::from_micros(1_400);

/// Where tops on this side of the zero line, 1 or -1, were cut off, and bent by what was done to the recording afterwards.
fn bent_tops(frames: &[f32], side: f32, rate: SampleRate) -> Vec<usize> {
    let peak = peak(frames, side);
    let straight = as_flat(frames).max(STRAIGHT * peak);
    let (least, most) = (count(STANDS_STILL, rate).max(3) + 1, count(LONGEST_TOP, rate));
    let lengths: Vec<usize> =
        std::iter::successors(Some(most), |length| (*length > least).then(|| (length * 4 / 5).max(least)))
            .collect();
    let mut places = Vec::new();
    let mut begin = 0;
    while begin < frames.len() {
        let is_loud = side * frames[begin] >= LOUD * peak;
        let found =
            lengths.iter().find(|length| is_loud && is_bent_top(frames, side, (begin, **length), straight));
        match found {
            Some(length) => {
                places.push(begin);
                begin += length + length / 2;
            }
            None => begin += 1,
        }
    }
    places
}

/// Whether so many samples from this one on are a straight line, not too steep, and those before and after it fall from it.
fn is_bent_top(frames: &[f32], side: f32, (begin, length): (usize, usize), straight: f32) -> bool {
    let more = length / 2;
    let (Some(from), end) = (begin.checked_sub(more), begin + length) else { return false };
    let Some(around) = frames.get(from..end + more) else { return false };
    let (first, last) = (side * frames[begin], side * frames[end - 1]);
    let slope = (last - first) / (length - 1) as f32;
    // How far a sample lies below the line.
    let below = |place: usize| first + slope * (place as f32 - more as f32) - side * around[place];
    let falls = |mut places: std::ops::Range<usize>| places.any(|place| below(place) > BENT_EDGE * straight);
    below(more + length / 2).abs() <= straight
        && (last - first).abs() <= 0.5 * first.min(last)
        && (more..more + length).all(|place| below(place).abs() <= straight)
        && falls(0..more)
        && falls(more + length..around.len())
}

/// A recording whose mean lies further from the zero line than this lies beside it; a voice's own is far nearer.
const OFFSET_LEAST: f64 = 0.005;

/// Brings a recording that lies beside the zero line there, or it would begin and end with a jump.
#[expect(clippy::cast_possible_truncation, reason = "a sample needs no more than seven digits")]
fn take_out_offset(frames: &mut [f32]) {
    let mean = frames.iter().map(|frame| f64::from(*frame)).sum::<f64>() / frames.len().max(1) as f64;
    if mean.abs() > OFFSET_LEAST {
        frames.iter_mut().for_each(|frame| *frame -= mean as f32);
    }
}

/// The mean of all channels; where they cancel each other, the loudest of them.
fn one_channel(mut channels: Vec<Vec<f32>>) -> Vec<f32> {
    if channels.len() == 1 {
        return channels.remove(0);
    }
    let power = |frames: &[f32]| frames.iter().map(|&frame| f64::from(frame).powi(2)).sum::<f64>();
    let share = 1.0 / channels.len() as f32;
    let mut mean = vec![0.0; channels.first().map_or(0, Vec::len)];
    for channel in &channels {
        for (sum, frame) in mean.iter_mut().zip(channel) {
            *sum += share * frame;
        }
    }
    let loudest = channels.into_iter().max_by(|a, b| power(a).total_cmp(&power(b))).unwrap_or_default();
    // A microphone on one channel of two leaves a quarter of the power; a reversed one nothing.
    if power(&mean) < 0.3 * power(&loudest) { loudest } else { mean }
}

fn at_pack_rate(frames: &[f32], rate: SampleRate, syllable: &str) -> Result<Vec<f32>, Refusal> {
    if rate == RATE {
        return Ok(frames.to_vec());
    }
    let sound = Sample::new(frames.to_vec());
    let sound = sound.map_err(|reason| Error::Sample { file: syllable.to_owned(), reason })?;
    Ok(Resampler::new(rate, RATE)?.resample(&sound)?.data().to_vec())
}

/// A millisecond of fade in, six of fade out.
fn soften_ends(frames: &mut [f32]) {
    let fade = |milliseconds: i64| count(Seconds::from_millis(milliseconds), RATE).min(frames.len());
    let (rise, fall) = (fade(1), fade(6));
    for (place, frame) in frames[..rise].iter_mut().enumerate() {
        *frame *= place as f32 / rise as f32;
    }
    for (place, frame) in frames.iter_mut().rev().take(fall).enumerate() {
        let turn = std::f32::consts::PI * (place as f32 / fall as f32);
        *frame *= 0.5 - 0.5 * turn.cos();
    }
}

/// The estimates with the vowel of this number that a plainer search finds.
fn plainer(frames: &[f32], number: usize, otherwise: &Vowel) -> Estimates {
    let vowel = Vowel::find_plainly(frames, RATE, number);
    Estimates::of(frames, RATE, vowel.as_ref().unwrap_or(otherwise))
}

fn sixteen_bits(frame: f32) -> f32 {
    (frame * 32_768.0).round().clamp(-32_768.0, 32_767.0) / 32_768.0
}

fn length_of(frames: &[f32]) -> Seconds {
    Seconds::from_secs_f64(frames.len() as f64 / f64::from(RATE.hz()))
}
