//! Expected and played attacks: alignment, offsets, findings, spread.
