use std::borrow::Cow;

use judge::{Attack, Finding, Judgement, Section, Split, Task};
use rhythm::AttackId;
use serde::{Deserialize, Serialize};
use timebase::{Moment, Seconds, Span};

use super::form::{rounded, shown_ms};
use super::split::{SectionForm, SplitForm};
use super::{TeacherForm, VERSION};

/// What `judge --json` prints: the judgement of every player.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JudgeFile {
    version: u32,
    players: Vec<PlayerJudgement>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    section: Option<SectionForm>,
    #[serde(flatten)]
    teacher: TeacherForm,
}

/// The judgement of one player.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlayerJudgement {
    player: String,
    /// `pulse` where it is not the rhythm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    task: Option<String>,
    attacks: Vec<AttackForm>,
    missed: Vec<MissedForm>,
    bias_ms: Option<f64>,
    spread_ms: Option<f64>,
    drift_percent: Option<f64>,
    findings: Vec<FindingForm>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    doubtful: Vec<FindingForm>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    split: Option<SplitForm>,
}

/// One attack that was played. An extra answers no note and has no `bar`, `pass`, `at` and `offset_ms`; the strokes of a
/// grace or a roll beside the one that answers their note have its place and no offset.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AttackForm {
    time_ms: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    bar: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pass: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none", with = "fraction")]
    at: Option<Span>,
    #[serde(skip_serializing_if = "Option::is_none")]
    offset_ms: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    shift_ms: Option<f64>,
    verdict: Cow<'static, str>,
}

/// One written attack: that nothing answers, or that a finding is about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MissedForm {
    bar: u32,
    pass: u32,
    at: String,
}

/// One mistake in a teacher's words; what concerns the whole take has no place: null.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FindingForm {
    kind: String,
    bar: Option<u32>,
    pass: Option<u32>,
    at: Option<String>,
    says: String,
    confidence: f64,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    notes: Vec<MissedForm>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    strokes_ms: Vec<f64>,
}

/// A fraction of a whole note as its text, which is made only when it is written: there are many in a take.
mod fraction {
    use serde::de::Error;
    use serde::{Deserialize, Deserializer, Serializer};
    use timebase::Span;

    pub(super) fn serialize<S: Serializer>(span: &Option<Span>, to: S) -> Result<S::Ok, S::Error> {
        match span {
            Some(span) => to.collect_str(span),
            None => to.serialize_none(),
        }
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Span>, D::Error> {
        let text: Option<String> = Deserialize::deserialize(from)?;
        text.map(|text| text.parse().map_err(D::Error::custom)).transpose()
    }
}

impl JudgeFile {
    /// The form of these judgements, each with what its player is called. The times of a judgement count from count 1
    /// of bar 1; `bar_one` is where that falls in the take's own time. The stamps are taken to be worth
    /// [`Split::DEFAULT_RESOLUTION`].
    #[must_use]
    pub fn of<'a>(judged: impl IntoIterator<Item = (&'a str, &'a Judgement)>, bar_one: Moment) -> Self {
        Self::at_resolution(judged, bar_one, Split::DEFAULT_RESOLUTION)
    }

    /// The same of stamps that are worth `resolution`: no interval and no figure beside one is told finer.
    #[must_use]
    pub fn at_resolution<'a>(
        judged: impl IntoIterator<Item = (&'a str, &'a Judgement)>,
        bar_one: Moment,
        resolution: Seconds,
    ) -> Self {
        let judged: Vec<_> = judged.into_iter().collect();
        let player = |&(label, judgement): &(&str, &Judgement)| {
            PlayerJudgement::of(label, judgement, bar_one, resolution)
        };
        let play_it = judged.iter().filter(|(_, judgement)| judgement.task() == Task::Rhythm).count();
        let section = (play_it > 1).then(|| {
            let judgements: Vec<&Judgement> = judged.iter().map(|(_, judgement)| *judgement).collect();
            let labels = judged.iter().map(|(label, _)| *label);
            SectionForm::of(&Section::of(&judgements), labels, resolution)
        });
        let players = judged.iter().map(player).collect();
        Self { version: VERSION, players, section, teacher: TeacherForm::default() }
    }

    /// The same with what the teacher makes of it.
    #[must_use]
    pub fn with_teacher(self, teacher: TeacherForm) -> Self {
        Self { teacher, ..self }
    }
}

impl PlayerJudgement {
    fn of(label: &str, judgement: &Judgement, bar_one: Moment, resolution: Seconds) -> Self {
        let sums = judgement.sums();
        let of = |found: &[Finding]| {
            found.iter().map(|finding| FindingForm::of(finding, judgement, bar_one)).collect()
        };
        Self {
            player: label.to_owned(),
            task: (judgement.task() == Task::Pulse).then(|| "pulse".to_owned()),
            attacks: judgement.attacks().iter().map(|attack| AttackForm::of(attack, bar_one)).collect(),
            missed: judgement.missed().map(|note| MissedForm::of(note.id)).collect(),
            bias_ms: sums.bias.map(shown_ms),
            spread_ms: sums.spread.map(shown_ms),
            drift_percent: sums.drift.map(|drift| rounded(drift.percent)),
            findings: of(judgement.findings()),
            doubtful: of(judgement.doubtful()),
            split: Some(SplitForm::of(&judgement.split(resolution))),
        }
    }
}

impl AttackForm {
    fn of(attack: &Attack, bar_one: Moment) -> Self {
        let answer = attack.answer.as_ref();
        let place = answer.map(|answer| answer.id).or(attack.ornament);
        let shift = answer.map(|answer| answer.shift).filter(|shift| *shift != Seconds::ZERO);
        Self {
            time_ms: time_ms(attack, bar_one),
            bar: place.map(|id| id.bar),
            pass: place.map(|id| id.pass),
            at: place.map(|id| id.at),
            offset_ms: answer.map(|answer| shown_ms(attack.played.at - answer.written)),
            shift_ms: shift.map(shown_ms),
            verdict: Cow::Borrowed(attack.verdict().name()),
        }
    }
}

/// When an attack was played, in the take's own time.
fn time_ms(attack: &Attack, bar_one: Moment) -> f64 {
    shown_ms(attack.played.at - Moment::ZERO + bar_one.since_zero())
}

impl MissedForm {
    fn of(id: AttackId) -> Self {
        Self { bar: id.bar, pass: id.pass, at: id.at.to_string() }
    }
}

impl FindingForm {
    fn of(finding: &Finding, judgement: &Judgement, bar_one: Moment) -> Self {
        let stroke = |&stroke: &usize| judgement.attacks().get(stroke).map(|attack| time_ms(attack, bar_one));
        Self {
            kind: finding.kind.name().to_owned(),
            bar: finding.place.map(|place| place.bar),
            pass: finding.place.map(|place| place.pass),
            at: finding.place.map(|place| place.at.to_string()),
            says: finding.says.clone(),
            confidence: rounded(finding.confidence),
            notes: finding.notes.iter().copied().map(MissedForm::of).collect(),
            strokes_ms: finding.strokes.iter().filter_map(stroke).collect(),
        }
    }
}
