use std::fmt;

use timebase::limits::Limit;

/// A place in a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Place {
    /// The line, from 1.
    pub line: usize,
    /// The column, from 1, in characters.
    pub column: usize,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, column {}", self.line, self.column)
    }
}

/// Why a file cannot be read or a piece cannot be written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// An encoding that is not read.
    #[error("the file is written in {given}: UTF-8, UTF-16 and ISO-8859-1 can be read; save it as UTF-8")]
    Encoding {
        /// The encoding it names.
        given: String,
    },
    /// The file is damaged.
    #[error("{place}: this is no whole XML file: {what}; save it again where it was made")]
    Xml {
        /// Where.
        place: Place,
        /// What is wrong there.
        what: String,
    },
    /// An entity that the file declares itself.
    #[error(
        "{place}: &{name}; stands for a text that the file declares itself; only the five entities of XML and characters by number are read: write the text out"
    )]
    Entity {
        /// Where.
        place: Place,
        /// Its name.
        name: String,
    },
    /// XML, but no MusicXML score.
    #[error(
        "this is no MusicXML score: it {}, a score begins with <score-partwise> or <score-timewise>",
        if found.is_empty() { "holds no element of XML".to_owned() } else { format!("begins with <{found}>") }
    )]
    NotMusicXml {
        /// The name of its first element; empty where there is none.
        found: String,
    },
    /// A text that should be something else.
    #[error("{place}: <{element}> is {given:?}, but {allowed} is needed there")]
    Value {
        /// Where.
        place: Place,
        /// The name of the element.
        element: String,
        /// What it holds.
        given: String,
        /// What is allowed.
        allowed: &'static str,
    },
    /// A number outside its limit.
    #[error("{place}: {given} is not a {}: it goes from {} to {}", .limit.what, .limit.least, .limit.most)]
    Limit {
        /// Where.
        place: Place,
        /// What was given.
        given: i64,
        /// What is allowed.
        limit: Limit,
    },
    /// A file that is too large, or empty.
    #[error("the file has {given} bytes; the {} goes from {} to {}", .limit.what, .limit.least, .limit.most)]
    Size {
        /// How many bytes it has, or would have unpacked.
        given: u64,
        /// What is allowed.
        limit: Limit,
    },
    /// A packed file that cannot be unpacked.
    #[error("this packed MusicXML file cannot be unpacked: {what}; save it again, or unpacked as .musicxml")]
    Archive {
        /// What is wrong.
        what: String,
    },
    /// No bar to read.
    #[error("the file holds no bar")]
    Empty,
    /// A part that is not there.
    #[error("there is no part {given:?}: the file has {parts}")]
    NoPart {
        /// What was asked for.
        given: String,
        /// The parts with their numbers, as a list.
        parts: String,
    },
    /// A voice that is not there.
    #[error("part {part} has no voice {given:?}: it has {voices}")]
    NoVoice {
        /// The part's number, from 1.
        part: usize,
        /// What was asked for.
        given: String,
        /// The voices as a list.
        voices: String,
    },
    /// A bar longer than any meter.
    #[error("bar {bar} lasts {length} of a whole note: the longest bar that can be written lasts 32")]
    LongBar {
        /// The bar as the file numbers it.
        bar: String,
        /// How long it lasts.
        length: String,
    },
    /// What was read does not make a rhythm.
    #[error("part {part}: {source}")]
    Rhythm {
        /// The part's name or its number from 1; of several parts together, "all".
        part: String,
        /// Why.
        source: rhythm::Error,
    },
    /// A bar that rhythm text cannot even write as silence.
    #[error(
        "bar {bar} goes from {start} to {end} of a whole note, and rhythm text has no word for such a place: mend the lengths of that bar where the file was made"
    )]
    NoWords {
        /// The bar's number.
        bar: u32,
        /// Where it begins.
        start: String,
        /// Where it ends.
        end: String,
    },
    /// Something that MusicXML cannot write.
    #[error("bar {bar} has {what}: MusicXML cannot write that")]
    Unwritable {
        /// The bar's number.
        bar: u32,
        /// What.
        what: String,
    },
}
