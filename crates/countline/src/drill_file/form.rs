//! A drill plan as it is written: `template.drill` explains every line.

use serde::Deserialize;
use toml::Spanned;

type Whole = Option<Spanned<i64>>;
type Number = Option<Spanned<f64>>;
type Word = Option<Spanned<String>>;
type Words = Option<Spanned<Vec<Spanned<String>>>>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct DrillForm {
    pub(super) title: Word,
    pub(super) rhythms: Spanned<Vec<Spanned<String>>>,
    pub(super) bars: Whole,
    #[serde(default)]
    pub(super) play_along: bool,
    pub(super) breath: Whole,
    pub(super) rest: Whole,
    pub(super) times: Whole,
    pub(super) again: Whole,
    pub(super) players: Words,
    pub(super) turns: Word,
    pub(super) voice: Word,
    pub(super) counting: Word,
    pub(super) variants: Words,
    pub(super) part: Word,
    #[serde(default)]
    pub(super) count_in: CountInForm,
    pub(super) model: Option<ModelForm>,
    #[serde(default)]
    pub(super) call: CallForm,
    #[serde(default)]
    pub(super) response: ResponseForm,
    #[serde(default)]
    pub(super) click: ClickForm,
    #[serde(default)]
    pub(super) sound: SoundForm,
    #[serde(default)]
    pub(super) tempo: TempoForm,
    #[serde(default)]
    pub(super) hard: Vec<Spanned<HardForm>>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CountInForm {
    pub(super) bars: Whole,
    pub(super) before: Word,
    pub(super) entry: Word,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ModelForm {
    pub(super) sounds: Words,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CallForm {
    pub(super) sounds: Words,
    #[serde(default)]
    pub(super) hidden: bool,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ResponseForm {
    pub(super) sounds: Words,
    pub(super) pickup: Word,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct ClickForm {
    pub(super) with: Whole,
    pub(super) without: Whole,
    #[serde(default)]
    pub(super) silent_bars: Vec<Spanned<i64>>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SoundForm {
    pub(super) click: Word,
    pub(super) count: Word,
    pub(super) holds: Word,
    pub(super) rests: Word,
    #[serde(default)]
    pub(super) tone: bool,
    pub(super) mute: Words,
    #[serde(default)]
    pub(super) level: EachForm,
    #[serde(default)]
    pub(super) pan: EachForm,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct EachForm {
    pub(super) click: Number,
    pub(super) count: Number,
    pub(super) clap: Number,
    pub(super) tone: Number,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct TempoForm {
    pub(super) at: Number,
    pub(super) step: Number,
    pub(super) slowest: Number,
    pub(super) fastest: Number,
    pub(super) up_after: Whole,
    pub(super) down_after: Whole,
    #[serde(default)]
    pub(super) until_fastest: bool,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct HardForm {
    pub(super) rhythm: Whole,
    pub(super) bar: Spanned<i64>,
    pub(super) times: Whole,
}
