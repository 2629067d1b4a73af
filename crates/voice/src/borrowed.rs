use std::collections::BTreeMap;

use crate::joined::{Joined, Slot};
use crate::pack::Syllable;
use crate::recording::RecordingId;
use crate::{Error, VoicePack};

impl VoicePack {
    /// This voice with the words it has not said by `other`, word by word. What it has itself stays its own.
    ///
    /// # Errors
    /// If the other voice cannot be brought to this one's sample rate.
    pub fn completed_by(mut self, other: Self) -> Result<Self, Error> {
        let missing: Vec<(String, usize)> = other
            .words
            .iter()
            .filter(|(word, _)| !self.words.contains_key(*word))
            .map(|(word, &number)| (word.clone(), number))
            .collect();
        let name = other.name.clone();
        let other = other.at_rate(self.rate)?;
        let mut lent = Lent { from: &other, syllables: BTreeMap::new(), recordings: BTreeMap::new() };
        for (word, number) in missing {
            let number = lent.syllable(number, &mut self);
            self.words.insert(word.clone(), number);
            self.borrowed.insert(word, name.clone());
        }
        Ok(self)
    }

    /// The name of the voice that says `word` in this one's place; `None` where it says the word itself, or nobody
    /// does.
    #[must_use]
    pub fn borrows(&self, word: &str) -> Option<&str> {
        self.borrowed.get(word).map(String::as_str)
    }
}

/// What one pack lends another, and the numbers it has there.
struct Lent<'a> {
    from: &'a VoicePack,
    syllables: BTreeMap<usize, usize>,
    recordings: BTreeMap<RecordingId, RecordingId>,
}

impl Lent<'_> {
    fn syllable(&mut self, number: usize, to: &mut VoicePack) -> usize {
        if let Some(&known) = self.syllables.get(&number) {
            return known;
        }
        let Syllable { recordings, weak } = self.from.syllables[number].clone();
        let recordings = recordings.into_iter().map(|id| self.recording(id, to)).collect();
        let here = to.syllables.len();
        to.syllables.push(Syllable { recordings, weak: None });
        // Known before its shorter form is looked at, so that a form that is its own shorter form ends.
        self.syllables.insert(number, here);
        to.syllables[here].weak = weak.map(|weak| self.syllable(weak, to));
        here
    }

    fn recording(&mut self, id: RecordingId, to: &mut VoicePack) -> RecordingId {
        if let Some(&known) = self.recordings.get(&id) {
            return known;
        }
        let slot = match &self.from.slots[id.0] {
            Slot::Own(recording) => Slot::Own(recording.clone()),
            Slot::Joined(joined) => {
                let parts = joined.parts.iter().map(|&part| self.recording(part, to)).collect();
                Slot::Joined(Joined::of(&joined.word, parts))
            }
        };
        let here = RecordingId(to.slots.len());
        to.slots.push(slot);
        self.recordings.insert(id, here);
        here
    }
}
