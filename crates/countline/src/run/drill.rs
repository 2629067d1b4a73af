//! `countline drill`: a plan shown round by round, or made a WAV file.

use std::cell::Cell;
use std::fmt::Write as _;
use std::path::PathBuf;

use rhythm::Rhythm;
use sequencer::drill::{
    Audible, CountInWhen, Drill, DrillPlan, Outcome, PickupBy, Round, RoundKind, SectionKind, TurnOrder,
    bars_told,
};
use sequencer::{Choice, Levels, Sounds};
use take::json::{self, DrillFile as DrillJson};
use take::wav::WavForm;
use timebase::Seconds;

use super::planned::{self, Counted};
use super::{drill_sound, tell};
use crate::drill_file::{self, DrillFile, StepsAsked};
use crate::failure::Failure;
use crate::flags::{CountedFlag, DrillFlags, OutcomeFlag, PickupFlag, Sound, TurnsFlag};
use crate::overwriting::{self, Files};
use crate::parts::Parts;
use crate::{counting_file, output};

pub(super) fn run(flags: &DrillFlags) -> Result<(), Failure> {
    if flags.template {
        return output::print(drill_file::TEMPLATE);
    }
    let mut file = planned::file(&flags.files)?;
    if file.is_none() {
        super::sounds::check_beside(&flags.sounds, flags.names_tone())?;
    }
    if let Some((_, file)) = &mut file {
        file.part = flags.part.clone().or(file.part.take());
    }
    let rhythms = match &file {
        Some((path, file)) => {
            overwriting::check(&flags.written(Files::of_plan(path, &file.rhythms)))?;
            planned::rhythms(path, file)?
        }
        None => planned::chosen_parts(&flags.files, flags.part.as_deref())?,
    };
    let drill = drill(flags, file.as_ref(), rhythms)?;
    let voice = flags.voice.clone().or_else(|| file.as_ref().and_then(|(_, file)| file.voice.clone()));
    let voice = voice.unwrap_or_else(|| live::Drill::DEFAULT_VOICE.to_owned());
    let pack = take::voices::open(&voice).map_err(super::voice_failure)?;
    let title = file.as_ref().and_then(|(_, file)| file.title.as_deref());
    let of_plan = file.as_ref().map_or_else(Levels::default, |(_, file)| file.levels);
    let mut levels = super::sounds::levels_over(of_plan, &flags.sounds);
    levels.muted.tone &= !drill.plan().heard.names_tone() || flags.sounds.mute.contains(&Sound::Tone);
    if flags.tracks.is_some() {
        super::sounds::check_heard(levels)?;
    }
    let (mut parts, mut written) = (Parts::default(), String::new());
    if flags.asks_for_sound() {
        let pack = pack.at_rate(flags.rate).map_err(Failure::job)?;
        let sounds = Sounds::of_drill(&drill, &pack).map_err(Failure::job)?;
        let form = WavForm {
            rate: flags.rate,
            // Whoever says where something is heard has two loudspeakers, also where it is the middle.
            channels: if levels.is_stereo() || !flags.sounds.pan.is_empty() { 2 } else { 1 },
            samples: flags.bits.samples(),
            seed: 0,
        };
        let played = || rounds(&drill, &flags.rounds);
        let outs = outs(&mut parts, flags, levels)?;
        let sound = drill_sound::write(&mut parts, &outs, form, &drill, played, &sounds)?;
        let words = drill.words();
        tell::borrowed(words.iter().map(|word| word.as_str()), &pack);
        tell::compromises(&sound.compromises, &voice);
        written += &sound.told;
    }
    if let Some(out) = &flags.midi {
        let rounds: Vec<Round> = rounds(&drill, &flags.rounds).collect();
        written += &drill_sound::write_midi(&mut parts, out, &drill, &rounds, title, levels.muted)?;
    }
    parts.commit()?;
    if flags.json {
        // Whoever reads the plan as JSON wants nothing else where it stands.
        written.lines().for_each(output::note);
        let rounds: Vec<Round> = rounds(&drill, &flags.rounds).collect();
        return output::print(&json::text(&DrillJson::of(title, &drill, &rounds)));
    }
    output::print(&written)?;
    if !flags.asks_for_files() {
        output::print(&told(title, &drill, rounds(&drill, &flags.rounds)))?;
    }
    Ok(())
}

/// The sound files, each with what is heard in it.
fn outs(parts: &mut Parts, flags: &DrillFlags, levels: Levels) -> Result<Vec<(PathBuf, Levels)>, Failure> {
    let mut outs: Vec<(PathBuf, Levels)> = flags.out.iter().map(|out| (out.clone(), levels)).collect();
    if let Some(folder) = &flags.tracks {
        parts.folder(folder)?;
        let alone =
            DrillFlags::TRACKS.map(|(name, sound)| (folder.join(name), super::sounds::alone(levels, sound)));
        outs.extend(alone.into_iter().filter_map(|(file, levels)| Some((file, levels?))));
    }
    Ok(outs)
}

/// What the plan's file says, and what the flags say before it.
fn drill(
    flags: &DrillFlags,
    file: Option<&(PathBuf, DrillFile)>,
    rhythms: Vec<Rhythm>,
) -> Result<Drill, Failure> {
    let said = file.map(|(_, file)| file.clone());
    let (mut plan, steps) = said.map_or_else(Default::default, |file| (file.plan, file.steps));
    let of_all = flags.sounds.tone || file.is_some_and(|(_, file)| file.has_tone);
    overlay(&mut plan, flags);
    if of_all && plan.heard.names_tone() {
        plan.heard = plan.heard.with_tone_at_claps();
    }
    check(&plan, flags)?;
    let steps = StepsAsked {
        at: flags.tempo.or(steps.at),
        step: flags.step.or(steps.step),
        slowest: flags.slowest.or(steps.slowest),
        fastest: flags.fastest.or(steps.fastest),
        up_after: flags.up_after.or(steps.up_after),
        down_after: flags.down_after.or(steps.down_after),
        until_fastest: flags.until_fastest || steps.until_fastest,
    };
    let mut counted = Counted::of(file.map(|(_, file)| file))?;
    if flags.counting.is_some() || !flags.variant.is_empty() {
        let of_plan = file.and_then(|(_, file)| file.counting.as_deref());
        let name = flags.counting.as_deref().or(of_plan).unwrap_or(planned::NUMBERS);
        counted.system = counting_file::system_in(name, &flags.variant)?;
    }
    let of_plan = Choice { entry: plan.count_in.entry, ..counted.choice };
    counted.choice = super::sounds::choice_over(of_plan, &flags.sounds);
    plan.count_in.entry = std::mem::take(&mut counted.choice.entry);
    super::sounds::check_entry(plan.count_in.entry, plan.count_in.bars)?;
    planned::made(plan, steps, rhythms, &counted, file)
}

/// Refuses what would mean nothing in this plan.
fn check(plan: &DrillPlan, flags: &DrillFlags) -> Result<(), Failure> {
    let sounds = &flags.sounds;
    let is_heard = !(sounds.level.is_empty() && sounds.pan.is_empty()) || sounds.tone;
    let nothing = [
        (
            is_heard && !flags.asks_for_sound(),
            "--level, --pan and --tone",
            "no sound is written: give -o or --tracks too",
        ),
        (
            !sounds.mute.is_empty() && !flags.asks_for_files(),
            "--mute",
            "nothing is written: give -o, --tracks or --midi too",
        ),
        (!plan.is_called && flags.call.is_some(), "--call", "nothing is called where players play along"),
        (!plan.is_called && flags.hide, "--hide", "nothing is called where players play along"),
        (
            plan.turns.players.len() < 2 && flags.turns.is_some(),
            "--turns",
            "nobody takes turns: give --players K1,K2",
        ),
    ];
    match nothing.iter().find(|(given, ..)| *given) {
        Some((_, flag, why)) => {
            Err(Failure::Call(format!("{flag}: nothing would come of it here, for {why}")))
        }
        None => Ok(()),
    }
}

fn overlay(plan: &mut DrillPlan, flags: &DrillFlags) {
    let set = |value: &mut u32, flag: Option<u32>| *value = flag.unwrap_or(*value);
    plan.bars = flags.bars.or(plan.bars);
    plan.is_called &= !flags.play_along;
    plan.is_hidden_in_call |= flags.hide;
    set(&mut plan.breath, flags.breath);
    set(&mut plan.rest, flags.rest);
    set(&mut plan.count_in.bars, flags.count_in);
    set(&mut plan.again, flags.again);
    set(&mut plan.times, flags.times);
    if let Some(before) = flags.count_in_before {
        plan.count_in.when = match before {
            CountedFlag::Changes => CountInWhen::Changes,
            CountedFlag::Start => CountInWhen::Start,
            CountedFlag::Rounds => CountInWhen::Rounds,
        };
    }
    if flags.model {
        plan.heard.model = plan.heard.model.or(Some(Audible::ALL));
    }
    if let Some(call) = &flags.call {
        plan.heard.call = audible(&call.0);
    }
    if let Some(response) = &flags.response {
        plan.heard.response = audible(&response.0);
    }
    if let Some(pickup) = flags.pickup {
        plan.pickup_by = match pickup {
            PickupFlag::Call => PickupBy::Call,
            PickupFlag::Players => PickupBy::Players,
            PickupFlag::Both => PickupBy::Both,
        };
    }
    plan.silent.by_turns = flags.silent.or(plan.silent.by_turns);
    if let Some(players) = &flags.players {
        plan.turns.players.clone_from(players);
    }
    if let Some(turns) = flags.turns {
        plan.turns.order = match turns {
            TurnsFlag::ByRound => TurnOrder::ByRound,
            TurnsFlag::WithinRound => TurnOrder::WithinRound,
        };
    }
}

fn audible(sounds: &[Sound]) -> Audible {
    Audible {
        click: sounds.contains(&Sound::Click),
        count: sounds.contains(&Sound::Count),
        clap: sounds.contains(&Sound::Clap),
        tone: sounds.contains(&Sound::Tone),
    }
}

/// The rounds, if those that are asked become what the list says; its last word stands for all that follow.
fn rounds<'a>(drill: &'a Drill, outcomes: &'a [OutcomeFlag]) -> impl Iterator<Item = Round> + 'a {
    let asked = Cell::new(0_usize);
    drill.rounds_if(move |round| {
        let number = asked.get();
        asked.set(number + usize::from(round.kind() != RoundKind::Model));
        match outcomes.get(number).or(outcomes.last()) {
            Some(OutcomeFlag::Bad) => Outcome::Bad,
            _ => Outcome::Good,
        }
    })
}

/// The plan as a person reads it.
fn told(title: Option<&str>, drill: &Drill, rounds: impl Iterator<Item = Round>) -> String {
    let mut rows =
        vec![["round", "begins", "lasts", "tempo", "rhythm", "bars", ""].map(str::to_owned).to_vec()];
    let mut zero = None;
    let mut whole = Seconds::ZERO;
    for round in rounds {
        let zero = *zero.get_or_insert(round.starts());
        whole = round.ends() - zero;
        rows.push(vec![
            round.number().to_string(),
            clock(round.starts() - zero),
            clock(round.length()),
            round.entry_tempo().to_string(),
            (round.rhythm() + 1).to_string(),
            bars_told(round.played()),
            sections(&round, &drill.plan().turns.players),
        ]);
    }
    let mut out = String::new();
    if let Some(title) = title {
        let _ = writeln!(out, "{title}");
    }
    for (number, material) in (1..).zip(drill.rhythms()) {
        let _ = writeln!(out, "rhythm {number}: {}", material.rhythm().title().unwrap_or("without a title"));
    }
    let (least, most) = drill.bounds();
    let between = if least == most {
        String::new()
    } else {
        format!(" (between {} and {}, as its rounds go)", clock(least), clock(most))
    };
    let many = if rows.len() == 2 { "1 round".to_owned() } else { format!("{} rounds", rows.len() - 1) };
    let _ = writeln!(out, "{many}, {}{between}\n", clock(whole));
    out.push_str(&table(&rows));
    out
}

fn sections(round: &Round, players: &[String]) -> String {
    let told = round.sections().iter().map(|section| match section.kind {
        SectionKind::Rest => "rest".to_owned(),
        SectionKind::CountIn => "count-in".to_owned(),
        SectionKind::Model => "model".to_owned(),
        SectionKind::Call => "call".to_owned(),
        SectionKind::Breath => "breath".to_owned(),
        SectionKind::Response(number) => {
            let player = round.responses().get(number).and_then(|response| players.get(response.player()?));
            player.map_or_else(|| "response".to_owned(), |player| format!("response {player}"))
        }
    });
    let told = told.collect::<Vec<_>>().join(", ");
    if round.kind() == RoundKind::Hard { format!("{told} (hard bar)") } else { told }
}

/// Minutes and seconds, to a tenth: `1:07.5`.
pub(super) fn clock(length: Seconds) -> String {
    let tenths = (length.as_nanos() + 50_000_000) / 100_000_000;
    format!("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
}

/// Columns under one another, two blanks between them, none at the end of a line.
pub(super) fn table(rows: &[Vec<String>]) -> String {
    let columns = rows.first().map_or(0, Vec::len);
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let line = row.iter().zip(&widths).map(|(cell, width)| format!("{cell:<width$}")).collect::<Vec<_>>();
        out.push_str(line.join("  ").trim_end());
        out.push('\n');
    }
    out
}
