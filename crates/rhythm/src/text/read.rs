use super::Diagnostic;
use crate::Rhythm;

/// What reading a text gave: the rhythm unless there was an error, and everything to be said about the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The rhythm; `None` exactly when a diagnostic is an error.
    pub rhythm: Option<Rhythm>,
    /// Errors and hints in the order of the text.
    pub diagnostics: Vec<Diagnostic>,
}
/// placeholder
pub fn read(_text: &str) -> Reading {
    Reading { rhythm: None, diagnostics: vec![] }
}
