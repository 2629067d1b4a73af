//! `countline practice`: the window.

use timebase::Seconds;
use window::WindowSettings;

use super::listen;
use super::planned::{self, Opened};
use crate::failure::Failure;
use crate::flags::PracticeFlags;
use crate::rhythm_file;

pub(crate) fn run(flags: PracticeFlags) -> Result<(), Failure> {
    let plan = flags.file.as_deref().filter(|file| planned::is_plan(file));
    let opened =
        plan.map(|plan| planned::open(plan, flags.plan.tempo, flags.planned.good_percent)).transpose()?;
    if opened.is_some() && (flags.replay.is_some() || flags.part.is_some()) {
        return Err(Failure::Call("--replay and --part are not for a drill plan".to_owned()));
    }
    let replay = match (&flags.replay, &flags.file) {
        (Some(take), Some(file)) => {
            let rhythm = rhythm_file::read(file, flags.part.as_deref())?;
            let plan = super::plan(&rhythm, &flags.plan)?;
            listen::recorded(take, &rhythm, &plan)?
        }
        _ => Vec::new(),
    };
    let named = flags.plan.voice.clone();
    let settings = WindowSettings {
        rig: super::rig_settings(&flags.sound, &flags.players)?,
        latency: flags.players.latency_ms.map(Seconds::from_millis_f64),
        keep_takes: !flags.no_take,
        takes_root: flags.takes,
        bpm: flags.plan.tempo,
        count_in_bars: flags.plan.count_in,
        voice: super::voice(&flags.plan)?.0,
        judge: super::tolerance(flags.tolerance_ms)?,
        replay,
        file: flags.file,
        part: flags.part,
    };
    match opened {
        Some(Opened { planned, voice }) => {
            let voice = named.or(voice).unwrap_or_else(|| settings.voice.clone());
            window::run_plan(WindowSettings { voice, ..settings }, planned).map_err(Failure::job)
        }
        None => window::run(settings).map_err(Failure::job),
    }
}
