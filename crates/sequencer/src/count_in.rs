use counting::Word;
use rhythm::{Meter, Performance, Rhythm};
use timebase::Position;

use crate::choice::Entry;
use crate::clicks::Beat;

/// The bars counted before the rhythm begins, in the meter of its first bar; before a pickup also the counts up to it.
pub(crate) struct CountIn {
    pub(crate) start: Position,
    entry: Position,
    pub(crate) meter: Meter,
}

impl CountIn {
    pub(crate) fn before(rhythm: &Rhythm, performance: &Performance, bars: u32) -> Self {
        let first = &performance.bars()[0];
        let meter = rhythm.bars()[0].meter();
        let entry = first.start;
        let start = if bars == 0 { entry } else { first.origin - meter.bar_length() * i64::from(bars) };
        Self { start, entry, meter }
    }

    /// Its felt beats.
    pub(crate) fn beats(&self) -> impl Iterator<Item = Beat> {
        let (start, entry, meter) = (self.start, self.entry, self.meter);
        (0_u32..)
            .map(move |beat| {
                let at = start + meter.felt_beat() * i64::from(beat);
                Beat { at, number: beat % meter.felt_beats() + 1, meter }
            })
            .take_while(move |beat| beat.at < entry)
    }

    /// What is said on them: their numbers, but on the last two the words for the entry.
    pub(crate) fn counts(&self, entry: Entry) -> Vec<(Position, Word)> {
        let mut counts: Vec<(Position, Word)> =
            self.beats().map(|beat| (beat.at, Word::number(self.meter.said_number(beat.number)))).collect();
        let words = entry.words().into_iter().flatten().rev().filter_map(Word::syllable);
        for ((_, said), word) in counts.iter_mut().rev().zip(words) {
            *said = word;
        }
        counts
    }
}
