//! Voice packs: syllables, their perceptual centres, and fitting one to its slot.
