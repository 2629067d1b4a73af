//! The sequencer: where cues fall, and what becomes of them as sound.

mod drill;
mod lower;
mod sequence;
