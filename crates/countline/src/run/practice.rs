//! `countline practice`: the window.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use input::{Controls, Roster};
use live::Measured;
use timebase::Seconds;
use window::{Keeper, OpenPlan, WindowSettings};

use super::listen;
use super::planned::{self, Opened};
use crate::failure::Failure;
use crate::flags::PracticeFlags;
use crate::settings::{self, PlayersFile};
use crate::{counting_file, rhythm_file};

pub(crate) fn run(flags: PracticeFlags) -> Result<(), Failure> {
    let plan = flags.file.as_deref().filter(|file| planned::is_plan(file));
    let opened =
        plan.map(|plan| planned::open(plan, flags.plan.tempo, flags.planned.good_percent)).transpose()?;
    if opened.is_some() && (flags.replay.is_some() || flags.part.is_some()) {
        return Err(Failure::Call("--replay and --part are not for a drill plan".to_owned()));
    }
    if opened.is_some() {
        planned::check(&flags.plan, &flags.sounds, &flags.counting)?;
    }
    let replay = match (&flags.replay, &flags.file) {
        (Some(take), Some(file)) => {
            let rhythm = rhythm_file::read(file, flags.part.as_deref())?;
            let plan = super::plan(&rhythm, &flags.plan)?;
            listen::recorded(take, &rhythm, &plan)?
        }
        _ => Vec::new(),
    };
    let turns = listen::turns(&flags.turns)?;
    super::section::check_turns(&turns, &flags.players)?;
    let named = flags.plan.voice.clone();
    let settings = WindowSettings {
        rig: super::rig_settings(&flags.sound, &flags.players)?,
        latency: flags.players.latency_ms.map(Seconds::from_millis_f64),
        keep_takes: !flags.no_take,
        takes_root: flags.takes,
        bpm: flags.plan.tempo,
        count_in_bars: flags.plan.count_in,
        voice: super::voice(&flags.plan)?.0,
        system: counting_file::chosen(&flags.counting)?,
        choice: super::sounds::choice(&flags.sounds),
        levels: super::sounds::levels(&flags.sounds),
        judge: super::tolerance(flags.tolerance_ms)?,
        replay,
        turns,
        file: flags.file,
        part: flags.part,
        keeper: Some(Arc::new(Files {
            players: flags.players.section.players,
            good_percent: flags.planned.good_percent,
            voice: named.clone(),
        })),
    };
    match opened {
        Some(Opened { planned, voice, levels }) => {
            let levels = Some(super::sounds::levels_over(levels, &flags.sounds));
            let plan = OpenPlan { planned, voice: named.or(voice), levels };
            window::run_plan(settings, plan).map_err(Failure::job)
        }
        None => window::run(settings).map_err(Failure::job),
    }
}

/// The files of settings, for the window.
#[derive(Debug)]
struct Files {
    /// The file of players that was named instead of the usual one.
    players: Option<PathBuf>,
    /// So many of a hundred attacks make a round good.
    good_percent: u8,
    /// The voice that was named, whatever a plan names.
    voice: Option<String>,
}

impl Keeper for Files {
    fn keep_players(&self, roster: &Roster, controls: &Controls) -> Result<PathBuf, String> {
        let file = PlayersFile { roster: roster.clone(), controls: controls.clone() };
        settings::keep_players(self.players.as_deref(), &file).map_err(said)
    }

    fn players(&self) -> Result<(Roster, Controls), String> {
        let file = settings::players(self.players.as_deref()).map_err(said)?;
        Ok((file.roster, file.controls))
    }

    fn keep_measured(&self, measured: &Measured) -> Result<PathBuf, String> {
        settings::keep_measured(measured).map_err(said)
    }

    fn plan(&self, path: &Path) -> Result<OpenPlan, String> {
        let Opened { planned, voice, levels } = planned::open(path, None, self.good_percent).map_err(said)?;
        let levels = Some(levels).filter(|levels| *levels != sequencer::Levels::default());
        Ok(OpenPlan { planned, voice: self.voice.clone().or(voice), levels })
    }
}

fn said(failure: Failure) -> String {
    failure.message().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::{control, player};

    /// What the window keeps is what `countline players` shows, and the reverse.
    #[test]
    fn the_window_keeps_players_where_everybody_reads_them() {
        let folder = std::env::temp_dir().join(format!("countline-window-keeps-{}", std::process::id()));
        let path = folder.join("class.toml");
        let files = Files { players: Some(path.clone()), good_percent: 90, voice: None };
        let roster = Roster::new(vec![player("K1=Pad,retrigger=30").expect("a player")]).expect("a list");
        let controls = Controls::new(vec![control("next=Pad,pedal=64").expect("an order")]);
        assert_eq!(files.keep_players(&roster, &controls), Ok(path.clone()));
        assert_eq!(settings::players(Some(&path)).ok().map(|file| file.roster), Some(roster.clone()));
        assert_eq!(files.players(), Ok((roster, controls)));
        std::fs::write(&path, "[[player]]\ncode = 1").expect("written");
        let why = files.players().expect_err("damaged");
        assert!(why.contains("class.toml") && why.contains("line 2"), "{why}");
        std::fs::remove_dir_all(&folder).expect("it was made");
    }
}
