//! Rhythms from elsewhere.

pub mod quantise;
