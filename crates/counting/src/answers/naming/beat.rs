//! Misunderstandings that show in the words of one beat.

use rhythm::{Deed, Division, Rhythm};
use timebase::{Ratio, Span};

use super::super::MisunderstandingKind as Kind;
use super::super::cells::{Cell, Sheet};
use super::super::key::Key;
use super::super::token::Written;
use super::super::words::BeatWords;
use super::{Case, sentence};
use crate::CountLine;

/// Looks at every beat that no misunderstanding of its bar explains.
pub(super) fn cases(sheet: &mut Sheet<'_>, line: &CountLine, rhythm: &Rhythm) -> Vec<Case> {
    let mut found = Vec::new();
    let words = BeatWords::of(line.system());
    for range in sheet.bars() {
        let bar = sheet.cells[range.start].bar;
        let mut beats: Vec<u32> = sheet.cells[range.clone()]
            .iter()
            .filter(|cell| !cell.explained && !sheet.is_right(cell))
            .map(|cell| cell.beat)
            .collect();
        beats.dedup();
        for beat in beats {
            let inside: Vec<usize> = range.clone().filter(|&i| sheet.cells[i].beat == beat).collect();
            if inside.iter().any(|&i| sheet.cells[i].explained) {
                continue;
            }
            let mut keys: Vec<usize> = inside.iter().filter_map(|&i| sheet.cells[i].key).collect();
            keys.sort_unstable();
            let mut tokens: Vec<usize> = inside.iter().filter_map(|&i| sheet.cells[i].word).collect();
            tokens.sort_unstable();
            let key: Vec<&Key> = keys.iter().map(|&key| &sheet.keys[key]).collect();
            let written = sheet.words(&tokens);
            let looked_at = Beat {
                key: &key,
                written: &written,
                places: key.iter().map(|key| key.part).collect(),
                in_three: key.iter().any(|key| key.part.denom() % 3 == 0),
            };
            let Some(kind) = looked_at.kind(&words) else { continue };
            let place = format!("beat {beat} of {}", sentence::bar(rhythm, bar));
            let says = looked_at.says(kind, &words, &place, key[0].beat_length);
            let in_order = keys.len() == tokens.len();
            let wrong: Vec<usize> =
                inside.iter().copied().filter(|&i| !sheet.is_right(&sheet.cells[i])).collect();
            let mut explains = wrong.len();
            let at = wrong.iter().find_map(|&i| Some(sheet.key_of(&sheet.cells[i])?.at));
            let evidence = written.iter().map(|word| word.span.clone()).collect();
            found.push(Case { kind, bar, at: at.unwrap_or(key[0].at), evidence, explains, says });
            if in_order {
                // The cells of the beat that bear a key take its words in order; the others are gone.
                let mut words = tokens.iter();
                for &i in &inside {
                    let cell = &mut sheet.cells[i];
                    let word = cell.key.and_then(|_| words.next().copied());
                    *cell = Cell { word, misplaced: false, explained: true, ..*cell };
                }
                explains = inside
                    .iter()
                    .filter(|&&i| sheet.cells[i].key.is_some() && !sheet.is_right(&sheet.cells[i]))
                    .count();
                if let Some(case) = found.last_mut() {
                    case.explains = explains;
                }
            } else {
                inside.iter().for_each(|&i| sheet.cells[i].explained = true);
            }
        }
    }
    sheet.cells.retain(|cell| cell.key.is_some() || cell.word.is_some());
    found
}

/// What a beat of the key has, and what is written there.
struct Beat<'a> {
    key: &'a [&'a Key],
    written: &'a [&'a Written],
    /// Where in the beat its counts stand, as fractions of it.
    places: Vec<Ratio<i64>>,
    /// Something begins on a third or a sixth of it.
    in_three: bool,
}

impl Beat<'_> {
    fn kind(&self, words: &BeatWords) -> Option<Kind> {
        if self.key.is_empty() || self.written.len() < 2 {
            return None;
        }
        let alike = self.key.len() == self.written.len() && self.key[0].word == self.written[0].word;
        let in_two = |written: &Written| words.is_of(Division::Two, &written.word);
        let in_three = |written: &Written| words.is_of(Division::Three, &written.word);
        // The beat itself says nothing of its division.
        let parts = &self.written[1..];
        match (self.key[0].kind.prime(), self.in_three) {
            (3, _) => {
                // A duplet has the words of two by right.
                let of_two =
                    |word: &str| words.is_of(Division::Two, word) && !words.is_of(Division::Three, word);
                let by_right = self.key.iter().any(|key| of_two(&key.word));
                let written = parts.iter().any(|written| of_two(&written.word));
                if written && !by_right {
                    return Some(Kind::SimpleInCompound);
                }
                self.another_group(words).then_some(Kind::AnotherGroup)
            }
            (_, true) => {
                let of_two =
                    parts.iter().all(|word| in_two(word)) && parts.iter().any(|word| !in_three(word));
                if alike && self.key.len() == 3 && of_two {
                    return Some(Kind::SixteenthWords);
                }
                self.another_group(words).then_some(Kind::AnotherGroup)
            }
            (_, false) => {
                let of_three =
                    parts.iter().all(|word| in_three(word)) && parts.iter().any(|word| !in_two(word));
                if of_three {
                    let triplet = alike && self.key.len() == 3;
                    return Some(if triplet { Kind::TripletWords } else { Kind::CompoundInSimple });
                }
                self.another_group(words).then_some(Kind::AnotherGroup)
            }
        }
    }

    /// Whether as many notes are written as the key has, but others: `1 & a` for `1 e &`, `1 &` for `1 a`.
    fn another_group(&self, words: &BeatWords) -> bool {
        let alike = self.key.len() == self.written.len() && self.key[0].word == self.written[0].word;
        let struck = self.key.iter().all(|key| key.deed == Deed::Attack)
            && self.written.iter().all(|written| written.deed == Deed::Attack);
        // Of two words beside a rest or a held note, one is a slip.
        alike
            && (struck || self.key.len() > 2)
            && self.places_written(words, self.division()).is_some_and(|places| places != self.places)
    }

    /// How the beat of the key divides.
    fn division(&self) -> Division {
        if self.in_three || self.key[0].kind.prime() == 3 { Division::Three } else { Division::Two }
    }

    /// The parts of a beat that divides so which the written words stand for, in order; `None` where that can be taken
    /// in two ways, as `du ta` of `du ta de ta`, or in none.
    fn places_written(&self, words: &BeatWords, division: Division) -> Option<Vec<Ratio<i64>>> {
        let mut ways = vec![vec![Ratio::from_integer(0)]];
        for written in &self.written[1..] {
            let places = words.places(division, &written.word);
            let behind = |way: &Vec<Ratio<i64>>| {
                let way = way.clone();
                let last = way[way.len() - 1];
                let places = places.clone().into_iter().filter(move |place| *place > last);
                places.map(move |place| [way.as_slice(), &[place]].concat()).collect::<Vec<_>>()
            };
            ways = ways.iter().flat_map(behind).collect();
        }
        let way = ways.pop()?;
        ways.is_empty().then_some(way)
    }

    fn says(&self, kind: Kind, words: &BeatWords, place: &str, beat: Span) -> String {
        let written = sentence::words(self.written.iter().copied());
        let key = sentence::keys(self.key.iter().copied());
        let group = |places: &[Ratio<i64>]| group(places, beat);
        match kind {
            Kind::SimpleInCompound => format!(
                "{place} is written {written}, the words of a beat in two; the key has a beat in three, {key}"
            ),
            Kind::CompoundInSimple => format!(
                "{place} is written {written}, the words of a beat in three; the key has a beat in two, {key}"
            ),
            Kind::TripletWords => {
                format!("{place} is written {written}, a triplet; the key has {}, {key}", group(&self.places))
            }
            Kind::SixteenthWords => {
                let places = self.places_written(words, Division::Two).unwrap_or_default();
                format!("{place} is written {written}, {}; the key has a triplet, {key}", group(&places))
            }
            _ => {
                let places = self.places_written(words, self.division()).unwrap_or_default();
                format!(
                    "{place} is written {written}, {}; the key has {}, {key}",
                    group(&places),
                    group(&self.places)
                )
            }
        }
    }
}

/// What begins at these quarters of a beat, as note values: `two sixteenths and an eighth`.
fn group(places: &[Ratio<i64>], beat: Span) -> String {
    let name = |quarters: Ratio<i64>| {
        let length = beat.scaled(quarters);
        match (length.numerator(), length.denominator()) {
            (1, 2) => ("a", "half note"),
            (1, 4) => ("a", "quarter"),
            (1, 8) => ("an", "eighth"),
            (1, 16) => ("a", "sixteenth"),
            (1, 32) => ("a", "thirty-second"),
            (3, 8) => ("a", "dotted quarter"),
            (3, 16) => ("a", "dotted eighth"),
            (3, 32) => ("a", "dotted sixteenth"),
            _ => ("a", "note"),
        }
    };
    let ends = places.iter().skip(1).copied().chain([Ratio::from_integer(1)]);
    let names: Vec<(&str, &str)> = places.iter().zip(ends).map(|(at, end)| name(end - at)).collect();
    let alike = names.chunk_by(|a, b| a == b).map(|alike| match (alike.len(), alike[0]) {
        (1, (article, name)) => format!("{article} {name}"),
        (2, (_, name)) => format!("two {name}s"),
        (3, (_, name)) => format!("three {name}s"),
        (_, (_, name)) => format!("four {name}s"),
    });
    match alike.collect::<Vec<_>>().as_slice() {
        [] => "other notes".to_owned(),
        [one] => one.clone(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}
