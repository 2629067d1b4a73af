//! The sequencer: where cues fall, and what becomes of them as sound.

mod lower;
mod sequence;
