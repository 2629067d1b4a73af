use std::io::Cursor;

use claxon::FlacReader;
use hound::{SampleFormat, WavReader};
use timebase::{Frames, SampleRate, Seconds};

use crate::Error;

/// What a sound file holds.
#[derive(Clone, Debug)]
pub(crate) struct Decoded {
    pub(crate) rate_hz: u32,
    /// The samples of each channel, full scale ±1; never empty, all of one length.
    pub(crate) channels: Vec<Vec<f32>>,
}

/// Channels of a file, at most: a recorder of a classroom has no more.
const CHANNELS_MOST: usize = 8;

impl Decoded {
    /// Reads a WAV file, or a FLAC file, which its first bytes tell. `name` is for messages.
    ///
    /// Memory stays within what `longest` takes: a file that would last longer is refused before it is read, or where
    /// it does not say how long it is, as soon as it has gone on for so long.
    pub(crate) fn of(name: &str, bytes: &[u8], longest: Seconds) -> Result<Self, Error> {
        if bytes.is_empty() {
            return Err(Error::EmptyFile { file: name.to_owned() });
        }
        if bytes.starts_with(b"fLaC") { flac(name, bytes, longest) } else { wav(name, bytes, longest) }
    }

    fn new(rate_hz: u32, channels: usize, interleaved: &[f32]) -> Self {
        let mut parted = vec![Vec::with_capacity(interleaved.len() / channels.max(1)); channels];
        for frame in interleaved.chunks_exact(channels.max(1)) {
            for (channel, &value) in parted.iter_mut().zip(frame) {
                channel.push(value);
            }
        }
        Self { rate_hz, channels: parted }
    }
}

/// What a file says of itself, checked before any of its sound is read. Gives the most samples it may have.
fn check_form(
    name: &str,
    rate_hz: u32,
    channels: usize,
    frames: Option<u64>,
    longest: Seconds,
) -> Result<usize, Error> {
    let rate = SampleRate::new(rate_hz).map_err(|_| {
        let (least, most) = (timebase::limits::SAMPLE_RATE.least, timebase::limits::SAMPLE_RATE.most);
        let needed = format!("{least} to {most} Hz");
        Error::Form { file: name.to_owned(), given: format!("a rate of {rate_hz} Hz"), needed }
    })?;
    if channels == 0 || channels > CHANNELS_MOST {
        let needed = format!("1 to {CHANNELS_MOST}");
        return Err(Error::Form { file: name.to_owned(), given: format!("{channels} channels"), needed });
    }
    if let Some(frames) = frames {
        let length = Frames::new(i64::try_from(frames).unwrap_or(i64::MAX)).seconds(rate);
        if length == Seconds::ZERO || length > longest {
            return Err(Error::Length { file: name.to_owned(), given: length, most: longest });
        }
    }
    let most = usize::try_from(Frames::of(longest, rate).count()).unwrap_or(usize::MAX);
    Ok(most.saturating_mul(channels))
}

/// The shortest WAV file that can hold a sample.
const HEAD_BYTES: usize = 44;

/// Refuses what is no WAV file, and samples that are not read, by the head of the file.
fn check_head(name: &str, bytes: &[u8]) -> Result<(), Error> {
    let file = || name.to_owned();
    if bytes.len() < HEAD_BYTES {
        // A short text is told by its length too.
        return Err(Error::ShortFile { file: file(), given: bytes.len() });
    }
    if !bytes.starts_with(b"RIFF") || &bytes[8..12] != b"WAVE" {
        let begins = bytes[..4].iter().map(|byte| char::from(*byte).escape_default().to_string()).collect();
        return Err(Error::NoWav { file: file(), begins });
    }
    match samples_not_read(bytes) {
        Some(given) => Err(Error::Samples { file: file(), given }),
        None => Ok(()),
    }
}

/// What the samples of a WAV file are, by its beginning, where they are of a kind that is not read: `64-bit float`. `None` where they are read, and where
/// that is not to be seen.
///
/// RIFF, then chunks, each with its length, of which `fmt ` begins with the code of the samples and has their bits at byte 14.
#[must_use]
pub fn samples_not_read(bytes: &[u8]) -> Option<String> {
    let word = |at: usize| Some(u16::from_le_bytes([*bytes.get(at)?, *bytes.get(at + 1)?]));
    let mut at = 12;
    while let Some(chunk) = bytes.get(at..at + 8) {
        let length = u32::from_le_bytes([chunk[4], chunk[5], chunk[6], chunk[7]]);
        if chunk.starts_with(b"fmt ") {
            let (code, bits) = (word(at + 8)?, word(at + 22)?);
            // An extended head has the code behind the rest.
            let code = if code == 0xfffe { word(at + 32).unwrap_or(code) } else { code };
            return match code {
                1 if (8..=32).contains(&bits) && bits % 8 == 0 => None,
                3 if bits == 32 => None,
                1 => Some(format!("{bits}-bit integer")),
                2 | 17 => Some(format!("{bits}-bit ADPCM")),
                3 => Some(format!("{bits}-bit float")),
                6 | 7 => Some(format!("{bits}-bit telephone (A-law or µ-law)")),
                85 => Some("MP3".to_owned()),
                other => Some(format!("unknown (code {other})")),
            };
        }
        at = at.saturating_add(8).saturating_add(usize::try_from(length).unwrap_or(usize::MAX));
        at = at.saturating_add(at % 2);
    }
    None
}

fn wav(name: &str, bytes: &[u8], longest: Seconds) -> Result<Decoded, Error> {
    check_head(name, bytes)?;
    let unreadable = |reason: String| Error::Wav { file: name.to_owned(), reason };
    // The reader's own words are for programmers.
    let failed = |error: hound::Error| {
        let what = match error {
            hound::Error::IoError(_) => "it is cut off before its sound ends",
            _ => "its head is damaged",
        };
        unreadable(what.to_owned())
    };
    let reader = WavReader::new(Cursor::new(bytes)).map_err(failed)?;
    let form = reader.spec();
    let (channels, bits) = (usize::from(form.channels), form.bits_per_sample);
    let says = u64::from(reader.len()) * u64::from(bits.div_ceil(8));
    let holds = u64::try_from(bytes.len()).unwrap_or(u64::MAX);
    // A recorder that was stopped rudely leaves a header that says nothing or far too much.
    if says > holds {
        return Err(unreadable(format!(
            "it says it has {says} bytes of sound, and the whole file has {holds}"
        )));
    }
    check_form(name, form.sample_rate, channels, Some(u64::from(reader.duration())), longest)?;
    let samples: Result<Vec<f32>, hound::Error> = match (form.sample_format, bits) {
        (SampleFormat::Float, 32) => reader.into_samples::<f32>().collect(),
        (SampleFormat::Int, 8..=32) => {
            let full = (1_i64 << (bits - 1)) as f32;
            reader.into_samples::<i32>().map(|sample| sample.map(|sample| sample as f32 / full)).collect()
        }
        (kind, bits) => {
            let kind = if kind == SampleFormat::Int { "integer" } else { "float" };
            return Err(Error::Form {
                file: name.to_owned(),
                given: format!("{bits}-bit {kind} samples"),
                needed: "8- to 32-bit integer or 32-bit float".to_owned(),
            });
        }
    };
    Ok(Decoded::new(form.sample_rate, channels, &samples.map_err(failed)?))
}

fn flac(name: &str, bytes: &[u8], longest: Seconds) -> Result<Decoded, Error> {
    let failed = |error: claxon::Error| Error::Flac { file: name.to_owned(), reason: error.to_string() };
    let mut reader = FlacReader::new(Cursor::new(bytes)).map_err(failed)?;
    let form = reader.streaminfo();
    let channels = usize::try_from(form.channels).unwrap_or(usize::MAX);
    let most = check_form(name, form.sample_rate, channels, form.samples, longest)?;
    let full = (1_i64 << (form.bits_per_sample.clamp(1, 32) - 1)) as f32;
    let mut samples = Vec::new();
    for sample in reader.samples() {
        // A few bytes of FLAC can stand for minutes of silence, whatever its head says.
        if samples.len() >= most {
            return Err(Error::Length { file: name.to_owned(), given: longest, most: longest });
        }
        samples.push(sample.map_err(failed)? as f32 / full);
    }
    if samples.len() < channels {
        return Err(Error::Length { file: name.to_owned(), given: Seconds::ZERO, most: longest });
    }
    Ok(Decoded::new(form.sample_rate, channels, &samples))
}
