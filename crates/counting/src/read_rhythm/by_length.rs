//! Words that name the length of a note.

use std::collections::HashSet;
use std::ops::Range;

use rhythm::text::Diagnostic;
use rhythm::{Deed, Event, Meter};
use timebase::Span;

use super::wrong;
use crate::Word;
use crate::answers::{Written, plain};
use crate::beats::Beat;
use crate::table::{Lengths, Spoken};

/// Words for one note or several that follow one another.
#[derive(Debug)]
struct Entry {
    words: Vec<String>,
    lengths: Vec<Span>,
    /// The note is tied from the one before.
    held: bool,
    /// The word is one of so many that take turns, with its index.
    turn: Option<(usize, usize)>,
}

/// A note or rest and the bytes that wrote it.
type Note = (Event, Range<usize>);

/// The notes of a bar that ends at `end`: the longest that their words allow and that fill it.
pub(super) fn read(
    words: &[&Written],
    beats: &[Beat],
    lengths: &Lengths,
    (meter, end): (Meter, Span),
    may_begin_late: bool,
) -> Result<Vec<Note>, Diagnostic> {
    let entries = entries(lengths);
    let rest = lengths.rest.as_ref().map(|word| plain(word.as_str()));
    let known = |word: &Written| {
        is_rest(word, rest.as_deref()) || entries.iter().any(|entry| entry.words.contains(&word.word))
    };
    if let Some(unknown) = words.iter().find(|word| !known(word)) {
        let said = if unknown.word.is_empty() { "a hold without its word" } else { &unknown.word };
        let message = format!("`{said}` is no word of this counting system");
        let mut listed: Vec<&str> = lengths.words().map(Word::as_str).collect();
        listed.sort_unstable();
        listed.dedup();
        return Err(wrong(unknown.span.clone(), message, format!("its words are {}", listed.join(", "))));
    }
    let mut search =
        Search { words, beats, entries: &entries, rest: rest.as_deref(), end, dead: HashSet::new(), far: 0 };
    let mut notes = Vec::new();
    if search.fill(0, Span::ZERO, &mut notes) {
        notes.reverse();
        return Ok(notes);
    }
    let mut far = search.far;
    // A pickup is as short as its words allow.
    let mut start = search.end - Span::SIXTEENTH;
    while may_begin_late && start.is_positive() {
        search.dead.clear();
        if search.fill(0, start, &mut notes) {
            notes.reverse();
            return Ok(notes);
        }
        far = far.max(search.far);
        start -= Span::SIXTEENTH;
    }
    let span = words[far.min(words.len() - 1)].span.clone();
    let message = format!("the notes of this bar do not fill {meter}, read up to here");
    let help = "every bar is as long as its meter: write more or fewer notes, rests for silence, or a bar line `|` before this";
    Err(wrong(span, message, help.to_owned()))
}

/// Words for one note, and which of how many turns they are where the words of a length take turns.
type Group = (Vec<Word>, Option<(usize, usize)>);

/// Everything that can be said for notes; more words before fewer, longer notes before shorter.
fn entries(lengths: &Lengths) -> Vec<Entry> {
    let plain_words = |words: &[Word]| words.iter().map(|word| plain(word.as_str())).collect::<Vec<_>>();
    let mut entries = Vec::new();
    for (length, spoken) in lengths.notes() {
        let groups: Vec<Group> = match spoken {
            Spoken::Syllables { words, .. } => vec![(words.clone(), None)],
            Spoken::Turns(words) => words
                .iter()
                .enumerate()
                .map(|(index, word)| (vec![word.clone()], Some((index, words.len()))))
                .collect(),
        };
        for (words, turn) in groups {
            let tied = lengths.held(&words[0]).map(|held| {
                let mut words = plain_words(&words);
                words[0] = plain(held.as_str());
                words
            });
            entries.push(Entry { words: plain_words(&words), lengths: vec![length], held: false, turn });
            entries.extend(tied.map(|words| Entry { words, lengths: vec![length], held: true, turn }));
        }
    }
    for (values, words) in lengths.patterns() {
        entries.push(Entry { words: plain_words(words), lengths: values.to_vec(), held: false, turn: None });
    }
    let length = |entry: &Entry| entry.lengths.iter().copied().sum::<Span>();
    entries.sort_by_key(|entry| std::cmp::Reverse((entry.words.len(), length(entry))));
    entries
}

/// The system's word for a rest, or `rest`.
fn is_rest(word: &Written, rest: Option<&str>) -> bool {
    rest == Some(&word.word) || (word.word.is_empty() && word.deed == Deed::Rest)
}

/// Looks for notes that fill a bar.
struct Search<'a> {
    words: &'a [&'a Written],
    beats: &'a [Beat],
    entries: &'a [Entry],
    rest: Option<&'a str>,
    end: Span,
    /// Words and places from which the bar cannot be filled.
    dead: HashSet<(usize, Span)>,
    /// The word that could not be placed though all before it could.
    far: usize,
}

impl Search<'_> {
    /// Fills the bar from `at` on with the words from `index` on; `notes` are then the last note first.
    fn fill(&mut self, index: usize, at: Span, notes: &mut Vec<Note>) -> bool {
        self.far = self.far.max(index);
        let Some(word) = self.words.get(index) else { return at == self.end };
        if at >= self.end || self.dead.contains(&(index, at)) {
            return false;
        }
        let entries = self.entries;
        if is_rest(word, self.rest) {
            for length in self.rests(at) {
                if self.fill(index + 1, at + length, notes) {
                    notes.push((Event::new(at, length, Deed::Rest), word.span.clone()));
                    return true;
                }
            }
        }
        for entry in entries {
            let Some(found) = self.placed(entry, index, at) else { continue };
            let (events, behind) = found;
            if self.fill(index + entry.words.len(), behind, notes) {
                notes.extend(events.into_iter().rev());
                return true;
            }
        }
        self.dead.insert((index, at));
        false
    }

    /// How long a rest at `at` may be: up to the next beat, else an eighth or a sixteenth.
    fn rests(&self, at: Span) -> Vec<Span> {
        let beat = self.beats.iter().map(|beat| beat.end).find(|end| *end > at).unwrap_or(self.end);
        let mut lengths = vec![beat - at];
        lengths.extend([Span::EIGHTH, Span::SIXTEENTH].into_iter().filter(|length| *length < beat - at));
        lengths
    }

    /// The notes of `entry`, if its words stand at `index` and may be said at `at`; and where they end.
    fn placed(&self, entry: &Entry, index: usize, at: Span) -> Option<(Vec<Note>, Span)> {
        let words = self.words.get(index..index + entry.words.len())?;
        if !words.iter().zip(&entry.words).all(|(word, known)| word.word == *known) {
            return None;
        }
        // What is in parentheses is silent as long as the note would be; a `_` holds.
        let deed = match words[0].deed {
            Deed::Rest => Deed::Rest,
            _ if entry.held => Deed::Hold,
            deed => deed,
        };
        // The syllables of one note belong together: silent all, or none.
        if words.iter().any(|word| (word.deed == Deed::Rest) != (deed == Deed::Rest)) {
            return None;
        }
        if let Some((turn, of)) = entry.turn {
            let before = at.in_units_of(entry.lengths[0]);
            let place = usize::try_from(before.to_integer()).ok()?;
            if place % of != turn {
                return None;
            }
        }
        let one = entry.lengths.len() == 1;
        let mut notes = Vec::with_capacity(entry.lengths.len());
        let mut reached = at;
        for (note, &length) in entry.lengths.iter().enumerate() {
            let span = if one {
                words[0].span.start..words[words.len() - 1].span.end
            } else {
                words[note].span.clone()
            };
            notes.push((Event::new(reached, length, deed), span));
            reached += length;
        }
        (reached <= self.end).then_some((notes, reached))
    }
}
