//! What there is to say of a voice: what it borrowed, and what did not fit.

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
        let words: Vec<&str> = of_one.iter().map(|(_, word)| *word).collect();
        output::note(&format!(
            "the voice {} has no recording of {}: the voice {} says it",
            pack.name(),
            words.join(" "),
            of_one[0].0
        ));
    }
}

/// Says once a word, not once a place, what did not fit; at which tempo, where there is one.
pub(super) fn compromises(compromises: &[Compromise], voice: &str, tempo: Option<Tempo>) {
    let told = |what: &str, matches: fn(Option<Fit>) -> bool| {
        let of_kind = compromises.iter().filter(|compromise| matches(compromise.fit));
        let mut words: Vec<&str> = of_kind.map(|compromise| compromise.word.as_str()).collect();
        let times = words.len();
        words.sort_unstable();
        words.dedup();
        if times > 0 {
            let tempo = tempo.map_or_else(String::new, |tempo| format!(" at {tempo}"));
            let times = if times == 1 { "once".to_owned() } else { format!("{times} times") };
            output::note(&format!(
                "the voice {voice} is too slow for some counts{tempo}: {what} {times} ({})",
                words.join(" ")
            ));
        }
    };
    told("cut short or said in a shorter form", |fit| fit.is_some());
    told("left out, so that only the beats are said there,", |fit| fit.is_none());
}
