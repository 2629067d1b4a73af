//! `countline listen PLAN.drill`: a drill plan in the terminal, round after round.

use std::sync::Arc;

use judge::{Settings, Split};
use live::{Drill, Event, Part, PlayerState, RoundOver, new_take_dir};
use sequencer::drill::SectionKind;
use sequencer::{Plan, sequence};
use take::json;
use take::{Ended, Take};
use timebase::{Moment, Seconds};

use super::drill_report::{self, Answer, Heard};
use super::listen::{self, Stage};
use super::planned::{self, Opened};
use super::report::{self, Words};
use crate::failure::Failure;
use crate::flags::ListenFlags;
use crate::output;

pub(super) fn run(flags: &ListenFlags, settings: Settings) -> Result<(), Failure> {
    check(flags)?;
    let Opened { planned, voice, levels } =
        planned::open(&flags.file, flags.plan.tempo, flags.planned.good_percent)?;
    let voice = flags.plan.voice.clone().or(voice).unwrap_or_else(|| Drill::DEFAULT_VOICE.to_owned());
    take::voices::open(&voice).map_err(super::voice_failure)?;
    let title = planned.title.clone();
    let rhythms: Vec<Option<String>> =
        planned.drill.rhythms().iter().map(|material| material.rhythm().title().map(str::to_owned)).collect();
    let words: Vec<Words> = planned
        .drill
        .rhythms()
        .iter()
        .map(|material| {
            let rhythm = material.rhythm();
            Words::of(sequence(rhythm, &counting::count(rhythm), &Plan::of(rhythm)).counts())
        })
        .collect();
    let (least, most) = planned.drill.bounds();
    let (least, most) = (super::drill::clock(least), super::drill::clock(most));
    let length = if least == most { least } else { format!("{least} to {most}, as its rounds go") };
    let about = format!("{}, {length}", title.as_deref().unwrap_or("a drill plan"));
    let stage = listen::open(flags, &about)?;
    let mut lesson =
        Lesson { stage, rhythms, words, rhythm: 0, round: 0, players: Arc::new([]), rounds: Vec::new() };
    if !lesson.stage.begins()? {
        return Ok(());
    }
    let take = match (&flags.take, flags.no_take) {
        (_, true) => None,
        (Some(dir), false) => Some(dir.clone()),
        (None, false) => Some(new_take_dir(std::path::Path::new("takes"), title.as_deref())),
    };
    let drill = Drill {
        voice,
        levels: super::sounds::levels_over(levels, &flags.sounds),
        settings,
        latency: flags.players.latency_ms.map(Seconds::from_millis_f64),
        take,
        ..Drill::of_plan(planned)
    };
    lesson.stage.rig.start(drill).map_err(Failure::job)?;
    lesson.run(flags, title.as_deref())
}

/// What is of one rhythm only.
fn check(flags: &ListenFlags) -> Result<(), Failure> {
    let given = [
        (flags.part.is_some(), "--part", "the plan says which part is played"),
        (!flags.turns.is_empty(), "--turns", "the plan says who takes turns"),
        (flags.replay.is_some(), "--replay", "a take has one tempo, the rounds have theirs"),
    ];
    planned::check(&flags.plan, &flags.sounds, &flags.counting)?;
    match given.iter().find(|(given, ..)| *given) {
        Some((_, flag, why)) => Err(Failure::Call(format!("{flag} is not for a drill plan: {why}"))),
        None => Ok(()),
    }
}

/// A drill plan while it is played.
struct Lesson {
    stage: Stage,
    /// The titles of its rhythms, and how their places are called.
    rhythms: Vec<Option<String>>,
    words: Vec<Words>,
    /// Of the round that is heard.
    rhythm: usize,
    round: usize,
    players: Arc<[PlayerState]>,
    rounds: Vec<Arc<RoundOver>>,
}

impl Lesson {
    fn run(mut self, flags: &ListenFlags, title: Option<&str>) -> Result<(), Failure> {
        loop {
            self.stage.press();
            let Some(event) = self.stage.next_event()? else { continue };
            match event {
                Event::Part(part) => self.enter(&part),
                Event::Judged(players) => self.players = players,
                Event::Struck { player, attack } => {
                    let label = self.players.get(player).map_or("?", |player| player.label.as_str());
                    self.stage.meet(self.players.get(player));
                    let line = report::stroke(label, &attack, &self.words[self.rhythm]);
                    self.stage.say(&line);
                }
                Event::Round(over) => {
                    self.stage.say(&round_over(&over));
                    self.rounds.push(over);
                }
                Event::Ended { ended, take, disturbances, cut, .. } => {
                    self.stage.keys = None;
                    self.finish(flags, title, ended, take.as_deref(), disturbances)?;
                    cut.iter().for_each(|cut| output::note(&cut.says(&cut.after())));
                    return Ok(());
                }
                other => self.stage.heed(other)?,
            }
        }
    }

    fn enter(&mut self, part: &Part) {
        self.rhythm = part.rhythm;
        if self.round != part.round {
            self.round = part.round;
            let title = self.rhythms[part.rhythm].as_deref();
            let what = drill_report::what(part.entry_tempo, title, part.rhythm, &part.played);
            self.stage.say(&format!("round {}: {what}", part.round));
        }
        if let Some(words) = part_words(part) {
            self.stage.say(&words);
        }
    }

    fn finish(
        &self,
        flags: &ListenFlags,
        title: Option<&str>,
        ended: Ended,
        take: Option<&std::path::Path>,
        disturbances: usize,
    ) -> Result<(), Failure> {
        listen::tell_end(ended, disturbances);
        let zero = match take {
            Some(dir) => Take::open(dir).map_err(Failure::job)?.header().bar_one,
            None => Moment::ZERO,
        };
        let rounds: Vec<Heard> = self.rounds.iter().map(|over| self.heard(over, zero)).collect();
        if flags.json {
            output::print(&json::text(&drill_report::form(title, &rounds, Split::DEFAULT_RESOLUTION)))?;
        } else {
            output::print(&format!("\n{}", drill_report::report(title, &rounds, report::FINDINGS)))?;
        }
        if let Some(dir) = take {
            output::note(&format!("the take is in {}", dir.display()));
        }
        Ok(())
    }

    /// A round that is over, in whose take the drill's zero falls at `zero`.
    fn heard(&self, over: &RoundOver, zero: Moment) -> Heard {
        let answers = over.answers.iter().map(|answered| Answer {
            player: answered.player.clone(),
            bar_one: zero + answered.bar_one.since_zero(),
            players: answered
                .players
                .iter()
                .map(|player| (player.label.clone(), Arc::clone(&player.judgement)))
                .collect(),
        });
        Heard {
            number: over.round,
            rhythm: over.rhythm,
            title: self.rhythms[over.rhythm].clone(),
            played: over.played.to_vec(),
            tempo: over.tempo,
            entry_tempo: over.entry_tempo,
            good: drill_report::is_good(over.outcome),
            answers: answers.collect(),
        }
    }
}

/// What is to be done in a part; nothing is said of the beats between.
fn part_words(part: &Part) -> Option<String> {
    match (part.section, &part.player) {
        (SectionKind::CountIn, _) => Some("count-in".to_owned()),
        (SectionKind::Model, _) => Some("listen: all of it".to_owned()),
        (SectionKind::Call, _) => Some("listen".to_owned()),
        (SectionKind::Response(_), Some(player)) => Some(format!("{player}: your turn")),
        (SectionKind::Response(_), None) => Some("your turn".to_owned()),
        (SectionKind::Rest | SectionKind::Breath, _) => None,
    }
}

/// `round 2: good (K1 9 of 10 on time, 1 missed)`.
fn round_over(over: &RoundOver) -> String {
    let became = drill_report::became(drill_report::is_good(over.outcome));
    let heard = over.answers.iter().filter(|answered| answered.tally.asked > 0);
    let told: Vec<String> = heard
        .map(|answered| {
            let player = answered.player.as_ref().map_or_else(String::new, |player| format!("{player} "));
            format!("{player}{}", drill_report::tally(answered.tally))
        })
        .collect();
    let told = if told.is_empty() { String::new() } else { format!(" ({})", told.join("; ")) };
    format!("round {}: {became}{told}", over.round)
}
