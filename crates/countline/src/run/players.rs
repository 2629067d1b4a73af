//! `countline players`: who plays on what, learnt by playing or told.

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use input::{Controls, Input, InputSettings, Learning, Lesson, Order, StrokeKind, midi_system};
use timebase::HostOrigin;

use super::section;
use crate::failure::Failure;
use crate::flags::PlayersFlags;
use crate::output;
use crate::settings::{self, PlayersFile};

/// How long nobody may have struck for a player's turn to be over, and for a player not to come at all.
const QUIET: Duration = Duration::from_millis(1_500);
const PATIENCE: Duration = Duration::from_secs(30);

pub(crate) fn run(flags: &PlayersFlags) -> Result<(), Failure> {
    let file = flags.file.as_deref();
    // A file that is to be made need not be there.
    let changes = !(flags.learn.is_empty()
        && flags.set.is_empty()
        && flags.control.is_empty()
        && flags.remove.is_empty());
    let mut kept = match settings::players(file) {
        Err(_) if changes && file.is_some_and(|file| !file.exists()) => PlayersFile::default(),
        kept => kept?,
    };
    if !changes {
        return output::print(&shown(&kept));
    }
    for code in &flags.remove {
        let (players, controls) = (kept.roster.entries().len(), kept.controls.places().len());
        kept.roster = kept.roster.without(code);
        let others = kept.controls.places().iter().filter(|(order, _)| order.name() != code);
        kept.controls = Controls::new(others.cloned().collect());
        if (players, controls) == (kept.roster.entries().len(), kept.controls.places().len()) {
            return Err(Failure::Call(format!(
                "nobody is called \"{code}\", and no order is: `countline players` shows who is kept"
            )));
        }
    }
    kept.roster = section::roster(kept.roster, &flags.set)?;
    let mut controls = kept.controls.places().to_vec();
    for text in &flags.control {
        controls.push(settings::control(text).map_err(Failure::Call)?);
    }
    kept.controls = Controls::new(controls);
    if !flags.learn.is_empty() {
        kept.roster = learn(flags)?;
    }
    let path = settings::keep_players(file, &kept)?;
    output::print(&shown(&kept))?;
    output::note(&format!("kept in {}", path.display()));
    Ok(())
}

/// Each player in turn strikes what is theirs.
fn learn(flags: &PlayersFlags) -> Result<input::Roster, Failure> {
    let mut input = Input::new(&InputSettings::default());
    let system = midi_system(super::midi_choice(flags.system), HostOrigin::at(Instant::now()))
        .map_err(Failure::job)?;
    input.attach(system);
    let opened = input.open_all().map_err(Failure::job)?;
    if opened.is_empty() {
        return Err(Failure::Job(
            "there is no MIDI input to learn from: plug in a pad or a keyboard".to_owned(),
        ));
    }
    let mut learning = Learning::new();
    for code in &flags.learn {
        learning.call(code);
        output::note(&format!("{code}: strike everything that is yours, then wait"));
        turn(&input, &mut learning, code);
    }
    learning.roster().map_err(super::call)
}

fn turn(input: &Input, learning: &mut Learning, code: &str) {
    let mut last = Instant::now();
    loop {
        let patience = if learning.struck() == 0 { PATIENCE } else { QUIET };
        let left = patience.saturating_sub(last.elapsed());
        let Ok(stroke) = input.strokes().recv_timeout(left) else { break };
        if stroke.kind != StrokeKind::On || stroke.is_marked() {
            continue;
        }
        let players = input.players();
        let Some(source) = players.source(stroke.source) else { continue };
        match learning.strike(&source.name, stroke.channel, stroke.note) {
            Lesson::Learnt => output::note(&format!(
                "{code}: {}, channel {}, note {}",
                source.name,
                stroke.channel + 1,
                stroke.note
            )),
            Lesson::Known | Lesson::Nobody => {}
            // It holds nobody's turn up.
            Lesson::OfAnother { code: other } => {
                output::note(&format!("that is {other}'s: {code}, strike another"));
                continue;
            }
        }
        last = Instant::now();
    }
    if learning.struck() == 0 {
        output::note(&format!("{code} struck nothing and is left out"));
    }
}

fn shown(kept: &PlayersFile) -> String {
    let mut text = String::new();
    if kept.roster.is_empty() {
        text.push_str("no players are kept: every MIDI input is a player of its own\n");
    }
    for entry in kept.roster.entries() {
        let places: Vec<_> = entry.places.iter().map(ToString::to_string).collect();
        let _ = write!(text, "{}: {}", entry.code, places.join(" and "));
        if entry.instrument == input::Instrument::Keys {
            text.push_str("; keys");
        }
        if let Some(mask) = entry.retrigger {
            let _ = write!(text, "; retrigger {} ms", mask.as_millis_f64());
        }
        text.push('\n');
    }
    for (order, place) in kept.controls.places() {
        let does = match order {
            Order::Start => "begins the drill",
            Order::Stop => "ends it",
            Order::Next => "calls the next",
            Order::Again => "plays it again",
        };
        let _ = writeln!(text, "{place}: {} ({does})", order.name());
    }
    text
}
