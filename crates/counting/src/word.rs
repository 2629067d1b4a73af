use std::fmt;

use crate::limits::WORD_BYTES_MOST;

/// What is said at a count, as it is written under the notes: `1`, `&`, `la`. Never empty.
///
/// It is a few bytes that are copied, not allocated, so that a line of a million counts costs nothing but its counts.
// The bytes come before the length and are padded with zeros, so that the derived order is that of the texts.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Word {
    bytes: [u8; WORD_BYTES_MOST],
    length: u8,
}

impl Word {
    /// A beat's number.
    #[must_use]
    pub fn number(number: u32) -> Self {
        let mut digits = [0_u8; 10];
        let mut first = digits.len();
        let mut left = number;
        loop {
            first -= 1;
            digits[first] = b'0' + u8::try_from(left % 10).expect("a digit fits a byte");
            left /= 10;
            if left == 0 {
                break;
            }
        }
        Self::of(&digits[first..])
    }

    /// A word that is no number; `None` if it is empty or longer than [`WORD_BYTES_MOST`].
    #[must_use]
    pub fn syllable(text: &str) -> Option<Self> {
        (1..=WORD_BYTES_MOST).contains(&text.len()).then(|| Self::of(text.as_bytes()))
    }

    fn of(text: &[u8]) -> Self {
        let mut bytes = [0; WORD_BYTES_MOST];
        bytes[..text.len()].copy_from_slice(text);
        Self { bytes, length: u8::try_from(text.len()).expect("a word is short") }
    }

    /// As it is written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        std::str::from_utf8(&self.bytes[..usize::from(self.length)])
            .expect("a word is made of whole characters")
    }
}

impl fmt::Display for Word {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

impl fmt::Debug for Word {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Word({:?})", self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_ordered_as_texts() {
        let check = |a: &str, b: &str| {
            let word = |text| Word::syllable(text).expect("a word");
            assert_eq!(word(a).cmp(&word(b)), a.cmp(b), "{a} {b}");
        };
        check("a", "and");
        check("ta", "ta");
        check("ti", "ta");
        check("&", "1");
    }

    #[test]
    fn numbers_of_any_size() {
        for number in [0, 7, 10, 99, 200, u32::MAX] {
            assert_eq!(Word::number(number).as_str(), number.to_string());
        }
    }

    #[test]
    fn what_is_no_word() {
        assert_eq!(Word::syllable(""), None);
        assert_eq!(Word::syllable("hippopotamusses"), Word::syllable("hippopotamusses"));
        assert!(Word::syllable("hippopotamusses").is_some());
        assert_eq!(Word::syllable("hippopotamusses!"), None);
    }
}
