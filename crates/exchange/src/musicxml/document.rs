use std::collections::HashMap;

use super::measure;
use super::score::{Score, ScorePart};
use super::xml::{Element, Xml};
use crate::Error;
use crate::limits::SCORE_PARTS;
use rhythm::limits::{TITLE_CHARS, WRITTEN_BARS};

/// Reads the text of a score, by parts or by bars.
pub(super) fn parse(text: &str) -> Result<Score, Error> {
    let mut xml = Xml::new(text);
    let root = xml.child()?.ok_or(Error::NotMusicXml { found: String::new() })?;
    let by_parts = match root.name() {
        b"score-partwise" => true,
        b"score-timewise" => false,
        _ => return Err(Error::NotMusicXml { found: root.name_text() }),
    };
    let mut document = Document::default();
    let mut movement = None;
    let mut next = 0;
    while let Some(child) = xml.child()? {
        match child.name() {
            b"work" => document.work(&mut xml)?,
            b"identification" => document.identification(&mut xml)?,
            b"movement-title" => movement = title(&xml.text()?),
            b"part-list" => document.part_list(&mut xml)?,
            b"part" if by_parts => document.part(&mut xml, &child)?,
            b"measure" if !by_parts => {
                document.measure(&mut xml, &child, next)?;
                next += 1;
            }
            _ => xml.skip()?,
        }
    }
    let mut score = document.score;
    score.title = score.title.or(movement);
    score.bars = score.parts.iter().filter_map(|part| Some(part.bars.last()?.index + 1)).max().unwrap_or(0);
    if score.bars == 0 { Err(Error::Empty) } else { Ok(score) }
}

#[derive(Debug, Default)]
struct Document {
    score: Score,
    by_id: HashMap<String, usize>,
}

/// A title in one line, at most as long as a rhythm's may be.
fn title(text: &str) -> Option<String> {
    let most = usize::try_from(TITLE_CHARS.most).unwrap_or(usize::MAX);
    let line: String = super::one_line(text, most);
    (!line.is_empty()).then_some(line)
}

impl Document {
    fn work(&mut self, xml: &mut Xml<'_>) -> Result<(), Error> {
        while let Some(child) = xml.child()? {
            match child.name() {
                b"work-title" => self.score.title = title(&xml.text()?),
                _ => xml.skip()?,
            }
        }
        Ok(())
    }

    /// Whether the file says that it writes every beam, as the standard's `supports` tells.
    fn identification(&mut self, xml: &mut Xml<'_>) -> Result<(), Error> {
        while let Some(child) = xml.child()? {
            if child.name() != b"encoding" {
                xml.skip()?;
                continue;
            }
            while let Some(inner) = xml.child()? {
                if inner.name() == b"supports" && xml.attribute(&inner, "element")?.as_deref() == Some("beam")
                {
                    self.score.tells_beams = xml.attribute(&inner, "type")?.as_deref() == Some("yes");
                }
                xml.skip()?;
            }
        }
        Ok(())
    }

    fn part_list(&mut self, xml: &mut Xml<'_>) -> Result<(), Error> {
        while let Some(child) = xml.child()? {
            if child.name() != b"score-part" {
                xml.skip()?;
                continue;
            }
            let id = xml.attribute(&child, "id")?.unwrap_or_default().into_owned();
            let index = self.part_of(xml, &id)?;
            while let Some(inner) = xml.child()? {
                match inner.name() {
                    b"part-name" => {
                        let most = usize::try_from(rhythm::limits::NAME_CHARS.most).unwrap_or(usize::MAX);
                        self.score.parts[index].name = super::one_line(&xml.text()?, most);
                    }
                    b"score-instrument" => self.instrument(xml, index)?,
                    _ => xml.skip()?,
                }
            }
        }
        Ok(())
    }

    /// Keeps the names of the first few instruments: more than two make no voices of one line.
    fn instrument(&mut self, xml: &mut Xml<'_>, part: usize) -> Result<(), Error> {
        while let Some(child) = xml.child()? {
            match child.name() {
                b"instrument-name" => {
                    let most = usize::try_from(rhythm::limits::NAME_CHARS.most).unwrap_or(usize::MAX);
                    let name = super::one_line(&xml.text()?, most);
                    let known = &mut self.score.parts[part].instruments;
                    if known.len() < 3 {
                        known.push(name);
                    }
                }
                _ => xml.skip()?,
            }
        }
        Ok(())
    }

    /// The index of the part with this id, which is made if the list of parts forgot it.
    fn part_of(&mut self, xml: &Xml<'_>, id: &str) -> Result<usize, Error> {
        if let Some(&index) = self.by_id.get(id) {
            return Ok(index);
        }
        let index = self.score.parts.len();
        xml.within(i64::try_from(index + 1).unwrap_or(i64::MAX), SCORE_PARTS)?;
        self.score.parts.push(ScorePart::new(id.to_owned(), String::new()));
        self.by_id.insert(id.to_owned(), index);
        Ok(index)
    }

    fn part(&mut self, xml: &mut Xml<'_>, element: &Element<'_>) -> Result<(), Error> {
        let id = xml.attribute(element, "id")?.unwrap_or_default().into_owned();
        let part = self.part_of(xml, &id)?;
        let mut next = self.score.parts[part].bars.last().map_or(0, |bar| bar.index + 1);
        while let Some(child) = xml.child()? {
            match child.name() {
                b"measure" => {
                    bar_number(xml, next)?;
                    measure::read(xml, &child, &mut self.score.parts[part], next)?;
                    next += 1;
                }
                _ => xml.skip()?,
            }
        }
        Ok(())
    }

    fn measure(&mut self, xml: &mut Xml<'_>, element: &Element<'_>, index: usize) -> Result<(), Error> {
        bar_number(xml, index)?;
        while let Some(child) = xml.child()? {
            match child.name() {
                b"part" => {
                    let id = xml.attribute(&child, "id")?.unwrap_or_default().into_owned();
                    let part = self.part_of(xml, &id)?;
                    if self.score.parts[part].bars.last().is_some_and(|bar| bar.index == index) {
                        let what = format!("part {id:?} stands twice in one bar");
                        return Err(Error::Xml { place: xml.place(), what });
                    }
                    measure::read(xml, element, &mut self.score.parts[part], index)?;
                }
                _ => xml.skip()?,
            }
        }
        Ok(())
    }
}

/// That the bar with this index, from 0, may still be written.
fn bar_number(xml: &Xml<'_>, index: usize) -> Result<(), Error> {
    xml.within(i64::try_from(index + 1).unwrap_or(i64::MAX), WRITTEN_BARS).map(|_| ())
}
