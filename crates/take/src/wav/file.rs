//! A finished sound as a WAV file, in any of the usual forms, with marks in it.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use timebase::{Frame, SampleRate};

use super::BUFFER_BYTES;
use super::dither::Dither;
use crate::limits::{WAV_BYTES, WAV_CHANNELS};
use crate::{Beside, Error};

/// How the samples of a WAV file are kept.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum WavSamples {
    /// Whole numbers of 16 bits, which every program opens. Noise of triangular density, two steps wide, is added before
    /// rounding (dither), also where nothing sounds, so that what is softer than a step is kept as noise and not as distortion.
    #[default]
    Int16,
    /// Whole numbers of 24 bits, rounded to the nearest: a step lies 144 dB below full scale, beneath the noise of any converter,
    /// so nothing is added.
    Int24,
    /// 32-bit floating point, the samples as they are, also beyond ±1.
    Float32,
}

impl WavSamples {
    const fn bytes(self) -> u16 {
        match self {
            Self::Int16 => 2,
            Self::Int24 => 3,
            Self::Float32 => 4,
        }
    }
}

/// What kind of WAV file is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct WavForm {
    /// Frames a second.
    pub rate: SampleRate,
    /// How many channels, within [`WAV_CHANNELS`].
    pub channels: u16,
    /// How samples are kept.
    pub samples: WavSamples,
    /// Where the noise of the dither begins. The same sound with the same seed gives the same bytes; files that are to be
    /// added up again want different ones, or their noise adds up too.
    pub seed: u64,
}

/// A place in a sound that other programs show, as the chunks `cue ` and `LIST adtl` of the file hold it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WavCue {
    /// The frame it marks.
    pub frame: Frame,
    /// What stands beside it.
    pub label: String,
}

/// A WAV file of a length known beforehand, written from front to back: beside its place, then renamed into it.
///
/// Because the length is known, the header is right from its first byte, nothing is written twice, and a file that would be too
/// long is refused before there is one. The chunks are `fmt `, for floating point `fact`, `data`, and behind them, where
/// there are marks, `cue ` and `LIST adtl` with a `labl` each (Microsoft and IBM, "Multimedia Programming Interface and Data
/// Specifications 1.0", 1991; from memory, and read by libsndfile in a test). Every chunk of odd length is followed by a zero.
///
/// Dropped before [`WavFile::finish`], it leaves what stood in its place untouched. For an ordinary thread.
#[derive(Debug)]
pub struct WavFile {
    path: PathBuf,
    /// Before `beside`, for a file is closed before it is removed.
    out: BufWriter<File>,
    beside: Beside,
    form: WavForm,
    frames: u64,
    written: u64,
    /// What stands behind the sound.
    tail: Vec<u8>,
    dither: Dither,
    block: Vec<u8>,
}

impl WavFile {
    /// Begins a file of `frames` frames that is to stand at `place`. A cue outside the sound is left out; `cues` need not
    /// be in order.
    ///
    /// # Errors
    /// If `form` has more channels than [`WAV_CHANNELS`], if the file would pass 4 GiB ([`Error::WavTooLong`]), or if it
    /// cannot be written.
    pub fn create(place: &Path, form: WavForm, frames: u64, cues: &[WavCue]) -> Result<Self, Error> {
        if !WAV_CHANNELS.holds(i64::from(form.channels)) {
            return Err(Error::OutOfRange { given: i64::from(form.channels), limit: WAV_CHANNELS });
        }
        let mut tail = marks(cues, frames);
        let header = header(form, frames, tail.len()).ok_or_else(|| too_long(place, form, frames))?;
        if data_bytes(form, frames) % 2 == 1 {
            tail.insert(0, 0);
        }
        let beside = Beside::new(place);
        let failed = |e| Error::writing(place, e);
        let file = File::create(beside.part()).map_err(failed)?;
        let mut out = BufWriter::with_capacity(BUFFER_BYTES, file);
        out.write_all(&header).map_err(failed)?;
        Ok(Self {
            path: place.to_owned(),
            out,
            beside,
            form,
            frames,
            written: 0,
            tail,
            dither: Dither::new(form.seed),
            block: Vec::new(),
        })
    }

    /// Writes whole frames: one sample of each channel after another, nominally within ±1. Whole numbers take what is beyond
    /// to full scale.
    ///
    /// # Errors
    /// If the disk is full or the file cannot be written; an incomplete frame at the end is [`Error::ChannelLengths`], more
    /// frames than were promised are [`Error::WavFrames`], both before anything is written.
    pub fn write(&mut self, samples: &[f32]) -> Result<(), Error> {
        let channels = usize::from(self.form.channels);
        let whole = samples.len() / channels;
        if whole * channels != samples.len() {
            return Err(Error::ChannelLengths { model: whole + 1, player: whole });
        }
        let written = self.written + u64::try_from(whole).unwrap_or(u64::MAX);
        if written > self.frames {
            return Err(self.wrong_length(written));
        }
        self.block.clear();
        let (block, dither) = (&mut self.block, &mut self.dither);
        for &sample in samples {
            match self.form.samples {
                WavSamples::Int16 => block.extend(sixteen_bits(sample, dither.next()).to_le_bytes()),
                WavSamples::Int24 => block.extend(&twenty_four_bits(sample).to_le_bytes()[..3]),
                WavSamples::Float32 => block.extend(sample.to_le_bytes()),
            }
        }
        self.out.write_all(block).map_err(|e| Error::writing(&self.path, e))?;
        self.written = written;
        Ok(())
    }

    /// Writes the marks, brings the file to the disk and renames it into its place.
    ///
    /// # Errors
    /// If fewer frames were written than promised ([`Error::WavFrames`]), or the last bytes cannot be written or the file
    /// renamed. What stood in its place before is then still there.
    pub fn finish(self) -> Result<(), Error> {
        self.complete()?.commit()
    }

    /// Writes the marks; the whole file then waits beside its place until it is committed.
    ///
    /// # Errors
    /// If fewer frames were written than promised ([`Error::WavFrames`]), or the last bytes cannot be written.
    pub fn complete(mut self) -> Result<Beside, Error> {
        if self.written != self.frames {
            return Err(self.wrong_length(self.written));
        }
        let failed = |e| Error::writing(&self.path, e);
        self.out.write_all(&self.tail).map_err(failed)?;
        self.out.flush().map_err(failed)?;
        Ok(self.beside)
    }

    fn wrong_length(&self, given: u64) -> Error {
        Error::WavFrames { path: self.path.clone(), promised: self.frames, given }
    }
}

fn data_bytes(form: WavForm, frames: u64) -> u64 {
    frames.saturating_mul(u64::from(form.channels) * u64::from(form.samples.bytes()))
}

/// Everything before the sound; `None` if a length does not fit its 32 bits.
fn header(form: WavForm, frames: u64, tail: usize) -> Option<Vec<u8>> {
    let float = form.samples == WavSamples::Float32;
    let data = data_bytes(form, frames);
    let data = i64::try_from(data)
        .ok()
        .filter(|&data| WAV_BYTES.holds(data))
        .and_then(|data| u32::try_from(data).ok())?;
    let block = form.channels * form.samples.bytes();
    let bytes_a_second = form.rate.hz().checked_mul(u32::from(block))?;

    let mut format = Vec::new();
    // WAVE_FORMAT_IEEE_FLOAT and WAVE_FORMAT_PCM.
    format.extend(if float { 3_u16 } else { 1 }.to_le_bytes());
    format.extend(form.channels.to_le_bytes());
    format.extend(form.rate.hz().to_le_bytes());
    format.extend(bytes_a_second.to_le_bytes());
    format.extend(block.to_le_bytes());
    format.extend((8 * form.samples.bytes()).to_le_bytes());
    let mut chunks = b"WAVE".to_vec();
    if float {
        // What is not PCM says the size of its further fields, here none, and its length in a chunk of its own.
        format.extend(0_u16.to_le_bytes());
    }
    chunk(&mut chunks, b"fmt ", &format);
    if float {
        chunk(&mut chunks, b"fact", &u32::try_from(frames).ok()?.to_le_bytes());
    }
    chunks.extend(b"data");
    chunks.extend(data.to_le_bytes());

    let behind = u64::from(data) + u64::from(data % 2) + u64::try_from(tail).ok()?;
    let riff = u32::try_from(u64::try_from(chunks.len()).ok()? + behind).ok()?;
    let mut header = b"RIFF".to_vec();
    header.extend(riff.to_le_bytes());
    header.extend(chunks);
    Some(header)
}

/// The chunks `cue ` and `LIST adtl`; nothing where nothing is marked.
fn marks(cues: &[WavCue], frames: u64) -> Vec<u8> {
    let inside = |cue: &&WavCue| u64::try_from(cue.frame.index()).is_ok_and(|frame| frame <= frames);
    let mut cues: Vec<&WavCue> = cues.iter().filter(inside).collect();
    cues.sort_by_key(|cue| cue.frame);
    if cues.is_empty() {
        return Vec::new();
    }
    let mut points = size(cues.len()).to_le_bytes().to_vec();
    let mut labels = b"adtl".to_vec();
    for (number, cue) in (1_u32..).zip(cues) {
        let frame = u32::try_from(cue.frame.index()).unwrap_or(u32::MAX);
        // Its number, its place in the order of playing, the chunk it points into, that chunk's and its block's beginning (0 where there
        // is one chunk of uncompressed samples), and the frame in it.
        points.extend(number.to_le_bytes());
        points.extend(frame.to_le_bytes());
        points.extend(b"data");
        points.extend([0; 8]);
        points.extend(frame.to_le_bytes());
        let mut label = number.to_le_bytes().to_vec();
        // The text ends with a zero, so it has none inside.
        label.extend(
            cue.label.chars().map(|c| if c.is_control() { ' ' } else { c }).collect::<String>().bytes(),
        );
        label.push(0);
        chunk(&mut labels, b"labl", &label);
    }
    let mut bytes = Vec::new();
    chunk(&mut bytes, b"cue ", &points);
    chunk(&mut bytes, b"LIST", &labels);
    bytes
}

/// A chunk: its name, its length, its bytes, and a zero where the length is odd, which the length does not count.
fn chunk(out: &mut Vec<u8>, name: &[u8; 4], bytes: &[u8]) {
    out.extend(name);
    out.extend(size(bytes.len()).to_le_bytes());
    out.extend(bytes);
    if bytes.len() % 2 == 1 {
        out.push(0);
    }
}

/// A length of marks; they are checked as a whole against what the file can hold.
fn size(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}

fn too_long(path: &Path, form: WavForm, frames: u64) -> Error {
    let frame = u64::from(form.channels) * u64::from(form.samples.bytes());
    let most = u64::try_from(WAV_BYTES.most).unwrap_or(0) / frame;
    let rate = u64::from(form.rate.hz());
    Error::WavTooLong { path: path.to_owned(), seconds: frames.div_ceil(rate), most: most / rate }
}

#[expect(clippy::cast_possible_truncation, reason = "a float cast saturates, which is what full scale is")]
fn sixteen_bits(sample: f32, dither: f64) -> i16 {
    (f64::from(sample) * 32_768.0 + dither).round() as i16
}

#[expect(clippy::cast_possible_truncation, reason = "clamped to 24 bits before")]
fn twenty_four_bits(sample: f32) -> i32 {
    (f64::from(sample) * 8_388_608.0).round().clamp(-8_388_608.0, 8_388_607.0) as i32
}

#[cfg(test)]
mod tests;
