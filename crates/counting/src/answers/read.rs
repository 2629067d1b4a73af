use rhythm::Rhythm;

use super::answer::{Answer, BarResult, CheckedCount, KeyCount, Verdict, WrittenCount};
use super::cells::{Cell, Sheet};
use super::key::{Key, Keys};
use super::lay::lay;
use super::token::{Token, tokens};
use super::vocabulary::Vocabulary;
use super::{naming, words};
use crate::CountLine;

/// How strictly an answer is checked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Settings {
    /// What is compared.
    pub compare: Compare,
}

/// What of a count is compared with the key.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Compare {
    /// The word, and whether it is struck, held (`_2`) or silent (`(2)`).
    #[default]
    WordsAndDeeds,
    /// The word alone, for a class that does not mark holds and rests.
    Words,
}

/// Checks `text`, the counting that somebody wrote under `rhythm`, against `key`.
///
/// `key` must be of `rhythm`; bars it does not know are left out. The answer names every written bar once, as the key
/// does: repeats are not written out. Any text has an answer.
#[must_use]
pub fn check(key: &CountLine, rhythm: &Rhythm, text: &str) -> Answer {
    check_with(key, rhythm, text, &Settings::default())
}

/// As [`check`], with settings.
#[must_use]
pub fn check_with(key: &CountLine, rhythm: &Rhythm, text: &str, settings: &Settings) -> Answer {
    let keys = Keys::of(key, rhythm);
    let beats = keys.counts.iter().filter_map(|key| key.number).max().unwrap_or(0);
    let vocabulary = Vocabulary::new(words::typed(key.system()), words::typed_anywhere());
    let mut tokens = tokens(text, &vocabulary, beats);
    let steps = lay(&keys, &tokens);
    if settings.compare == Compare::Words {
        take_deeds_of_key(&mut tokens, &keys.counts, &steps);
    }
    let mut sheet = Sheet::new(&keys, &tokens, &steps);
    let misunderstandings = naming::name(&mut sheet, key, rhythm);
    let counts: Vec<CheckedCount> = sheet.cells.iter().map(|cell| checked(&sheet, cell)).collect();
    let mut bars: Vec<BarResult> = (0..)
        .zip(rhythm.bars())
        .map(|(bar, written)| BarResult { bar, number: written.number(), right: 0, of: 0, extra: 0 })
        .collect();
    for count in &counts {
        if let Some(bar) = bars.get_mut(count.bar) {
            bar.right += usize::from(count.verdict == Verdict::Right);
            bar.of += usize::from(count.key.is_some());
            bar.extra += usize::from(count.key.is_none());
        }
    }
    Answer { counts, bars, misunderstandings }
}

/// Where only words are compared, a word has the deed of the count it answers.
fn take_deeds_of_key(tokens: &mut [Token], keys: &[Key], steps: &[super::align::Step]) {
    for step in steps {
        if let super::align::Step::Pair(key, token) = step
            && let Token::Word(word) = &mut tokens[*token]
        {
            word.deed = keys[*key].deed;
        }
    }
}

fn checked(sheet: &Sheet<'_>, cell: &Cell) -> CheckedCount {
    let (key, word) = (sheet.key_of(cell), sheet.word_of(cell));
    let verdict = match (key, word) {
        (None, _) => Verdict::NothingBegins,
        (_, None) => Verdict::Missing,
        _ if cell.misplaced => Verdict::WrongPlace,
        (Some(key), Some(word)) if key.word != word.word => Verdict::WrongWord,
        (Some(key), Some(word)) if !key.accepted.hold(word.deed) => Verdict::WrongDeed,
        _ => Verdict::Right,
    };
    CheckedCount {
        bar: cell.bar,
        key: key.map(|key| KeyCount { at: key.at, say: key.say.clone(), deed: key.deed }),
        written: word.map(|word| WrittenCount {
            span: word.span.clone(),
            typed: word.typed.clone(),
            word: word.word.clone(),
            deed: word.deed,
        }),
        verdict,
    }
}
