//! Exercises, keys, judged takes and reference charts laid out on pages; the pages as PDF and as SVG.
//!
//! Layout ends in a [`Document`]: pages of positioned items in staff spaces, in the order in which they are read,
//! each with what it is ([`Role`]): a heading, a line of text, a picture with its words. [`pdf`] and [`svg`] only
//! match on that.
//!
//! ```
//! use paper::{Answers, Exercise, Print, SheetOptions, pdf, sheet};
//!
//! let rhythm = rhythm::text::read("title: Tin Roof\nmeter: 4/4\n| 1 2 & 3 (4) |").rhythm.expect("no errors");
//! let counting = counting::count(&rhythm);
//! let exercises = [Exercise::new("Tin Roof", &rhythm, &counting)];
//! let options = SheetOptions { title: "Week 3".to_owned(), ..SheetOptions::new(Print::default(), Answers::Blank) };
//! let document = sheet(&exercises, &options)?;
//! assert_eq!(document.pages.len(), 1);
//! assert!(pdf(&document)?.starts_with(b"%PDF"));
//! # Ok::<(), paper::Error>(())
//! ```
//!
//! It counts nothing (`counting`), sets no note (`engrave`), judges nothing, reads no clock and touches no file: the
//! same exercises and options give the same bytes.

mod counting_chart;
mod document;
mod error;
mod exercise;
mod flow;
mod judged;
pub mod limits;
mod lines;
mod pdf;
mod print;
mod sheet;
mod strips;
mod svg;
mod values_chart;
mod versions;
mod words;

pub use counting_chart::counting_chart;
pub use document::{Date, Document, HeadOf, Page, Part, Role, THEME};
pub use error::Error;
pub use exercise::Exercise;
pub use judged::{Judged, Remark, Told, judged, judged_layout};
pub use pdf::pdf;
pub use print::{PaperSize, Print};
pub use sheet::{Answers, SheetOptions, sheet};
pub use svg::svg;
pub use values_chart::values_chart;
pub use versions::{Version, dealt, versions};
pub use words::staves_in_words;
