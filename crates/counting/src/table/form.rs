//! The table of a counting system as it is written: `assets/counting/README.md` describes it.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

/// A text and where it stands.
pub(super) type Text = Spanned<String>;

/// Texts by their keys: the number of parts, or a length.
pub(super) type Rows = BTreeMap<Text, Text>;

#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SystemForm {
    pub(super) name: Text,
    pub(super) title: Option<String>,
    pub(super) about: Option<String>,
    pub(super) source: Option<String>,
    pub(super) say: Spanned<SayForm>,
    #[serde(default)]
    pub(super) variants: Vec<VariantForm>,
}

#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct VariantForm {
    pub(super) name: Text,
    pub(super) about: Option<String>,
    pub(super) source: Option<String>,
    pub(super) say: Spanned<SayForm>,
}

/// What is said: of a system all of it, of a variant what differs.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct SayForm {
    pub(super) beat: Option<Text>,
    pub(super) simple: Option<Rows>,
    pub(super) compound: Option<Rows>,
    pub(super) two: Option<Rows>,
    pub(super) three: Option<Rows>,
    pub(super) elsewhere: Option<Text>,
    pub(super) holds: Option<Text>,
    pub(super) rests: Option<Text>,
    pub(super) asymmetrical_by: Option<Text>,
    pub(super) compound_by: Option<Text>,
    pub(super) lengths: Option<Rows>,
    pub(super) held: Option<Rows>,
    pub(super) rest: Option<Text>,
    pub(super) tuplets: Option<Rows>,
    pub(super) patterns: Option<Rows>,
    pub(super) also: Option<Rows>,
}

impl SayForm {
    /// This with what `other` says instead: rows are replaced one by one, everything else as a whole.
    pub(super) fn with(&self, other: &Self) -> Self {
        let text = |own: &Option<Text>, other: &Option<Text>| other.as_ref().or(own.as_ref()).cloned();
        let rows = |own: &Option<Rows>, other: &Option<Rows>| match (own, other) {
            (Some(own), Some(other)) => {
                // A key that stays in place would keep its old span.
                let kept = own.iter().filter(|(key, _)| !other.contains_key(*key));
                Some(kept.chain(other).map(|(key, text)| (key.clone(), text.clone())).collect())
            }
            (own, other) => other.as_ref().or(own.as_ref()).cloned(),
        };
        Self {
            beat: text(&self.beat, &other.beat),
            simple: rows(&self.simple, &other.simple),
            compound: rows(&self.compound, &other.compound),
            two: rows(&self.two, &other.two),
            three: rows(&self.three, &other.three),
            elsewhere: text(&self.elsewhere, &other.elsewhere),
            holds: text(&self.holds, &other.holds),
            rests: text(&self.rests, &other.rests),
            asymmetrical_by: text(&self.asymmetrical_by, &other.asymmetrical_by),
            compound_by: text(&self.compound_by, &other.compound_by),
            lengths: rows(&self.lengths, &other.lengths),
            held: rows(&self.held, &other.held),
            rest: text(&self.rest, &other.rest),
            tuplets: rows(&self.tuplets, &other.tuplets),
            patterns: rows(&self.patterns, &other.patterns),
            also: rows(&self.also, &other.also),
        }
    }
}
