//! The words of the counting systems, as an answer may use them.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use rhythm::{Division, Rhythm};
use timebase::Ratio;

use super::vocabulary::plain;
use crate::table::{By, Rows};
use crate::{CountLine, System, count_in};

/// The words of one system for the parts of a beat; none where it goes by the length of the note.
#[derive(Debug, Default)]
pub(super) struct BeatWords {
    two: Vec<(Ratio<i64>, String)>,
    three: Vec<(Ratio<i64>, String)>,
}

impl BeatWords {
    /// The words that a system has for a beat in two and its quarters, and for one in three and its sixths.
    pub(super) fn of(system: &System) -> Self {
        let By::Place(places) = &system.table().by else { return Self::default() };
        let parts = |rows: &Rows, parts: i64| -> Vec<(Ratio<i64>, String)> {
            let row = rows.choose(std::iter::once(parts), false);
            let word = |part: Ratio<i64>| {
                Some((part, plain(rows.word(row, *part.numer(), *part.denom())?.as_str())))
            };
            (1..parts).filter_map(|part| word(Ratio::new(part, parts))).collect()
        };
        let mut three = parts(&places.compound, 6);
        three.extend(parts(&places.simple, 6));
        Self { two: parts(&places.simple, 4), three }
    }

    /// Whether it is a word for a part of any beat.
    pub(super) fn says(&self, word: &str) -> bool {
        [Division::Two, Division::Three].into_iter().any(|division| self.is_of(division, word))
    }

    fn table(&self, division: Division) -> &[(Ratio<i64>, String)] {
        match division {
            Division::Two => &self.two,
            Division::Three => &self.three,
        }
    }

    /// Whether it is a word for a part of a beat that divides so.
    pub(super) fn is_of(&self, division: Division, word: &str) -> bool {
        self.table(division).iter().any(|(_, known)| known == word)
    }

    /// The first part of a beat that has this word, in two before in three.
    pub(super) fn first_place(&self, word: &str) -> Option<Ratio<i64>> {
        let place = |division| self.places(division, word).first().copied();
        place(Division::Two).or_else(|| place(Division::Three))
    }

    /// The parts of a beat that have this word, rising.
    pub(super) fn places(&self, division: Division, word: &str) -> Vec<Ratio<i64>> {
        let table = self.table(division).iter();
        let mut places: Vec<Ratio<i64>> =
            table.filter(|(_, known)| known == word).map(|(at, _)| *at).collect();
        places.sort_unstable();
        places.dedup();
        places
    }
}

/// What may be typed for the words of `system`, and which word is meant: both as [`plain`] has them.
pub(crate) fn typed(system: &System) -> BTreeMap<String, String> {
    let also = system.table().also.iter().map(|(typed, word)| (plain(typed), plain(word.as_str())));
    let own = system.words().into_iter().map(|word| (plain(word.as_str()), plain(word.as_str())));
    also.chain(own).collect()
}

/// What may be typed for the words of any shipped system or variant. Where two mean different words by the same
/// writing, the one that is shipped first holds.
pub(super) fn typed_anywhere() -> &'static BTreeMap<String, String> {
    static TYPED: LazyLock<BTreeMap<String, String>> = LazyLock::new(|| {
        let mut all = BTreeMap::new();
        for system in System::shipped() {
            let variants = system.variants().filter_map(|variant| system.with_variant(variant.name).ok());
            for (word, meant) in
                std::iter::once(system.clone()).chain(variants).flat_map(|system| typed(&system))
            {
                all.entry(word).or_insert(meant);
            }
        }
        all
    });
    &TYPED
}

/// The rhythm counted in every shipped system but that of `line`, each with its title.
pub(super) fn other_lines(
    line: &CountLine,
    rhythm: &Rhythm,
) -> impl Iterator<Item = (&'static str, CountLine)> {
    let own = line.system().name().to_owned();
    let settings = line.settings();
    let others = System::shipped().iter().filter(move |system| system.name() != own);
    others.map(move |system| (system.title(), count_in(rhythm, system, &settings)))
}

/// The system as it is without a variant, and in each of its variants that it does not have.
pub(super) fn other_variants(system: &System) -> Vec<System> {
    let shipped = System::named(system.name()).ok();
    // A system of a school's own may bear the name of a shipped one.
    let bare =
        shipped.filter(|shipped| shipped.source() == system.source() && shipped.title() == system.title());
    let without = bare.iter().filter(|_| system.chosen().next().is_some()).cloned();
    let from = bare.as_ref().unwrap_or(system);
    let others = system.variants().filter(|variant| system.chosen().all(|chosen| chosen != variant.name));
    without.chain(others.filter_map(|variant| from.with_variant(variant.name).ok())).collect()
}

/// `in the variant by-group`, `without a variant`.
pub(super) fn variant_name(system: &System) -> String {
    let chosen: Vec<&str> = system.chosen().collect();
    match chosen.as_slice() {
        [] => "without a variant".to_owned(),
        [one] => format!("in the variant {one}"),
        several => format!("in the variants {}", several.join(" and ")),
    }
}
