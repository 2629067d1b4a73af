//! The window: paints scenes and states, and holds no musical logic.
//!
//! [`run`] opens it and returns when it is closed. A teacher opens a rhythm, starts the drill, and sees where every attack
//! landed: the staff with its counts, under it a row of leaning pins for each player, and at the end what to fix.
//!
//! ```no_run
//! use window::{WindowSettings, run};
//!
//! let settings = WindowSettings { file: Some("tin-roof.rhythm".into()), ..WindowSettings::default() };
//! run(settings)?;
//! # Ok::<(), window::Error>(())
//! ```
//!
//! What is painted comes from `engrave` and `picture` as a scene, what is said of it from `judge`, what happens from
//! [`live::Rig`]; this crate computes no offset and no verdict. A window at rest paints nothing: frames are asked for
//! while a drill runs, and by what happens. Everything can be done from the keyboard; the list of keys is under F1.
//!
//! The space bar is stamped by the X server where there is one, to a millisecond; elsewhere by the event loop, to a frame.
//! The part that talks to the X server is Linux only. Wayland, macOS and Windows go through the same code but have
//! not been run.

mod calling;
mod choices;
mod devices;
mod error;
mod keeper;
mod keyboard;
mod lesson;
mod measuring;
mod native;
mod opening;
mod orders;
mod page;
mod paint;
mod running;
mod said;
mod screen;
mod settings;
mod sheet;
mod style;
mod triangles;

pub use error::Error;
pub use keeper::{Keeper, OpenPlan};
pub use native::{run, run_plan};
pub use settings::WindowSettings;
