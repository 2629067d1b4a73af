use std::collections::BTreeMap;
use std::io::Cursor;

use hound::{SampleFormat, WavSpec, WavWriter};
use timebase::Seconds;

use crate::manifest::{Entry, Manifest, Speed, VERSION};
use crate::prepare::{Prepared, RATE};
use crate::{Error, Language, marcus_constant};

/// The files of a new pack: each with its name inside the pack's folder, the manifest (`manifest.json`) among them.
///
/// Nothing is written: whoever touches files does that.
#[derive(Clone, Debug)]
pub struct Making {
    /// Name and contents of each file, the manifest last.
    pub files: Vec<(String, Vec<u8>)>,
    /// What is missing of the language's table, for a message: words it could say with further syllables.
    pub missing: Vec<String>,
}

/// What a new pack is called, and what was recorded for it.
#[derive(Clone, Debug)]
pub struct Recorded<'a> {
    /// The pack's name.
    pub name: &'a str,
    /// What it is, in a sentence.
    pub description: &'a str,
    /// The language of its numbers.
    pub language: &'a Language,
    /// What each speed is called, the slowest first, and its syllables; of two with one name the later is taken.
    pub speeds: Vec<(String, Vec<Prepared>)>,
}

impl Making {
    /// Makes the files of a pack.
    ///
    /// # Errors
    /// If there is no syllable, or one of them cannot be written as a WAV file.
    pub fn of(recorded: &Recorded<'_>) -> Result<Self, Error> {
        let mut files = Vec::new();
        let mut syllables: BTreeMap<String, BTreeMap<String, Entry>> = BTreeMap::new();
        let mut speeds = Vec::new();
        for (speed, prepared) in &recorded.speeds {
            let by_name: BTreeMap<&str, &Prepared> = prepared.iter().map(|p| (p.syllable(), p)).collect();
            let estimates: Vec<_> = by_name.values().map(|prepared| prepared.estimates).collect();
            let constant = marcus_constant(&estimates);
            speeds.push(Speed { name: speed.clone(), marcus_constant_ms: Some(tenths(constant)) });
            for (name, prepared) in by_name {
                let file = format!("{speed}/{name}.wav");
                files.push((file.clone(), wav(&file, &prepared.frames)?));
                syllables
                    .entry(name.to_owned())
                    .or_default()
                    .insert(speed.clone(), entry(file, prepared, constant));
            }
        }
        if syllables.is_empty() {
            return Err(Error::NothingRecorded);
        }
        let language = recorded.language;
        let has = |syllable: &String| syllables.contains_key(syllable);
        let words: BTreeMap<String, String> = syllables
            .keys()
            .flat_map(|name| language.words_of(name).into_iter().map(|word| (word, name.clone())))
            .collect();
        let joined: BTreeMap<String, Vec<String>> = language
            .joined()
            .iter()
            .filter(|(word, parts)| !words.contains_key(*word) && parts.iter().all(has))
            .map(|(word, parts)| (word.clone(), parts.clone()))
            .collect();
        let all = language.words().keys().chain(language.joined().keys());
        let missing = all.filter(|word| !words.contains_key(*word) && !joined.contains_key(*word));
        let missing = missing.cloned().collect();
        let weak_forms = language.weak_forms().iter().filter(|(full, weak)| has(full) && has(weak));
        let manifest = Manifest {
            version: VERSION,
            name: recorded.name.to_owned(),
            description: recorded.description.to_owned(),
            language: language.code().to_owned(),
            sample_rate_hz: RATE.hz(),
            speeds,
            words,
            joined,
            weak_forms: weak_forms.map(|(full, weak)| (full.clone(), weak.clone())).collect(),
            syllables,
        };
        files.push(("manifest.json".to_owned(), manifest.write()));
        Ok(Self { files, missing })
    }
}

/// What the manifest says of one recording.
fn entry(file: String, prepared: &Prepared, constant: Seconds) -> Entry {
    let Prepared { estimates, vowel, loudness, .. } = prepared;
    let length = prepared.length();
    let estimated = [
        ("cummins_port", estimates.cummins_port),
        ("scott", estimates.scott),
        ("marcus", estimates.marcus(constant)),
        ("fastest_change", estimates.fastest_change),
    ];
    Entry {
        file,
        // Rounding may not bring it behind the end.
        centre_ms: tenths(estimates.centre(constant)).min((length.as_millis_f64() * 10.0).floor() / 10.0),
        override_ms: None,
        vowel_ms: Some([tenths(vowel.begin), tenths(vowel.end)]),
        syllable_ms: tenths(vowel.syllable),
        length_ms: Some(tenths(length)),
        spliced_ms: Some(0.0),
        loudness_lufs: Some(tenth(loudness.lufs)),
        peak_dbfs: Some(tenth(loudness.peak_dbfs)),
        estimates_ms: Some(estimated.into_iter().map(|(name, at)| (name.to_owned(), tenths(at))).collect()),
    }
}

/// Milliseconds to a tenth.
fn tenths(time: Seconds) -> f64 {
    tenth(time.as_millis_f64())
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// A mono 16-bit WAV file.
fn wav(name: &str, frames: &[f32]) -> Result<Vec<u8>, Error> {
    let failed = |error: hound::Error| Error::Wav { file: name.to_owned(), reason: error.to_string() };
    let form = WavSpec {
        channels: 1,
        sample_rate: RATE.hz(),
        bits_per_sample: 16,
        sample_format: SampleFormat::Int,
    };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, form).map_err(failed)?;
    for &frame in frames {
        writer.write_sample(whole(frame)).map_err(failed)?;
    }
    writer.finalize().map_err(failed)?;
    Ok(bytes.into_inner())
}

/// A frame that was rounded to 16 bits, as the whole number it is.
#[expect(clippy::cast_possible_truncation, reason = "a float cast saturates")]
fn whole(frame: f32) -> i16 {
    (frame * 32_768.0).round() as i16
}
