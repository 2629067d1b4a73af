use timebase::Span;

use super::form;
use super::form::SayForm;
use super::words::Source;
use crate::limits::{NOTE_SYLLABLES, PATTERN_NOTES};
use crate::{Error, Word};

/// The words of a system that goes by the length of the note.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Lengths {
    notes: Vec<(Span, Spoken)>,
    held: Vec<(Word, Word)>,
    /// What is said for a rest, on each beat of it.
    pub(crate) rest: Option<Word>,
    tuplets: Vec<Vec<Word>>,
    patterns: Vec<Pattern>,
}

/// What is said for a note of some value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Spoken {
    /// Syllables one after another, the first where it is struck, each `step` after the one before.
    Syllables {
        /// The syllables.
        words: Vec<Word>,
        /// From one to the next.
        step: Span,
    },
    /// One word, by turns: the first where a whole number of rounds fits before it in its beat.
    Turns(Vec<Word>),
}

#[derive(Clone, Debug, PartialEq, Eq)]
struct Pattern {
    lengths: Vec<Span>,
    words: Vec<Word>,
}

impl Lengths {
    /// What is said for a note that is written so long.
    pub(crate) fn spoken(&self, written: Span) -> Option<&Spoken> {
        self.notes.iter().find(|(length, _)| *length == written).map(|(_, spoken)| spoken)
    }

    /// What is said where a note is not struck but tied from before, for what would be said if it were struck.
    pub(crate) fn held<'a>(&'a self, struck: &'a Word) -> Option<&'a Word> {
        self.held.iter().find(|(word, _)| word == struck).map(|(_, held)| held)
    }

    /// The words of a tuplet of so many equal notes.
    pub(crate) fn tuplet(&self, notes: usize) -> Option<&[Word]> {
        self.tuplets.iter().find(|words| words.len() == notes).map(Vec::as_slice)
    }

    /// The words of the pattern with which notes of these written lengths begin.
    pub(crate) fn pattern(&self, lengths: impl Iterator<Item = Span> + Clone) -> Option<&[Word]> {
        let begins = |pattern: &&Pattern| {
            let mut lengths = lengths.clone();
            pattern.lengths.iter().all(|&length| lengths.next() == Some(length))
        };
        self.patterns.iter().find(begins).map(|pattern| pattern.words.as_slice())
    }

    /// Every note value with what is said for it.
    pub(crate) fn notes(&self) -> impl Iterator<Item = (Span, &Spoken)> {
        self.notes.iter().map(|(length, spoken)| (*length, spoken))
    }

    /// Every pattern: the lengths of its notes and their words.
    pub(crate) fn patterns(&self) -> impl Iterator<Item = (&[Span], &[Word])> {
        self.patterns.iter().map(|pattern| (pattern.lengths.as_slice(), pattern.words.as_slice()))
    }

    pub(crate) fn words(&self) -> impl Iterator<Item = &Word> {
        let notes = self.notes.iter().flat_map(|(_, spoken)| match spoken {
            Spoken::Syllables { words, .. } | Spoken::Turns(words) => words,
        });
        let patterns = self.patterns.iter().flat_map(|pattern| &pattern.words);
        let held = self.held.iter().map(|(_, held)| held);
        notes.chain(held).chain(&self.rest).chain(self.tuplets.iter().flatten()).chain(patterns)
    }

    pub(super) fn read(source: Source<'_>, lengths: &form::Rows, say: &SayForm) -> Result<Self, Error> {
        let mut notes = Vec::new();
        for (length, text) in lengths {
            let length = source.length(length.get_ref(), &length.span())?;
            notes.push((length, read_spoken(source, length, text)?));
        }
        let mut held = Vec::new();
        for (struck, text) in say.held.iter().flatten() {
            held.push((source.word(struck.get_ref(), &struck.span())?, source.one_word(text)?));
        }
        let mut tuplets = Vec::new();
        for (number, text) in say.tuplets.iter().flatten() {
            let number = source.number(number, PATTERN_NOTES)?;
            tuplets.push(read_words(source, usize::try_from(number).unwrap_or(usize::MAX), text)?);
        }
        let mut patterns = Vec::new();
        for (key, text) in say.patterns.iter().flatten() {
            let lengths = source
                .split(key)
                .iter()
                .map(|(length, span)| source.length(length, span))
                .collect::<Result<Vec<_>, Error>>()?;
            if !PATTERN_NOTES.holds(i64::try_from(lengths.len()).unwrap_or(i64::MAX)) {
                return Err(source.error(
                    key.span(),
                    format!("the pattern \"{}\" has {} notes", key.get_ref(), lengths.len()),
                    format!(
                        "a pattern has {} to {}: write their lengths with blanks between them, \"1/8 1/4 1/8\"",
                        PATTERN_NOTES.least, PATTERN_NOTES.most
                    ),
                ));
            }
            let words = read_words(source, lengths.len(), text)?;
            patterns.push(Pattern { lengths, words });
        }
        // A longer pattern is looked for before its own beginning.
        patterns.sort_by_key(|pattern| std::cmp::Reverse(pattern.lengths.len()));
        let rest = say.rest.as_ref().map(|rest| source.one_word(rest)).transpose()?;
        Ok(Self { notes, held, rest, tuplets, patterns })
    }
}

fn read_words(source: Source<'_>, number: usize, text: &form::Text) -> Result<Vec<Word>, Error> {
    let words = source.split(text);
    if words.len() != number {
        return Err(source.error(
            text.span(),
            format!("{number} notes have {} words: \"{}\"", words.len(), text.get_ref()),
            "write one word a note, with blanks between them",
        ));
    }
    words.iter().map(|(word, span)| source.word(word, span)).collect()
}

fn read_spoken(source: Source<'_>, length: Span, text: &form::Text) -> Result<Spoken, Error> {
    let words = source.split(text);
    match words.as_slice() {
        [] => Err(source.error(
            text.span(),
            "a note value has no word",
            "write its word; take the line out where nothing is settled",
        )),
        [(word, span)] => {
            let syllables: Vec<&str> = word.split('-').collect();
            let many = i64::try_from(syllables.len()).unwrap_or(i64::MAX);
            if !NOTE_SYLLABLES.holds(many) {
                return Err(source.error(
                    span.clone(),
                    format!("the word of a note has {many} syllables"),
                    format!("it has at most {}: say one on each beat", NOTE_SYLLABLES.most),
                ));
            }
            let words =
                syllables.iter().map(|word| source.word(word, span)).collect::<Result<Vec<_>, Error>>()?;
            Ok(Spoken::Syllables { step: step(length, words.len()), words })
        }
        turns => {
            let words =
                turns.iter().map(|(word, span)| source.word(word, span)).collect::<Result<_, Error>>()?;
            Ok(Spoken::Turns(words))
        }
    }
}

/// From one syllable of a note to the next: the shortest plain value of which so many fill the note. The two of a
/// dotted quarter are a quarter apart, the three of a dotted half too.
fn step(length: Span, syllables: usize) -> Span {
    let syllables = i64::try_from(syllables).unwrap_or(i64::MAX);
    let mut step = Span::WHOLE * 4;
    while step.checked_mul(syllables).is_some_and(|all| all / 2 >= length) {
        step = step / 2;
    }
    step
}
