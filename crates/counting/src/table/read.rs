use toml::Spanned;

use super::form::{SayForm, SystemForm};
use super::words::{NUMBER, Source};
use super::{Asymmetrical, By, Compound, Kind, Lengths, Places, Rows, Table};
use crate::limits::{TABLE_BYTES, VARIANTS};
use crate::{Error, Voicing};

/// The table of a counting system as it was read, from which its variants are made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Document {
    text: String,
    form: SystemForm,
    heads: Vec<VariantHead>,
}

/// What a variant is called, and why it is there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct VariantHead {
    pub(crate) name: String,
    pub(crate) about: Option<String>,
    pub(crate) source: Option<String>,
}

impl Document {
    /// Reads a table and checks all of it, every variant too.
    pub(crate) fn read(text: &str) -> Result<Self, Error> {
        let source = Source(text);
        let bytes = i64::try_from(text.len()).unwrap_or(i64::MAX);
        if !TABLE_BYTES.holds(bytes) {
            return Err(source.error(
                0..0,
                format!("the table has {bytes} bytes"),
                format!("a counting system fits {}: leave out what is none", TABLE_BYTES.most),
            ));
        }
        let form: SystemForm = toml::from_str(text).map_err(|error| {
            let span = error.span().unwrap_or(0..0);
            let message = error.message().trim().replace('\n', ", ");
            source.error(
                span,
                message,
                "assets/counting/README.md names every line of a table and shows a whole one",
            )
        })?;
        source.name(&form.name)?;
        let mut heads: Vec<VariantHead> = Vec::new();
        for variant in &form.variants {
            let name = source.name(&variant.name)?;
            if heads.iter().any(|head| head.name == name) {
                return Err(source.error(
                    variant.name.span(),
                    format!("two variants are called \"{name}\""),
                    "give each a name of its own",
                ));
            }
            let (about, from) = (variant.about.clone(), variant.source.clone());
            heads.push(VariantHead { name, about, source: from });
        }
        if !VARIANTS.holds(i64::try_from(heads.len()).unwrap_or(i64::MAX)) {
            return Err(source.error(
                0..0,
                format!("the table has {} variants", heads.len()),
                format!("a counting system has at most {}: leave some out", VARIANTS.most),
            ));
        }
        let document = Self { text: text.to_owned(), form, heads };
        document.table(&[])?;
        for variant in 0..document.heads.len() {
            document.table(&[variant])?;
        }
        Ok(document)
    }

    pub(crate) fn name(&self) -> &str {
        self.form.name.get_ref()
    }

    pub(crate) fn title(&self) -> Option<&str> {
        self.form.title.as_deref()
    }

    pub(crate) fn about(&self) -> Option<&str> {
        self.form.about.as_deref()
    }

    pub(crate) fn source(&self) -> Option<&str> {
        self.form.source.as_deref()
    }

    pub(crate) fn variants(&self) -> &[VariantHead] {
        &self.heads
    }

    /// What is said with these variants, each by its index, a later one before an earlier.
    pub(crate) fn table(&self, variants: &[usize]) -> Result<Table, Error> {
        let own = self.form.say.get_ref().clone();
        let say =
            variants.iter().fold(own, |say, &variant| say.with(self.form.variants[variant].say.get_ref()));
        table(Source(&self.text), &Spanned::new(self.form.say.span(), say))
    }
}

fn table(source: Source<'_>, say: &Spanned<SayForm>) -> Result<Table, Error> {
    let whole = say.span();
    let say = say.get_ref();
    let by = match (&say.simple, &say.compound, &say.lengths) {
        (Some(simple), Some(compound), None) => {
            let of_lengths = [
                ("held", say.held.is_some()),
                ("rest", say.rest.is_some()),
                ("tuplets", say.tuplets.is_some()),
                ("patterns", say.patterns.is_some()),
            ];
            refuse(source, whole, of_lengths, "words by the length of the note", "lengths")?;
            By::Place(Places {
                simple: Rows::read(source, Kind::Simple, simple, "simple")?,
                compound: Rows::read(source, Kind::Compound, compound, "compound")?,
                two: match &say.two {
                    Some(two) => Rows::read(source, Kind::Two, two, "two")?,
                    None => Rows::read(source, Kind::Two, simple, "simple")?,
                },
                three: match &say.three {
                    Some(three) => Rows::read(source, Kind::Three, three, "three")?,
                    None => Rows::read(source, Kind::Three, compound, "compound")?,
                },
                elsewhere: say.elsewhere.as_ref().map(|word| source.one_word(word)).transpose()?,
            })
        }
        (None, None, Some(lengths)) => {
            let of_places = [
                ("two", say.two.is_some()),
                ("three", say.three.is_some()),
                ("elsewhere", say.elsewhere.is_some()),
                ("compound-by", false),
            ];
            refuse(source, whole, of_places, "words by the place in the beat", "simple and compound")?;
            By::Length(Lengths::read(source, lengths, say)?)
        }
        _ => {
            return Err(source.error(
                whole,
                "it is not settled what the words go by",
                "give rows both for \"simple\" and for \"compound\" beats, or else \"lengths\" with a word for each note \
                 value",
            ));
        }
    };
    let mut also = Vec::new();
    for (word, writings) in say.also.iter().flatten() {
        let word = source.word(word.get_ref(), &word.span())?;
        for (writing, span) in source.split(writings) {
            // Some write n for "and".
            if writing != NUMBER {
                source.word(writing, &span)?;
            }
            also.push((writing.to_lowercase(), word.clone()));
        }
    }
    let voicing = |text: &Option<_>, usual| {
        text.as_ref().map_or(Ok(usual), |text| source.choice(text, &Voicing::NAMED))
    };
    Ok(Table {
        by,
        holds: voicing(&say.holds, Voicing::Said)?,
        rests: voicing(&say.rests, Voicing::Softer)?,
        asymmetrical: match &say.asymmetrical_by {
            Some(text) => source.choice(text, &Asymmetrical::NAMED)?,
            None => Asymmetrical::Units,
        },
        compound: match &say.compound_by {
            Some(text) => source.choice(text, &Compound::NAMED)?,
            None => Compound::Beats,
        },
        also,
    })
}

/// Refuses what belongs to the other kind of system.
fn refuse(
    source: Source<'_>,
    whole: std::ops::Range<usize>,
    lines: [(&str, bool); 4],
    other: &str,
    belongs: &str,
) -> Result<(), Error> {
    match lines.iter().find(|(_, given)| *given) {
        None => Ok(()),
        Some((line, _)) => Err(source.error(
            whole,
            format!("\"{line}\" belongs to systems with {other}, and this is none"),
            format!("take it out, or give {belongs} instead of what is there"),
        )),
    }
}
