use std::collections::BTreeMap;
use std::io::Cursor;

use hound::{SampleFormat, WavSpec, WavWriter};
use timebase::Seconds;

use crate::manifest::{Entry, Manifest, VERSION};
use crate::prepare::{Prepared, RATE};
use crate::{Error, Estimates, Language, VoicePack, adding, marcus_constant};

/// The files of a new pack, or of recordings that join one: each with its name inside the pack's folder, the manifest
/// (`manifest.json`) among them.
///
/// Nothing is written: whoever touches files does that.
#[derive(Clone, Debug)]
pub struct Making {
    /// Name and contents of each file that is new, the manifest last.
    pub files: Vec<(String, Vec<u8>)>,
    /// Names of files that the pack has no more use for.
    pub gone: Vec<String>,
    /// How many recordings took the place of one of the same syllable and speed,
    pub replaced: usize,
    /// how many had none to replace,
    pub added: usize,
    /// and how many of the pack stay as they were.
    pub kept: usize,
    /// Syllables that were recorded again and had a centre set by ear, which was the old recording's.
    pub by_ear_before: Vec<String>,
    /// Recordings whose centre is worth a listener's check, the most doubtful first.
    pub doubts: Vec<Doubt>,
    /// What is missing of the language's table, for a message: words it could say with further syllables.
    pub missing: Vec<String>,
}

/// A new recording of whose centre two estimates lie far apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// The syllable.
    pub syllable: String,
    /// The speed.
    pub speed: String,
    /// How far.
    pub apart: Seconds,
}

/// Estimates of one centre that lie further apart than this are told: a count is heard to be early or late by so much,
/// and pulls players off (Hove, Keller & Krumhansl 2007, *Perception & Psychophysics* 69: sounds 25 to 50 ms apart).
pub(crate) const DOUBTFUL: Seconds = Seconds::from_millis(25);

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
    /// Makes the files of a new pack.
    ///
    /// # Errors
    /// If there is no syllable, or one of them cannot be written as a WAV file.
    pub fn of(recorded: &Recorded<'_>) -> Result<Self, Error> {
        let manifest = Manifest {
            version: VERSION,
            name: recorded.name.to_owned(),
            description: recorded.description.to_owned(),
            language: recorded.language.code().to_owned(),
            sample_rate_hz: RATE.hz(),
            speeds: Vec::new(),
            words: BTreeMap::new(),
            joined: BTreeMap::new(),
            weak_forms: BTreeMap::new(),
            syllables: BTreeMap::new(),
        };
        Self::joining(manifest, recorded)
    }

    /// Makes the files with which recordings join a pack that stands, given its manifest. A recording takes the place of
    /// one of the same syllable and speed; every other stays as it is, with its centre and what was set by ear. The name
    /// and the description stay the pack's.
    ///
    /// # Errors
    /// As [`Making::of`]; if the manifest cannot be read; if the pack has another language, or another sample rate than
    /// recordings are made at.
    pub fn joined_to(manifest: &[u8], recorded: &Recorded<'_>) -> Result<Self, Error> {
        let manifest = Manifest::read(manifest)?;
        adding::takes(&manifest.name, &manifest.language, manifest.sample_rate_hz, recorded.language)?;
        Self::joining(manifest, recorded)
    }

    /// Whether recordings in a language could join a pack.
    ///
    /// # Errors
    /// If the pack has another language, or another sample rate than recordings are made at.
    pub fn joinable(pack: &VoicePack, language: &Language) -> Result<(), Error> {
        adding::takes(pack.name(), pack.language(), pack.rate().hz(), language)
    }

    fn joining(mut manifest: Manifest, recorded: &Recorded<'_>) -> Result<Self, Error> {
        let before = manifest.entries().count();
        let mut making = Self {
            files: Vec::new(),
            gone: Vec::new(),
            replaced: 0,
            added: 0,
            kept: 0,
            by_ear_before: Vec::new(),
            doubts: Vec::new(),
            missing: Vec::new(),
        };
        let mut new_syllables = Vec::new();
        for (speed, prepared) in &recorded.speeds {
            let by_name: BTreeMap<&str, &Prepared> = prepared.iter().map(|p| (p.syllable(), p)).collect();
            for &name in by_name.keys() {
                if !manifest.syllables.contains_key(name) {
                    new_syllables.push(name.to_owned());
                }
                making.make_room(&mut manifest, speed, name);
            }
            let mut estimates: Vec<Estimates> = by_name.values().map(|prepared| prepared.estimates).collect();
            estimates.extend(manifest.estimates_at(speed));
            // Those that are kept have been judged with the constant of their own time.
            let constant = marcus_constant(&estimates);
            manifest.note_speed(speed, tenths(constant));
            making.doubts.extend(doubts(speed, &by_name, &estimates, constant));
            for (name, prepared) in by_name {
                let file = manifest.free_file(speed, name);
                making.files.push((file.clone(), wav(&file, &prepared.frames)?));
                let entries = manifest.syllables.entry(name.to_owned()).or_default();
                entries.insert(speed.clone(), entry(file, prepared, constant));
            }
        }
        if making.files.is_empty() {
            return Err(Error::NothingRecorded);
        }
        making.kept = before.saturating_sub(making.replaced);
        making.gone.retain(|file| manifest.entries().all(|entry| entry.file != *file));
        making.doubts.sort_by_key(|doubt| std::cmp::Reverse(doubt.apart));
        let language = recorded.language;
        manifest.say(&new_syllables, language);
        let all = language.words().keys().chain(language.joined().keys());
        let is_missing =
            |word: &&String| !manifest.words.contains_key(*word) && !manifest.joined.contains_key(*word);
        making.missing = all.filter(is_missing).cloned().collect();
        making.files.push(("manifest.json".to_owned(), manifest.write()));
        Ok(making)
    }

    /// Takes away what a new recording replaces, and counts it.
    fn make_room(&mut self, manifest: &mut Manifest, speed: &str, name: &str) {
        let Some(old) = manifest.syllables.get_mut(name).and_then(|entries| entries.remove(speed)) else {
            self.added += 1;
            return;
        };
        self.replaced += 1;
        if old.override_ms.is_some() && !self.by_ear_before.iter().any(|known| known == name) {
            self.by_ear_before.push(name.to_owned());
        }
        self.gone.push(old.file);
    }
}

/// The new recordings of one speed on whose centres estimates disagree: on where the vowel is, or the fastest change of
/// energy, counted from the centre, with what it is with the others of its speed.
fn doubts(speed: &str, new: &BTreeMap<&str, &Prepared>, all: &[Estimates], constant: Seconds) -> Vec<Doubt> {
    let change = |of: &Estimates| of.fastest_change - of.centre(constant);
    let usual = usual(all.iter().map(change));
    let doubt = |(&name, prepared): (&&str, &&Prepared)| {
        let [here, plainer] = [prepared.estimates, prepared.plainer];
        let vowels = (here.scott - plainer.scott).abs();
        let apart = vowels.max((change(&here) - usual).abs());
        (apart > DOUBTFUL).then(|| Doubt { syllable: name.to_owned(), speed: speed.to_owned(), apart })
    };
    new.iter().filter_map(doubt).collect()
}

/// The median of times; nothing for none.
pub(crate) fn usual(times: impl Iterator<Item = Seconds>) -> Seconds {
    let mut times: Vec<Seconds> = times.collect();
    times.sort_unstable();
    times.get(times.len() / 2).copied().unwrap_or(Seconds::ZERO)
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
