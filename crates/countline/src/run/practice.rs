//! `countline practice`: the window.

use timebase::Seconds;
use window::WindowSettings;

use super::listen;
use crate::failure::Failure;
use crate::flags::PracticeFlags;
use crate::rhythm_file;

pub(crate) fn run(flags: PracticeFlags) -> Result<(), Failure> {
    let replay = match (&flags.replay, &flags.file) {
        (Some(take), Some(file)) => {
            let rhythm = rhythm_file::read(file, flags.part.as_deref())?;
            let plan = super::plan(&rhythm, &flags.plan)?;
            listen::recorded(take, &rhythm, &plan)?
        }
        _ => Vec::new(),
    };
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
    window::run(settings).map_err(Failure::job)
}
