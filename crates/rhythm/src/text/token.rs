use std::ops::Range;

/// A piece of the body of a rhythm text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Token {
    pub(super) kind: Kind,
    /// The bytes of the text it stands on.
    pub(super) span: Range<usize>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// A count's number; one too large to hold is held as `u32::MAX`, which no meter has.
    Number(u32),
    Part(PartWord),
    /// A length: numerator, denominator, dots.
    Length(u32, u32, u32),
    /// `(`
    Open,
    /// `)`
    Close,
    /// `_`
    Hold,
    /// `%`
    SameAgain,
    /// `,`
    Comma,
    /// `{`
    TupletOpen,
    /// `}`
    TupletClose,
    /// `:`
    Colon,
    /// `[ … ]`, brackets included in the span.
    Bracket,
    /// The word `times`.
    Times,
    /// The word `bars`.
    Bars,
    /// The word `fermata`.
    Fermata,
    /// A bar line, whether a repeated passage ends or begins at it, and whether it is a double one.
    BarLine {
        ends: bool,
        begins: bool,
        double: bool,
    },
    LineBreak,
    /// Anything that has no meaning here.
    Unknown,
}

/// A word for a part of a beat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum PartWord {
    E,
    And,
    A,
    La,
    Li,
    Ta,
}

impl PartWord {
    /// The longest spellings first, so that `and` is not read as `a` and `la` not as an unknown `l`.
    const SPELLINGS: [(&'static str, Self); 6] = [
        ("and", Self::And),
        ("la", Self::La),
        ("li", Self::Li),
        ("ta", Self::Ta),
        ("e", Self::E),
        ("a", Self::A),
    ];

    pub(super) fn as_str(self) -> &'static str {
        match self {
            Self::E => "e",
            Self::And => "&",
            Self::A => "a",
            Self::La => "la",
            Self::Li => "li",
            Self::Ta => "ta",
        }
    }

    /// The part that `text` begins with, in any case, and its spelling.
    fn begins(text: &str) -> Option<(&'static str, Self)> {
        let begins = |spelling: &str| {
            text.get(..spelling.len()).is_some_and(|start| start.eq_ignore_ascii_case(spelling))
        };
        Self::SPELLINGS.into_iter().find(|(spelling, _)| begins(spelling))
    }

    /// Whether it belongs to a beat counted in three.
    pub(super) fn is_of_three(self) -> bool {
        matches!(self, Self::La | Self::Li | Self::Ta)
    }
}

/// The tokens of a stretch of text, cut as they are asked for. Blanks and comments (from `#` to the end of the line)
/// fall away.
#[derive(Clone, Debug)]
pub(super) struct Tokens<'t> {
    /// Up to the end of the stretch.
    text: &'t str,
    at: usize,
    /// Where the run of letters ends that is being cut into parts of a beat.
    parts_end: usize,
}

impl<'t> Tokens<'t> {
    pub(super) fn new(text: &'t str, range: Range<usize>) -> Self {
        Self { text: &text[..range.end], at: range.start, parts_end: range.start }
    }

    /// What stands at a run of letters: one word, or the first of several parts of a beat written without spaces
    /// (`eanda`).
    fn word(&mut self, rest: &str) -> (Kind, usize) {
        let run = &rest[..rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_alphabetic()).len()];
        let words = [("times", Kind::Times), ("fermata", Kind::Fermata), ("bars", Kind::Bars)];
        if let Some((_, kind)) = words.iter().find(|(word, _)| run.eq_ignore_ascii_case(word)) {
            return (*kind, run.len());
        }
        let mut from = 0;
        while let Some((word, _)) = PartWord::begins(&run[from..]) {
            from += word.len();
        }
        match PartWord::begins(run) {
            Some((word, part)) if from == run.len() => {
                self.parts_end = self.at + run.len();
                (Kind::Part(part), word.len())
            }
            _ => (Kind::Unknown, run.len()),
        }
    }
}

impl Iterator for Tokens<'_> {
    type Item = Token;

    fn next(&mut self) -> Option<Token> {
        loop {
            let rest = &self.text[self.at..];
            let first = rest.chars().next()?;
            let skipped = match first {
                '\n' => 0,
                c if c.is_whitespace() || c == '\u{feff}' => c.len_utf8(),
                '#' => rest.find('\n').unwrap_or(rest.len()),
                _ => 0,
            };
            if skipped > 0 {
                self.at += skipped;
                continue;
            }
            let (kind, length) = match first {
                '\n' => (Kind::LineBreak, 1),
                '(' => (Kind::Open, 1),
                ')' => (Kind::Close, 1),
                '_' => (Kind::Hold, 1),
                '%' => (Kind::SameAgain, 1),
                ',' => (Kind::Comma, 1),
                '{' => (Kind::TupletOpen, 1),
                '}' => (Kind::TupletClose, 1),
                '&' | '+' => (Kind::Part(PartWord::And), 1),
                '|' => bar_line(rest, false),
                ':' if rest[1..].starts_with('|') => bar_line(rest, true),
                ':' => (Kind::Colon, 1),
                '[' => {
                    let line = &rest[..rest.find('\n').unwrap_or(rest.len())];
                    match line.find(']') {
                        Some(end) => (Kind::Bracket, end + 1),
                        None => (Kind::Unknown, line.trim_end().len()),
                    }
                }
                c if c.is_ascii_digit() => number(rest),
                // The run was looked through when its first part was cut.
                c if c.is_ascii_alphabetic() && self.at < self.parts_end => {
                    let part = PartWord::begins(rest);
                    part.map_or((Kind::Unknown, 1), |(word, part)| (Kind::Part(part), word.len()))
                }
                c if c.is_ascii_alphabetic() => self.word(rest),
                c => (Kind::Unknown, c.len_utf8()),
            };
            let span = self.at..self.at + length;
            self.at = span.end;
            return Some(Token { kind, span });
        }
    }
}

/// `|`, `||`, `|:`, `:|`, `:|:`
fn bar_line(rest: &str, ends: bool) -> (Kind, usize) {
    let colon = usize::from(ends);
    let bars = rest[colon..].len() - rest[colon..].trim_start_matches('|').len();
    let after = &rest[colon + bars..];
    // `|::|` would be a colon of two signs: it belongs to the next one when a bar line follows it.
    let begins = after.starts_with(':') && !after[1..].starts_with('|');
    (Kind::BarLine { ends, begins, double: bars > 1 }, colon + bars + usize::from(begins))
}

/// `3`, or a length such as `1/4` or `1/4.`
fn number(rest: &str) -> (Kind, usize) {
    let digits = |s: &str| s.len() - s.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let value = |s: &str| s.parse().unwrap_or(u32::MAX);
    let upper = digits(rest);
    if let Some(below) = rest[upper..].strip_prefix('/') {
        let lower = digits(below);
        if lower > 0 {
            let dots = below[lower..].len() - below[lower..].trim_start_matches('.').len();
            let length = upper + 1 + lower + dots;
            let kind = Kind::Length(
                value(&rest[..upper]),
                value(&below[..lower]),
                u32::try_from(dots).unwrap_or(u32::MAX),
            );
            return (kind, length);
        }
    }
    (Kind::Number(value(&rest[..upper])), upper)
}
