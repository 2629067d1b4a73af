//! Words as they are typed, and runs of letters cut into words.

use std::collections::{BTreeSet, HashMap};

/// Other ways to type a word (common practice, no source).
const SPELLINGS: [(&str, &str); 16] = [
    ("and", "&"),
    ("an", "&"),
    ("n", "&"),
    ("one", "1"),
    ("two", "2"),
    ("three", "3"),
    ("four", "4"),
    ("five", "5"),
    ("six", "6"),
    ("seven", "7"),
    ("eight", "8"),
    ("nine", "9"),
    ("ten", "10"),
    ("eleven", "11"),
    ("twelve", "12"),
    ("shh", "sh"),
];

/// Words that mark a silence and say nothing of the place.
pub(super) const SILENCES: [&str; 2] = ["sh", "rest"];

/// The words that may be typed: those of the key's system before those of any other.
#[derive(Debug)]
pub(super) struct Vocabulary {
    own: BTreeSet<String>,
    all: BTreeSet<String>,
    longest: usize,
}

/// A word without what is typed or left out at will: capitals, hyphens and apostrophes.
pub(super) fn plain(word: &str) -> String {
    word.chars().filter(|c| !is_joint(*c)).flat_map(char::to_lowercase).collect()
}

/// Whether it may stand inside a word: `ta-a`.
pub(super) fn is_joint(c: char) -> bool {
    matches!(c, '-' | '\u{2010}' | '\u{2011}' | '\'' | '’')
}

impl Vocabulary {
    pub(super) fn new<'w>(own: impl Iterator<Item = &'w str>, all: impl Iterator<Item = &'w str>) -> Self {
        let letters = |word: &str| word.chars().next().is_some_and(char::is_alphabetic);
        let own: BTreeSet<String> = own.map(plain).filter(|word| letters(word)).collect();
        let mut all: BTreeSet<String> = all.map(plain).filter(|word| letters(word)).collect();
        all.extend(own.iter().cloned());
        all.extend(SPELLINGS.iter().map(|(spelling, _)| (*spelling).to_owned()));
        all.extend(SILENCES.iter().map(|word| (*word).to_owned()));
        let longest = all.iter().map(String::len).max().unwrap_or(0);
        Self { own, all, longest }
    }

    /// Cuts a run of small letters into words, as byte ranges of it; one range where it is no words at all.
    pub(super) fn words(&self, run: &str) -> Vec<std::ops::Range<usize>> {
        let whole = || std::iter::once(0..run.len()).collect();
        if self.own.contains(run) {
            return whole();
        }
        let spelled = |word: &str| SPELLINGS.iter().any(|(spelling, _)| *spelling == word);
        let own = |word: &str| self.own.contains(word) || spelled(word) && !self.letters_of_own(word);
        if let Some(cut) = cut(run, self.longest, own) {
            return cut;
        }
        if self.all.contains(run) {
            return whole();
        }
        cut(run, self.longest, |word| self.all.contains(word)).unwrap_or_else(whole)
    }

    /// Whether a spelling is made of words of the key's system, and so may not be taken for another: `an` is no
    /// `&` where `a` and `n` are said.
    fn letters_of_own(&self, word: &str) -> bool {
        cut(word, self.longest, |part| self.own.contains(part)).is_some()
    }
}

/// The run as the fewest words, the longest first; `None` where it does not divide into words.
fn cut(run: &str, longest: usize, known: impl Fn(&str) -> bool) -> Option<Vec<std::ops::Range<usize>>> {
    // fewest[i]: words that run[i..] divides into, and the end of the first of them.
    let mut fewest: HashMap<usize, (usize, usize)> = HashMap::from([(run.len(), (0, run.len()))]);
    let starts: Vec<usize> = run.char_indices().map(|(at, _)| at).collect();
    for (index, &start) in starts.iter().enumerate().rev() {
        let ends = starts[index + 1..].iter().copied().chain([run.len()]);
        let best = ends
            .take_while(|end| end - start <= longest)
            .filter(|end| known(&run[start..*end]))
            .filter_map(|end| Some((fewest.get(&end)?.0 + 1, end)))
            .min_by_key(|(words, end)| (*words, usize::MAX - end));
        if let Some(best) = best {
            fewest.insert(start, best);
        }
    }
    let mut words = Vec::new();
    let mut at = 0;
    while at < run.len() {
        let (_, end) = fewest.get(&at)?;
        words.push(at..*end);
        at = *end;
    }
    (!words.is_empty()).then_some(words)
}

/// What a typed word stands for.
pub(super) fn meant(word: &str) -> &str {
    SPELLINGS.iter().find(|(spelling, _)| *spelling == word).map_or(word, |(_, meant)| meant)
}
