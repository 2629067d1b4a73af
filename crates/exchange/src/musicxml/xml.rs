use std::borrow::Cow;

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use timebase::limits::Limit;

use crate::limits::{NOTES, SCORE_BARS, SIGNS, XML_DEPTH, XML_ELEMENTS};
use crate::{Error, Place};

/// The elements of a text one after another, never all at once: memory does not grow with what is skipped.
///
/// After [`Xml::child`] has returned an element, it is read to its end with [`Xml::text`], [`Xml::skip`] or
/// [`Xml::child`] until that returns `None`.
#[derive(Debug)]
pub(super) struct Xml<'a> {
    reader: Reader<&'a [u8]>,
    text: &'a str,
    depth: i64,
    elements: i64,
    /// What was kept so far of all parts.
    notes: i64,
    bars: i64,
    signs: i64,
}

/// The beginning of an element.
#[derive(Debug)]
pub(super) struct Element<'a>(BytesStart<'a>);

impl Element<'_> {
    pub(super) fn name(&self) -> &[u8] {
        self.0.name().0
    }

    pub(super) fn name_text(&self) -> String {
        String::from_utf8_lossy(self.name()).into_owned()
    }
}

impl<'a> Xml<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        let mut reader = Reader::from_str(text);
        reader.config_mut().expand_empty_elements = true;
        Self { reader, text, depth: 0, elements: 0, notes: 0, bars: 0, signs: 0 }
    }

    /// Where the reader stands.
    pub(super) fn place(&self) -> Place {
        let at = usize::try_from(self.reader.buffer_position()).unwrap_or(usize::MAX);
        self.place_of(at)
    }

    fn place_of(&self, at: usize) -> Place {
        let read = &self.text.as_bytes()[..at.min(self.text.len())];
        let line_start = read.iter().rposition(|&byte| byte == b'\n').map_or(0, |newline| newline + 1);
        // A byte that goes on a character is none of its own.
        let column = read[line_start..].iter().filter(|&&byte| byte & 0xC0 != 0x80).count();
        Place { line: read.iter().filter(|&&byte| byte == b'\n').count() + 1, column: column.max(1) }
    }

    /// That a number lies in its limit.
    pub(super) fn within(&self, given: i64, limit: Limit) -> Result<i64, Error> {
        if limit.holds(given) { Ok(given) } else { Err(Error::Limit { place: self.place(), given, limit }) }
    }

    /// That one more note may be kept.
    pub(super) fn count_note(&mut self) -> Result<(), Error> {
        self.notes += 1;
        self.within(self.notes, NOTES).map(|_| ())
    }

    /// That one more bar may be kept.
    pub(super) fn count_bar(&mut self) -> Result<(), Error> {
        self.bars += 1;
        self.within(self.bars, SCORE_BARS).map(|_| ())
    }

    /// That so many more signs may be kept.
    pub(super) fn count_signs(&mut self, many: usize) -> Result<(), Error> {
        self.signs = self.signs.saturating_add(i64::try_from(many).unwrap_or(i64::MAX));
        self.within(self.signs, SIGNS).map(|_| ())
    }

    fn event(&mut self) -> Result<Event<'a>, Error> {
        self.reader.read_event().map_err(|error| {
            let at = usize::try_from(self.reader.error_position()).unwrap_or(usize::MAX);
            Error::Xml { place: self.place_of(at), what: error.to_string() }
        })
    }

    fn down(&mut self) -> Result<(), Error> {
        self.depth += 1;
        self.elements += 1;
        self.within(self.depth, XML_DEPTH)?;
        self.within(self.elements, XML_ELEMENTS).map(|_| ())
    }

    fn cut_off(&self) -> Error {
        Error::Xml { place: self.place(), what: "it ends in the middle of an element".to_owned() }
    }

    /// The next element inside the one that is open, or `None` where that ends.
    pub(super) fn child(&mut self) -> Result<Option<Element<'a>>, Error> {
        loop {
            match self.event()? {
                Event::Start(start) => {
                    self.down()?;
                    return Ok(Some(Element(start)));
                }
                Event::End(_) => {
                    self.depth -= 1;
                    return Ok(None);
                }
                Event::Eof if self.depth > 0 => return Err(self.cut_off()),
                Event::Eof => return Ok(None),
                Event::GeneralRef(name) => drop(self.entity(&name)?),
                _ => {}
            }
        }
    }

    /// Reads to the end of the element that is open and forgets it.
    pub(super) fn skip(&mut self) -> Result<(), Error> {
        let outside = self.depth - 1;
        while self.depth > outside {
            match self.event()? {
                Event::Start(_) => self.down()?,
                Event::End(_) => self.depth -= 1,
                Event::Eof => return Err(self.cut_off()),
                Event::GeneralRef(name) => drop(self.entity(&name)?),
                _ => {}
            }
        }
        Ok(())
    }

    /// The text of the element that is open, without blanks around it, up to its end; elements in it are skipped.
    pub(super) fn text(&mut self) -> Result<Cow<'a, str>, Error> {
        let mut text: Cow<'a, str> = Cow::Borrowed("");
        loop {
            let more = match self.event()? {
                Event::Text(more) => self.decoded(more.into_inner())?,
                Event::CData(more) => self.decoded(more.into_inner())?,
                Event::GeneralRef(name) => {
                    let character = self.entity(&name)?;
                    text.to_mut().push(character);
                    continue;
                }
                Event::Start(_) => {
                    self.down()?;
                    self.skip()?;
                    continue;
                }
                Event::End(_) => {
                    self.depth -= 1;
                    return Ok(match text {
                        Cow::Borrowed(text) => Cow::Borrowed(text.trim()),
                        Cow::Owned(text) => Cow::Owned(text.trim().to_owned()),
                    });
                }
                Event::Eof => return Err(self.cut_off()),
                _ => continue,
            };
            if text.is_empty() {
                text = more;
            } else {
                text.to_mut().push_str(&more);
            }
        }
    }

    fn decoded(&self, bytes: Cow<'a, [u8]>) -> Result<Cow<'a, str>, Error> {
        let wrong = |_| Error::Xml { place: self.place(), what: "a text ends inside a character".to_owned() };
        Ok(match bytes {
            Cow::Borrowed(bytes) => Cow::Borrowed(std::str::from_utf8(bytes).map_err(wrong)?),
            Cow::Owned(bytes) => {
                Cow::Owned(String::from_utf8(bytes).map_err(|error| wrong(error.utf8_error()))?)
            }
        })
    }

    /// The character that an entity of XML itself, or a number, stands for.
    fn entity(&self, name: &[u8]) -> Result<char, Error> {
        let name = String::from_utf8_lossy(name);
        character(&name).ok_or_else(|| Error::Entity { place: self.place(), name: name.into_owned() })
    }

    /// The value of an attribute, or `None` if it is not written.
    pub(super) fn attribute(
        &self,
        element: &'a Element<'_>,
        name: &str,
    ) -> Result<Option<Cow<'a, str>>, Error> {
        let wrong = |what: String| Error::Xml { place: self.place(), what };
        for attribute in element.0.attributes().with_checks(false) {
            let attribute = attribute.map_err(|error| wrong(error.to_string()))?;
            if attribute.key.0 != name.as_bytes() {
                continue;
            }
            let value = match attribute.value {
                Cow::Borrowed(bytes) => {
                    Cow::Borrowed(std::str::from_utf8(bytes).map_err(|error| wrong(error.to_string()))?)
                }
                Cow::Owned(bytes) => Cow::Owned(String::from_utf8_lossy(&bytes).into_owned()),
            };
            return if value.contains('&') {
                self.unescaped(&value).map(|v| Some(v.into()))
            } else {
                Ok(Some(value))
            };
        }
        Ok(None)
    }

    fn unescaped(&self, value: &str) -> Result<String, Error> {
        let mut pieces = value.split('&');
        let mut text = pieces.next().unwrap_or_default().to_owned();
        for piece in pieces {
            let (name, rest) = piece.split_once(';').unwrap_or((piece, ""));
            text.push(self.entity(name.as_bytes())?);
            text.push_str(rest);
        }
        Ok(text)
    }
}

fn character(name: &str) -> Option<char> {
    match name {
        "lt" => Some('<'),
        "gt" => Some('>'),
        "amp" => Some('&'),
        "apos" => Some('\''),
        "quot" => Some('"'),
        _ => {
            let number = name.strip_prefix('#')?;
            let code = match number.strip_prefix(['x', 'X']) {
                Some(digits) => u32::from_str_radix(digits, 16).ok()?,
                None => number.parse().ok()?,
            };
            char::from_u32(code)
        }
    }
}
