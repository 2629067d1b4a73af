//! `countline players`: who plays on what, learnt by playing or told.

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use input::{Controls, Input, InputSettings, Learning, Lesson, Order, Roster, midi_system};
use timebase::HostOrigin;

use super::section;
use crate::failure::Failure;
use crate::flags::PlayersFlags;
use crate::output;
use crate::settings::{self, PlayersFile};

/// How long nobody may have struck for a player's turn to be over, and for a player not to come at all.
const USUAL: Patience = Patience { quiet: Duration::from_millis(1_500), none: Duration::from_secs(30) };

/// How long is waited.
#[derive(Clone, Copy, Debug)]
struct Patience {
    quiet: Duration,
    none: Duration,
}

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
        kept.roster = learn(flags, &kept.roster)?;
    }
    let path = settings::keep_players(file, &kept)?;
    output::print(&shown(&kept))?;
    let PlayersFile { roster, controls } = kept;
    for conflict in live::conflicts(&InputSettings { roster, controls, ..InputSettings::default() }) {
        output::note(&conflict);
    }
    output::note(&format!("kept in {}", path.display()));
    Ok(())
}

/// Each player in turn strikes what is theirs; those who are kept and not called keep what is theirs.
fn learn(flags: &PlayersFlags, kept: &Roster) -> Result<Roster, Failure> {
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
    input.ask_touches(true);
    taught(&input, &flags.learn, kept, USUAL)
}

/// What those of these codes touch.
fn taught(input: &Input, codes: &[String], kept: &Roster, patience: Patience) -> Result<Roster, Failure> {
    let mut learning = Learning::beside(kept);
    let mut struck = 0;
    for code in codes {
        learning.call(code);
        output::note(&format!("{code}: strike everything that is yours, then wait"));
        turn(input, &mut learning, code, patience);
        struck += learning.struck();
        if learning.struck() == 0 {
            let listed = kept.entries().iter().any(|entry| entry.code == *code);
            let then = if listed { "keeps what is kept" } else { "is left out" };
            output::note(&format!("{code} struck nothing and {then}"));
        }
    }
    if struck == 0 {
        return Err(Failure::Job("nobody struck anything, so nothing is changed".to_owned()));
    }
    learning.roster().map_err(super::call)
}

fn turn(input: &Input, learning: &mut Learning, code: &str, patience: Patience) {
    let mut last = Instant::now();
    loop {
        let wait = if learning.struck() == 0 { patience.none } else { patience.quiet };
        let left = wait.saturating_sub(last.elapsed());
        let Ok(touch) = input.touches().recv_timeout(left) else { return };
        match learning.touch(&touch) {
            Lesson::Learnt => output::note(&format!("{code}: {touch}")),
            Lesson::Known | Lesson::Nobody => {}
            // It holds nobody's turn up.
            Lesson::OfAnother { code: other } => {
                output::note(&format!("that is {other}'s: {code}, strike another"));
                continue;
            }
        }
        last = Instant::now();
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

#[cfg(test)]
mod tests {
    use input::{Entry, Place};
    use timebase::{HostTime, Seconds};

    use super::*;

    const SHORT: Patience = Patience { quiet: Duration::from_millis(20), none: Duration::from_millis(20) };

    fn told(roster: &Roster) -> Vec<String> {
        let place =
            |entry: &Entry| entry.places.iter().map(ToString::to_string).collect::<Vec<_>>().join(" and ");
        roster.entries().iter().map(|entry| format!("{}: {}", entry.code, place(entry))).collect()
    }

    /// A pad and a pedal are learnt for one who is new; those who are kept stay, and where nobody strikes, nothing changes.
    #[test]
    fn who_is_kept_stays_and_a_pedal_is_learnt() {
        let entry = |code: &str, port: &str| Entry::new(code, vec![Place::port(port).expect("a name")]);
        let kept = Roster::new(vec![entry("K9", "Left"), entry("K1", "Right")]).expect("a list");
        let input = Input::new(&InputSettings::default());
        input.ask_touches(true);
        let mut module = input.replay("Module");
        let send = |source: &mut input::Replay, ms: i64, bytes: &[u8]| {
            source.send(bytes, HostTime::from_nanos(ms * 1_000_000), Seconds::from_millis(1));
        };
        send(&mut module, 0, &[0x99, 38, 100]);
        send(&mut module, 500, &[0xb9, 64, 127]);
        let codes = ["K2".to_owned(), "K1".to_owned()];
        let learnt = taught(&input, &codes, &kept, SHORT).map_err(|_| "refused").expect("K2 has struck");
        assert_eq!(told(&learnt), ["K9: Left", "K1: Right", "K2: Module, channel 10, pedal 64 and Module"]);
        assert!(taught(&input, &codes, &kept, SHORT).is_err(), "nobody has struck");
    }
}
