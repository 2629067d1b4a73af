//! Texts of a table made words, numbers and choices, or an error that points at them.

use std::ops::Range;

use rhythm::text::Place;
use timebase::Span;
use timebase::limits::Limit;

use super::form::Text;
use crate::limits::{NAME_CHARS, VALUE_PARTS, WORD_BYTES_MOST};
use crate::{Error, TableError, Word};

/// Stands for the number of the beat.
pub(super) const NUMBER: &str = "n";

/// Stands for a part without a word.
const NOTHING: &str = "-";

/// The text of a table, to point into.
#[derive(Clone, Copy, Debug)]
pub(super) struct Source<'a>(pub(super) &'a str);

impl Source<'_> {
    pub(super) fn error(
        self,
        span: Range<usize>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Error {
        let place = Place::of(self.0, span.start);
        Error::Table(Box::new(TableError { span, place, message: message.into(), help: help.into() }))
    }

    /// The words of `text` with the place of each.
    pub(super) fn split(self, text: &Text) -> Vec<(&str, Range<usize>)> {
        let (value, span) = (text.get_ref().as_str(), text.span());
        value
            .split_whitespace()
            .map(|word| {
                // Behind the opening quote, unless something in the text was escaped.
                let start = span.start + 1 + (word.as_ptr().addr() - value.as_ptr().addr());
                let exact = start..start + word.len();
                let place = if self.0.get(exact.clone()) == Some(word) { exact } else { span.clone() };
                (word, place)
            })
            .collect()
    }

    /// A word that can be said; neither the number of the beat nor nothing.
    pub(super) fn word(self, text: &str, span: &Range<usize>) -> Result<Word, Error> {
        let help = "write letters, digits or signs such as & and +";
        if text == NUMBER {
            return Err(self.error(
                span.clone(),
                "\"n\", the number of the beat, stands where no beat begins",
                "write n only as the first word of a row; every other part has a word of its own, or -",
            ));
        }
        let sign = |c: char| c.is_whitespace() || c.is_control() || "()_|[]{}\"#".contains(c);
        if let Some(sign) = text.chars().find(|&c| sign(c)) {
            return Err(self.error(span.clone(), format!("the word \"{text}\" has {sign:?} in it"), help));
        }
        if text == NOTHING {
            return Err(self.error(
                span.clone(),
                "\"-\" says nothing, and here something must be said",
                help,
            ));
        }
        Word::syllable(text).ok_or_else(|| {
            self.error(
                span.clone(),
                format!("the word \"{text}\" has {} bytes", text.len()),
                format!(
                    "a word has 1 to {WORD_BYTES_MOST} bytes: shorten it, or give each part a word of its own"
                ),
            )
        })
    }

    /// A word, or `None` for a part without one.
    pub(super) fn word_or_nothing(self, text: &str, span: &Range<usize>) -> Result<Option<Word>, Error> {
        if text == NOTHING { Ok(None) } else { self.word(text, span).map(Some) }
    }

    /// The one word of a text.
    pub(super) fn one_word(self, text: &Text) -> Result<Word, Error> {
        match self.split(text).as_slice() {
            [(word, span)] => self.word(word, span),
            words => Err(self.error(
                text.span(),
                format!("{} words stand where one belongs", words.len()),
                "write one word",
            )),
        }
    }

    /// One of the values of a choice.
    pub(super) fn choice<T: Copy>(self, text: &Text, named: &[(&str, T)]) -> Result<T, Error> {
        let given = text.get_ref();
        named.iter().find(|(name, _)| name == given).map(|&(_, value)| value).ok_or_else(|| {
            let names: Vec<&str> = named.iter().map(|&(name, _)| name).collect();
            self.error(
                text.span(),
                format!("\"{given}\" is none of the choices here"),
                format!("choose {}", names.join(", ")),
            )
        })
    }

    /// A name that can be typed on the command line.
    pub(super) fn name(self, text: &Text) -> Result<String, Error> {
        let name = text.get_ref();
        let length = i64::try_from(name.chars().count()).unwrap_or(i64::MAX);
        let plain = name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
        if NAME_CHARS.holds(length) && plain && !name.starts_with('-') {
            return Ok(name.clone());
        }
        Err(self.error(
            text.span(),
            format!("\"{name}\" is not a name"),
            format!(
                "a name has {} to {} small letters, digits or hyphens, such as \"our-school\"",
                NAME_CHARS.least, NAME_CHARS.most
            ),
        ))
    }

    /// A whole number within `limit`.
    pub(super) fn number(self, text: &Text, limit: Limit) -> Result<u32, Error> {
        let number = text.get_ref().parse::<u32>().ok().filter(|&number| limit.holds(i64::from(number)));
        number.ok_or_else(|| {
            self.error(
                text.span(),
                format!("\"{}\" is not a {}", text.get_ref(), limit.what),
                format!("it goes from {} to {}", limit.least, limit.most),
            )
        })
    }

    /// A note value: a positive fraction of a whole note, four of them at most.
    pub(super) fn length(self, text: &str, span: &Range<usize>) -> Result<Span, Error> {
        let usual = |length: &Span| {
            let parts = length.denominator();
            let plain = parts.count_ones() == 1 && VALUE_PARTS.holds(parts);
            plain && length.is_positive() && *length <= Span::WHOLE * 4
        };
        text.parse::<Span>().ok().filter(usual).ok_or_else(|| {
            self.error(
                span.clone(),
                format!("\"{text}\" is not a note value"),
                format!(
                    "write it as a fraction of a whole note: \"1/4\" is a quarter, \"3/8\" a dotted quarter; the lower \
                     number is a power of two up to {}",
                    VALUE_PARTS.most
                ),
            )
        })
    }
}
