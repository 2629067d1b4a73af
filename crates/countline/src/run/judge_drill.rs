//! `countline judge PLAN.drill TAKE`: every response of a take of a drill plan, held against what was asked in it.

use std::sync::Arc;

use judge::{Settings, Split};
use live::stored::response_judged;
use rhythm::Rhythm;
use sequencer::drill::Material;
use sequencer::{Plan, sequence};
use take::json;
use take::{Drilled, DrilledResponse, Take};

use super::drill_report::{self, Answer, Heard};
use super::planned;
use crate::drill_file;
use crate::failure::Failure;
use crate::flags::JudgeFlags;
use crate::output;

pub(super) fn run(flags: &JudgeFlags, settings: &Settings) -> Result<(), Failure> {
    check(flags)?;
    let file = drill_file::read(&flags.file)?;
    let take = Take::open(&flags.take).map_err(Failure::job)?;
    let Some(drilled) = &take.header().drill else {
        return Err(Failure::Job(format!(
            "the take {} is of one rhythm and no drill plan: give the rhythm text instead of {}",
            flags.take.display(),
            flags.file.display()
        )));
    };
    super::judge::tell_what_runs_backwards(&take);
    let written = planned::rhythms(&flags.file, &file)?.iter().map(rhythm::text::write).collect::<Vec<_>>();
    if written != drilled.rhythms {
        output::note(
            "the plan's rhythms are others than those of the take: it is judged by those that it keeps",
        );
    }
    let rounds = rounds(drilled, &take, settings)?;
    let title = take.header().title.as_deref();
    if flags.json {
        let resolution = take.header().players.iter().filter_map(|player| player.resolution).max();
        let form = drill_report::form(title, &rounds, resolution.unwrap_or(Split::DEFAULT_RESOLUTION));
        return output::print(&json::text(&form));
    }
    output::print(&drill_report::report(title, &rounds, flags.findings))
}

/// What is of one rhythm only.
fn check(flags: &JudgeFlags) -> Result<(), Failure> {
    let given = [
        (flags.svg.is_some(), "--svg"),
        (flags.paper.pdf.is_some(), "--pdf"),
        (flags.part.is_some(), "--part"),
        (flags.channel.is_some(), "--channel"),
        (flags.start_ms.is_some(), "--start-ms"),
        (flags.tempo.is_some(), "--tempo"),
        (flags.no_click, "--no-click"),
        (flags.teacher.rubric.is_some(), "--rubric"),
    ];
    match given.iter().find(|(given, _)| *given) {
        Some((_, flag)) => Err(Failure::Call(format!(
            "{flag} is for the take of one rhythm: a drill plan's take has its rounds, their tempos and what was asked in it"
        ))),
        None => Ok(()),
    }
}

/// Every round judged by what the take says was asked.
fn rounds(drilled: &Drilled, take: &Take, settings: &Settings) -> Result<Vec<Heard>, Failure> {
    let read = |text: &String| {
        let reading = rhythm::text::read(text);
        reading.rhythm.ok_or_else(|| {
            Failure::Job("a rhythm that the take keeps is none: restore take.json from a copy".to_owned())
        })
    };
    let rhythms: Vec<Rhythm> = drilled.rhythms.iter().map(read).collect::<Result<_, _>>()?;
    let end = take.heard_until().unwrap_or_else(|| take.end());
    let mut rounds = Vec::new();
    for round in drilled.rounds.iter().filter(|round| round.from < end) {
        let rhythm = &rhythms[round.rhythm];
        let plan = Plan::of(rhythm).with_bpm(round.tempo.bpm()).map_err(Failure::job)?;
        let sequence = sequence(rhythm, &counting::count(rhythm), &plan);
        let asked = round.responses.first().map(|response| &response.counts);
        let material = Material::of(rhythm.clone(), sequence.clone());
        let (entry_tempo, played) = material.entry(round.tempo, asked, round.bars.0);
        let answer = |response: &DrilledResponse| {
            let counts = sequence.counts().get(response.counts.clone()).unwrap_or_default();
            let judged = response_judged(take, drilled, response, counts, *settings).into_iter();
            let players = judged.map(|(label, judgement)| (label, Arc::new(judgement))).collect();
            Answer { player: response.player.clone(), bar_one: response.bar_one, players }
        };
        rounds.push(Heard {
            number: round.number,
            rhythm: round.rhythm,
            title: rhythm.title().map(str::to_owned),
            played,
            tempo: round.tempo,
            entry_tempo,
            good: round.good,
            answers: round.responses.iter().filter(|response| response.from < end).map(answer).collect(),
        });
    }
    Ok(rounds)
}
