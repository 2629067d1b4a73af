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

    /// Whether it belongs to a beat counted in three.
    pub(super) fn is_of_three(self) -> bool {
        matches!(self, Self::La | Self::Li | Self::Ta)
    }
}

/// Cuts the stretch `range` of `text` into tokens. Blanks and comments (from `#` to the end of the line) fall away.
pub(super) fn tokens(text: &str, range: Range<usize>) -> Vec<Token> {
    let mut tokens = Vec::new();
    let text = &text[..range.end];
    let mut at = range.start;
    while let Some(first) = text[at..].chars().next() {
        let rest = &text[at..];
        let mut push = |kind, length: usize| {
            tokens.push(Token { kind, span: at..at + length });
            length
        };
        at += match first {
            '\n' => push(Kind::LineBreak, 1),
            c if c.is_whitespace() || c == '\u{feff}' => c.len_utf8(),
            '#' => rest.find('\n').unwrap_or(rest.len()),
            '(' => push(Kind::Open, 1),
            ')' => push(Kind::Close, 1),
            '_' => push(Kind::Hold, 1),
            '%' => push(Kind::SameAgain, 1),
            ',' => push(Kind::Comma, 1),
            '{' => push(Kind::TupletOpen, 1),
            '}' => push(Kind::TupletClose, 1),
            '&' | '+' => push(Kind::Part(PartWord::And), 1),
            '|' => bar_line(rest, false, &mut push),
            ':' if rest[1..].starts_with('|') => bar_line(rest, true, &mut push),
            ':' => push(Kind::Colon, 1),
            '[' => {
                let line = &rest[..rest.find('\n').unwrap_or(rest.len())];
                match line.find(']') {
                    Some(end) => push(Kind::Bracket, end + 1),
                    None => push(Kind::Unknown, line.trim_end().len()),
                }
            }
            c if c.is_ascii_digit() => number(rest, &mut push),
            c if c.is_ascii_alphabetic() => {
                let run = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_alphabetic()).len();
                for token in words(&rest[..run], at) {
                    tokens.push(token);
                }
                run
            }
            c => push(Kind::Unknown, c.len_utf8()),
        };
    }
    tokens
}

/// `|`, `||`, `|:`, `:|`, `:|:`
fn bar_line(rest: &str, ends: bool, push: &mut impl FnMut(Kind, usize) -> usize) -> usize {
    let colon = usize::from(ends);
    let bars = rest[colon..].len() - rest[colon..].trim_start_matches('|').len();
    let after = &rest[colon + bars..];
    // `|::|` would be a colon of two signs: it belongs to the next one when a bar line follows it.
    let begins = after.starts_with(':') && !after[1..].starts_with('|');
    push(Kind::BarLine { ends, begins, double: bars > 1 }, colon + bars + usize::from(begins))
}

/// `3`, or a length such as `1/4` or `1/4.`
fn number(rest: &str, push: &mut impl FnMut(Kind, usize) -> usize) -> usize {
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
            return push(kind, length);
        }
    }
    push(Kind::Number(value(&rest[..upper])), upper)
}

/// A run of letters: one word, or several parts of a beat written without spaces (`eanda`).
fn words(run: &str, at: usize) -> Vec<Token> {
    let whole = |kind| vec![Token { kind, span: at..at + run.len() }];
    let lower = run.to_ascii_lowercase();
    match lower.as_str() {
        "times" => return whole(Kind::Times),
        "fermata" => return whole(Kind::Fermata),
        "bars" => return whole(Kind::Bars),
        _ => {}
    }
    let mut tokens = Vec::new();
    let mut from = 0;
    while from < lower.len() {
        let Some((word, part)) =
            PartWord::SPELLINGS.iter().find(|(spelling, _)| lower[from..].starts_with(spelling))
        else {
            return whole(Kind::Unknown);
        };
        tokens.push(Token { kind: Kind::Part(*part), span: at + from..at + from + word.len() });
        from += word.len();
    }
    tokens
}
