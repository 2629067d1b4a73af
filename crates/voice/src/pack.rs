use std::borrow::Cow;
use std::collections::BTreeMap;

use timebase::{Frames, SampleRate, Seconds};

use crate::joined::{Joined, Slot};
use crate::limits::PACK_MOST;
use crate::manifest::{Entry, Manifest};
use crate::recording::{Recording, RecordingId};
use crate::{Error, resample};

/// A voice: what it can say, and its recordings, decoded.
///
/// It is made from bytes and never touches a file system: whoever reads files hands their contents in.
#[derive(Clone, Debug)]
pub struct VoicePack {
    pub(crate) name: String,
    pub(crate) description: String,
    pub(crate) language: String,
    pub(crate) rate: SampleRate,
    pub(crate) slots: Vec<Slot>,
    /// For each word the number of its syllable.
    pub(crate) words: BTreeMap<String, usize>,
    pub(crate) syllables: Vec<Syllable>,
    /// Words that are said by another voice, with its name.
    pub(crate) borrowed: BTreeMap<String, String>,
}

/// What is recorded of a syllable, or of a word that is joined of several.
#[derive(Clone, Debug)]
pub(crate) struct Syllable {
    /// The slowest first; never empty.
    pub(crate) recordings: Vec<RecordingId>,
    /// The number of its shorter form.
    pub(crate) weak: Option<usize>,
}

impl VoicePack {
    /// Reads a pack: its manifest, and through `file` every file it names, by the name it has there.
    ///
    /// # Errors
    /// If the manifest cannot be read or names what it does not have, if a file is missing or is no mono WAV or FLAC
    /// file at the pack's rate, if a centre lies outside its recording, or if a limit of [`crate::limits`] is passed.
    pub fn read<'a>(manifest: &[u8], file: impl Fn(&str) -> Option<Cow<'a, [u8]>>) -> Result<Self, Error> {
        let manifest = Manifest::read(manifest)?;
        let mut pack = Self {
            name: manifest.name.clone(),
            description: manifest.description.clone(),
            language: manifest.language.clone(),
            rate: SampleRate::new(manifest.sample_rate_hz)?,
            slots: Vec::new(),
            words: BTreeMap::new(),
            syllables: Vec::new(),
            borrowed: BTreeMap::new(),
        };
        pack.read_syllables(&manifest, file)?;
        let numbers: BTreeMap<&String, usize> = manifest.syllables.keys().zip(0..).collect();
        let number = |wanted_by: String, given: &String| {
            numbers.get(given).copied().ok_or_else(|| Error::Unknown {
                wanted_by,
                what: "syllable",
                given: given.clone(),
                known: manifest.syllables.keys().cloned().collect(),
            })
        };
        for (syllable, weak) in &manifest.weak_forms {
            let full = number("a weak form".to_owned(), syllable)?;
            pack.syllables[full].weak = Some(number(format!("the weak form of \"{syllable}\""), weak)?);
        }
        for (word, syllable) in &manifest.words {
            pack.words.insert(word.clone(), number(format!("the word \"{word}\""), syllable)?);
        }
        for (word, parts) in &manifest.joined {
            let parts: Vec<usize> = parts
                .iter()
                .map(|part| number(format!("the joined word \"{word}\""), part))
                .collect::<Result<_, _>>()?;
            pack.join(word, &parts)?;
        }
        Ok(pack)
    }

    /// Reads the files of every syllable.
    fn read_syllables<'a>(
        &mut self,
        manifest: &Manifest,
        file: impl Fn(&str) -> Option<Cow<'a, [u8]>>,
    ) -> Result<(), Error> {
        let mut length = Seconds::ZERO;
        for (name, entries) in &manifest.syllables {
            let mut recordings = Vec::new();
            for (speed, entry) in slowest_first(name, entries, &manifest.speeds)? {
                if !stays_inside(&entry.file) {
                    return Err(Error::FileName(entry.file.clone()));
                }
                let bytes = file(&entry.file).ok_or_else(|| Error::MissingFile(entry.file.clone()))?;
                let recording = Recording::decode(name, speed, entry, &bytes, self.rate)?;
                length += recording.length().seconds(self.rate);
                if length > PACK_MOST {
                    return Err(Error::TooMuch);
                }
                recordings.push(RecordingId(self.slots.len()));
                self.slots.push(Slot::Own(recording));
            }
            if recordings.is_empty() {
                return Err(Error::NoRecording(name.clone()));
            }
            self.syllables.push(Syllable { recordings, weak: None });
        }
        Ok(())
    }

    /// Adds a word said with these syllables, at each speed that all of them have, counted from the slowest.
    fn join(&mut self, word: &str, parts: &[usize]) -> Result<(), Error> {
        let wrong = |given: usize| Error::Joined { word: word.to_owned(), given };
        if !(2..=JOINED_MOST).contains(&parts.len()) {
            return Err(wrong(parts.len()));
        }
        let speeds = parts.iter().map(|&part| self.syllables[part].recordings.len()).min().unwrap_or(0);
        let mut recordings = Vec::new();
        for speed in 0..speeds {
            let ids = parts.iter().map(|&part| self.syllables[part].recordings[speed]).collect();
            recordings.push(RecordingId(self.slots.len()));
            self.slots.push(Slot::Joined(Joined::of(word, ids)));
        }
        self.words.insert(word.to_owned(), self.syllables.len());
        self.syllables.push(Syllable { recordings, weak: None });
        Ok(())
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
        let slots = self.slots.into_iter().map(|slot| {
            Ok(match slot {
                Slot::Own(recording) => {
                    Slot::Own(Recording { sample: resampler.resample(&recording.sample)?, rate, ..recording })
                }
                Slot::Joined(joined) => Slot::Joined(Joined::of(&joined.word, joined.parts)),
            })
        });
        Ok(Self { rate, slots: slots.collect::<Result<_, Error>>()?, ..self })
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

    /// The language of its numbers, as BCP 47 writes it: `en`.
    #[must_use]
    pub fn language(&self) -> &str {
        &self.language
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
        match &self.slots[id.0] {
            Slot::Own(recording) => recording,
            Slot::Joined(joined) => joined.recording(|part| self.recording(part)),
        }
    }

    /// Every recording that is a file of the pack, with its number. Words that are joined of several are not among
    /// them.
    pub fn recordings(&self) -> impl Iterator<Item = (RecordingId, &Recording)> {
        self.slots.iter().enumerate().filter_map(|(number, slot)| match slot {
            Slot::Own(recording) => Some((RecordingId(number), recording)),
            Slot::Joined(_) => None,
        })
    }

    /// The recordings that a word may be said with: at each speed, in full and in shorter forms. None where it cannot be said.
    #[must_use]
    pub fn forms(&self, word: &str) -> Vec<RecordingId> {
        let mut forms: Vec<RecordingId> = Vec::new();
        let mut syllable = self.words.get(word).map(|&number| &self.syllables[number]);
        while let Some(full) = syllable {
            // A form may be its own shorter form.
            if full.recordings.iter().any(|recording| forms.contains(recording)) {
                break;
            }
            forms.extend(&full.recordings);
            syllable = self.weaker(full);
        }
        forms
    }

    /// The longest that any word sounds before its centre with which a programme may begin: it needs so much room before
    /// its first spoken count, or more. Numbers above twelve are left out, for they stand later in a bar, and some of
    /// them, as "dieciséis", sound for most of a second before their stressed vowel.
    #[must_use]
    pub fn longest_lead(&self) -> Frames {
        let may_begin = |word: &&str| word.parse::<u32>().map_or(true, |number| number <= BEGINS_MOST);
        let forms = self.words().filter(may_begin).flat_map(|word| self.forms(word));
        forms.map(|id| self.recording(id).centre()).max().unwrap_or(Frames::ZERO)
    }

    /// How many speeds its syllables have at most: the paces of [`VoicePack::fit_at`] go from 0, the slowest, to one
    /// less than this.
    #[must_use]
    pub fn paces(&self) -> usize {
        self.syllables.iter().map(|syllable| syllable.recordings.len()).max().unwrap_or(0)
    }

    /// The syllable of a word.
    pub(crate) fn syllable_of(&self, word: &str) -> Result<&Syllable, Error> {
        let number = self.words.get(word).ok_or_else(|| Error::UnknownWord {
            voice: self.name.clone(),
            given: word.to_owned(),
            // The numbers go on for long.
            says: self
                .words()
                .filter(|word| !word.parse::<u32>().is_ok_and(|number| number > 12))
                .map(str::to_owned)
                .collect(),
        })?;
        Ok(&self.syllables[*number])
    }

    /// The shorter form of a syllable.
    pub(crate) fn weaker(&self, syllable: &Syllable) -> Option<&Syllable> {
        syllable.weak.map(|number| &self.syllables[number])
    }
}

/// The highest number that is a first count in any usual meter.
const BEGINS_MOST: u32 = 12;

/// Syllables of which a word is joined, at most.
const JOINED_MOST: usize = 8;

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
