use judge::{Click, Finding, Line, Scored};
use serde::{Deserialize, Serialize};

use super::form::{rounded, shown_ms};

/// What a teacher makes of a judgement: what a rubric says, and what was noted and overruled.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TeacherForm {
    /// The result of each player by the rubric that was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rubric: Option<Vec<ScoredForm>>,
    /// What was noted of the take, in the order in which it was said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notes: Option<Vec<RemarkForm>>,
    /// The findings that are overruled and not counted by the rubric.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub overruled: Option<Vec<FindingRef>>,
}

/// One player by a rubric.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ScoredForm {
    player: String,
    tolerance_ms: f64,
    right_rhythm: LineForm,
    steady_pulse: LineForm,
    click_ms: Option<f64>,
    click_says: String,
}

/// One line of a rubric; `result` and `hundredths` are null where nothing can be said.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LineForm {
    result: Option<String>,
    hundredths: Option<f64>,
    why: String,
}

impl ScoredForm {
    /// The form of a player's result; `click_says` is what is said of the distance from the click.
    #[must_use]
    pub fn of(player: &str, tolerance: timebase::Seconds, scored: &Scored, click_says: String) -> Self {
        Self {
            player: player.to_owned(),
            tolerance_ms: shown_ms(tolerance),
            right_rhythm: LineForm::of(&scored.rhythm),
            steady_pulse: LineForm::of(&scored.pulse),
            click_ms: match scored.click {
                Click::Bias(bias) => Some(shown_ms(bias)),
                Click::Uncalibrated | Click::TooFew => None,
            },
            click_says,
        }
    }
}

impl LineForm {
    fn of(line: &Line) -> Self {
        Self { result: line.called.clone(), hundredths: line.hundredths.map(rounded), why: line.why.clone() }
    }
}

/// `notes.json` in the folder of a take.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct NotesFile {
    pub(crate) version: u32,
    pub(crate) notes: Vec<RemarkForm>,
}

/// What a teacher said once.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "UncheckedNote")]
pub struct RemarkForm {
    pub(crate) said_at: String,
    pub(crate) said: String,
    pub(crate) finding: Option<FindingRef>,
    pub(crate) note: Option<String>,
}

/// A note as it stands in a file, before it is known to be one.
#[derive(Deserialize)]
struct UncheckedNote {
    said_at: String,
    said: String,
    finding: Option<FindingRef>,
    note: Option<String>,
}

impl TryFrom<UncheckedNote> for RemarkForm {
    type Error = String;

    fn try_from(note: UncheckedNote) -> Result<Self, String> {
        let UncheckedNote { said_at, said, finding, note } = note;
        match (said.as_str(), finding.is_some(), note.is_some()) {
            (Self::OVERRULED | Self::UPHELD, true, _) | (Self::NOTED, false, true) => {
                Ok(Self { said_at, said, finding, note })
            }
            _ => Err(format!(
                "\"{said}\" does not fit: a note is \"{}\" or \"{}\" with a finding, or \"{}\" with a note",
                Self::OVERRULED,
                Self::UPHELD,
                Self::NOTED
            )),
        }
    }
}

impl RemarkForm {
    /// A finding is not to be counted.
    pub const OVERRULED: &str = "overruled";
    /// A finding that was overruled counts again.
    pub const UPHELD: &str = "upheld";
    /// Something is said of the take.
    pub const NOTED: &str = "noted";

    /// Overrules a finding; `said_at` is date and time of day as in RFC 3339.
    #[must_use]
    pub fn overruled(said_at: &str, finding: FindingRef, note: Option<String>) -> Self {
        Self { said_at: said_at.to_owned(), said: Self::OVERRULED.to_owned(), finding: Some(finding), note }
    }

    /// Lets a finding count again.
    #[must_use]
    pub fn upheld(said_at: &str, finding: FindingRef, note: Option<String>) -> Self {
        Self { said: Self::UPHELD.to_owned(), ..Self::overruled(said_at, finding, note) }
    }

    /// Says something of the take.
    #[must_use]
    pub fn note(said_at: &str, note: &str) -> Self {
        Self {
            said_at: said_at.to_owned(),
            said: Self::NOTED.to_owned(),
            finding: None,
            note: Some(note.to_owned()),
        }
    }

    /// When it was said.
    #[must_use]
    pub fn said_at(&self) -> &str {
        &self.said_at
    }

    /// What it does: one of the constants.
    #[must_use]
    pub fn said(&self) -> &str {
        &self.said
    }

    /// The finding it is about; `None` where it is about the take.
    #[must_use]
    pub fn finding(&self) -> Option<&FindingRef> {
        self.finding.as_ref()
    }

    /// The words.
    #[must_use]
    pub fn words(&self) -> Option<&str> {
        self.note.as_deref()
    }
}

/// Which finding of a take: the player's, of this kind, in this place; no place where it is about the whole take.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FindingRef {
    /// What the player is called.
    pub player: String,
    /// The kind's stable name.
    pub kind: String,
    /// The bar.
    pub bar: Option<u32>,
    /// Which time through it, from 1.
    pub pass: Option<u32>,
    /// Where in it, as a fraction of a whole note.
    pub at: Option<String>,
}

impl FindingRef {
    /// Refers to this finding of a player.
    #[must_use]
    pub fn of(player: &str, finding: &Finding) -> Self {
        Self {
            player: player.to_owned(),
            kind: finding.kind.name().to_owned(),
            bar: finding.place.map(|place| place.bar),
            pass: finding.place.map(|place| place.pass),
            at: finding.place.map(|place| place.at.to_string()),
        }
    }
}

/// As it is typed: `K2:rest-struck:4:3/4`, with `:2` behind it for the second time through the bar.
impl std::fmt::Display for FindingRef {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}", self.player, self.kind)?;
        if let (Some(bar), Some(at)) = (self.bar, &self.at) {
            write!(f, ":{bar}:{at}")?;
            if let Some(pass) = self.pass.filter(|pass| *pass != 1) {
                write!(f, ":{pass}")?;
            }
        }
        Ok(())
    }
}
