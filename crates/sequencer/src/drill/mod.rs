//! Drill plans: a rhythm heard, called, answered and repeated, round by round.
//!
//! A [`DrillPlan`] is plain data: what is called and how much of it at once, what is heard while it is answered, the tempo or
//! the steps it takes, who answers when. [`Drill::new`] checks it against its rhythms; [`Drill::rounds`] lays it out round
//! by round, as they come: each [`Round`] has its cues, its place in time to the frame and, for every response, the counts a
//! player is judged by. Nothing is kept of a round that has gone by, so memory does not grow with the length of a lesson.
//!
//! ```
//! use sequencer::drill::{Drill, DrillPlan, Material, Outcome};
//!
//! let rhythm = rhythm::text::read("tempo: quarter = 60\n| 1 2 & 3 4 | 1 (2) 3 4 |").rhythm.expect("no errors");
//! let line = counting::count(&rhythm);
//! let plan = DrillPlan { bars: Some(1), ..DrillPlan::default() };
//! let drill = Drill::new(plan, vec![Material::new(rhythm, &line)])?;
//! let rounds: Vec<_> = drill.rounds_if(|_| Outcome::Good).collect();
//! assert_eq!(rounds.len(), 2);
//! // A bar counted in, a bar called, a bar answered; the next bar is called without a gap.
//! let response = &rounds[0].responses()[0];
//! assert_eq!(response.counts()[0].at.as_millis_f64(), 4_000.0);
//! assert_eq!(drill.bounds().0, drill.bounds().1);
//! # Ok::<(), sequencer::Error>(())
//! ```
//!
//! Whether a round was good is for the caller to say: [`Rounds::told`]. This module knows no judge, no clock and no device.

mod bounds;
mod lay;
mod material;
mod pace;
mod plan;
mod round;
mod rounds;

pub use material::Material;
pub use pace::{Outcome, Pace, Stepper, Steps};
pub use plan::{
    Audible, CountIn, CountInWhen, DrillPlan, HardBar, Heard, PickupBy, SilentClick, TurnOrder, Turns,
};
pub use round::{Response, Round, RoundBar, RoundKind, Section, SectionKind, bars_named, bars_told};
pub use rounds::{Drill, Rounds};
