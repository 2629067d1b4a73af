//! Every kind of time in the house, and every conversion between them.
//!
//! A rhythm is written in *musical time*, played in *seconds*, sounded in *frames* and struck at
//! *host time*. Each is a type of its own with private fields, and only the operators that mean
//! something exist: a [`Position`] minus a [`Position`] is a [`Span`]; two positions cannot be added.
//!
//! | meaning | a point | a distance | held as |
//! |---|---|---|---|
//! | musical time | [`Position`] | [`Span`] | exact ratio of a whole note |
//! | seconds | [`Moment`] | [`Seconds`] | whole nanoseconds |
//! | samples of a sound | [`Frame`] | [`Frames`] | whole frames at a [`SampleRate`] |
//! | the computer's clock | [`HostTime`] | [`Seconds`] | whole nanoseconds of a monotonic clock |
//!
//! Conversions start from the absolute position and round once: rounded increments are never added up.
//!
//! ```
//! use timebase::{Position, SampleRate, Span, Tempo, TempoMap};
//!
//! let map = TempoMap::constant(Tempo::new(Span::QUARTER, 120.into())?);
//! let third_beat = Position::ZERO + Span::QUARTER * 2;
//! assert_eq!(map.moment_at(third_beat).as_millis_f64(), 1000.0);
//! assert_eq!(map.frame_at(third_beat, SampleRate::HZ_48000).index(), 48_000);
//! # Ok::<(), timebase::Error>(())
//! ```
//!
//! This crate reads no clock, starts no thread and does no input or output. It knows nothing of bars
//! and meters: those belong to `rhythm`.

mod clock_fit;
mod clock_offset;
mod error;
mod exact;
mod frame;
mod host;
mod host_origin;
pub mod limits;
mod moment;
mod musical;
mod server_blocks;
mod tempo;
mod tempo_map;
mod tempo_stretch;

pub use clock_fit::{Anchor, Anchored, ClockFit};
pub use clock_offset::ClockOffset;
pub use error::Error;
pub use frame::{Frame, Frames, SampleRate};
pub use host::HostTime;
pub use host_origin::HostOrigin;
pub use moment::{Moment, Seconds};
pub use musical::{Position, Span};
pub use num_rational::Ratio;
pub use server_blocks::{BlockPlace, DriverStamps};
pub use tempo::Tempo;
pub use tempo_map::{TempoChange, TempoMap};
