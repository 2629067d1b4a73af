//! The jobs.

mod calibrate;
mod calls;
mod chart;
mod check_counts;
mod clicks;
mod count;
mod devices;
mod drill;
mod drill_report;
mod drill_sound;
mod exercises;
mod export;
mod format;
mod import;
mod interruption;
mod judge;
mod judge_drill;
mod judge_paper;
mod keys;
mod listen;
mod listen_drill;
mod midi_out;
mod pack;
mod pack_page;
mod pages;
mod picture;
mod planned;
mod players;
mod practice;
mod recording;
mod report;
mod rubric;
mod section;
mod sheet;
mod sound;
mod sound_asked;
mod sound_files;
mod sounds;
mod spelling;
mod strokes;
mod systems;
mod teacher;
mod tell;
mod voice;
mod write;
mod write_counting;

use std::sync::Arc;

use ::voice::VoicePack;
use input::SystemChoice;
use live::{Drill, RecordSettings, RigSettings};
use rhythm::Rhythm;
use sequencer::Plan;
use timebase::Seconds;

use crate::failure::Failure;
use crate::flags::{Call, Job, OutputFlags, PlanFlags, PlayerFlags, System};
use crate::overwriting;

/// Does what was called for.
pub(crate) fn run(call: Call) -> Result<(), Failure> {
    overwriting::check(&call.job.files())?;
    match call.job {
        Job::Count(flags) => count::run(&flags),
        Job::Picture(flags) => picture::run(&flags),
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
        Job::Sheet(flags) => sheet::run(&flags),
        Job::Pack(flags) => pack::run(&flags),
        Job::Chart(flags) => chart::run(&flags),
        Job::Rubric(flags) => rubric::run(&flags),
        Job::Listen(flags) => {
            sounds::check(&flags.sounds)?;
            // A plan has a count-in of its own, and says so itself.
            if !planned::is_plan(&flags.file) {
                sounds::check_entry(flags.sounds.entry, flags.plan.count_in)?;
            }
            listen::run(&flags)
        }
        Job::Practice(flags) => practice::run(flags),
        Job::Devices(flags) => devices::run(&flags),
        Job::Voice(flags) => voice::run(&flags),
        Job::Players(flags) => players::run(&flags),
        Job::Calibrate(flags) => calibrate::run(&flags),
    }
}

/// The plan that the flags ask for.
fn plan(rhythm: &Rhythm, flags: &PlanFlags) -> Result<Plan, Failure> {
    let plan = Plan::of(rhythm).with_count_in(flags.count_in).map_err(call)?;
    match flags.tempo {
        Some(bpm) => plan.beginning_at(bpm, rhythm).map_err(call),
        None => Ok(plan),
    }
}

/// The voice that the flags ask for, by its name or folder, and opened.
fn voice(flags: &PlanFlags) -> Result<(String, VoicePack), Failure> {
    let name = flags.voice.as_deref().unwrap_or(Drill::DEFAULT_VOICE);
    let pack = take::voices::open(name).map_err(voice_failure)?;
    Ok((name.to_owned(), pack))
}

/// A wrong call where there is no such voice, else a job that failed.
fn voice_failure(error: take::Error) -> Failure {
    match error {
        take::Error::NoVoice { .. } => call(error),
        _ => Failure::job(error),
    }
}

/// The devices that the flags ask for.
fn rig_settings(sound: &OutputFlags, players: &PlayerFlags) -> Result<RigSettings, Failure> {
    let record = section::record_settings(&players.section)?;
    let sound_settings = device_settings(sound);
    if let Some(record) = &record {
        check_recording(&sound_settings, record)?;
    }
    Ok(RigSettings {
        sound: sound_settings,
        midi: midi_choice(sound.system),
        inputs: players.midi_in.clone(),
        input: section::input_settings(players)?,
        record,
        thru_percent: players.section.thru,
        through: players.section.through.clone(),
        measured: crate::settings::measured()?,
    })
}

/// An input that was asked for by a name or a channel that is not there is refused at once; what else may be wrong with it is told
/// when it is opened, for drills go on without.
fn check_recording(sound: &audio::DeviceSettings, record: &RecordSettings) -> Result<(), Failure> {
    let settings = audio::DeviceSettings { device: record.device.clone(), ..sound.clone() };
    let found = audio::CaptureDevice::find(&settings).and_then(|device| device.with_channel(record.channel));
    match found {
        Err(error @ (audio::Error::NoSuchDevice { .. } | audio::Error::NoSuchChannel { .. })) => {
            Err(Failure::job(error))
        }
        Ok(_) | Err(_) => Ok(()),
    }
}

/// The sound device that the flags ask for.
fn device_settings(sound: &OutputFlags) -> audio::DeviceSettings {
    let system = match sound.system {
        System::Own => audio::SoundSystem::Native,
        System::Jack => audio::SoundSystem::Jack,
    };
    audio::DeviceSettings { system, device: sound.device.clone(), ..Default::default() }
}

/// The MIDI system that goes with a sound system.
fn midi_choice(system: System) -> SystemChoice {
    match system {
        System::Own => SystemChoice::Native,
        System::Jack => SystemChoice::Jack,
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
