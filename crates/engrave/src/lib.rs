//! Rhythm and counting laid out as a positioned scene; the scene written as SVG.
//!
//! [`engrave`] sets a rhythm on a one-line staff with its count line underneath and gives an
//! [`Engraving`]: a [`Scene`] of lines, shapes, symbols and texts in staff spaces, and where everything in it
//! stands, so that players' rows and a playhead can be laid over it. Whatever paints, a window, [`svg`] or
//! paper, only matches on the scene's [`Item`]s.
//!
//! ```
//! use engrave::{Layout, engrave, svg};
//!
//! let rhythm = rhythm::text::read("title: Tin Roof\nmeter: 4/4\n| 1 2 & 3 (4) |").rhythm.expect("no errors");
//! let engraving = engrave(&rhythm, &counting::count(&rhythm), &Layout::default())?;
//! assert_eq!(engraving.systems().len(), 1);
//! let picture = svg::write(engraving.scene(), &svg::SvgOptions::default());
//! assert!(picture.starts_with("<svg"));
//! # Ok::<(), engrave::Error>(())
//! ```
//!
//! [`engrave_staves`] joins several parts by a bracket, and sets more than one count line under a part, in other counting
//! systems. [`Layout`] and its [`CountStyle`] say what is shown and how. [`Engraving::bands`] tells where a page may
//! break.
//!
//! It chooses no note values (that is `rhythm::spelling`), no counts (`counting`), knows nothing of players
//! and judgements (`picture`), and touches no file: fonts are embedded.

mod breaking;
mod draw;
mod engraving;
mod error;
pub mod font;
mod glyph;
mod ink;
mod layout;
pub mod limits;
mod metrics;
mod places;
mod placing;
mod plan;
mod scene;
mod staff;
pub mod svg;
mod tempo_words;
mod theme;
mod vertical;
mod voice;

pub use engraving::{Band, EngravedStaff, Engraving, Passage, Place, System, engrave, engrave_staves};
pub use error::Error;
pub use font::{Weight, text_width};
pub use glyph::Glyph;
pub use ink::Ink;
pub use layout::{CountStyle, CountsShown, Layout, PrintSize, RestWords, StickingAt, WritingRoom};
pub use scene::{Anchor, Item, Paint, Scene};
pub use staff::Staff;
pub use tempo_words::tempo_mark;
pub use theme::{Colour, Theme};
