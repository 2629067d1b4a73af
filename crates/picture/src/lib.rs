//! An engraving with the players' rows over it, as a scene.
//!
//! From every written attack a fine line drops through the rows, one row a player, and **an attack is a
//! pin**: its foot stands on the written line, its bead where the attack fell, magnified, because twenty
//! milliseconds cannot be seen at the scale of a bar. Upright is with the written note; the bead to the
//! left is early, to the right late, as time runs. A missed attack is a dashed pin without a bead, an
//! extra one a hollow bead where it fell. What lies beyond the tolerance carries its number. Under the
//! rows stands the *spread* of the players at each written attack.
//!
//! ```
//! use engrave::{Layout, engrave};
//! use picture::{Mark, PictureOptions, Row, picture};
//!
//! let rhythm = rhythm::text::read("meter: 4/4\n| 1 2 & 3 (4) |").rhythm.expect("no errors");
//! let attack = rhythm.performance().bars()[0].attack_id(timebase::Span::ZERO);
//! let rows = [Row {
//!     label: "P1".to_owned(),
//!     state: String::new(),
//!     bias_ms: Some(-12.0),
//!     marks: vec![Mark::Pin { id: attack, lean_ms: 20.0, beyond: None }],
//! }];
//! let layout = picture::layout(Layout::default(), &rows, false);
//! let engraving = engrave(&rhythm, &counting::count(&rhythm), &layout)?;
//! let scene = picture(&engraving, &rows, &[], &PictureOptions::default())?;
//! assert!(scene.items.len() > engraving.scene().items.len());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! [`rows`] makes the rows of judgements, leaning against each player's own pulse, the click or the
//! section; [`Timeline`] finds the place on the page of any moment, and [`playhead`] marks one. This crate
//! judges nothing: whether an attack is early is said by `judge`, and only drawn here.

mod draw;
mod error;
mod legend;
mod options;
mod playhead;
mod row;
mod rows;
mod timeline;

pub use draw::{layout, picture};
pub use error::Error;
pub use options::{Against, PictureOptions};
pub use playhead::{Playhead, playhead};
pub use row::{Mark, Row, Side, Spread};
pub use rows::{Player, rows, section_row, spreads};
pub use timeline::Timeline;
