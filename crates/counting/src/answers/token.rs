//! An answer cut into words and bar lines.

use std::ops::Range;

use rhythm::Deed;

use super::vocabulary::{Vocabulary, is_joint};

/// A word of an answer, or a bar line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Token {
    Word(Written),
    BarLine(Range<usize>),
}

impl Token {
    /// The word, if it is one.
    pub(crate) fn word(&self) -> Option<&Written> {
        match self {
            Self::Word(word) => Some(word),
            Self::BarLine(_) => None,
        }
    }
}

/// A word as it is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Written {
    pub(crate) span: Range<usize>,
    /// As it is typed, a `_` before it included.
    pub(crate) typed: String,
    /// As it was understood; empty where only a hold or a silence is marked.
    pub(crate) word: String,
    pub(crate) number: Option<u32>,
    pub(crate) deed: Deed,
}

/// Cuts `text` into tokens. `beats` is the highest count of the key; bar lines at either end and doubled ones fall
/// away.
pub(crate) fn tokens(text: &str, vocabulary: &Vocabulary<'_>, beats: u32) -> Vec<Token> {
    let mut reader =
        Reader { text, vocabulary, beats, silent: false, held: None, last: 0, tokens: Vec::new() };
    let mut at = 0;
    while let Some(first) = text[at..].chars().next() {
        at += reader.next(at, first);
    }
    while matches!(reader.tokens.last(), Some(Token::BarLine(_))) {
        reader.tokens.pop();
    }
    reader.tokens
}

struct Reader<'t> {
    text: &'t str,
    vocabulary: &'t Vocabulary<'t>,
    beats: u32,
    silent: bool,
    /// Where a `_` stands that belongs to the word behind it.
    held: Option<usize>,
    /// The number written last.
    last: u32,
    tokens: Vec<Token>,
}

impl Reader<'_> {
    /// Reads what begins with `first` at byte `at`; returns how many bytes that was.
    fn next(&mut self, at: usize, first: char) -> usize {
        let rest = &self.text[at..];
        match first {
            '(' | '[' => self.silent = true,
            ')' | ']' => self.silent = false,
            '|' | '/' => {
                self.silent = false;
                let repeated = matches!(self.tokens.last(), None | Some(Token::BarLine(_)));
                if !repeated {
                    self.tokens.push(Token::BarLine(at..at + 1));
                }
            }
            '&' | '+' => self.push(at..at + 1, "&".to_owned(), None, false),
            c if c.is_ascii_digit() => {
                let length = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
                self.digits(at, length);
                return length;
            }
            c if c.is_alphabetic() => return self.letters(at),
            c if is_dash(c) => {
                let length = first.len_utf8();
                let binds = rest[length..].chars().next();
                let binds = binds.is_some_and(|c| c.is_alphanumeric() || matches!(c, '&' | '+' | '('));
                if binds && matches!(first, '_' | '~') {
                    self.held = self.held.or(Some(at));
                } else if !(binds && self.text[..at].ends_with(|c: char| c.is_alphanumeric())) {
                    let span = self.held.take().unwrap_or(at)..at + length;
                    let typed = self.text[span.clone()].to_owned();
                    let word = Written { span, typed, word: String::new(), number: None, deed: Deed::Hold };
                    self.tokens.push(Token::Word(word));
                }
            }
            c if is_blank(c) => {}
            _ => {
                // At least the character itself, whatever it is.
                let belongs =
                    |c: char| !is_blank(c) && !c.is_alphanumeric() && !is_dash(c) && !"()[]|/&+".contains(c);
                let behind = &rest[first.len_utf8()..];
                let length = rest.len() - behind.len() + behind.find(|c| !belongs(c)).unwrap_or(behind.len());
                self.push(at..at + length, rest[..length].to_owned(), None, false);
                return length;
            }
        }
        first.len_utf8()
    }

    /// A word; `silent` says that it marks a silence by itself.
    fn push(&mut self, span: Range<usize>, word: String, number: Option<u32>, silent: bool) {
        let held = self.held.take();
        let deed = match held {
            _ if self.silent || silent => Deed::Rest,
            Some(_) => Deed::Hold,
            None => Deed::Attack,
        };
        let span = held.unwrap_or(span.start)..span.end;
        self.last = number.unwrap_or(self.last);
        let typed = self.text[span.clone()].to_owned();
        self.tokens.push(Token::Word(Written { span, typed, word, number, deed }));
    }

    /// A number; or several written without blanks, `1234`, where the whole is no count and no going on from the
    /// number before.
    fn digits(&mut self, at: usize, length: usize) {
        let digits = &self.text[at..at + length];
        let whole: Option<u32> = digits.parse().ok();
        let goes_on =
            whole.is_some_and(|whole| whole <= self.beats || self.last > 8 && whole <= self.last + 2);
        let rises = digits.as_bytes().windows(2).all(|pair| pair[0] + 1 == pair[1]);
        if length > 1 && rises && !goes_on && !digits.starts_with('0') {
            for (index, digit) in digits.bytes().enumerate() {
                let number = u32::from(digit - b'0');
                self.push(at + index..at + index + 1, number.to_string(), Some(number), false);
            }
        } else {
            let word = whole.map_or_else(|| digits.to_owned(), |whole| whole.to_string());
            self.push(at..at + length, word, whole, false);
        }
    }

    /// A run of letters: one word or several.
    fn letters(&mut self, at: usize) -> usize {
        // The small letters of the run, each with the bytes it was typed with.
        let mut run = String::new();
        let mut typed: Vec<(usize, Range<usize>)> = Vec::new();
        let mut end = at;
        let mut letters = self.text[at..].char_indices().peekable();
        while let Some((offset, c)) = letters.next() {
            let joins = is_joint(c) && letters.peek().is_some_and(|(_, next)| next.is_alphabetic());
            if !c.is_alphabetic() && !joins {
                break;
            }
            end = at + offset + c.len_utf8();
            if !joins {
                typed.push((run.len(), at + offset..end));
                run.extend(c.to_lowercase());
            }
        }
        for cut in self.vocabulary.words(&run) {
            let (first, behind) = (
                typed.partition_point(|(start, _)| *start < cut.range.start),
                typed.partition_point(|(start, _)| *start < cut.range.end),
            );
            let [first, ..] = &typed[first..behind] else { continue };
            let span = first.1.start..typed[behind - 1].1.end;
            let number = cut.meant.parse().ok();
            self.push(span, cut.meant, number, cut.silent);
        }
        end - at
    }
}

fn is_dash(c: char) -> bool {
    matches!(c, '_' | '~' | '-' | '\u{2010}'..='\u{2015}')
}

fn is_blank(c: char) -> bool {
    c.is_whitespace() || matches!(c, ',' | ';' | '.' | ':' | '\u{feff}')
}
