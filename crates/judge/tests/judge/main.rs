//! The judge from outside: published vectors, named situations, laws, and simulated players.

mod astray;
#[path = "../../benches/players/chance.rs"]
mod chance;
mod findings;
mod laws;
mod outside;
mod pattern;
mod player;
mod players;
mod presence;
mod section;
mod simulated;
mod situations;
mod so_far;
mod split;
