//! The jobs.

mod check_counts;
mod clicks;
mod count;
mod devices;
mod drill;
mod export;
mod format;
mod import;
mod judge;
mod listen;
mod practice;
mod recording;
mod report;
mod rubric;
mod sound;
mod spelling;
mod strokes;
mod systems;
mod teacher;
mod write;
mod write_counting;

use std::sync::Arc;

use input::{Grouping, InputSettings, SystemChoice};
use live::{Drill, RigSettings};
use rhythm::Rhythm;
use sequencer::{Levels, Plan};
use timebase::Seconds;
use voice::VoicePack;

use crate::failure::Failure;
use crate::flags::{Call, Job, MuteFlags, OutputFlags, PlanFlags, PlayerFlags, Sound, System};

/// Does what was called for.
pub(crate) fn run(call: Call) -> Result<(), Failure> {
    match call.job {
        Job::Count(flags) => count::run(&flags),
        Job::Format(flags) => format::run(&flags),
        Job::Spelling(flags) => spelling::run(&flags),
        Job::CheckCounts(flags) => check_counts::run(&flags),
        Job::Systems(flags) => systems::run(&flags),
        Job::Write(flags) => write::run(&flags),
        Job::Import(flags) => import::run(&flags),
        Job::Export(flags) => export::run(&flags),
        Job::Sound(flags) => sound::run(&flags),
        Job::Drill(flags) => drill::run(&flags),
        Job::Judge(flags) => judge::run(&flags),
        Job::Rubric(flags) => rubric::run(&flags),
        Job::Listen(flags) => listen::run(&flags),
        Job::Practice(flags) => practice::run(flags),
        Job::Devices(flags) => devices::run(&flags),
    }
}

/// The plan that the flags ask for.
fn plan(rhythm: &Rhythm, flags: &PlanFlags) -> Result<Plan, Failure> {
    let plan = Plan::of(rhythm).with_count_in(flags.count_in).map_err(call)?;
    match flags.tempo {
        Some(bpm) => plan.with_bpm(bpm).map_err(call),
        None => Ok(plan),
    }
}

/// The name of the voice that the flags ask for, if there is such a voice.
fn voice_name(flags: &PlanFlags) -> Result<String, Failure> {
    let name = flags.voice.as_deref().unwrap_or(Drill::DEFAULT_VOICE);
    VoicePack::shipped(name).map(|_| name.to_owned()).map_err(call)
}

/// How loud everything is, what the flags mute left out.
fn levels(flags: &MuteFlags) -> Levels {
    let mut levels = Levels::default();
    for sound in &flags.mute {
        match sound {
            Sound::Click => levels.click = 0.0,
            Sound::Count => levels.count = 0.0,
            Sound::Clap => levels.clap = 0.0,
        }
    }
    levels
}

/// The devices that the flags ask for.
fn rig_settings(sound: &OutputFlags, players: &PlayerFlags) -> RigSettings {
    let (system, midi) = match sound.system {
        System::Own => (audio::SoundSystem::Native, SystemChoice::Native),
        System::Jack => (audio::SoundSystem::Jack, SystemChoice::Jack),
    };
    let grouping = if players.by_channel { Grouping::ByChannel } else { Grouping::ByPort };
    RigSettings {
        sound: audio::DeviceSettings { system, device: sound.device.clone(), ..Default::default() },
        midi,
        inputs: players.midi_in.clone(),
        input: InputSettings { grouping, ..InputSettings::default() },
    }
}

fn tolerance(tolerance_ms: f64) -> Result<::judge::Settings, Failure> {
    ::judge::Settings::default().with_tolerance(Seconds::from_millis_f64(tolerance_ms)).map_err(call)
}

/// A wrong call, for the reason `error`.
fn call(error: impl std::fmt::Display) -> Failure {
    Failure::Call(error.to_string())
}

/// The players of a running or finished drill, as the report takes them.
fn judged(players: &Arc<[live::PlayerState]>) -> Vec<(&str, &::judge::Judgement)> {
    players.iter().map(|player| (player.label.as_str(), &*player.judgement)).collect()
}
