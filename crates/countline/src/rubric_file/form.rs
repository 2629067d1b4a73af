//! A rubric as it is written: `default.toml` explains every line.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

type Number = Option<Spanned<f64>>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct RubricForm {
    pub(super) result: Option<Spanned<String>>,
    pub(super) out_of: Option<Spanned<i64>>,
    pub(super) levels: Option<Spanned<Vec<LevelForm>>>,
    pub(super) tolerance_ms: Number,
    #[serde(default)]
    pub(super) rhythm: RhythmForm,
    #[serde(default)]
    pub(super) pulse: PulseForm,
    #[serde(default)]
    pub(super) players: BTreeMap<String, PlayerForm>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LevelForm {
    pub(super) name: Spanned<String>,
    pub(super) from: Spanned<f64>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct RhythmForm {
    pub(super) missed: Number,
    pub(super) extra: Number,
    pub(super) rest_struck: Number,
    pub(super) hold_struck: Number,
    pub(super) misread: Number,
    pub(super) early_entry: Number,
    #[serde(rename = "move")]
    pub(super) moved: Number,
    pub(super) wrong_hand: Number,
    pub(super) accent: Number,
    pub(super) length: Number,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct PulseForm {
    pub(super) on_time: Number,
    pub(super) spread: Number,
    pub(super) drift: Number,
    pub(super) click: Number,
    pub(super) spread_bounds: Option<Spanned<Vec<Spanned<f64>>>>,
    pub(super) drift_bounds: Option<Spanned<Vec<Spanned<f64>>>>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct PlayerForm {
    pub(super) tolerance_ms: Number,
    pub(super) left: Option<Vec<Spanned<i64>>>,
    pub(super) right: Option<Vec<Spanned<i64>>>,
}
