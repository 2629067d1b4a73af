//! Counting systems: for each count of a rhythm, what is said and what is done.
