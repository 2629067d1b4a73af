//! The sequencer: where cues fall, and what becomes of them as sound.

mod choice;
mod levels;
mod drill;
mod lower;
mod sequence;
