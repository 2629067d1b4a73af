//! One drill from ready to judged: sound out, strokes in, judged as they come, written down as they fall.
//!
//! A [`Rig`] is the sound device and the MIDI inputs, opened once; it runs a thread of its own that keeps
//! the clocks together. [`Rig::start`] plays one [`Drill`]: the thread sends the programme to the mixer, sets every
//! stroke against the frame that was heard when it fell, judges each player anew, writes the take, and
//! tells what happens as [`Event`]s.
//!
//! ```no_run
//! use live::{Drill, Event, Rig, RigSettings};
//! use sequencer::Plan;
//!
//! let rhythm = rhythm::text::read("| 1 2 & 3 (4) |").rhythm.expect("a rhythm");
//! let plan = Plan::of(&rhythm);
//! let mut rig = Rig::open(&RigSettings::default(), || {})?;
//! rig.start(Drill::new(rhythm, plan))?;
//! for event in rig.events() {
//!     if let Event::Ended { players, .. } = event {
//!         println!("{} players", players.len());
//!         break;
//!     }
//! }
//! # Ok::<(), live::Error>(())
//! ```
//!
//! | type | what it is | thread |
//! |---|---|---|
//! | [`Rig`] | devices and the handle to the thread that minds them | the one that made it |
//! | [`Drill`] | what is to be played | any |
//! | [`Planned`] | a drill plan to be played, round after round |
//! | [`Part`], [`RoundOver`] | what is heard of a round now, and what became of it |
//! | [`Turns`] | who plays when at few pads | any |
//! | [`calibration`] | how late sound is heard and a stroke is known | any |
//! | [`offline`] | the same engine without devices, in a time of its own | any |
//! | [`stored`] | a take judged again, as it was judged when it was played | any |
//! | [`Event`], [`Phase`], [`PlayerState`], [`CutOff`] | what happens | sent by the rig's thread |
//! | [`ClickOut`] | the click to a MIDI device, from a thread of its own | the one that made it |
//!
//! This crate decides no verdict (that is `judge`), knows no file form (that is `take`) and draws nothing.

mod asked;
pub mod calibration;
mod click_out;
mod clock;
mod course;
mod device;
mod drill;
mod error;
mod event;
mod measured;
mod microphone;
mod mistaken;
pub mod offline;
mod phase;
mod place;
mod planned;
mod player;
mod rig;
mod run;
mod sound;
pub mod stored;
mod take_sound;
mod through;
mod turns;
mod worker;

pub use click_out::{ClickOut, ClickReport, ClickSounds, TimedMessage, click_messages};
pub use drill::{Drill, Recorded};
pub use error::Error;
pub use event::{CutOff, Event, PlayerState};
pub use measured::{Latency, Measured, MeasuredLoop, MeasuredPad, MeasuredTap, SoundAt};
pub use mistaken::conflicts;
pub use phase::Phase;
pub use place::{new_take_dir, now};
pub use planned::{Answered, Part, Planned, RoundOver, Tally, is_asked};
pub use rig::{RecordSettings, Rig, RigSettings};
pub use turns::Turns;
