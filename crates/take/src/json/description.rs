use std::borrow::Cow;

use serde::{Deserialize, Serialize};
use timebase::Moment;

use super::form::{DisturbanceForm, HeaderForm, ms};
use super::{JudgeFile, VERSION};
use crate::{Disturbance, Ended, Header};

/// What stands in `take.json`: all that is known of a take but the strokes and the sound themselves.
///
/// It is written when the take begins, with `ended` null, and again when it ends. A `take.json` with `ended` null
/// beside a longer journal is that of a take that was killed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Description<'a> {
    pub(crate) version: u32,
    #[serde(flatten)]
    pub(crate) header: HeaderForm,
    pub(crate) ended: Option<Ended>,
    /// Up to when it was heard, where it was stopped.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) heard_ms: Option<f64>,
    pub(crate) frames: u64,
    pub(crate) sound_ended: Option<String>,
    pub(crate) disturbed: Vec<DisturbanceForm>,
    pub(crate) judgement: Option<Cow<'a, JudgeFile>>,
}

impl<'a> Description<'a> {
    pub(crate) fn new(
        header: &Header,
        disturbed: &[Disturbance],
        (ended, heard): (Option<Ended>, Option<Moment>),
        frames: u64,
        sound_ended: Option<String>,
        judgement: Option<&'a JudgeFile>,
    ) -> Self {
        Self {
            version: VERSION,
            header: HeaderForm::of(header),
            ended,
            heard_ms: heard.map(|heard| ms(heard.since_zero())),
            frames,
            sound_ended,
            disturbed: disturbed.iter().map(DisturbanceForm::of).collect(),
            judgement: judgement.map(Cow::Borrowed),
        }
    }
}
