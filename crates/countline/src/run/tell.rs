//! What there is to say of a voice: what it borrowed, and what did not fit.

use std::collections::HashSet;

use sequencer::Compromise;
use timebase::Tempo;
use voice::{Fit, VoicePack};

use crate::output;

/// Says which of these words another voice says, because this one has no recording of them.
pub(super) fn borrowed<'a>(words: impl Iterator<Item = &'a str>, pack: &VoicePack) {
    let mut borrowed: Vec<(&str, &str)> =
        words.filter_map(|word| Some((pack.borrows(word)?, word))).collect();
    borrowed.sort_unstable();
    borrowed.dedup();
    for of_one in borrowed.chunk_by(|a, b| a.0 == b.0) {
        let words = of_one.iter().map(|(_, word)| *word).collect();
        output::note(&format!(
            "the voice {} has no recording of {}: the voice {} says it",
            pack.name(),
            listed(words),
            of_one[0].0
        ));
    }
}

/// A word that had not all the room it needs, and where: `bar 3 at quarter = 120`.
pub(super) struct Misfit {
    word: String,
    fit: Option<Fit>,
    place: String,
}

impl Misfit {
    /// What was done to a word, in a bar that is called so and at this tempo.
    pub(super) fn of(compromise: &Compromise, bar: &str, tempo: Tempo) -> Self {
        let place = format!("{bar} at {tempo}");
        Self { word: compromise.word.clone(), fit: compromise.fit, place }
    }
}

/// So many places are named, so that a long piece does not fill the screen.
const PLACES: usize = 4;

/// Says once a word, not once a place, what did not fit, and in which bars.
pub(super) fn compromises(misfits: &[Misfit], voice: &str) {
    let told = |what: &str, matches: fn(Option<Fit>) -> bool| {
        let of_kind: Vec<&Misfit> = misfits.iter().filter(|misfit| matches(misfit.fit)).collect();
        let words: Vec<&str> = of_kind.iter().map(|misfit| misfit.word.as_str()).collect();
        let mut places: Vec<&str> = of_kind.iter().map(|misfit| misfit.place.as_str()).collect();
        // A bar that comes again at its tempo is told once.
        let mut known = HashSet::new();
        places.retain(|place| known.insert(*place));
        let times = words.len();
        if times > 0 {
            let more = places.len().saturating_sub(PLACES);
            places.truncate(PLACES);
            let more = match more {
                0 => String::new(),
                1 => " and 1 more bar".to_owned(),
                many => format!(" and {many} more bars"),
            };
            let times = if times == 1 { "once".to_owned() } else { format!("{times} times") };
            output::note(&format!(
                "the voice {voice} is too slow for some counts in {}{more}: {what} {times} ({})",
                places.join(", "),
                listed(words)
            ));
        }
    };
    told("cut short or said in a shorter form", |fit| fit.is_some());
    told("left out, so that only the beats are said there,", |fit| fit.is_none());
}

/// Each word once: numbers first, three and more in a row as `100 to 199`, then syllables.
fn listed(mut words: Vec<&str>) -> String {
    words.sort_unstable_by_key(|word| (word.parse::<u32>().unwrap_or(u32::MAX), *word));
    words.dedup();
    let follows = |a: &&str, b: &&str| match (a.parse::<u32>(), b.parse::<u32>()) {
        (Ok(a), Ok(b)) => a.checked_add(1) == Some(b),
        _ => false,
    };
    let rows = words.chunk_by(follows).map(|row| match row {
        [first, _, .., last] => format!("{first} to {last}"),
        few => few.join(" "),
    });
    rows.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_listed_once_and_numbers_in_rows() {
        let check = |words: &[&str], expected: &str| assert_eq!(listed(words.to_vec()), expected);
        check(&["e", "11", "2", "10", "e", "&", "12", "1"], "1 2 10 to 12 & e");
        check(&["3", "1", "2"], "1 to 3");
        check(&["7", "8", "a"], "7 8 a");
        check(&[], "");
    }
}
