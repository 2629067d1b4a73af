//! Written counting, read and held against the key.
//!
//! [`check`] reads what somebody typed under the notes, lays it along the [`CountLine`](crate::CountLine) that is right, and answers
//! count by count ([`CheckedCount`]). Mistakes that many make alike are named as a [`Misunderstanding`].
//!
//! ```
//! use counting::answers::{MisunderstandingKind, Verdict, check};
//!
//! let rhythm = rhythm::text::read("meter: 4/4\n| 1 2 & 3 (4) | 1 2 3 4 |").rhythm.expect("no errors");
//! let answer = check(&counting::count(&rhythm), &rhythm, "1 2 + 3 (4) | 5 6 7 8");
//! assert_eq!((answer.right(), answer.of()), (5, 9));
//! assert_eq!(answer.counts()[5].verdict, Verdict::WrongWord);
//! assert_eq!(answer.misunderstandings()[0].kind, MisunderstandingKind::WentOn);
//! ```
//!
//! What is understood, in small letters or capitals:
//!
//! - words in any shipped counting system, with or without blanks between them (`1e+a`, `tadi`, `ta-di`); `+`, `and`, `an`
//!   and `n` for `&`; `one` to `twelve` for numbers;
//! - `(3)` for a count in silence and `_3` for one in a held note, as in rhythm text; a `-` or `_` by itself is
//!   a hold whose word is left out, `sh` or `rest` a silence; both are shown as they are typed;
//! - bar lines `|` or `/`, of which some or all may be missing; commas and full stops say nothing.
//!
//! Nothing is refused: what is no count is answered as a word that stands where nothing begins.

mod align;
mod answer;
mod cells;
mod key;
mod lay;
mod misunderstanding;
mod naming;
mod read;
mod token;
mod vocabulary;
mod words;

pub use answer::{Answer, BarResult, CheckedCount, KeyCount, Verdict, WrittenCount};
pub use misunderstanding::{Misunderstanding, MisunderstandingKind};
pub(crate) use token::{Token, Written, tokens};
pub(crate) use vocabulary::{Vocabulary, plain};
pub(crate) use words::typed;

pub use read::{Compare, Settings, check, check_with};
