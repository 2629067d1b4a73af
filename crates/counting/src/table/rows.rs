use super::form;
use super::words::{NUMBER, Source};
use crate::limits::ROW_PARTS;
use crate::{Error, Word};

/// What kind of beat it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Divides in two.
    Simple,
    /// Divides in three.
    Compound,
    /// A group of two units, or of a number that is made of twos, in a bar of unequal groups.
    Two,
    /// A group of three units, or twice so many.
    Three,
}

impl Kind {
    /// Into how many parts it divides first.
    pub(crate) fn prime(self) -> i64 {
        match self {
            Self::Simple | Self::Two => 2,
            Self::Compound | Self::Three => 3,
        }
    }

    /// Whether `parts` come of halving: 1, 2, 4 of a simple beat, 1, 3, 6, 12 of a compound one.
    pub(crate) fn is_usual(self, parts: i64) -> bool {
        let of_two = |parts: i64| parts > 0 && parts.count_ones() == 1;
        match self.prime() {
            2 => of_two(parts),
            _ => parts == 1 || (parts % 3 == 0 && of_two(parts / 3)),
        }
    }
}

/// The words of a beat in so many equal parts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Row {
    pub(crate) parts: i64,
    /// The word of the beat itself; `None` is its number.
    first: Option<Word>,
    words: Vec<Option<Word>>,
    /// The rows, by index, that say the same wherever both have a part.
    agrees: Vec<usize>,
}

impl Row {
    /// The word at `numerator / denominator` of the beat, `None` where it has no such part or no word for it.
    pub(crate) fn word(&self, numerator: i64, denominator: i64) -> Option<&Word> {
        if self.parts % denominator != 0 {
            return None;
        }
        let index = usize::try_from(numerator * (self.parts / denominator)).ok()?;
        self.words.get(index)?.as_ref()
    }

    /// The word of the beat itself, whose number is `number`.
    pub(crate) fn beat<'a>(&'a self, number: &'a Word) -> &'a Word {
        self.first.as_ref().unwrap_or(number)
    }

    fn agrees_with(&self, other: &Self) -> bool {
        let shared = gcd(self.parts, other.parts);
        let same = |part: i64| self.word(part, shared) == other.word(part, shared);
        self.first == other.first && (1..shared).all(same)
    }
}

/// The rows of one kind of beat; at least one is usual for it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Rows {
    /// Those that are usual for the beat from the fewest parts, then the others from the fewest.
    rows: Vec<Row>,
}

impl Rows {
    /// The row for a beat in which things begin at these parts, each given by its denominator.
    ///
    /// That is the first that has them all; else the one that has most. A beat that its author divided in two
    /// or four against its kind (`against`) is first looked for among the rows that are not usual for it.
    pub(crate) fn choose(&self, denominators: impl Iterator<Item = i64> + Clone, against: bool) -> &Row {
        let fits = |row: &&Row| denominators.clone().all(|denominator| row.parts % denominator == 0);
        let in_twos = |row: &&Row| row.parts.count_ones() == 1;
        if against && let Some(row) = self.rows.iter().filter(in_twos).find(fits) {
            return row;
        }
        self.rows.iter().find(fits).unwrap_or_else(|| {
            let has = |row: &Row| denominators.clone().filter(|d| row.parts % d == 0).count();
            let most = self.rows.iter().map(has).max().unwrap_or(0);
            self.rows.iter().find(|row| has(row) == most).unwrap_or(&self.rows[0])
        })
    }

    /// The word at `numerator / denominator` of a beat that is counted by `row`. Another row lends a word where
    /// the two agree, so that the words of two rows are never mixed that mean different moments by the same word.
    pub(crate) fn word<'a>(&'a self, row: &'a Row, numerator: i64, denominator: i64) -> Option<&'a Word> {
        row.word(numerator, denominator)
            .or_else(|| row.agrees.iter().find_map(|&other| self.rows[other].word(numerator, denominator)))
    }

    /// The rows in the order in which they are looked at.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &Row> {
        self.rows.iter()
    }

    /// Whether any row says the number of the beat.
    pub(crate) fn have_numbers(&self) -> bool {
        self.rows.iter().any(|row| row.first.is_none())
    }

    pub(crate) fn words(&self) -> impl Iterator<Item = &Word> {
        self.rows.iter().flat_map(|row| row.first.iter().chain(row.words.iter().flatten()))
    }

    /// Reads the rows of one kind of beat.
    pub(super) fn read(source: Source<'_>, kind: Kind, rows: &form::Rows, key: &str) -> Result<Self, Error> {
        let mut read = rows
            .iter()
            .map(|(parts, words)| {
                let parts = source.number(parts, ROW_PARTS)?;
                read_row(source, parts, words)
            })
            .collect::<Result<Vec<_>, Error>>()?;
        let usual = |row: &Row| kind.is_usual(row.parts);
        if !read.iter().any(usual) {
            let span = rows.values().next().map_or(0..0, form::Text::span);
            let parts = if kind.prime() == 2 { "2 or 4" } else { "3 or 6" };
            return Err(source.error(
                span,
                format!("\"{key}\" has no row for a beat in {parts} parts"),
                format!("such a beat divides so first: add a row {key}.{}", &parts[..1]),
            ));
        }
        read.sort_by_key(|row| (!usual(row), row.parts));
        for index in 0..read.len() {
            let agrees = |other: &usize| *other != index && read[index].agrees_with(&read[*other]);
            read[index].agrees = (0..read.len()).filter(agrees).collect();
        }
        Ok(Self { rows: read })
    }
}

fn read_row(source: Source<'_>, parts: u32, text: &form::Text) -> Result<Row, Error> {
    let words = source.split(text);
    if words.len() != usize::try_from(parts).unwrap_or(usize::MAX) {
        return Err(source.error(
            text.span(),
            format!("the row for {parts} parts has {} words: \"{}\"", words.len(), text.get_ref()),
            format!(
                "write {parts} words with blanks between them: \"n\" first for the number of the beat, \"-\" for a part \
                 without a word"
            ),
        ));
    }
    let first = match &words[0] {
        (word, _) if *word == NUMBER => None,
        (word, span) => Some(source.word(word, span)?),
    };
    let mut read = vec![first.clone()];
    for (word, span) in &words[1..] {
        read.push(source.word_or_nothing(word, span)?);
    }
    Ok(Row { parts: parts.into(), first, words: read, agrees: Vec::new() })
}

pub(crate) fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}
