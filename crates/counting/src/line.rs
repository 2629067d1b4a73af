use rhythm::Rhythm;

use crate::beats::Beats;
use crate::table::By;
use crate::{Count, Settings, Step, System, by_length, by_place, step};

/// The counts of a whole rhythm, bar by written bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CountLine {
    system: System,
    settings: Settings,
    bars: Vec<CountedBar>,
}

/// The counts of one written bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CountedBar {
    counts: Vec<Count>,
    feet: Vec<Step>,
}

impl CountLine {
    /// The way of counting.
    #[must_use]
    pub fn system(&self) -> &System {
        &self.system
    }

    /// How much is counted, and how.
    #[must_use]
    pub fn settings(&self) -> Settings {
        self.settings
    }

    /// One entry a written bar, in the order of [`Rhythm::bars`].
    #[must_use]
    pub fn bars(&self) -> &[CountedBar] {
        &self.bars
    }
}

impl CountedBar {
    /// The counts in order of place. Empty only where nothing but attacks is counted and the bar has none, or where a
    /// bar was cut so that no beat falls into it and nothing begins there.
    #[must_use]
    pub fn counts(&self) -> &[Count] {
        &self.counts
    }

    /// The foot's way under the counts, in order of place; empty unless it was asked for.
    #[must_use]
    pub fn feet(&self) -> &[Step] {
        &self.feet
    }
}

/// Counts a rhythm in the numbers system: [`count_in`] with [`System::numbers`] and the usual settings.
#[must_use]
pub fn count(rhythm: &Rhythm) -> CountLine {
    count_in(rhythm, System::numbers(), &Settings::default())
}

/// Counts a rhythm in `system`.
///
/// Every beat is counted, also through holds and rests; between the beats only where a note or a rest begins, so a
/// tied note between the beats has no count, unless [`Settings::say`] asks for more or less. An attack at a place without
/// a word of its own is a count with nothing to say; a rest there is none. Beamed and single notes are counted alike,
/// for beams play no part. Several bars of rest written as one say their number on the first beat: **1** 2 3 4, **2** 2 3 4.
///
/// A system that goes by the length of the note says its words where the note and its syllables begin; the other beats
/// are counts with nothing to say, and it has no words for divisions in which nothing begins.
#[must_use]
pub fn count_in(rhythm: &Rhythm, system: &System, settings: &Settings) -> CountLine {
    let table = system.table();
    let mut beats = Beats::of(rhythm.bars()[0].meter(), table);
    let mut place = by_place::Counter::new(table, *settings);
    let bars = rhythm.bars().iter().map(|bar| {
        let beats = beats.in_bar(bar, table);
        let counts = match &table.by {
            By::Place(places) => place.count(bar, beats, places),
            By::Length(lengths) => by_length::count(bar, beats, lengths, table, *settings),
        };
        let feet = if settings.feet { step::steps(bar, beats) } else { Vec::new() };
        CountedBar { counts, feet }
    });
    CountLine { system: system.clone(), settings: *settings, bars: bars.collect() }
}
