//! The judge from outside: published vectors, named situations, laws, and simulated players.

mod astray;
mod beginning;
#[path = "../../benches/players/chance.rs"]
mod chance;
mod findings;
mod habits;
mod laws;
mod lost_place;
mod ornaments;
mod outside;
mod own_tempo;
mod pattern;
mod player;
mod players;
mod presence;
mod run_away;
mod section;
mod simulated;
mod situations;
mod so_far;
mod split;
mod throughout;
mod waiting;
