//! Rhythms from elsewhere.
