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
//! This crate makes no sound and knows no seconds, except that [`CountLine::timed`] lays the counts
//! of a performance along a tempo map.

mod count;
mod line;
mod timed;

pub use count::{Count, Word};
pub use line::{CountLine, CountedBar, System, count};
pub use timed::TimedCount;
