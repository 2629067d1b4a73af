//! The JSON that other programs build on: `count --json`, `check-counts --json`, `judge --json`,
//! `write --json`, `drill --json`, and a take's `take.json`.
//!
//! Every top-level object carries `"version": 1`. Fractions of a whole note are strings (`"0"`, `"3/8"`), times are
//! milliseconds, and what cannot be known is `null`, never 0. The schemas (JSON Schema 2020-12) stand in the folder
//! `schema` beside this crate, and `files.md` there says what each field means.

mod answers;
mod count;
mod description;
mod drill;
mod drill_judge;
pub(crate) mod drilled;
pub(crate) mod form;
mod judge;
mod rubric;
mod split;
mod write;

pub use answers::{
    AnswersFile, BarResultForm, CheckedForm, ClassMisunderstandingForm, KeyForm, MisunderstandingForm,
    PupilForm, WrittenForm,
};
pub use count::{CountFile, CountedBarForm, CountedForm, NoteForm, StepForm};
pub use description::Description;
pub use drill::{AskedForm, DrillFile, DrilledForm, PlayedForm, RoundForm, StretchForm};
pub use drill_judge::{DrillJudgeFile, JudgedResponseForm, JudgedRoundForm};
pub use judge::{AttackForm, FindingForm, JudgeFile, MissedForm, PlayerJudgement};
pub(crate) use rubric::NotesFile;
pub use rubric::{FindingRef, LineForm, RemarkForm, ScoredForm, TeacherForm};
pub use split::{
    ClockMotorForm, CommonPulseForm, EstimateForm, MemberForm, PercentForm, PlaceForm, SectionForm,
    SplitForm, WithClickForm,
};
pub use write::{AlternativeForm, WriteFile, WrittenBarForm};

use std::io::Write;

use rhythm::Deed;
use serde::Serialize;

/// The version of all forms.
pub const VERSION: u32 = 1;

/// Writes a value of this module as [`text`] makes it, piece by piece: of a long take of many players the text is larger than all it tells.
///
/// # Errors
/// If `out` takes no more.
pub fn write<T: Serialize>(value: &T, mut out: impl Write) -> std::io::Result<()> {
    serde_json::to_writer_pretty(&mut out, value)?;
    out.write_all(b"\n")
}

/// A value of this module as text: indented by two blanks, with a line break at its end.
pub fn text<T: Serialize>(value: &T) -> String {
    let mut text = serde_json::to_string_pretty(value)
        .expect("the forms of this module have only texts, numbers and lists");
    text.push('\n');
    text
}

fn deed(deed: Deed) -> &'static str {
    match deed {
        Deed::Attack => "attack",
        Deed::Hold => "hold",
        Deed::Rest => "rest",
    }
}
