use std::collections::BTreeMap;

use serde::Deserialize;

use crate::{Error, Stress};

/// A language's table: which syllable says each written word, by the name its recording has.
///
/// The words of the count line are the same in every language; what is said for them is not: "2" is `two`, `dos` or
/// `zwei`. A name that a table does not have is a word of its own, for a counting system of one's own.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Language {
    language: String,
    name: String,
    words: BTreeMap<String, String>,
    joined: BTreeMap<String, Vec<String>>,
    weak_forms: BTreeMap<String, String>,
    soft: Vec<String>,
    stressed: BTreeMap<String, usize>,
    vowels: BTreeMap<String, usize>,
    spellings: BTreeMap<String, String>,
}

/// The tables that are built in; the first is the one taken when nobody chooses.
const BUILT_IN: [&str; 3] = [
    include_str!("../../../assets/voices/languages/en.json"),
    include_str!("../../../assets/voices/languages/es.json"),
    include_str!("../../../assets/voices/languages/de.json"),
];

impl Language {
    /// Every table that is built in.
    #[must_use]
    pub fn built_in() -> Vec<Self> {
        BUILT_IN
            .iter()
            .map(|text| serde_json::from_str(text).expect("a test reads every table that is built in"))
            .collect()
    }

    /// The table of this language, by the code that BCP 47 has for it: `es`.
    ///
    /// # Errors
    /// If there is none.
    pub fn of(code: &str) -> Result<Self, Error> {
        let all = Self::built_in();
        let known = all.iter().map(|table| format!("{} ({})", table.language, table.name)).collect();
        all.into_iter()
            .find(|table| table.language == code)
            .ok_or_else(|| Error::UnknownLanguage { given: code.to_owned(), known })
    }

    /// Its code, as BCP 47 writes it.
    #[must_use]
    pub fn code(&self) -> &str {
        &self.language
    }

    /// What it is called in English.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The words that one syllable says, and the name of that syllable.
    #[must_use]
    pub fn words(&self) -> &BTreeMap<String, String> {
        &self.words
    }

    /// The words that are joined of several syllables: 21 of twenty and one.
    #[must_use]
    pub fn joined(&self) -> &BTreeMap<String, Vec<String>> {
        &self.joined
    }

    /// For a syllable the one that is said where it has no room.
    #[must_use]
    pub fn weak_forms(&self) -> &BTreeMap<String, String> {
        &self.weak_forms
    }

    /// Whether a syllable is softer than the others.
    #[must_use]
    pub fn is_soft(&self, syllable: &str) -> bool {
        self.soft.iter().any(|soft| soft == syllable)
    }

    /// Which vowel of a syllable is heard on the beat, and of how many, which nobody knows of a name that the table does
    /// not have.
    #[must_use]
    pub fn stress(&self, syllable: &str) -> Stress {
        let known = || self.syllables().any(|known| known == syllable).then_some(1);
        Stress {
            number: self.stressed.get(syllable).copied().unwrap_or(0),
            of: self.vowels.get(syllable).copied().or_else(known),
        }
    }

    /// The syllable that a recording of this name is of: by its own name, by another spelling, by the word it says
    /// ("2" is `two`), in capitals or small letters. A name the table does not have stands for itself.
    #[must_use]
    pub fn syllable(&self, name: &str) -> String {
        let name = name.to_lowercase();
        if let Some(usual) = self.spellings.get(&name) {
            return usual.clone();
        }
        let is_syllable = self.syllables().any(|syllable| syllable == name);
        let by_word = self.words.get(&name).filter(|_| !is_syllable);
        by_word.cloned().unwrap_or(name)
    }

    /// The words that a syllable says; of a name the table does not have, itself.
    #[must_use]
    pub fn words_of(&self, syllable: &str) -> Vec<String> {
        let said = self.words.iter().filter(|(_, by)| *by == syllable).map(|(word, _)| word.clone());
        let said: Vec<String> = said.collect();
        let is_part = self.syllables().any(|known| known == syllable);
        if said.is_empty() && !is_part { vec![syllable.to_owned()] } else { said }
    }

    /// Every syllable the table names; some more than once.
    fn syllables(&self) -> impl Iterator<Item = &str> {
        let parts = self.joined.values().flatten();
        self.words.values().chain(parts).chain(self.weak_forms.values()).map(String::as_str)
    }
}
