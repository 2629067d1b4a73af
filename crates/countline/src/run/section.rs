//! Who plays on what, as the flags and the kept files say it.

use input::limits::PLAYERS;
use input::{Controls, Entry, Grouping, InputSettings, RetriggerMask, Roster, check_mask};
use live::RecordSettings;
use timebase::Seconds;

use crate::failure::Failure;
use crate::flags::{PlayerFlags, SectionFlags};
use crate::settings;

/// How strokes are told apart.
pub(super) fn input_settings(flags: &PlayerFlags) -> Result<InputSettings, Failure> {
    let section = &flags.section;
    let kept = settings::players(section.players.as_deref())?;
    let roster = if section.player.is_empty() && !flags.by_channel {
        kept.roster
    } else {
        roster(Roster::default(), &section.player)?
    };
    let mut controls = section
        .control
        .iter()
        .map(|text| settings::control(text))
        .collect::<Result<Vec<_>, _>>()
        .map_err(Failure::Call)?;
    controls.extend(kept.controls.places().iter().cloned());
    let retrigger = section.retrigger_ms.map_or(RetriggerMask::USUAL, Seconds::from_millis_f64);
    check_mask(retrigger).map_err(super::call)?;
    let grouping = if flags.by_channel { Grouping::ByChannel } else { Grouping::ByPort };
    Ok(InputSettings { grouping, roster, controls: Controls::new(controls), retrigger })
}

/// A list with these players, each of them as often as they have places.
pub(super) fn roster(mut list: Roster, typed: &[String]) -> Result<Roster, Failure> {
    let mut new: Vec<Entry> = Vec::new();
    for text in typed {
        let entry = settings::player(text).map_err(Failure::Call)?;
        match new.iter_mut().find(|there| there.code == entry.code) {
            Some(there) => {
                there.places.extend(entry.places);
                there.retrigger = entry.retrigger.or(there.retrigger);
                if entry.instrument == input::Instrument::Keys {
                    there.instrument = entry.instrument;
                }
            }
            None => new.push(entry),
        }
    }
    // Those who are moved make room for one another first.
    for entry in &new {
        list = list.without(&entry.code);
    }
    let entries = list.entries().iter().cloned().chain(new).collect();
    Roster::new(entries).map_err(super::call)
}

/// Refuses turns at a pad whose label nobody has, and nothing that is plugged in could get.
pub(super) fn check_turns(turns: &[(String, Vec<String>)], flags: &PlayerFlags) -> Result<(), Failure> {
    if turns.is_empty() {
        return Ok(());
    }
    let roster = input_settings(flags)?.roster;
    let codes: Vec<&str> = roster.entries().iter().map(|entry| entry.code.as_str()).collect();
    // Who is not listed is numbered behind those who are.
    let first = codes.len() + 1;
    let numbered = |label: &str| {
        let number = label.strip_prefix('P').and_then(|number| number.parse::<usize>().ok());
        number.is_some_and(|number| {
            format!("P{number}") == label
                && number >= first
                && i64::try_from(number).is_ok_and(|number| PLAYERS.holds(number))
        })
    };
    match turns.iter().find(|(pad, _)| !codes.contains(&pad.as_str()) && !numbered(pad)) {
        None => Ok(()),
        Some((pad, _)) if codes.is_empty() => Err(Failure::Call(format!(
            "nobody is called \"{pad}\", so nobody can take turns there: MIDI inputs are P1, P2 and so on"
        ))),
        Some((pad, _)) => Err(Failure::Call(format!(
            "nobody is called \"{pad}\", so nobody can take turns there: there is {}, and whatever else is plugged in is P{first} \
             and so on",
            codes.join(", ")
        ))),
    }
}

/// What is recorded beside.
pub(super) fn record_settings(section: &SectionFlags) -> Result<Option<RecordSettings>, Failure> {
    section.record.as_deref().map(|text| input_named(Some(text))).transpose()
}

/// `NAME[#CHANNEL]`, the channel from 1; `default` for the system's.
pub(super) fn input_named(text: Option<&str>) -> Result<RecordSettings, Failure> {
    let Some(text) = text else { return Ok(RecordSettings::default()) };
    let (name, channel) = match text.rsplit_once('#') {
        Some((name, number)) if number.bytes().all(|digit| digit.is_ascii_digit()) && !number.is_empty() => {
            let channel = number.parse::<u16>().ok().filter(|channel| *channel > 0);
            let none =
                || Failure::Call(format!("\"{number}\" is no channel of an input: they are counted from 1"));
            (name, channel.ok_or_else(none)? - 1)
        }
        _ => (text, 0),
    };
    let device = (!name.is_empty() && name != "default").then(|| name.to_owned());
    Ok(RecordSettings { device, channel })
}
