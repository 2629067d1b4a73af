//! What the whole-house tests share.
