//! Who plays on what, as the flags and the kept files say it.

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
