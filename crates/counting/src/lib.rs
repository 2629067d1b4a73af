//! Counting: for each count of a rhythm, what is said and what is done.
//!
//! What is counted, what is sounded, what is held and what is silent are four different things.
//! [`count`] makes a [`CountLine`]: every felt beat is counted, also through holds and rests, and between
//! the beats whatever begins there, a note or a rest. Each [`Count`] carries the [`Word`] that is said and the
//! [`Deed`](rhythm::Deed) that is done.
//!
//! ```
//! let rhythm = rhythm::text::read("meter: 4/4\n| 1 2 & 3 (4) |").rhythm.expect("no errors");
//! let line = counting::count(&rhythm);
//! let words: Vec<_> = line.bars()[0].counts().iter().filter_map(|count| Some(count.say.as_ref()?.as_str())).collect();
//! assert_eq!(words, ["1", "2", "&", "3", "4"]);
//! ```
//!
//! [`count_in`] counts in any [`System`]: one of the shipped ones, in a variant of it, or a school's own, read from its
//! table. [`Settings`] choose how much is counted.
//!
//! ```
//! use counting::{Settings, System};
//!
//! let rhythm = rhythm::text::read("meter: 6/8\n| 1 la li 2 |").rhythm.expect("no errors");
//! let line = counting::count_in(&rhythm, &System::named("takadimi")?, &Settings::default());
//! let words: Vec<_> = line.bars()[0].counts().iter().filter_map(|count| Some(count.say.as_ref()?.as_str())).collect();
//! assert_eq!(words, ["ta", "ki", "da", "ta"]);
//! # Ok::<(), counting::Error>(())
//! ```
//!
//! This crate makes no sound, reads no file and knows no seconds, except that [`CountLine::timed`] lays the counts
//! of a performance along a tempo map.

pub mod answers;
mod beats;
mod by_length;
mod by_place;
mod count;
mod error;
pub mod limits;
mod line;
mod read_rhythm;
mod settings;
mod step;
mod system;
mod table;
mod timed;
mod word;

pub use count::{Count, Voicing};
pub use error::{Error, TableError};
pub use line::{CountLine, CountedBar, count, count_in};
pub use read_rhythm::read_rhythm;
pub use settings::{Say, Settings};
pub use step::{Foot, Step};
pub use system::{System, Variant};
pub use timed::TimedCount;
pub use word::Word;
