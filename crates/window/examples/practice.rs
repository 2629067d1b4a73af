//! The window on a rhythm, with recorded players: `practice FILE [--jack] [--replay TAKE.mid] [--takes DIR]`.

use std::path::PathBuf;

use audio::SoundSystem;
use input::SystemChoice;
use live::Recorded;
use timebase::Moment;
use window::{WindowSettings, run};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut settings = WindowSettings::default();
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--jack" => {
                settings.rig.sound.system = SoundSystem::Jack;
                settings.rig.midi = SystemChoice::Jack;
            }
            "--replay" => settings.replay = recorded(&arguments.next().ok_or("--replay wants a MIDI file")?)?,
            "--takes" => settings.takes_root = arguments.next().ok_or("--takes wants a folder")?.into(),
            file => settings.file = Some(PathBuf::from(file)),
        }
    }
    Ok(run(settings)?)
}

fn recorded(path: &str) -> Result<Vec<Recorded>, Box<dyn std::error::Error>> {
    let take = take::midi::read_take(&std::fs::read(path)?)?;
    let bar_one = take.bar_one.unwrap_or(Moment::ZERO);
    let players = take.players.into_iter().map(|player| {
        let stroke = |stroke: &take::Stroke| {
            (Moment::ZERO + (stroke.at - bar_one), [0x99, stroke.note, stroke.velocity])
        };
        Recorded { label: player.label, messages: player.strokes.iter().map(stroke).collect() }
    });
    Ok(players.collect())
}
