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
    /// Whether the count line stands under the notes.
    pub counts: bool,
    /// Whether title and tempo stand over the first system.
    pub head: bool,
    /// Whether every full bar bears its number.
    pub bar_numbers: bool,
    /// What is kept free between the page's left margin and every staff, for the heads of players' rows.
    pub room_left: f64,
    /// What is kept free under every system, for players' rows.
    pub room_below: f64,
}

impl Default for Layout {
    /// A page of 76 staff spaces with everything on it, repeats between signs, and no room kept free.
    fn default() -> Self {
        Self {
            width: 76.0,
            written_out: false,
            counts: true,
            head: true,
            bar_numbers: true,
            room_left: 0.0,
            room_below: 0.0,
        }
    }
}

impl Layout {
    /// What is kept free around the whole page.
    pub const MARGIN: f64 = 2.0;

    /// Where every staff begins, from the left edge of the page.
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
        for (room, place) in [(self.room_left, "left of"), (self.room_below, "below")] {
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
