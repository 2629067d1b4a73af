//! Counting in a system whose words go by the length of the note.

use rhythm::spelling::spell;
use rhythm::{Bar, BarsOfRest, Deed, Form};
use timebase::Span;

use crate::beats::Beat;
use crate::by_place::{count as counted, going_on, rest_count};
use crate::table::{Lengths, Spoken, Table};
use crate::{Count, Say, Settings, Word};

/// One note or rest as it is written.
#[derive(Clone, Copy, Debug)]
struct Written {
    at: Span,
    /// How long it lasts.
    length: Span,
    /// How long it is as it is written: in a tuplet, longer than it lasts.
    value: Span,
    deed: Deed,
    /// Which tuplet of the bar it stands in.
    tuplet: Option<usize>,
}

/// A word and where it falls.
type Said = (Span, Option<Word>);

/// The counts of `bar`, of whose meter `beats` are the beats of a full bar.
pub(crate) fn count(
    bar: &Bar,
    beats: &[Beat],
    lengths: &Lengths,
    table: &Table,
    settings: Settings,
) -> Vec<Count> {
    let (holds, rests) = (settings.holds.unwrap_or(table.holds), settings.rests.unwrap_or(table.rests));
    let notes = written(bar, lengths);
    let mut counts = Vec::with_capacity(beats.len() + notes.len());
    let mut beats = beats.iter().filter(|beat| beat.at >= bar.start() && beat.at < bar.end()).peekable();
    let mut words =
        Words { lengths, beats: beats.clone().map(|beat| beat.at).collect(), replaced: Vec::new() };
    for (index, note) in notes.iter().enumerate() {
        let end = note.at + note.length;
        let mut said = words.of(&notes, index);
        let mut next = said.drain(..).peekable();
        // The note's syllables and the beats that fall into it, in order.
        loop {
            let beat = beats.peek().filter(|beat| beat.at < end).map(|beat| beat.at);
            let syllable = next.peek().map(|(at, _)| *at);
            let Some(at) = [beat, syllable].into_iter().flatten().min() else { break };
            let on_beat = beat == Some(at);
            let beat = if on_beat { beats.next() } else { None };
            let say = if syllable == Some(at) { next.next().and_then(|(_, word)| word) } else { None };
            let deed = if at == note.at { note.deed } else { going_on(note.deed) };
            let count = match (deed, bar.rest(), beat) {
                (Deed::Rest, Some(BarsOfRest { index, .. }), Some(beat)) => {
                    let (word, voicing) = rest_count(beat, index, rests);
                    counted(at, Some(word), voicing, deed, on_beat)
                }
                (Deed::Rest, ..) => counted(at, lengths.rest.clone(), rests, deed, on_beat),
                (Deed::Hold, ..) => counted(at, say, holds, deed, on_beat),
                (Deed::Attack, ..) => counted(at, say, crate::Voicing::Said, deed, on_beat),
            };
            let wanted = match settings.say {
                Say::Attacks => deed == Deed::Attack,
                Say::Beats | Say::Divisions => on_beat || deed == Deed::Attack || count.say.is_some(),
            };
            if wanted {
                counts.push(count);
            }
        }
    }
    counts
}

/// The notes of a bar as they are written.
fn written(bar: &Bar, lengths: &Lengths) -> Vec<Written> {
    let is_one_note =
        |event: &rhythm::Event| event.deed == Deed::Rest || lengths.spoken(event.length).is_some();
    // In counts the rules choose the note values, and may cut an event in two: `& _3` goes over the middle of the bar.
    let as_it_stands = bar.form() == Form::Lengths && bar.tuplets().is_empty();
    if as_it_stands && bar.events().iter().all(is_one_note) {
        let plain = |event: &rhythm::Event| {
            let (at, length, deed) = (event.at, event.length, event.deed);
            Written { at, length, value: length, deed, tuplet: None }
        };
        return bar.events().iter().map(plain).collect();
    }
    // What is not one note of the table is several tied ones, or stands in a tuplet: its spelling says so.
    let spelled = |note: rhythm::spelling::Note| {
        let dotted = note.value.span() * ((2 << note.dots.min(8)) - 1) / (1 << note.dots.min(8));
        let value = if note.whole_bar { note.length } else { dotted };
        let tuplet = note.tuplet.map(|tuplet| tuplet.index);
        Written { at: note.at, length: note.length, value, deed: note.deed, tuplet }
    };
    spell(bar).into_iter().map(spelled).collect()
}

/// Finds the words of notes one after another.
struct Words<'a> {
    lengths: &'a Lengths,
    /// Where the beats fall.
    beats: Vec<Span>,
    /// The words of a pattern or tuplet for the notes that come next, the nearest last.
    replaced: Vec<Word>,
}

impl Words<'_> {
    /// The words of the note at `index`; each note is asked for once, in order.
    fn of(&mut self, notes: &[Written], index: usize) -> Vec<Said> {
        let note = notes[index];
        if note.deed == Deed::Rest {
            return vec![(note.at, None)];
        }
        if let Some(word) = self.replaced.pop() {
            return vec![(note.at, Some(word))];
        }
        if let Some(words) = self.pattern(notes, index) {
            self.replaced = words.iter().skip(1).rev().cloned().collect();
            return vec![(note.at, words.first().cloned())];
        }
        let held = note.deed == Deed::Hold;
        let own = |word: &Word| if held { self.lengths.held(word).cloned() } else { Some(word.clone()) };
        match self.lengths.spoken(note.value) {
            None => vec![(note.at, None)],
            Some(Spoken::Turns(words)) => {
                vec![(note.at, turn(notes, index, words).and_then(|word| own(&word)))]
            }
            Some(Spoken::Syllables { words, step }) => {
                // A step as long as the note lasts, where it lasts otherwise than it is written.
                let step = if note.value == note.length {
                    *step
                } else {
                    step.scaled(note.length.in_units_of(note.value))
                };
                let mut at = note.at;
                let mut said = Vec::with_capacity(words.len());
                for (place, word) in words.iter().enumerate() {
                    said.push((at, if place == 0 { own(word) } else { Some(word.clone()) }));
                    at += step;
                }
                said
            }
        }
    }

    /// The words of the tuplet or pattern that begins with the note at `index`.
    fn pattern(&self, notes: &[Written], index: usize) -> Option<Vec<Word>> {
        let note = notes[index];
        let ahead = &notes[index..];
        let struck =
            ahead.iter().take_while(|other| other.deed == Deed::Attack && other.tuplet == note.tuplet);
        if let Some(tuplet) = note.tuplet {
            let first = index == 0 || notes[index - 1].tuplet != Some(tuplet);
            let all = ahead.iter().take_while(|other| other.tuplet == Some(tuplet)).count();
            let equal = struck.filter(|other| other.value == note.value).count() == all;
            return if first && equal { self.lengths.tuplet(all).map(<[Word]>::to_vec) } else { None };
        }
        let on_beat = self.beats.binary_search(&note.at).is_ok();
        let words = self.lengths.pattern(struck.map(|other| other.value));
        words.filter(|_| on_beat).map(<[Word]>::to_vec)
    }
}

/// The word whose turn it is: as many notes of this length as fit before it, from the beginning of the bar or of its
/// tuplet, have had theirs.
fn turn(notes: &[Written], index: usize, words: &[Word]) -> Option<Word> {
    let note = notes[index];
    let from = match note.tuplet {
        None => Span::ZERO,
        Some(tuplet) => {
            notes.iter().find(|other| other.tuplet == Some(tuplet)).map_or(Span::ZERO, |first| first.at)
        }
    };
    let before = (note.at - from).in_units_of(note.length).to_integer();
    let turn = usize::try_from(before).ok()? % words.len();
    words.get(turn).cloned()
}
