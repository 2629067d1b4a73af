//! Joining new recordings to a voice that stands.

use std::collections::BTreeMap;

use timebase::Seconds;

use crate::manifest::{Entry, Manifest, Speed};
use crate::prepare::RATE;
use crate::{Error, Estimates, Language};

/// What the speeds that a folder of recordings may have are called, the slowest first.
const SLOWEST_FIRST: [&str; 4] = ["own", "slow", "normal", "quick"];

/// Refuses recordings of another language than a voice's, or of another rate.
pub(crate) fn takes(voice: &str, standing: &str, rate_hz: u32, language: &Language) -> Result<(), Error> {
    let voice = voice.to_owned();
    if standing != language.code() {
        let (standing, given) = (standing.to_owned(), language.code().to_owned());
        return Err(Error::OtherLanguage { voice, standing, given });
    }
    if rate_hz != RATE.hz() {
        return Err(Error::OtherRate { voice, standing: rate_hz, needed: RATE.hz() });
    }
    Ok(())
}

impl Manifest {
    /// Every recording of the manifest.
    pub(crate) fn entries(&self) -> impl Iterator<Item = &Entry> {
        self.syllables.values().flat_map(BTreeMap::values)
    }

    /// Notes a speed with its constant. One that is new stands before the first that is quicker, as its name says.
    pub(crate) fn note_speed(&mut self, name: &str, marcus_constant_ms: f64) {
        let marcus_constant_ms = Some(marcus_constant_ms);
        if let Some(known) = self.speeds.iter_mut().find(|speed| speed.name == name) {
            known.marcus_constant_ms = marcus_constant_ms;
            return;
        }
        let rank = |name: &str| SLOWEST_FIRST.iter().position(|known| *known == name);
        let own = rank(name);
        let quicker = self.speeds.iter().position(|speed| own.is_some() && rank(&speed.name) > own);
        let at = quicker.unwrap_or(self.speeds.len());
        self.speeds.insert(at, Speed { name: name.to_owned(), marcus_constant_ms });
    }

    /// What was estimated of the recordings at a speed, so far as the manifest says it.
    pub(crate) fn estimates_at(&self, speed: &str) -> Vec<Estimates> {
        self.syllables.values().filter_map(|entries| entries.get(speed)?.estimates()).collect()
    }

    /// The name of a file that nothing of the manifest has, on no system: of these parts, without what a file's name
    /// cannot hold, and with a number if need be.
    pub(crate) fn free_file(&self, speed: &str, syllable: &str) -> String {
        let start = format!("{}/{}", in_file_names(speed), in_file_names(syllable));
        let is_taken = |name: &str| self.entries().any(|e| e.file.to_lowercase() == name.to_lowercase());
        let numbered = (2..).map(|number| format!("{start}-{number}.wav"));
        std::iter::once(format!("{start}.wav")).chain(numbered).find(|name| !is_taken(name)).unwrap_or(start)
    }

    /// The words that a new syllable says: each that was not said by another, and what is joined of parts that are
    /// there now.
    pub(crate) fn say(&mut self, new: &[String], language: &Language) {
        for name in new {
            for word in language.words_of(name) {
                if !self.words.contains_key(&word) {
                    self.joined.remove(&word);
                    self.words.insert(word, name.clone());
                }
            }
        }
        let is_new = |part: &String| new.contains(part);
        for (word, parts) in language.joined() {
            let all = parts.iter().all(|part| self.syllables.contains_key(part));
            if all && parts.iter().any(is_new) && !self.words.contains_key(word) {
                self.joined.entry(word.clone()).or_insert_with(|| parts.clone());
            }
        }
        for (full, weak) in language.weak_forms() {
            let both = self.syllables.contains_key(full) && self.syllables.contains_key(weak);
            if both && (is_new(full) || is_new(weak)) {
                self.weak_forms.entry(full.clone()).or_insert_with(|| weak.clone());
            }
        }
    }
}

impl Entry {
    fn estimates(&self) -> Option<Estimates> {
        let of = |name: &str| {
            self.estimates_ms.as_ref()?.get(name).map(|&given_ms| Seconds::from_millis_f64(given_ms))
        };
        let vowel = Seconds::from_millis_f64(self.vowel_ms?[0]);
        let length = Seconds::from_millis_f64(self.length_ms?);
        Some(Estimates {
            cummins_port: of("cummins_port")?,
            scott: of("scott")?,
            marcus_without_constant: Estimates::marcus_of(vowel, length),
            fastest_change: of("fastest_change")?,
        })
    }
}

/// What a file's name may hold of this, on any system, without hiding the file.
fn in_file_names(text: &str) -> String {
    let kept = |c: char| if c.is_alphanumeric() || matches!(c, '-' | ' ') { c } else { '_' };
    let name: String = text.trim().chars().map(kept).collect();
    if name.is_empty() { "_".to_owned() } else { name }
}
