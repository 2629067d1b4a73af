//! Words as they are typed, and runs of letters cut into words.

use std::collections::{BTreeMap, HashMap};
use std::ops::Range;

/// Numbers in letters.
const NUMBERS: [&str; 12] =
    ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

/// Words that mark a silence and say nothing of the place (common practice, no source).
pub(super) const SILENCES: [&str; 3] = ["sh", "shh", "rest"];

/// The words that may be typed: those of the key's system before those of any other.
#[derive(Debug)]
pub(crate) struct Vocabulary<'a> {
    own: BTreeMap<String, String>,
    any: &'a BTreeMap<String, String>,
    longest: usize,
}

/// A word cut from a run of letters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Cut {
    /// Where in the run it stands.
    pub(super) range: Range<usize>,
    /// The word that is meant; empty where it only marks a silence.
    pub(super) meant: String,
    pub(super) silent: bool,
}

/// A word without what is typed or left out at will: capitals, hyphens and apostrophes.
pub(crate) fn plain(word: &str) -> String {
    word.chars().filter(|c| !is_joint(*c)).flat_map(char::to_lowercase).collect()
}

/// Whether it may stand inside a word: `ta-a`.
pub(super) fn is_joint(c: char) -> bool {
    matches!(c, '-' | '\u{2010}' | '\u{2011}' | '\'' | '’')
}

impl<'a> Vocabulary<'a> {
    /// What may be typed, and the word it means, in the key's system and in any.
    pub(crate) fn new(own: BTreeMap<String, String>, any: &'a BTreeMap<String, String>) -> Self {
        let longest = own.keys().chain(any.keys()).map(String::len);
        let longest = longest.chain(NUMBERS.map(str::len)).max().unwrap_or(0);
        Self { own, any, longest }
    }

    /// Cuts a run of small letters into words; it is one word where it does not divide into any.
    pub(super) fn words(&self, run: &str) -> Vec<Cut> {
        let number = |word: &str| NUMBERS.iter().position(|known| *known == word);
        let own = |word: &str| self.own.contains_key(word) || number(word).is_some();
        let any = |word: &str| own(word) || self.any.contains_key(word);
        let silent = SILENCES.contains(&run);
        let whole = || std::iter::once(0..run.len()).collect();
        let ranges: Vec<Range<usize>> = if own(run) || silent {
            whole()
        } else if let Some(cut) = cut(run, self.longest, own) {
            cut
        } else if any(run) {
            whole()
        } else {
            cut(run, self.longest, any).unwrap_or_else(whole)
        };
        let meant = |word: &str| {
            let known = self.own.get(word).cloned();
            let counted = || number(word).map(|index| (index + 1).to_string());
            known.or_else(counted).or_else(|| self.any.get(word).cloned()).unwrap_or_else(|| word.to_owned())
        };
        let cut = |range: Range<usize>| {
            let word = &run[range.clone()];
            let meant = if silent && !self.own.contains_key(word) { String::new() } else { meant(word) };
            Cut { range, meant, silent }
        };
        ranges.into_iter().map(cut).collect()
    }
}

/// The run as the fewest words, the longest first; `None` where it does not divide into words.
fn cut(run: &str, longest: usize, known: impl Fn(&str) -> bool) -> Option<Vec<Range<usize>>> {
    // From each start: how many words the rest divides into, and where the first of them ends.
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
