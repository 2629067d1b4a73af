//! The pieces that sentences about an answer are made of.

use rhythm::{Deed, Rhythm};

use super::super::key::Key;
use super::super::token::Written;

/// `bar 3`, `the pickup`.
pub(super) fn bar(rhythm: &Rhythm, index: usize) -> String {
    match rhythm.bars().get(index).map_or(0, rhythm::Bar::number) {
        0 => "the pickup".to_owned(),
        number => format!("bar {number}"),
    }
}

/// A word with its deed, as rhythm text writes it.
fn marked(word: &str, deed: Deed) -> String {
    match deed {
        Deed::Attack => word.to_owned(),
        Deed::Hold => format!("_{word}"),
        Deed::Rest => format!("({word})"),
    }
}

/// A word of an answer; where it is a mark without a word, as it is typed.
pub(in super::super) fn written(word: &str, typed: &str, deed: Deed) -> String {
    // A mark may be torn apart by blanks, `_( -`.
    if word.is_empty() { typed.split_whitespace().collect() } else { marked(word, deed) }
}

/// `the `2` of bar 1`; where the word alone does not tell which, its beat: `the `ta` on beat 3 of bar 2`.
pub(super) fn count(rhythm: &Rhythm, key: &Key) -> String {
    let (say, bar) = (key.say.as_str(), bar(rhythm, key.bar));
    if key.number == Some(key.beat) {
        return format!("the `{say}` of {bar}");
    }
    let inside = if *key.part.numer() == 0 { "on" } else { "in" };
    format!("the `{say}` {inside} beat {} of {bar}", key.beat)
}

/// Counts of the key.
pub(super) fn keys<'k>(keys: impl IntoIterator<Item = &'k Key>) -> String {
    let words: Vec<String> = keys.into_iter().map(|key| marked(key.say.as_str(), key.deed)).collect();
    format!("`{}`", words.join(" "))
}

/// Words of the answer.
pub(super) fn words<'w>(words: impl IntoIterator<Item = &'w Written>) -> String {
    let words: Vec<String> =
        words.into_iter().map(|word| written(&word.word, &word.typed, word.deed)).collect();
    format!("`{}`", words.join(" "))
}

/// `; so also in bars 3 and 5`: the bars beside the first, or nothing.
pub(super) fn also_in(rhythm: &Rhythm, first: usize, bars: &[usize]) -> String {
    let mut numbers: Vec<u32> = bars
        .iter()
        .filter(|bar| **bar != first)
        .filter_map(|bar| rhythm.bars().get(*bar))
        .map(rhythm::Bar::number)
        .filter(|number| *number > 0)
        .collect();
    numbers.dedup();
    let listed: Vec<String> = numbers.iter().take(8).map(u32::to_string).collect();
    match (listed.as_slice(), numbers.len()) {
        ([], _) => String::new(),
        ([one], _) => format!("; so also in bar {one}"),
        ([before @ .., last], many) if many <= 8 => {
            format!("; so also in bars {} and {last}", before.join(", "))
        }
        (_, many) => format!("; so also in {many} other bars"),
    }
}
