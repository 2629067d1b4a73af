//! Counting, held against published tables, against laws, and against wrong tables.

mod laws;
mod meters;
mod numbers;
mod rhythms;
mod settings;
mod systems;
mod tables;
