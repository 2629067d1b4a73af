//! MIDI pads and keyboards, several at once, and what is struck on them.
//!
//! An [`Input`] has one queue, out of which come [`Stroke`]s: who struck, which pad, how hard, and when
//! on the computer's clock, with the resolution of that stamp carried along. A [`MidiSystem`] is chosen
//! at run time: the machine's own, or a JACK server with stamps exact to the frame. The computer's
//! keyboard and recorded takes enter by the same queue.
//!
//! ```
//! use input::{Input, InputSettings};
//! use timebase::{HostTime, Seconds};
//!
//! let input = Input::new(&InputSettings::default());
//! let mut take = input.replay("take, track 1");
//! // Note-on on channel 10, key 38, velocity 100.
//! take.send(&[0x99, 38, 100], HostTime::from_nanos(5_000_000), Seconds::from_millis(1));
//! let stroke = input.strokes().try_recv()?;
//! assert_eq!(stroke.player.to_string(), "P1");
//! assert!(stroke.is_attack());
//! # Ok::<(), crossbeam_channel::TryRecvError>(())
//! ```
//!
//! With devices:
//!
//! ```no_run
//! use std::time::Instant;
//!
//! use input::{Input, InputSettings, SystemChoice, midi_system};
//! use timebase::HostOrigin;
//!
//! // The sound device is given the same origin: only stamps of one clock may be compared.
//! let origin = HostOrigin::at(Instant::now());
//! let mut input = Input::new(&InputSettings::default());
//! match midi_system(SystemChoice::Native, origin) {
//!     Ok(system) => {
//!         input.attach(system);
//!         input.open_all()?;
//!     }
//!     Err(why) => println!("{why}"),
//! }
//! # Ok::<(), input::Error>(())
//! ```
//!
//! | type | what it is | thread |
//! |---|---|---|
//! | [`Input`] | devices, players, the queue | one that owns it; the queue can be cloned |
//! | [`Stroke`] | one stroke or release | any |
//! | [`Roster`], [`Place`] | who is to play on what: by port, channel, notes or pedal | any |
//! | [`Learning`] | a roster learnt by playing | any |
//! | [`Players`] | who plays on what | any |
//! | [`Gathering`] | chords and flams made one attack | any |
//! | [`Echoes`] | soft strokes kept back until it is known whether they were another pad's blow | any |
//! | [`Controls`] | pads and pedals that are orders and no strokes | any |
//! | [`Replay`] | recorded bytes into the queue | any |
//! | [`Outlet`] | messages to a device, each with its time | any, also a real-time one |
//! | [`Parser`] | bytes to notes and pedals | any, also a real-time one |
//! | [`RetriggerMask`], [`Crosstalk`] | which strokes are a pad's own bouncing, or another pad's blow | any |
//!
//! This crate knows no sound device, no rhythm and no latency: a stamp is the moment at which the
//! message arrived here, or for JACK the moment at which the server's clock saw it. What a pad and its cable add
//! to it is constant and is measured by whoever calibrates. What it sends ([`Outlet`]) it is told to the message.
//!
//! The JACK part is Linux only, in a module of its own behind the feature `jack` (on by default;
//! libjack is looked for only when JACK is asked for). The machine's own MIDI goes through midir; that
//! adapter is tested on JACK with the feature `midir-jack` and has never been run on ALSA's sequencer,
//! macOS or Windows.

#[cfg(target_os = "linux")]
mod alsa;
mod binding;
mod controls;
mod crosstalk;
mod desk;
mod echoes;
mod error;
mod flood;
mod gathering;
mod house;
mod input;
mod insistence;
#[cfg(all(target_os = "linux", feature = "jack"))]
mod jack;
mod learning;
pub mod limits;
mod native;
mod notice;
mod output;
mod parser;
mod place;
mod player;
mod port;
mod replay;
mod retrigger;
mod roster;
mod stroke;
mod system;
mod touched_at;

pub use controls::{Controls, Order};
pub use crosstalk::Crosstalk;
pub use desk::Tap;
pub use echoes::Echoes;
pub use error::Error;
pub use flood::{HeldBack, WildPad};
pub use gathering::{Gathered, Gathering};
pub use input::{Input, InputSettings, View};
pub use learning::{Learning, Lesson};
pub use notice::Notice;
pub use output::{OutMessage, Outlet, open_output, output_ports};
pub use parser::{ControlMessage, Message, NoteMessage, Parser};
pub use place::{NoteRange, Place, Touch, Touched};
pub use player::{Grouping, Player, PlayerId, Players, Source, SourceKind};
pub use port::{Port, find_port};
pub use replay::Replay;
pub use retrigger::{Pad, RetriggerMask};
pub use roster::{Entry, Instrument, Roster, check_mask};
pub use stroke::{Stroke, StrokeKind};
pub use system::{Connection, MidiSystem, SystemChoice, midi_system};
pub use touched_at::TouchedAt;
