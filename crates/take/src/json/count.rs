use counting::{Count, CountLine, Foot, Step, Voicing};
use rhythm::spelling::{Note, spell};
use rhythm::{PerformedBar, Rhythm};
use serde::Serialize;

use super::{VERSION, deed};

/// What `count --json` prints: a rhythm and its counting, bar by bar as it is performed.
///
/// ```
/// let rhythm = rhythm::text::read("meter: 4/4\n| 1 _2 & (3 4) |").rhythm.expect("no errors");
/// let file = take::json::CountFile::of(&rhythm, &counting::count(&rhythm));
/// let text = take::json::text(&file);
/// assert!(text.starts_with("{\n  \"version\": 1,\n  \"title\": null,\n  \"system\": \"numbers\""));
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CountFile {
    version: u32,
    title: Option<String>,
    system: String,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    variants: Vec<String>,
    bars: Vec<CountedBarForm>,
}

/// One bar as it is performed: a repeat is written out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CountedBarForm {
    number: u32,
    pass: u32,
    meter: String,
    pickup: bool,
    counts: Vec<CountedForm>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    feet: Vec<StepForm>,
    notes: Vec<NoteForm>,
}

/// One count: where, what is said and how, what is done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CountedForm {
    at: String,
    say: Option<String>,
    /// Only where it is not simply said.
    #[serde(skip_serializing_if = "Option::is_none")]
    voicing: Option<&'static str>,
    #[serde(rename = "do")]
    deed: &'static str,
}

/// One movement of the foot: when, and where it is then.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StepForm {
    at: String,
    foot: &'static str,
}

/// One written note or rest: where, how long, what is done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NoteForm {
    at: String,
    length: String,
    #[serde(rename = "do")]
    deed: &'static str,
}

impl CountFile {
    /// The form of `rhythm`, counted as `line`. `line` must be of `rhythm`; bars it does not know are left out.
    #[must_use]
    pub fn of(rhythm: &Rhythm, line: &CountLine) -> Self {
        let performance = rhythm.performance();
        let bars = performance.bars().iter().filter_map(|bar| CountedBarForm::of(rhythm, line, bar));
        Self {
            version: VERSION,
            title: rhythm.title().map(str::to_owned),
            system: line.system().name().to_owned(),
            variants: line.system().chosen().map(str::to_owned).collect(),
            bars: bars.collect(),
        }
    }
}

impl CountedBarForm {
    fn of(rhythm: &Rhythm, line: &CountLine, performed: &PerformedBar) -> Option<Self> {
        let bar = rhythm.bars().get(performed.index)?;
        let counted = line.bars().get(performed.index)?;
        Some(Self {
            number: performed.number,
            pass: performed.pass,
            meter: bar.meter().to_string(),
            pickup: bar.is_pickup(),
            counts: counted.counts().iter().map(CountedForm::of).collect(),
            feet: counted.feet().iter().map(StepForm::of).collect(),
            notes: spell(bar).iter().map(NoteForm::of).collect(),
        })
    }
}

impl CountedForm {
    fn of(count: &Count) -> Self {
        let say = count.say.as_ref().map(|word| word.as_str().to_owned());
        let voicing = match count.voicing {
            Voicing::Said | Voicing::Silent => None,
            Voicing::Softer => Some("softer"),
            Voicing::Parentheses => Some("parentheses"),
        };
        Self { at: count.at.to_string(), say, voicing, deed: deed(count.deed) }
    }
}

impl StepForm {
    fn of(step: &Step) -> Self {
        let foot = match step.foot {
            Foot::Down => "down",
            Foot::Up => "up",
        };
        Self { at: step.at.to_string(), foot }
    }
}

impl NoteForm {
    fn of(note: &Note) -> Self {
        Self { at: note.at.to_string(), length: note.length.to_string(), deed: deed(note.deed) }
    }
}
