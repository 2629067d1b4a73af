//! What a drill leaves behind: MIDI and WAV files, JSON, and the journal that survives a kill.
//!
//! | module or type | what it is |
//! |---|---|
//! | [`midi`] | a sequence or a take as a Standard MIDI file, and any such file as a take |
//! | [`wav`] | sound in and out of WAV files, one of them while it is recorded |
//! | [`Recorder`] | writes a take while it is played, so that a kill costs less than a second |
//! | [`Take`] | opens the folder of a take, finished or killed |
//! | [`Drilled`] | the rounds that a take of a drill plan is made of |
//! | [`json`] | what `count --json` and `judge --json` print, and `take.json` |
//! | [`Notes`] | what the teacher says of a take, kept in its folder |
//! | [`voices`] | voice packs as folders |
//! | [`Beside`] | a file that appears whole or not at all |
//! | [`marks`] | where bars begin, for the files that mark it |
//!
//! ```
//! use take::{Ended, Header, Recorder, Role, SoundNote, Stroke, Take};
//! use timebase::{Moment, SampleRate, Seconds};
//!
//! let rhythm = rhythm::text::read("meter: 4/4\n| 1 2 & 3 (4) |").rhythm.expect("no errors");
//! let plan = sequencer::Plan::of(&rhythm);
//! let sequence = sequencer::sequence(&rhythm, &counting::count(&rhythm), &plan);
//!
//! let folder = tempfile::tempdir()?;
//! let sound = SoundNote::new(SampleRate::HZ_48000);
//! let mut header = Header::of(&rhythm, &sequence, sound, "2025-03-01T10:15:00+01:00");
//! header.players.push(take::PlayerNote::new("K07", "space bar"));
//!
//! let mut recorder = Recorder::begin(&folder.path().join("take-1"), header)?;
//! let at = Moment::ZERO + Seconds::from_millis(3_260);
//! recorder.stroke(0, Stroke { at, note: 39, velocity: 100, released: None, origin: None, role: Role::Attack })?;
//! recorder.audio(&[0.0; 480], &[0.0; 480])?;
//! let dir = recorder.finish(Ended::Stopped, None)?;
//!
//! let take = Take::open(&dir)?;
//! assert_eq!(take.players()[0].strokes[0].at, at);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! `files.md` beside this crate tells what stands in each file, and the folder `schema` holds the JSON schemas.
//!
//! This crate reads no clock and no device: every time and date is the caller's. It judges nothing and
//! makes no sound. It keeps no list of takes and no pupils' records.

mod beside;
mod drilled;
mod error;
mod folder;
mod header;
mod journal;
pub mod json;
pub mod limits;
mod mark;
pub mod midi;
mod notes;
mod played;
mod recorder;
mod space;
mod take;
pub mod voices;
pub mod wav;

pub use beside::{Beside, write_beside};
pub use drilled::{Drilled, DrilledResponse, DrilledRound};
pub use error::Error;
pub use folder::Folder;
pub use header::{Absence, Header, Instrument, PlayerNote, SoundNote, clicks};
pub use mark::{Mark, marks};
pub use notes::Notes;
pub use played::{Click, Origin, Player, Role, Stroke};
pub use recorder::{Cut, Disturbance, Ended, Recorder};
pub use take::Take;
