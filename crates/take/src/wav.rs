//! Sound in and out of WAV files.
//!
//! [`WavFile`] writes a sound in any form, with marks; [`write_wav`] and [`read_wav`] do whole files; [`TakeWav`] grows while
//! sound is recorded.

mod dither;
mod file;

use std::fs::{File, OpenOptions};
use std::io::{BufReader, BufWriter, ErrorKind, Read, Seek, Write};
use std::path::{Path, PathBuf};

use hound::{SampleFormat, WavReader, WavSpec, WavWriter};
use timebase::{Frames, SampleRate, Seconds};

use crate::beside::sync;
use crate::limits::{SOUND_SAVED_EVERY, WAV_BYTES, WAV_CHANNELS, WAV_READ_BYTES};
use crate::{Beside, Error};

pub use file::{WavCue, WavFile, WavForm, WavSamples};

const BITS: u16 = 16;
const SAMPLE_BYTES: u64 = 2;
const BUFFER_BYTES: usize = 1 << 16;

/// A WAV file that grows while sound is recorded and can be opened at any moment.
///
/// Its header is made valid at the beginning and for every quarter of a second of sound ([`SOUND_SAVED_EVERY`]), so a program that
/// is killed leaves a file that opens and lacks no more than that. What was written after the last such moment
/// lies behind the length that the header gives; [`TakeWav::mend`] takes it in.
///
/// The samples are 16-bit integers. Every program opens them; Python's own `wave` and others refuse float, and 24
/// bits need an extended header that some refuse. A take is heard and looked at, not mixed: 96 dB between
/// full scale and rounding are more than a classroom has. Samples beyond ±1 are taken to full scale.
///
/// For an ordinary thread: it allocates and writes to the disk.
pub struct TakeWav {
    path: PathBuf,
    /// `None` once the file is closed after a failure.
    writer: Option<WavWriter<BufWriter<File>>>,
    channels: usize,
    frames: u64,
    saved_frames: u64,
    frames_a_save: u64,
    most_frames: u64,
}

impl std::fmt::Debug for TakeWav {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("TakeWav")
            .field("path", &self.path)
            .field("frames", &self.frames)
            .finish_non_exhaustive()
    }
}

impl TakeWav {
    /// A new file at `path`, empty and valid. A file that is there already is written over.
    ///
    /// # Errors
    /// If the file cannot be made, or `channels` lies outside [`WAV_CHANNELS`].
    pub fn create(path: &Path, rate: SampleRate, channels: u16) -> Result<Self, Error> {
        if !WAV_CHANNELS.holds(i64::from(channels)) {
            return Err(Error::OutOfRange { given: i64::from(channels), limit: WAV_CHANNELS });
        }
        let file = File::create(path).map_err(|e| Error::writing(path, e))?;
        let spec = WavSpec {
            channels,
            sample_rate: rate.hz(),
            bits_per_sample: BITS,
            sample_format: SampleFormat::Int,
        };
        let failed = |e| failure(path, e);
        let mut writer =
            WavWriter::new(BufWriter::with_capacity(BUFFER_BYTES, file), spec).map_err(failed)?;
        writer.flush().map_err(failed)?;
        let most_bytes = u64::try_from(WAV_BYTES.most).unwrap_or(0);
        Ok(Self {
            path: path.to_owned(),
            writer: Some(writer),
            channels: usize::from(channels),
            frames: 0,
            saved_frames: 0,
            frames_a_save: u64::try_from(Frames::of(SOUND_SAVED_EVERY, rate).count()).unwrap_or(1),
            most_frames: most_bytes / (SAMPLE_BYTES * u64::from(channels)),
        })
    }

    /// Brings a finished file to the disk.
    pub(crate) fn finish_and_sync(self) -> Result<u64, Error> {
        let path = self.path.clone();
        let frames = self.finish()?;
        sync(&path)?;
        Ok(frames)
    }

    /// Makes the header of a file that was left open say all whole frames that are there, and gives their number.
    /// A file whose header is right is not touched.
    ///
    /// # Errors
    /// If the file is no WAV file this type wrote, or cannot be written.
    pub fn mend(path: &Path) -> Result<u64, Error> {
        let not_ours = |why: &str| Error::NotWav { path: path.to_owned(), why: why.to_owned() };
        let mut bytes = [0; HEADER_BYTES];
        let mut file =
            OpenOptions::new().read(true).write(true).open(path).map_err(|e| Error::reading(path, e))?;
        file.read_exact(&mut bytes).map_err(|_| not_ours("it is shorter than a header"))?;
        if !(bytes.starts_with(b"RIFF") && bytes[8..16] == *b"WAVEfmt " && bytes[36..40] == *b"data") {
            return Err(not_ours("it was not written by a take"));
        }
        let frame_bytes = u64::from(u16::from_le_bytes([bytes[32], bytes[33]]).max(1));
        let length = file.metadata().map_err(|e| Error::reading(path, e))?.len();
        let header = u64::try_from(HEADER_BYTES).unwrap_or(0);
        let room = u64::try_from(WAV_BYTES.most).unwrap_or(0);
        let frames = (length.saturating_sub(header)).min(room) / frame_bytes;
        let data = u32::try_from(frames * frame_bytes).map_err(|_| not_ours("it is longer than 4 GiB"))?;
        let says = u32::from_le_bytes([bytes[40], bytes[41], bytes[42], bytes[43]]);
        if says != data {
            let failed = |e| Error::writing(path, e);
            let riff = data + u32::try_from(HEADER_BYTES - 8).unwrap_or(0);
            bytes[4..8].copy_from_slice(&riff.to_le_bytes());
            bytes[40..44].copy_from_slice(&data.to_le_bytes());
            file.rewind().map_err(failed)?;
            file.write_all(&bytes).map_err(failed)?;
            // A torn last frame would lie behind the sound.
            file.set_len(header + u64::from(data)).map_err(failed)?;
            file.sync_all().map_err(failed)?;
        }
        Ok(frames)
    }
}

/// RIFF, the format of 16-bit PCM, and the head of the sound.
const HEADER_BYTES: usize = 44;

impl TakeWav {
    /// How many frames were written.
    #[must_use]
    pub fn frames(&self) -> u64 {
        self.frames
    }

    /// How many frames the header gives: what is there after a kill.
    #[must_use]
    pub fn saved_frames(&self) -> u64 {
        self.saved_frames
    }

    /// Writes whole frames: one sample of each channel after another, nominally within ±1.
    ///
    /// # Errors
    /// [`Error::DiskFull`], [`Error::WavFull`] or another failure to write. The file is then closed, valid up to
    /// where it could be saved, and every further call is [`Error::Ended`]. An incomplete frame at the end of
    /// `samples` is [`Error::ChannelLengths`], before anything is written.
    pub fn write(&mut self, samples: &[f32]) -> Result<(), Error> {
        let whole = samples.len() / self.channels;
        if whole * self.channels != samples.len() {
            return Err(Error::ChannelLengths { model: whole + 1, player: whole });
        }
        // In pieces that end where the header is due, so that a long piece at once loses no more than a short one.
        let mut rest = samples;
        while !rest.is_empty() {
            let due = self.saved_frames + self.frames_a_save;
            let frames = usize::try_from(due - self.frames).unwrap_or(usize::MAX);
            let (now, later) = rest.split_at(rest.len().min(frames.saturating_mul(self.channels)));
            self.write_and_save(now, due)?;
            rest = later;
        }
        Ok(())
    }

    fn write_and_save(&mut self, samples: &[f32], due: u64) -> Result<(), Error> {
        let Some(writer) = &mut self.writer else {
            return Err(Error::Ended { why: format!("{} could not be written", self.path.display()) });
        };
        let frames = u64::try_from(samples.len() / self.channels).unwrap_or(u64::MAX);
        if frames > self.most_frames.saturating_sub(self.frames) {
            let full = Error::WavFull { path: self.path.clone(), frames: self.frames };
            return Err(self.close(full));
        }
        let count = u32::try_from(samples.len()).unwrap_or(u32::MAX);
        let mut samples_writer = writer.get_i16_writer(count);
        for &sample in samples {
            samples_writer.write_sample(sixteen_bits(sample));
        }
        let written = samples_writer.flush();
        let saved = written.and_then(|()| {
            self.frames += frames;
            if self.frames < due {
                return Ok(());
            }
            writer.flush()?;
            self.saved_frames = self.frames;
            Ok(())
        });
        saved.map_err(|e| {
            let failed = failure(&self.path, e);
            self.close(failed)
        })
    }

    /// Makes the header valid now.
    ///
    /// # Errors
    /// As [`TakeWav::write`].
    pub fn save(&mut self) -> Result<(), Error> {
        let Some(writer) = &mut self.writer else { return Ok(()) };
        match writer.flush() {
            Ok(()) => {
                self.saved_frames = self.frames;
                Ok(())
            }
            Err(e) => {
                let failed = failure(&self.path, e);
                Err(self.close(failed))
            }
        }
    }

    /// Ends the file and gives the number of its frames.
    ///
    /// # Errors
    /// If its last bytes cannot be written; what was saved before stays valid.
    pub fn finish(mut self) -> Result<u64, Error> {
        match self.writer.take() {
            Some(writer) => writer.finalize().map_err(|e| failure(&self.path, e))?,
            None => return Ok(self.saved_frames),
        }
        Ok(self.frames)
    }

    fn close(&mut self, failed: Error) -> Error {
        // Dropped, the writer leaves a header that counts what it was handed, and not all of that may have reached
        // the disk: the header is mended to say what is there. Should that fail too, a reader meets the end early.
        self.writer = None;
        if let Ok(frames) = Self::mend(&self.path) {
            self.saved_frames = frames;
        }
        failed
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a float cast saturates, which is what full scale is")]
fn sixteen_bits(sample: f32) -> i16 {
    (sample * 32_768.0).round() as i16
}

fn failure(path: &Path, error: hound::Error) -> Error {
    match error {
        hound::Error::IoError(e) => Error::writing(path, e),
        other => Error::NotWav { path: path.to_owned(), why: other.to_string() },
    }
}

/// Writes a whole sound: beside its place, then renamed into it. `samples` are interleaved, as for [`TakeWav::write`].
///
/// # Errors
/// As [`TakeWav::create`] and [`TakeWav::write`].
pub fn write_wav(path: &Path, rate: SampleRate, channels: u16, samples: &[f32]) -> Result<(), Error> {
    let beside = Beside::new(path);
    let mut wav = TakeWav::create(beside.part(), rate, channels)?;
    wav.write(samples)?;
    wav.finish()?;
    beside.commit()
}

/// A sound read from a WAV file.
#[derive(Clone, Debug, PartialEq)]
pub struct WavSound {
    /// Frames a second.
    pub rate: SampleRate,
    /// How many channels it has.
    pub channels: u16,
    /// The samples within ±1, interleaved.
    pub samples: Vec<f32>,
}

impl WavSound {
    /// The samples of one channel, counted from 0; none where there is no such channel.
    pub fn channel(&self, index: u16) -> impl Iterator<Item = f32> + '_ {
        let step = usize::from(self.channels.max(1));
        let first = usize::from(index);
        let skipped = if index < self.channels { first } else { self.samples.len() };
        self.samples.iter().skip(skipped).step_by(step).copied()
    }

    /// How long it lasts.
    #[must_use]
    pub fn length(&self) -> Seconds {
        let frames = self.samples.len() / usize::from(self.channels.max(1));
        Frames::new(i64::try_from(frames).unwrap_or(i64::MAX)).seconds(self.rate)
    }
}

/// Reads a WAV file into memory: integers of 8 to 32 bits, or 32-bit float.
///
/// # Errors
/// If it is no such file, its rate is outside [`timebase::limits::SAMPLE_RATE`], or it is longer than [`WAV_READ_BYTES`].
pub fn read_wav(path: &Path) -> Result<WavSound, Error> {
    let refused = |why: String| Error::NotWav { path: path.to_owned(), why };
    let file = File::open(path).map_err(|e| Error::reading(path, e))?;
    let found = file.metadata().map_err(|e| Error::reading(path, e))?;
    // How much a pipe will give nobody knows.
    let held = found.is_file().then_some(found.len());
    let cut_off = |says: &str| {
        let holds = held.map_or("no more came".to_owned(), |held| format!("the whole file has {held} bytes"));
        refused(format!("it is cut off: {says}, and {holds}"))
    };
    let not_wav = |says: &str, e: hound::Error| match e {
        // hound gives an error of its own making where a file ends too early.
        hound::Error::IoError(e) if matches!(e.kind(), ErrorKind::UnexpectedEof | ErrorKind::Other) => {
            cut_off(says)
        }
        hound::Error::IoError(e) => Error::reading(path, e),
        // The reader's own words are for programmers.
        _ => refused(why_not_read(path)),
    };
    if held == Some(0) {
        return Err(refused("it is empty".to_owned()));
    }
    let mut reader =
        WavReader::new(BufReader::new(file)).map_err(|e| not_wav("it ends before its sound begins", e))?;
    let spec = reader.spec();
    let bytes = i64::from(reader.len()) * i64::from(spec.bits_per_sample.div_ceil(8));
    let says = format!("its header says {bytes} bytes of sound");
    if held.is_some_and(|held| u64::try_from(bytes).is_ok_and(|bytes| bytes > held)) {
        return Err(cut_off(&says));
    }
    if !WAV_READ_BYTES.holds(bytes) {
        return Err(Error::OutOfRange { given: bytes, limit: WAV_READ_BYTES });
    }
    let rate = SampleRate::new(spec.sample_rate).map_err(|e| refused(e.to_string()))?;
    let samples = match spec.sample_format {
        SampleFormat::Float => reader.samples::<f32>().collect::<Result<Vec<_>, _>>(),
        SampleFormat::Int => {
            let scale = f64::from(1_u32 << (spec.bits_per_sample.clamp(1, 32) - 1));
            reader.samples::<i32>().map(|sample| sample.map(|s| scaled(s, scale))).collect()
        }
    };
    Ok(WavSound { rate, channels: spec.channels, samples: samples.map_err(|e| not_wav(&says, e))? })
}

/// Where the head of a WAV file ends at the latest, that its samples are looked for in.
const HEAD_BYTES: u64 = 1 << 16;

/// Why a file is not read as WAV, by its beginning.
fn why_not_read(path: &Path) -> String {
    let mut head = Vec::new();
    let read = File::open(path).and_then(|file| file.take(HEAD_BYTES).read_to_end(&mut head));
    match voice::samples_not_read(&head).filter(|_| read.is_ok()) {
        Some(samples) => format!("its samples are {samples}"),
        None => "its head is damaged".to_owned(),
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a sample has 24 significant bits in either form")]
fn scaled(sample: i32, scale: f64) -> f32 {
    (f64::from(sample) / scale) as f32
}

#[cfg(test)]
mod tests;
