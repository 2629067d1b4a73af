//! An answer in another variant of the key's system.

use rhythm::Rhythm;

use super::super::MisunderstandingKind as Kind;
use super::super::align::{self, Step};
use super::super::cells::Sheet;
use super::super::key::{Key, Keys};
use super::super::words::{self, BeatWords};
use super::{Case, sentence};
use crate::{CountLine, count_in};

/// Words shown of an answer in another variant.
const SHOWN: usize = 8;

/// The answer is in another variant: it has nearly all counts right there, and words that the key's own would not have.
/// `own` is how many words are right in the key. The cells are paired as the variant has them.
pub(super) fn another_variant(
    sheet: &mut Sheet<'_>,
    own: usize,
    line: &CountLine,
    rhythm: &Rhythm,
) -> Option<Case> {
    let wrong = sheet.cells.iter().filter(|cell| !sheet.is_right(cell)).count();
    let written = sheet.tokens.iter().filter(|token| token.word().is_some()).count();
    if wrong < 2 || written == 0 || own * 10 >= sheet.keys.len() * 9 {
        return None;
    }
    let parts = BeatWords::of(line.system());
    let mut best: Option<(usize, String, Vec<Key>, Vec<Step>)> = None;
    for system in words::other_variants(line.system()) {
        let keys = Keys::of(&count_in(rhythm, &system, &line.settings()), rhythm).counts;
        // Most variants say what the key's own says of most rhythms: there is nothing to lay along them.
        if !keys.iter().any(|key| tells(sheet.keys, key, &parts)) {
            continue;
        }
        let steps = align::align(&keys, sheet.tokens);
        let said: Vec<&Key> = steps.iter().filter_map(|step| said(sheet, &keys, *step)).collect();
        let telling = said.iter().filter(|key| tells(sheet.keys, key, &parts)).count();
        let right = said.len();
        // Nine in ten of what the variant has and of what is written; and two words that tell it from the key's own, or
        // one where the key's own has little.
        let clear = telling > 1 || (telling == 1 && own * 2 < sheet.keys.len());
        let fits = right * 10 >= keys.len() * 9 && right * 10 >= written * 9 && right > own;
        if clear && fits && best.as_ref().is_none_or(|(most, ..)| right > *most) {
            best = Some((right, words::variant_name(&system), keys, steps));
        }
    }
    let (right, name, keys, steps) = best?;
    let first = sheet.keys.first()?;
    let steps = steps_of_key(sheet.keys, &keys, &steps);
    sheet.place(&steps);
    let wrong = sheet.cells.iter().filter(|cell| !sheet.is_right(cell)).count();
    sheet.cells.iter_mut().for_each(|cell| cell.explained = true);
    let tokens: Vec<usize> = (0..sheet.tokens.len()).collect();
    let words = sheet.words(&tokens);
    Some(Case {
        kind: Kind::AnotherVariant,
        bar: first.bar,
        at: first.at,
        evidence: words.iter().map(|word| word.span.clone()).collect(),
        explains: wrong,
        says: format!(
            "the words are those of the same system {name}, {}, and {right} of {} are right there; the key counts {}, {}",
            sentence::words(words.iter().copied().take(SHOWN)),
            keys.len(),
            words::variant_name(line.system()),
            sentence::keys(sheet.keys.iter().take(SHOWN))
        ),
    })
}

/// The count of the variant that this step answers with its word.
fn said<'k>(sheet: &Sheet<'_>, keys: &'k [Key], step: Step) -> Option<&'k Key> {
    let Step::Pair(key, token) = step else { return None };
    let key = &keys[key];
    (align::word(sheet.tokens, token)?.word == key.word).then_some(key)
}

/// Whether the word of this count tells the variant from the key's own: the key has another there, and it is none of the
/// key's own words for a part of a beat, which may be one figure taken for another.
fn tells(own: &[Key], count: &Key, parts: &BeatWords) -> bool {
    let alike = place(own, count).is_some_and(|index| own[index].word == count.word);
    !alike && (*count.part.numer() == 0 || !parts.says(&count.word))
}

/// The count of the key where this one of the variant stands.
fn place(own: &[Key], count: &Key) -> Option<usize> {
    let index = own.partition_point(|key| (key.bar, key.at) < (count.bar, count.at));
    own.get(index).filter(|key| (key.bar, key.at) == (count.bar, count.at)).map(|_| index)
}

/// The steps along the variant as steps along the key.
fn steps_of_key(own: &[Key], variant: &[Key], steps: &[Step]) -> Vec<Step> {
    let mut of_key = Vec::with_capacity(steps.len());
    let mut passed = 0;
    let mut bar = 0;
    for step in steps {
        match *step {
            Step::Pair(key, token) => {
                bar = variant[key].bar;
                if let Some(index) = place(own, &variant[key]) {
                    of_key.extend((passed..index).map(Step::Missing));
                    of_key.push(Step::Pair(index, token));
                    passed = index + 1;
                } else {
                    of_key.push(Step::Extra(token));
                }
            }
            Step::Missing(key) => bar = variant[key].bar,
            Step::BarLine(_) => {
                let behind = own.partition_point(|key| key.bar <= bar).max(passed);
                of_key.extend((passed..behind).map(Step::Missing));
                passed = behind;
                of_key.push(*step);
            }
            Step::Extra(_) | Step::BarLineInside(_) => of_key.push(*step),
        }
    }
    of_key.extend((passed..own.len()).map(Step::Missing));
    of_key
}
