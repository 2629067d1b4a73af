//! What was played, held against what is written.
//!
//! [`judge`] takes the timed counts of a performed rhythm and the attacks of one player, and says which
//! attack answers which written note, how far off each fell, what was missed and what was extra; then the
//! player's bias, spread and drift ([`Sums`]), and what a teacher would say about it ([`Finding`]s).
//! [`judge_so_far`] does the same while the drill runs, [`judge_within`] for a player whose device was not there all the time, and
//! [`Live`] at every stroke. [`Judgement::split`] says what
//! in the offsets belongs to what and how well it is known; [`Section`] lays several players side by side; [`score`]
//! says what a teacher's [`Rubric`] makes of it.
//!
//! ```
//! use judge::{Played, Settings, Verdict, judge};
//! use rhythm::{Bar, Deed, Event, Form, Meter, Rhythm};
//! use timebase::{Moment, Seconds, Span, TempoMap};
//!
//! // One bar of 4/4 at 120: 1 2 (3) 4.
//! let deeds = [Deed::Attack, Deed::Attack, Deed::Rest, Deed::Attack];
//! let events = (0..).zip(deeds).map(|(n, deed)| Event::new(Span::QUARTER * n, Span::QUARTER, deed));
//! let bar = Bar::new(1, Meter::COMMON, Form::Counts, events.collect())?;
//! let rhythm = Rhythm::new(None, None, vec![bar], vec![])?;
//! let map = TempoMap::constant(timebase::Tempo::new(Span::QUARTER, 120.into())?);
//! let counts = counting::count(&rhythm).timed(&rhythm, &rhythm.performance(), &map);
//!
//! let played = [10, 495, 1004, 1580].map(|ms| Played::new(Moment::ZERO + Seconds::from_millis(ms)));
//! let judgement = judge(&counts, &played, &Settings::default());
//! let verdicts: Vec<_> = judgement.attacks().iter().map(|attack| attack.verdict()).collect();
//! assert_eq!(verdicts, [Verdict::OnTime, Verdict::OnTime, Verdict::Extra, Verdict::Late]);
//! assert_eq!(judgement.findings()[0].says, "bar 1: the rest on 3 was struck");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! How attacks and notes are brought together is told in `alignment.md` beside this crate.
//!
//! This crate reads no clock, knows no device, no sound and no file, and takes times as it is given them: the
//! latency of pad and speaker is the caller's to subtract. It judges one player at a time and knows no names.

mod alignment;
mod altered;
mod beginning;
mod clock_motor;
mod common_pulse;
mod course;
mod drift;
mod error;
mod estimate;
mod exchanged;
mod figures;
mod finding;
mod findings;
mod judgement;
mod lattice;
pub mod limits;
mod live;
mod matching;
mod moves;
mod opening;
mod ornaments;
mod own_tempo;
mod pairs;
mod place;
mod played;
mod presence;
mod pulse;
mod readings;
mod rubric;
mod section;
mod settings;
mod split;
mod sums;
mod together;
mod trend;
mod waiting;
mod wording;
mod written;

pub use beginning::beginning;
pub use clock_motor::{ClockMotor, NotApplicable};
pub use common_pulse::CommonPulse;
pub use error::Error;
pub use estimate::Estimate;
pub use finding::{Finding, FindingKind, Slip, Understood};
pub use judgement::{Answer, Attack, Fate, Judgement, Note, Verdict, judge, judge_so_far, judge_within};
pub use live::Live;
pub use matching::matching;
pub use place::{Place, PlaceOffset};
pub use played::{Hand, Played};
pub use presence::Presence;
pub use rubric::{Click, Known, Level, Line, PulseWeights, RhythmWeights, Rubric, Scale, Scored, score};
pub use section::{Member, Section, Together, WithClick, section};
pub use settings::{Delay, Gate, Releases, Settings, Task, TempoOf};
pub use split::Split;
pub use sums::{Drift, Sums};
pub use together::together;
