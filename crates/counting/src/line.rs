use rhythm::{Bar, Deed, Rhythm, division};

use crate::{Count, Word};

/// A way of counting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum System {
    /// Beats by number; `1 e & a` in a beat that divides in two, `1 ta la ta li ta` in three.
    Numbers,
}

impl System {
    /// Its name, as it stands in files and on the command line.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Numbers => "numbers",
        }
    }
}

/// The counts of a whole rhythm, bar by written bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CountLine {
    system: System,
    bars: Vec<CountedBar>,
}

/// The counts of one written bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CountedBar {
    counts: Vec<Count>,
}

impl CountLine {
    /// The way of counting.
    #[must_use]
    pub fn system(&self) -> System {
        self.system
    }

    /// One entry a written bar, in the order of [`Rhythm::bars`].
    #[must_use]
    pub fn bars(&self) -> &[CountedBar] {
        &self.bars
    }
}

impl CountedBar {
    /// The counts in order of place; never empty.
    #[must_use]
    pub fn counts(&self) -> &[Count] {
        &self.counts
    }
}

/// Counts a rhythm in the numbers system.
///
/// Every felt beat is counted, also through holds and rests; between the beats only where a note or a
/// rest begins, so a tied note between the beats has no count. An attack at a place without a word of its
/// own (a thirty-second) is a count with nothing to say; a rest there is none. Beamed and single notes are
/// counted alike, for beams play no part.
#[must_use]
pub fn count(rhythm: &Rhythm) -> CountLine {
    CountLine { system: System::Numbers, bars: rhythm.bars().iter().map(count_bar).collect() }
}

fn count_bar(bar: &Bar) -> CountedBar {
    let meter = bar.meter();
    let beats = (1..=meter.felt_beats()).filter_map(|number| {
        let at = meter.count_at(number);
        let event = bar.event_at(at)?;
        // Within a note, past its beginning, the sound is held.
        let deed = if event.deed == Deed::Attack && event.at < at { Deed::Hold } else { event.deed };
        Some(Count { at, say: Some(Word::number(number)), deed, on_beat: true })
    });
    let between = bar.events().iter().filter_map(|event| {
        let (number, part) = meter.beat_of(event.at);
        let word = division::word_at(bar.beat_division(number), part);
        let counted = match event.deed {
            Deed::Attack => word != Some(""),
            Deed::Rest => word.is_some_and(|word| !word.is_empty()),
            Deed::Hold => false,
        };
        let say = word.map(Word::syllable);
        counted.then_some(Count { at: event.at, say, deed: event.deed, on_beat: false })
    });
    let mut counts: Vec<_> = beats.chain(between).collect();
    counts.sort_by_key(|count| count.at);
    CountedBar { counts }
}
