use std::borrow::Cow;
use std::collections::HashMap;

use rhythm::{Loudness, Marks, Meter, Swell};
use timebase::{Ratio, Span, Tempo};

/// What a file holds, before it is made bars of a rhythm.
#[derive(Debug, Default)]
pub(super) struct Score {
    pub(super) title: Option<String>,
    pub(super) parts: Vec<ScorePart>,
    /// Whether the file says that it writes every beam.
    pub(super) tells_beams: bool,
    /// Bars in the longest part.
    pub(super) bars: usize,
}

/// One part of a file.
#[derive(Debug)]
pub(super) struct ScorePart {
    pub(super) id: String,
    pub(super) name: String,
    /// Its voices in the order in which they appear.
    pub(super) voices: Vec<String>,
    pub(super) voice_index: HashMap<String, u16>,
    /// The bars in which the part has anything, in order.
    pub(super) bars: Vec<ScoreBar>,
    /// Divisions of a quarter from here on, as a fraction: a file may say 0.5.
    pub(super) divisions: Ratio<i64>,
    /// Whether any note is said to stand under a beam.
    pub(super) has_beams: bool,
    /// The names of its instruments, in order.
    pub(super) instruments: Vec<String>,
    /// Whether its staff is said to have one line.
    pub(super) has_one_line: bool,
}

/// One bar of one part.
#[derive(Debug, Default)]
pub(super) struct ScoreBar {
    /// Which bar of the file it is, from 0.
    pub(super) index: usize,
    /// Its number as it is printed.
    pub(super) printed: Box<str>,
    /// Whether its number is said to count or not.
    pub(super) implicit: Option<bool>,
    /// The meter that begins with it.
    pub(super) time: Option<Time>,
    /// The meter that is written in it behind its beginning, and so begins with the next.
    pub(super) time_after: Option<Time>,
    pub(super) notes: Vec<ScoreNote>,
    /// How far its notes reach, bars of rest apart.
    pub(super) length: Span,
    /// How far it reaches with the silence that `forward` passes over.
    pub(super) reach: Span,
    /// How long its bar of rest says it lasts.
    pub(super) rest_length: Option<Span>,
    pub(super) signs: Vec<Sign>,
    /// Which of the signs are said to be of the second voice, rising.
    pub(super) of_second: Vec<usize>,
}

/// A meter as it is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Time {
    Meter(Meter),
    /// Without a meter.
    Free,
}

/// One note, chord or rest of a voice.
#[derive(Debug)]
pub(super) struct ScoreNote {
    /// From the beginning of what is written of the bar.
    pub(super) at: Span,
    /// Zero for a grace note.
    pub(super) length: Span,
    pub(super) voice: u16,
    pub(super) staff: u8,
    pub(super) kind: Kind,
    /// Whether every note of the chord is tied from before.
    pub(super) tied: bool,
    pub(super) marks: Marks,
    /// What stands on it and is not kept, a bit for each of [`super::note::LOST`].
    pub(super) lost: u64,
    /// Its time modification.
    pub(super) ratio: Option<(u16, u16)>,
    /// Few notes have any, so the list is kept elsewhere.
    pub(super) brackets: Option<Box<[Bracket]>>,
    pub(super) beam: Beam,
}

/// What a note is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Note,
    Grace,
    /// A small note that shows what another player has.
    Cue,
    Rest,
    BarRest,
}

/// Where a note stands under its first beam.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Beam {
    None,
    Begin,
    /// Going on or ending.
    Inside,
}

/// The beginning or the end of a tuplet's bracket.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Bracket {
    pub(super) begins: bool,
    pub(super) number: u8,
    /// Its own numbers, where they are written.
    pub(super) ratio: Option<(u32, u32)>,
}

/// A sign that is no note, with its place in the bar where that matters.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Sign {
    Tempo { at: Span, tempo: TempoSign },
    Level { at: Span, level: Loudness },
    Swell { at: Span, swell: Swell },
    SwellEnd { at: Span },
    Felt { beats: u32 },
    ByGroup,
    Segno { at: Span },
    Coda { at: Span },
    DaCapo { words: Option<Target> },
    DalSegno { words: Option<Target> },
    ToCoda,
    Fine,
    RepeatBegin,
    RepeatEnd { times: u32 },
    EndingBegin { passes: Passes },
    EndingEnd,
    BarsOfRest { many: u32 },
    Lost(Cow<'static, str>),
}

/// The times through a passage that an ending is for, each a bit. No passage is played 63 times, so that the last bit stands
/// for all that cannot be.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Passes(u64);

impl Passes {
    pub(super) fn add(&mut self, pass: u32) {
        self.0 |= 1 << pass.min(63);
    }

    pub(super) fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// In order.
    pub(super) fn list(self) -> Vec<u32> {
        (0..64).filter(|pass| self.0 >> pass & 1 == 1).collect()
    }
}

/// What is said of where a jump leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Target {
    Fine,
    Coda,
}

/// A tempo as it is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum TempoSign {
    /// So many beats a minute.
    Beats(Tempo),
    /// What stays.
    Equal { before: Span, after: Span },
    /// So many beats a minute, reached over so many bars.
    Gradual { tempo: Tempo, bars: u32 },
    /// For playback only: quarters a minute.
    Played(Tempo),
}

impl ScorePart {
    pub(super) fn new(id: String, name: String) -> Self {
        Self {
            id,
            name,
            voices: Vec::new(),
            voice_index: HashMap::new(),
            bars: Vec::new(),
            divisions: Ratio::from_integer(1),
            has_beams: false,
            instruments: Vec::new(),
            has_one_line: false,
        }
    }

    /// Its bar `index` of the file, or `None` if it has nothing there.
    pub(super) fn bar(&self, index: usize) -> Option<&ScoreBar> {
        match self.bars.get(index) {
            Some(bar) if bar.index == index => Some(bar),
            _ => self.bars.binary_search_by_key(&index, |bar| bar.index).ok().map(|found| &self.bars[found]),
        }
    }
}
