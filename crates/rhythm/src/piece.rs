use crate::limits::PARTS;
use crate::size::Size;
use crate::{Bar, Error, Rhythm};

/// One line of a piece: what one player, or one group of them, plays.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// Its name, `snare drum`; `None` where a piece has one part without a name.
    pub name: Option<String>,
    /// What it plays.
    pub rhythm: Rhythm,
    /// Whether it stands on the line of the part before it, as the lower of two voices: hands and feet on one staff.
    pub shares_line: bool,
}

/// A rhythm for one, or several that are played together: a section.
///
/// All parts have the same title, tempo, meters, bars and repeats; each is counted by itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Piece {
    parts: Vec<Part>,
}

impl Piece {
    /// A piece of these parts.
    ///
    /// # Errors
    /// If there is none or too many, they hold more bars or notes than a piece may, one has other bars, meters, tempos or repeats than the first, or one shares the
    /// line of a part that is not there or shares another's already.
    pub fn new(parts: Vec<Part>) -> Result<Self, Error> {
        let count = i64::try_from(parts.len()).unwrap_or(i64::MAX);
        if !PARTS.holds(count) {
            return Err(Error::OutOfRange { given: count, limit: PARTS });
        }
        let mut size = Size::default();
        parts.iter().for_each(|part| size.join(Size::of(part.rhythm.bars())));
        size.check()?;
        let first = &parts[0].rhythm;
        let before = std::iter::once(true).chain(parts.iter().map(|part| part.shares_line));
        if let Some(index) = parts.iter().zip(before).position(|(part, before)| part.shares_line && before) {
            let part = parts[index].name.clone().unwrap_or_else(|| (index + 1).to_string());
            return Err(Error::SharedLine { part });
        }
        for (number, part) in (1..).zip(&parts).skip(1) {
            if let Some((differs, bar)) = difference(first, &part.rhythm) {
                let part = part.name.clone().unwrap_or_else(|| number.to_string());
                return Err(Error::Parts { part, differs, bar });
            }
        }
        Ok(Self { parts })
    }

    /// Its parts from the top; never empty.
    #[must_use]
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// Its parts from the top, given away.
    pub fn into_parts(self) -> impl Iterator<Item = Part> {
        self.parts.into_iter()
    }

    /// The part of this name, in any case; or of this number, from 1.
    #[must_use]
    pub fn part(&self, name: &str) -> Option<&Part> {
        let named = |part: &&Part| part.name.as_deref().is_some_and(|own| own.eq_ignore_ascii_case(name));
        let numbered = || self.parts.get(name.parse::<usize>().ok()?.checked_sub(1)?);
        self.parts.iter().find(named).or_else(numbered)
    }
}

impl From<Rhythm> for Piece {
    fn from(rhythm: Rhythm) -> Self {
        Self { parts: vec![Part { name: None, rhythm, shares_line: false }] }
    }
}

/// The first thing in which two parts of one piece differ though they must not, and the number of the bar.
fn difference(first: &Rhythm, other: &Rhythm) -> Option<(String, u32)> {
    let differs = |what: &str, bar: u32| Some((what.to_owned(), bar));
    if first.title() != other.title() || first.written_tempo() != other.written_tempo() {
        return differs("its title or tempo is another", 1);
    }
    let place = |bar: &Bar| (bar.number(), bar.meter(), bar.start(), bar.end());
    for (a, b) in first.bars().iter().zip(other.bars()) {
        if place(a) != place(b) {
            return differs("its meter is another, or its bar is cut elsewhere", b.number());
        }
        if a.tempo_mark() != b.tempo_mark() {
            return differs("its tempo changes elsewhere", b.number());
        }
    }
    let (many, others) = (first.bars().len(), other.bars().len());
    if many != others {
        let last = |rhythm: &Rhythm| rhythm.bars().last().map_or(0, Bar::number);
        return differs(&format!("it has {others} bars, the first {many}"), last(first).min(last(other)));
    }
    let route = |rhythm: &Rhythm| (rhythm.repeats().to_vec(), rhythm.jump());
    if route(first) == route(other) { None } else { differs("it is repeated otherwise", 1) }
}
