//! The sequencer: where cues fall, and what becomes of them as sound.

mod choice;
mod drill;
mod levels;
mod lower;
mod sequence;
