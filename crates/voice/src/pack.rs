use std::borrow::Cow;
use std::collections::BTreeMap;

use timebase::{Frames, SampleRate, Seconds};

use crate::limits::PACK_MOST;
use crate::manifest::{Entry, Manifest};
use crate::recording::{Recording, RecordingId};
use crate::{Error, resample};

/// A voice: what it can say, and its recordings, decoded.
///
/// It is made from bytes and never touches a file system: whoever reads files hands their contents in.
#[derive(Clone, Debug)]
pub struct VoicePack {
    name: String,
    description: String,
    rate: SampleRate,
    recordings: Vec<Recording>,
    /// For each word the number of its syllable.
    words: BTreeMap<String, usize>,
    syllables: Vec<Syllable>,
}

/// What is recorded of a syllable.
#[derive(Clone, Debug)]
pub(crate) struct Syllable {
    /// The slowest first; never empty.
    pub(crate) recordings: Vec<RecordingId>,
    /// The number of its weaker form.
    pub(crate) weak: Option<usize>,
}

impl VoicePack {
    /// Reads a pack: its manifest, and through `file` every file it names, by the name it has there.
    ///
    /// # Errors
    /// If the manifest cannot be read or names what it does not have, if a file is missing or is no mono WAV
    /// file at the pack's rate, if a centre lies outside its recording, or if a limit of [`crate::limits`] is passed.
    pub fn read<'a>(manifest: &[u8], file: impl Fn(&str) -> Option<Cow<'a, [u8]>>) -> Result<Self, Error> {
        let manifest = Manifest::read(manifest)?;
        let rate = SampleRate::new(manifest.sample_rate_hz)?;
        let mut pack = Self {
            name: manifest.name,
            description: manifest.description,
            rate,
            recordings: Vec::new(),
            words: BTreeMap::new(),
            syllables: Vec::new(),
        };
        let numbers: BTreeMap<&String, usize> = manifest.syllables.keys().zip(0..).collect();
        let number = |wanted_by: String, given: &String| {
            numbers.get(given).copied().ok_or_else(|| Error::Unknown {
                wanted_by,
                what: "syllable",
                given: given.clone(),
                known: manifest.syllables.keys().cloned().collect(),
            })
        };
        let mut length = Seconds::ZERO;
        for (name, entries) in &manifest.syllables {
            let mut recordings = Vec::new();
            for (speed, entry) in slowest_first(name, entries, &manifest.speeds)? {
                if !stays_inside(&entry.file) {
                    return Err(Error::FileName(entry.file.clone()));
                }
                let bytes = file(&entry.file).ok_or_else(|| Error::MissingFile(entry.file.clone()))?;
                let recording = Recording::decode(name, speed, entry, &bytes, rate)?;
                length += recording.length().seconds(rate);
                if length > PACK_MOST {
                    return Err(Error::TooMuch);
                }
                recordings.push(RecordingId(pack.recordings.len()));
                pack.recordings.push(recording);
            }
            if recordings.is_empty() {
                return Err(Error::NoRecording(name.clone()));
            }
            let weak = manifest.weak_forms.get(name);
            let weak = weak.map(|weak| number(format!("the weak form of \"{name}\""), weak)).transpose()?;
            pack.syllables.push(Syllable { recordings, weak });
        }
        for syllable in manifest.weak_forms.keys() {
            number("a weak form".to_owned(), syllable)?;
        }
        for (word, syllable) in &manifest.words {
            pack.words.insert(word.clone(), number(format!("the word \"{word}\""), syllable)?);
        }
        Ok(pack)
    }

    /// The same voice at another sample rate; the centres stay at the same times.
    ///
    /// # Errors
    /// If the resampler cannot make that rate of the pack's.
    pub fn at_rate(self, rate: SampleRate) -> Result<Self, Error> {
        if rate == self.rate {
            return Ok(self);
        }
        let resampler = &mut resample::Resampler::new(self.rate, rate)?;
        let recordings = self
            .recordings
            .into_iter()
            .map(|recording| {
                Ok(Recording { sample: resampler.resample(&recording.sample)?, rate, ..recording })
            })
            .collect::<Result<_, Error>>()?;
        Ok(Self { rate, recordings, ..self })
    }

    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What it is, in a sentence.
    #[must_use]
    pub fn description(&self) -> &str {
        &self.description
    }

    /// The rate of its recordings.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Whether it can say this word.
    #[must_use]
    pub fn says(&self, word: &str) -> bool {
        self.words.contains_key(word)
    }

    /// Every word it can say.
    pub fn words(&self) -> impl Iterator<Item = &str> {
        self.words.keys().map(String::as_str)
    }

    /// The recording of this number.
    ///
    /// # Panics
    /// If another pack gave the number out and this one has fewer.
    #[must_use]
    pub fn recording(&self, id: RecordingId) -> &Recording {
        &self.recordings[id.0]
    }

    /// Every recording with its number.
    pub fn recordings(&self) -> impl Iterator<Item = (RecordingId, &Recording)> {
        self.recordings.iter().enumerate().map(|(number, recording)| (RecordingId(number), recording))
    }

    /// The longest any recording sounds before its centre: a programme needs so much room before its first
    /// spoken count, or more.
    #[must_use]
    pub fn longest_lead(&self) -> Frames {
        self.recordings.iter().map(Recording::centre).max().unwrap_or(Frames::ZERO)
    }

    /// The syllable of a word.
    pub(crate) fn syllable_of(&self, word: &str) -> Result<&Syllable, Error> {
        let number = self.words.get(word).ok_or_else(|| Error::UnknownWord {
            voice: self.name.clone(),
            given: word.to_owned(),
            says: self.words.keys().cloned().collect(),
        })?;
        Ok(&self.syllables[*number])
    }

    /// The weaker form of a syllable.
    pub(crate) fn weaker(&self, syllable: &Syllable) -> Option<&Syllable> {
        syllable.weak.map(|number| &self.syllables[number])
    }
}

/// The recordings of a syllable in the order of the manifest's speeds.
fn slowest_first<'a>(
    syllable: &str,
    entries: &'a BTreeMap<String, Entry>,
    speeds: &'a [crate::manifest::Speed],
) -> Result<Vec<(&'a str, &'a Entry)>, Error> {
    if let Some(unknown) = entries.keys().find(|name| speeds.iter().all(|speed| speed.name != **name)) {
        return Err(Error::Unknown {
            wanted_by: format!("the syllable \"{syllable}\""),
            what: "speed",
            given: unknown.clone(),
            known: speeds.iter().map(|speed| speed.name.clone()).collect(),
        });
    }
    Ok(speeds.iter().filter_map(|speed| Some((speed.name.as_str(), entries.get(&speed.name)?))).collect())
}

/// Whether a file's name stays within the folder of its pack, on any system.
fn stays_inside(name: &str) -> bool {
    !name.contains(['\\', ':', '\0'])
        && name.split('/').all(|part| !part.is_empty() && part != "." && part != "..")
}
