use crate::Error;
use crate::limits::{LEAST_WIDTH, MOST_ROOM, MOST_WIDTH};

/// How a rhythm is laid out. All lengths are in staff spaces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layout {
    /// How wide the page is.
    pub width: f64,
    /// Whether repeats are written out, so that every played note has a place of its own; else they stand
    /// between repeat signs.
    pub written_out: bool,
    /// Whether count lines stand under the notes.
    pub counts: bool,
    /// How they are set.
    pub count_style: CountStyle,
    /// Where the hands are named, if the rhythm has a sticking.
    pub sticking: StickingAt,
    /// How large all text is.
    pub print: PrintSize,
    /// Whether title and tempo stand over the first system.
    pub head: bool,
    /// Whether every full bar bears its number.
    pub bar_numbers: bool,
    /// What is kept free between the page's left margin and every staff, for the heads of players' rows.
    pub room_left: f64,
    /// What is kept free under every system, for players' rows.
    pub room_below: f64,
    /// What is kept free for a hand to write counts.
    pub writing: WritingRoom,
}

/// What is kept free for a hand to write counts, in staff spaces. A sheet and its key are given the same, so that they
/// are laid out alike.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct WritingRoom {
    /// Under the count lines of every staff that has any.
    pub below: f64,
    /// From the middle of one count to that of the next, at least.
    pub step: f64,
}

/// How count lines are set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct CountStyle {
    /// Whether the words stand there, or a line to write them on.
    pub shown: CountsShown,
    /// How the words of a silence are told from the others.
    pub rests: RestWords,
    /// Whether a row under the counts shows what the hands do: strike, hold or rest.
    pub hands: bool,
    /// Whether a line at the foot of the page says what the types and marks mean.
    pub legend: bool,
}

/// What stands in the place of the counts. Both take the same room, so that a sheet and its key are laid out alike.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum CountsShown {
    /// The words.
    #[default]
    Written,
    /// A line to write them on; what the hands do is left out as well.
    Ruled,
}

/// How the words of a silence are told from the others. All that is not struck is lighter; what is held has a line
/// under it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum RestWords {
    /// In parentheses.
    #[default]
    Parentheses,
    /// Lighter, and nothing else.
    Lighter,
}

/// Where stickings stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum StickingAt {
    /// Under the notes, over their counts.
    #[default]
    Under,
    /// Over the notes and all that stands on them.
    Over,
}

/// How large text is beside the notes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum PrintSize {
    /// As usual.
    #[default]
    Usual,
    /// For a reader who needs large print: all text about two fifths larger beside the notes. With a staff space of 7
    /// points counts are then 19.6 points high, and nothing is smaller than 11.9.
    Large,
}

impl PrintSize {
    fn of(self, usual: f64, large: f64) -> f64 {
        match self {
            Self::Usual => usual,
            Self::Large => large,
        }
    }

    /// The em of the count lines.
    #[must_use]
    pub fn count(self) -> f64 {
        self.of(2.0, 2.8)
    }

    /// The em of bar numbers and other small print.
    #[must_use]
    pub fn small(self) -> f64 {
        self.of(1.4, 1.7)
    }

    /// The em of stickings.
    pub(crate) fn sticking(self) -> f64 {
        self.of(1.6, 2.2)
    }

    /// The em of the names of parts.
    pub(crate) fn name(self) -> f64 {
        self.of(1.6, 2.1)
    }

    /// The em of the title.
    pub(crate) fn title(self) -> f64 {
        self.of(2.6, 3.2)
    }

    /// The em of the tempo at the head.
    pub(crate) fn tempo(self) -> f64 {
        self.of(1.8, 2.3)
    }
}

impl Default for Layout {
    /// A page of 76 staff spaces with everything on it, repeats between signs, and no room kept free.
    fn default() -> Self {
        Self {
            width: 76.0,
            written_out: false,
            counts: true,
            count_style: CountStyle::default(),
            sticking: StickingAt::Under,
            print: PrintSize::Usual,
            head: true,
            bar_numbers: true,
            room_left: 0.0,
            room_below: 0.0,
            writing: WritingRoom::default(),
        }
    }
}

impl Layout {
    /// What is kept free around the whole page.
    pub const MARGIN: f64 = 2.0;

    /// Where every staff of a rhythm by itself begins, from the left edge of the page. Where several parts are joined
    /// it stands further right, behind their names and the bracket: see [`System::left`](crate::System::left).
    #[must_use]
    pub fn staff_left(&self) -> f64 {
        Self::MARGIN + self.room_left
    }

    /// Where every full staff ends, from the left edge of the page.
    #[must_use]
    pub fn staff_right(&self) -> f64 {
        self.width - Self::MARGIN
    }

    pub(crate) fn check(&self) -> Result<(), Error> {
        let writing = [(self.writing.below, "below"), (self.writing.step, "between the counts under")];
        for (room, place) in
            [(self.room_left, "left of"), (self.room_below, "below")].into_iter().chain(writing)
        {
            if !(0.0..=MOST_ROOM).contains(&room) {
                return Err(Error::Room { room, place });
            }
        }
        if (LEAST_WIDTH..=MOST_WIDTH).contains(&(self.width - self.room_left)) {
            Ok(())
        } else {
            Err(Error::Width { width: self.width, room_left: self.room_left })
        }
    }
}
