//! The sequencer: where cues fall, and what becomes of them as sound.

mod levels;
mod lower;
mod sequence;
mod sounds;
