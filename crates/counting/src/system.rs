use std::sync::{Arc, LazyLock};

use crate::table::{By, Document, Table};
use crate::{Error, Voicing, Word};

/// A way of counting: what is said where.
///
/// The shipped systems are tables under `assets/counting`; a school writes its own in the same form. Cheap to clone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct System {
    document: Arc<Document>,
    chosen: Vec<usize>,
    table: Arc<Table>,
}

/// One way in which a system is also used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Variant<'a> {
    /// Its name, as it stands in the table and on the command line.
    pub name: &'a str,
    /// What is otherwise in it.
    pub about: Option<&'a str>,
    /// Where it was read.
    pub source: Option<&'a str>,
}

/// The shipped tables; the first is the usual way of counting.
const SHIPPED: [&str; 6] = [
    include_str!("../../../assets/counting/numbers.toml"),
    include_str!("../../../assets/counting/mchose-tibbs.toml"),
    include_str!("../../../assets/counting/gordon.toml"),
    include_str!("../../../assets/counting/takadimi.toml"),
    include_str!("../../../assets/counting/kodaly.toml"),
    include_str!("../../../assets/counting/slow-six.toml"),
];

impl System {
    /// The shipped systems; the first is [`System::numbers`].
    #[must_use]
    pub fn shipped() -> &'static [Self] {
        static SYSTEMS: LazyLock<Vec<System>> = LazyLock::new(|| {
            let read = |text: &&str| System::parse(text).expect("a test reads every shipped table");
            SHIPPED.iter().map(read).collect()
        });
        &SYSTEMS
    }

    /// Beats by number, `1 e & a`, and `1 la li` in a beat of three.
    #[must_use]
    pub fn numbers() -> &'static Self {
        &Self::shipped()[0]
    }

    /// The shipped system of this name.
    ///
    /// # Errors
    /// If there is none; the error lists those there are.
    pub fn named(name: &str) -> Result<Self, Error> {
        Self::shipped().iter().find(|system| system.name() == name).cloned().ok_or_else(|| {
            let shipped = Self::shipped().iter().map(|system| system.name().to_owned()).collect();
            Error::UnknownSystem { given: name.to_owned(), shipped }
        })
    }

    /// A system from the text of its table, in the form that `assets/counting/README.md` describes.
    ///
    /// # Errors
    /// If anything in the table is wrong, its variants included; the error points at it.
    pub fn parse(text: &str) -> Result<Self, Error> {
        let document = Document::read(text)?;
        let table = document.table(&[])?;
        Ok(Self { document: Arc::new(document), chosen: Vec::new(), table: Arc::new(table) })
    }

    /// The same system in its variant of this name. Several can be chosen one after another; where two say
    /// something else of the same thing, the later holds.
    ///
    /// # Errors
    /// If it has no such variant; the error lists those it has.
    pub fn with_variant(&self, name: &str) -> Result<Self, Error> {
        let index = self.document.variants().iter().position(|variant| variant.name == name);
        let index = index.ok_or_else(|| Error::UnknownVariant {
            system: self.name().to_owned(),
            given: name.to_owned(),
            variants: self.document.variants().iter().map(|variant| variant.name.clone()).collect(),
        })?;
        let mut chosen = self.chosen.clone();
        chosen.retain(|&other| other != index);
        chosen.push(index);
        let table = Arc::new(self.document.table(&chosen)?);
        Ok(Self { document: Arc::clone(&self.document), chosen, table })
    }

    /// Its name, as it stands in files and on the command line.
    #[must_use]
    pub fn name(&self) -> &str {
        self.document.name()
    }

    /// Its name as a person reads it: the title of its table, else the name.
    #[must_use]
    pub fn title(&self) -> &str {
        self.document.title().unwrap_or(self.name())
    }

    /// What kind of system it is, in a sentence.
    #[must_use]
    pub fn about(&self) -> Option<&str> {
        self.document.about()
    }

    /// Where it was read.
    #[must_use]
    pub fn source(&self) -> Option<&str> {
        self.document.source()
    }

    /// Every variant it has.
    pub fn variants(&self) -> impl Iterator<Item = Variant<'_>> {
        self.document.variants().iter().map(|head| Variant {
            name: &head.name,
            about: head.about.as_deref(),
            source: head.source.as_deref(),
        })
    }

    /// The names of the variants that were chosen, in the order in which they were.
    pub fn chosen(&self) -> impl Iterator<Item = &str> {
        self.chosen.iter().map(|&index| self.document.variants()[index].name.as_str())
    }

    /// Every word it says beside the numbers of the beats, in the order of the alphabet.
    #[must_use]
    pub fn words(&self) -> Vec<Word> {
        let mut words: Vec<Word> = match &self.table.by {
            By::Place(places) => [&places.simple, &places.compound, &places.two, &places.three]
                .into_iter()
                .flat_map(|rows| rows.words())
                .chain(&places.elsewhere)
                .cloned()
                .collect(),
            By::Length(lengths) => lengths.words().cloned().collect(),
        };
        words.sort_unstable();
        words.dedup();
        words
    }

    /// Whether its beats are said by their numbers.
    #[must_use]
    pub fn says_numbers(&self) -> bool {
        match &self.table.by {
            By::Place(places) => places.simple.have_numbers() || places.compound.have_numbers(),
            By::Length(_) => false,
        }
    }

    /// Whether a word of it goes by the length of the note and not by its place in the beat.
    #[must_use]
    pub fn goes_by_length(&self) -> bool {
        matches!(self.table.by, By::Length(_))
    }

    /// How a count inside a held note is said, unless [`Settings`](crate::Settings) say otherwise.
    #[must_use]
    pub fn holds(&self) -> Voicing {
        self.table.holds
    }

    /// How a count inside a silence is said, unless [`Settings`](crate::Settings) say otherwise.
    #[must_use]
    pub fn rests(&self) -> Voicing {
        self.table.rests
    }

    /// The word that somebody means who types `typed`: capitals and small letters are read alike, `+` and `and` for
    /// `&` where the table says so, digits as a number where the system says numbers. `None` if it says no such word.
    #[must_use]
    pub fn word_for(&self, typed: &str) -> Option<Word> {
        let typed = typed.to_lowercase();
        if self.says_numbers()
            && typed.bytes().all(|byte| byte.is_ascii_digit())
            && let Ok(number) = typed.parse::<u32>()
        {
            return Some(Word::number(number));
        }
        let own = self.words().into_iter().find(|word| word.as_str().to_lowercase() == typed);
        let also =
            || self.table.also.iter().find(|(writing, _)| *writing == typed).map(|(_, word)| word.clone());
        own.or_else(also)
    }

    pub(crate) fn table(&self) -> &Table {
        &self.table
    }
}
