use std::ops::Range;

/// How much a diagnostic matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Worth a look; the rhythm stands.
    Hint,
    /// The text is no rhythm until this is mended.
    Error,
}

/// Where in a text: a line and a column, both from 1; the column counts characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// The line, from 1.
    pub line: usize,
    /// The character of that line, from 1.
    pub column: usize,
}

impl Place {
    /// The place of a byte offset in `text`; an offset past the end or inside a character is taken to the character it lies in.
    #[must_use]
    pub fn of(text: &str, offset: usize) -> Self {
        let offset = (0..=offset.min(text.len())).rev().find(|&o| text.is_char_boundary(o)).unwrap_or(0);
        let before = &text[..offset];
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        Self { line: before.matches('\n').count() + 1, column: before[line_start..].chars().count() + 1 }
    }
}

/// One thing to say about a place in a rhythm text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// Whether it stands in the way.
    pub severity: Severity,
    /// The bytes it points at; on character boundaries, never empty except at the end of the text.
    pub span: Range<usize>,
    /// What was read and why it does not stand: one sentence without a final full stop.
    pub message: String,
    /// What is allowed there and what to do: one sentence without a final full stop.
    pub help: String,
}

impl Diagnostic {
    pub(super) fn error(span: Range<usize>, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self::new(Severity::Error, span, message.into(), help.into())
    }

    pub(super) fn hint(span: Range<usize>, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self::new(Severity::Hint, span, message.into(), help.into())
    }

    fn new(severity: Severity, span: Range<usize>, message: String, help: String) -> Self {
        Self { severity, span, message: shortened(message), help: shortened(help) }
    }
}

/// Characters of what is quoted; a word of a whole page is cut after some of them.
const QUOTED: usize = 80;

/// The same sentence, what stands between backquotes cut where it is longer than any sign of rhythm text.
fn shortened(sentence: String) -> String {
    if sentence.len() <= QUOTED {
        return sentence;
    }
    let mut parts = Vec::new();
    for (number, part) in sentence.split('`').enumerate() {
        match part.char_indices().nth(QUOTED) {
            Some((end, _)) if number % 2 == 1 => parts.push(format!("{}…", &part[..end])),
            _ => parts.push(part.to_owned()),
        }
    }
    parts.join("`")
}
