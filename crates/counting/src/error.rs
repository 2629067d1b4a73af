use std::fmt;
use std::ops::Range;

use rhythm::text::Place;

/// Why there is no such way of counting.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// No shipped counting system of this name.
    #[error("there is no counting system \"{given}\": choose {}, or give the file of your own, ending in .toml", .shipped.join(", "))]
    UnknownSystem {
        /// The name given.
        given: String,
        /// The names there are.
        shipped: Vec<String>,
    },
    /// No variant of this name in the system.
    #[error("the counting system {system} has no variant \"{given}\": {}", known(.variants))]
    UnknownVariant {
        /// The system's name.
        system: String,
        /// The name given.
        given: String,
        /// The names there are.
        variants: Vec<String>,
    },
    /// The table of a counting system is wrong.
    #[error(transparent)]
    Table(Box<TableError>),
}

fn known(variants: &[String]) -> String {
    if variants.is_empty() { "it has none".to_owned() } else { format!("choose {}", variants.join(", ")) }
}

/// What is wrong in the table of a counting system, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TableError {
    /// The bytes it points at.
    pub span: Range<usize>,
    /// Line and column, from 1, of where they begin.
    pub place: Place,
    /// What was read and why it does not stand: one sentence without a final full stop.
    pub message: String,
    /// What is allowed there and what to do: one sentence without a final full stop.
    pub help: String,
}

impl fmt::Display for TableError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { place: Place { line, column }, message, help, .. } = self;
        write!(f, "line {line}, column {column}: {message}; {help}")
    }
}

impl std::error::Error for TableError {}
