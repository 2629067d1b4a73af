//! What the teacher makes of a take: the rubric, and what is overruled and noted.

use std::fmt::Write as _;
use std::path::Path;

use judge::{Click, FindingKind, Judgement, Known, Line, Scored, score};
use take::Notes;
use take::json::{FindingRef, RemarkForm, ScoredForm, TeacherForm};
use timebase::Seconds;

use crate::failure::Failure;
use crate::flags::{JudgeFlags, TeacherFlags};
use crate::output;
use crate::rubric_file::RubricFile;

/// One player of a take, judged.
#[derive(Debug)]
pub(super) struct Judged<'a> {
    pub(super) label: &'a str,
    pub(super) tolerance: Seconds,
    /// Whether the latency is known, so that the distance from the click is the player's.
    pub(super) calibrated: bool,
    pub(super) judgement: Judgement,
}

/// What is said beside the judgements.
#[derive(Debug)]
pub(super) struct Said {
    rubric: Option<Vec<(String, Seconds, Scored)>>,
    notes: Notes,
    overruled: Vec<FindingRef>,
}

/// Keeps what the flags say of the take, marks what is overruled in the judgements, and scores them by the rubric.
pub(super) fn said(
    flags: &JudgeFlags,
    rubric: Option<&RubricFile>,
    players: &mut [Judged<'_>],
) -> Result<Said, Failure> {
    let notes = notes(&flags.take, &flags.teacher, players)?;
    if let Some(rubric) = rubric {
        tell_of_strangers(rubric, players);
    }
    let mut overruled = Vec::new();
    let mut scored = Vec::new();
    for player in players {
        let refs = refs(player);
        let out: Vec<bool> = refs.iter().map(|finding| notes.overrules(finding)).collect();
        if let Some(rubric) = rubric {
            let known = Known { tolerance: player.tolerance, calibrated: player.calibrated, overruled: &out };
            let scored_player = score(&player.judgement, &rubric.rubric, &known);
            scored.push((player.label.to_owned(), player.tolerance, scored_player));
        }
        mark(player, &out, rubric.is_some());
        overruled.extend(refs.into_iter().zip(out).filter(|(_, out)| *out).map(|(finding, _)| finding));
    }
    Ok(Said { rubric: rubric.map(|_| scored), notes, overruled })
}

fn refs(player: &Judged<'_>) -> Vec<FindingRef> {
    player.judgement.findings().iter().map(|finding| FindingRef::of(player.label, finding)).collect()
}

/// The notes of the take, with what the flags add to them.
fn notes(take: &Path, flags: &TeacherFlags, players: &[Judged<'_>]) -> Result<Notes, Failure> {
    let now = || jiff::Zoned::now().strftime("%Y-%m-%dT%H:%M:%S%:z").to_string();
    let adds = flags.overrule.is_some() || flags.uphold.is_some() || flags.note.is_some();
    if !take.is_dir() {
        return if adds {
            Err(Failure::Call(format!(
                "{} is no take folder: notes and overruled findings are kept with take folders only, such as \
                 `countline listen` and the window make",
                take.display()
            )))
        } else {
            Ok(Notes::default())
        };
    }
    let kept = Notes::read(take).map_err(Failure::job)?;
    let words = flags.note.clone();
    if words.as_ref().is_some_and(|words| words.trim().is_empty()) {
        return Err(Failure::Call("--note is empty: write what is to be kept with the take".to_owned()));
    }
    let note = if let Some(given) = &flags.overrule {
        let there: Vec<FindingRef> = players.iter().flat_map(refs).collect();
        RemarkForm::overruled(&now(), named(given, there, "found in this take")?, words)
    } else if let Some(given) = &flags.uphold {
        let overruled =
            kept.all().iter().filter_map(RemarkForm::finding).filter(|finding| kept.overrules(finding));
        let mut there: Vec<FindingRef> = Vec::new();
        for finding in overruled {
            if !there.contains(finding) {
                there.push(finding.clone());
            }
        }
        RemarkForm::upheld(&now(), named(given, there, "overruled in this take")?, words)
    } else if let Some(words) = &words {
        RemarkForm::note(&now(), words)
    } else {
        return Ok(kept);
    };
    Notes::add(take, note).map_err(Failure::job)
}

/// The finding that is meant, which must be one of these.
fn named(given: &str, there: Vec<FindingRef>, what: &str) -> Result<FindingRef, Failure> {
    let names: Vec<String> = there.iter().map(FindingRef::to_string).collect();
    let found = there.into_iter().find(|finding| finding.to_string() == given);
    found.ok_or_else(|| {
        let list = if names.is_empty() { "nothing".to_owned() } else { names.join(", ") };
        Failure::Call(format!("\"{given}\" is no finding {what}: {what} is {list}"))
    })
}

/// Marks the findings that are overruled, and leaves out what may not be told: by a rubric nothing is said of the distance
/// from the click while the latency is unknown.
fn mark(player: &mut Judged<'_>, overruled: &[bool], by_rubric: bool) {
    let silent = |kind| matches!(kind, FindingKind::SteadyLead | FindingKind::SteadyLag);
    let mut findings = player.judgement.findings().to_vec();
    for (finding, _) in findings.iter_mut().zip(overruled).filter(|(_, out)| **out) {
        finding.says.push_str(" (overruled by the teacher)");
        // It is told by itself.
        finding.slip = None;
    }
    if by_rubric && !player.calibrated {
        findings.retain(|finding| !silent(finding.kind));
    }
    player.judgement = player.judgement.clone().with_findings(findings);
}

/// A rubric that speaks of players, and of nobody in the take, is likely another class's.
fn tell_of_strangers(rubric: &RubricFile, players: &[Judged<'_>]) {
    let named: Vec<&str> = rubric.players().collect();
    let known = named.iter().any(|name| players.iter().any(|player| player.label == *name));
    if !named.is_empty() && !known {
        let here: Vec<&str> = players.iter().map(|player| player.label).collect();
        output::note(&format!(
            "countline: the rubric speaks of {}, and the players of the take are called {}",
            named.join(", "),
            here.join(", ")
        ));
    }
}

impl Said {
    /// The form of it in JSON.
    pub(super) fn form(&self) -> TeacherForm {
        let scored = |(label, tolerance, scored): &(String, Seconds, Scored)| {
            ScoredForm::of(label, *tolerance, scored, click(scored.click))
        };
        let notes = self.notes.all();
        TeacherForm {
            rubric: self.rubric.as_ref().map(|players| players.iter().map(scored).collect()),
            notes: (!notes.is_empty()).then(|| notes.to_vec()),
            overruled: (!self.overruled.is_empty()).then(|| self.overruled.clone()),
        }
    }

    /// It as a person reads it, behind the report.
    pub(super) fn text(&self) -> String {
        let mut text = String::new();
        for (label, _, scored) in self.rubric.iter().flatten() {
            let _ = writeln!(text, "\n{label} by the rubric");
            let _ = writeln!(text, "  the right rhythm: {}", line(&scored.rhythm));
            let _ = writeln!(text, "  a steady pulse: {}", line(&scored.pulse));
            let _ = writeln!(text, "  {}", click(scored.click));
        }
        if !self.notes.all().is_empty() {
            text.push_str("\nthe teacher's notes\n");
        }
        for note in self.notes.all() {
            let about = note.finding().map(|finding| format!("{finding} {}", note.said()));
            let says: Vec<&str> = about.as_deref().into_iter().chain(note.words()).collect();
            let _ = writeln!(text, "  {}  {}", note.said_at(), says.join(": "));
        }
        text
    }
}

fn line(line: &Line) -> String {
    match &line.called {
        Some(called) => format!("{called}; {}", line.why),
        None => format!("no result: {}", line.why),
    }
}

fn click(click: Click) -> String {
    match click {
        Click::Bias(bias) => {
            let ms = bias.as_millis_f64().round();
            if ms == 0.0 {
                "on the click".to_owned()
            } else {
                format!("{:.0} ms {} the click", ms.abs(), if ms < 0.0 { "ahead of" } else { "behind" })
            }
        }
        Click::Uncalibrated => {
            "ahead of or behind the click counts for nothing: the latency of pad and speaker is not known and is in the bias; \
             measure it and give it with --latency-ms"
                .to_owned()
        }
        Click::TooFew => "nothing is said of the click: too few attacks were matched".to_owned(),
    }
}
