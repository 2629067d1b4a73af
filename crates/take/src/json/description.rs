use serde::{Deserialize, Serialize};

use super::form::{DisturbanceForm, HeaderForm};
use super::{JudgeFile, VERSION};
use crate::{Disturbance, Ended, Header};

/// What stands in `take.json`: all that is known of a take but the strokes and the sound themselves.
///
/// It is written when the take begins, with `ended` null, and again when it ends. A `take.json` with `ended` null
/// beside a longer journal is that of a take that was killed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Description {
    pub(crate) version: u32,
    #[serde(flatten)]
    pub(crate) header: HeaderForm,
    pub(crate) ended: Option<Ended>,
    pub(crate) frames: u64,
    pub(crate) sound_ended: Option<String>,
    pub(crate) disturbed: Vec<DisturbanceForm>,
    pub(crate) judgement: Option<JudgeFile>,
}

impl Description {
    pub(crate) fn new(
        header: &Header,
        disturbed: &[Disturbance],
        ended: Option<Ended>,
        frames: u64,
        sound_ended: Option<String>,
        judgement: Option<JudgeFile>,
    ) -> Self {
        Self {
            version: VERSION,
            header: HeaderForm::of(header),
            ended,
            frames,
            sound_ended,
            disturbed: disturbed.iter().map(DisturbanceForm::of).collect(),
            judgement,
        }
    }

    pub(crate) fn bytes(&self) -> Vec<u8> {
        super::text(self).into_bytes()
    }
}
