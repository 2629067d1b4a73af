use engrave::{Colour, Item, Scene, Theme};
use kurbo::Rect;

/// Colours for paper: black, and greys that a printer keeps apart. Early, late and extra are those of the screen.
pub const THEME: Theme = Theme {
    main: grey(0x00),
    soft: grey(0x4a),
    faint: grey(0xb4),
    column: grey(0xee),
    spread: grey(0x80),
    paper: grey(0xff),
    ..Theme::WARM_WHITE
};

const fn grey(level: u8) -> Colour {
    Colour { red: level, green: level, blue: level }
}

/// Pages laid out. All lengths are in staff spaces, the origin of a page at its top left, y downwards.
#[derive(Clone, Debug, PartialEq)]
pub struct Document {
    /// What it is called.
    pub title: String,
    /// What it is, in a sentence.
    pub description: String,
    /// A staff space in points.
    pub space_pt: f64,
    /// The day it is for; `None` where no day was given, so that nothing in it tells when it was made.
    pub date: Option<Date>,
    /// Its pages.
    pub pages: Vec<Page>,
}

/// A day of the calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Date {
    /// The year, 0 to 9999.
    pub year: u16,
    /// The month, 1 to 12.
    pub month: u8,
    /// The day of the month, 1 to 31.
    pub day: u8,
}

/// `2026-09-14` (ISO 8601).
impl std::fmt::Display for Date {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

/// One page.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// How wide it is.
    pub width: f64,
    /// How high it is.
    pub height: f64,
    /// What stands on it, in the order in which it is read.
    pub parts: Vec<Part>,
}

/// What is read as one: a heading, a line of text, a system.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// What it is.
    pub role: Role,
    /// Its marks.
    pub items: Vec<Item>,
}

/// What a part is to someone who reads the page without seeing it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// A heading.
    Heading {
        /// 1 for the title of the document, 2 for what stands under it.
        level: u8,
        /// What it says.
        text: String,
    },
    /// Text.
    Text,
    /// An item of a list; items that follow each other are one list.
    Item,
    /// A cell of a table; cells that follow each other are one table.
    Cell {
        /// Which row, from 0.
        row: usize,
        /// Whose head it is, if it is one.
        head: Option<HeadOf>,
    },
    /// A picture, with the words that stand for it.
    Figure {
        /// What it shows.
        alt: String,
    },
    /// Rules and page numbers: nothing to read.
    Decoration,
}

/// What the head of a table stands over or before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum HeadOf {
    /// A row.
    Row,
    /// A column.
    Column,
}

impl Part {
    pub(crate) fn new(role: Role, items: Vec<Item>) -> Self {
        Self { role, items }
    }

    /// The box around its marks; `None` if it has none.
    #[must_use]
    pub fn bounds(&self) -> Option<Rect> {
        self.items.iter().map(Item::bounds).reduce(|all, bounds| all.union(bounds))
    }

    /// What is said of it to someone who does not see it; empty for decoration.
    pub(crate) fn words(&self) -> String {
        match &self.role {
            Role::Heading { text, .. } => text.clone(),
            Role::Figure { alt } => alt.clone(),
            Role::Decoration => String::new(),
            Role::Text | Role::Item | Role::Cell { .. } => {
                let texts = self.items.iter().filter_map(|item| match item {
                    Item::Text { text, .. } => Some(text.as_str()),
                    _ => None,
                });
                texts.collect::<Vec<_>>().join(" ")
            }
        }
    }
}

impl Page {
    /// The page as one scene.
    #[must_use]
    pub fn scene(&self) -> Scene {
        let items = self.parts.iter().flat_map(|part| part.items.iter().cloned()).collect();
        Scene { width: self.width, height: self.height, items }
    }
}
