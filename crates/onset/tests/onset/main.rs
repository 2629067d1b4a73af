//! Strokes in made-up sound, whose beginnings are known to the frame.

mod laws;
mod leak;
mod sound;
mod strokes;
