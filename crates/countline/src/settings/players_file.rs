//! `players.toml`: who plays on what, and which pads and pedals are orders.

use std::path::{Path, PathBuf};

use input::{Controls, Entry, Instrument, Order, Place, Roster, Touch};
use serde::{Deserialize, Serialize};
use timebase::Seconds;

use super::place_text::{notes, order, place_of};
use crate::failure::Failure;

/// What the file holds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct PlayersFile {
    pub(crate) roster: Roster,
    pub(crate) controls: Controls,
}

#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct FileForm {
    #[serde(default, rename = "player", skip_serializing_if = "Vec::is_empty")]
    players: Vec<PlayerForm>,
    #[serde(default, rename = "control", skip_serializing_if = "Vec::is_empty")]
    controls: Vec<ControlForm>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PlayerForm {
    code: String,
    #[serde(default, skip_serializing_if = "is_false")]
    keys: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    retrigger_ms: Option<f64>,
    on: Vec<PlaceForm>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ControlForm {
    order: String,
    on: PlaceForm,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PlaceForm {
    port: String,
    /// From 1 to 16, as people say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    channel: Option<u8>,
    /// `38`, or `36-40`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    notes: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pedal: Option<u8>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_false(value: &bool) -> bool {
    !*value
}

const HEAD: &str = "# Who plays on what, for countline: a code, and ports with channel (1 to 16), notes (38 or 36-40) or pedal.\n\
    # `countline players` shows and changes it.\n\n";

/// The players that are kept, in this file or in the settings folder; nobody if there is no file there.
pub(crate) fn players(file: Option<&Path>) -> Result<PlayersFile, Failure> {
    let path = path(file)?;
    match super::read(&path)? {
        Some(text) => {
            let form = toml::from_str(&text).map_err(|error| super::wrong(&path, &text, &error))?;
            of_form(form).map_err(|error| Failure::Job(format!("{}: {error}", path.display())))
        }
        None if file.is_some() => Err(Failure::Job(format!(
            "cannot read {}: there is no such file: check the path",
            path.display()
        ))),
        None => Ok(PlayersFile::default()),
    }
}

/// Keeps the players; says where.
pub(crate) fn keep_players(file: Option<&Path>, players: &PlayersFile) -> Result<PathBuf, Failure> {
    let path = path(file)?;
    super::write(&path, &text(players)?)?;
    Ok(path)
}

fn path(file: Option<&Path>) -> Result<PathBuf, Failure> {
    file.map_or_else(|| Ok(super::folder()?.join("players.toml")), |file| Ok(file.to_owned()))
}

fn text(players: &PlayersFile) -> Result<String, Failure> {
    let form = FileForm {
        players: players.roster.entries().iter().map(player_form).collect(),
        controls: players
            .controls
            .places()
            .iter()
            .map(|(order, place)| ControlForm { order: order.name().to_owned(), on: place_form(place) })
            .collect(),
    };
    Ok(format!("{HEAD}{}", toml::to_string(&form).map_err(Failure::job)?))
}

fn player_form(entry: &Entry) -> PlayerForm {
    PlayerForm {
        code: entry.code.clone(),
        keys: entry.instrument == Instrument::Keys,
        retrigger_ms: entry.retrigger.map(Seconds::as_millis_f64),
        on: entry.places.iter().map(place_form).collect(),
    }
}

fn place_form(place: &Place) -> PlaceForm {
    let (notes, pedal) = match place.touch() {
        Touch::AnyNote => (None, None),
        Touch::Notes(notes) => (Some(notes.to_string()), None),
        Touch::Pedal(controller) => (None, Some(controller)),
    };
    PlaceForm {
        port: place.port_name().to_owned(),
        channel: place.channel().map(|channel| channel + 1),
        notes,
        pedal,
    }
}

fn of_form(form: FileForm) -> Result<PlayersFile, String> {
    let entry = |form: PlayerForm| -> Result<Entry, String> {
        let places = form.on.iter().map(place).collect::<Result<_, _>>()?;
        let instrument = if form.keys { Instrument::Keys } else { Instrument::Pad };
        Ok(Entry {
            code: form.code,
            places,
            instrument,
            retrigger: form.retrigger_ms.map(Seconds::from_millis_f64),
        })
    };
    let entries = form.players.into_iter().map(entry).collect::<Result<_, _>>()?;
    let control = |form: &ControlForm| -> Result<(Order, Place), String> {
        Ok((order(&form.order)?, place(&form.on)?))
    };
    let controls = form.controls.iter().map(control).collect::<Result<_, _>>()?;
    let roster = Roster::new(entries).map_err(|error| error.to_string())?;
    Ok(PlayersFile { roster, controls: Controls::new(controls) })
}

fn place(form: &PlaceForm) -> Result<Place, String> {
    let channel = match form.channel {
        Some(channel @ 1..=16) => Some(channel - 1),
        Some(other) => return Err(format!("{other} is no MIDI channel: they go from 1 to 16")),
        None => None,
    };
    let notes = form.notes.as_deref().map(notes).transpose()?;
    place_of(&form.port, channel, notes, form.pedal)
}

#[cfg(test)]
mod tests {
    use super::super::{control, player};
    use super::*;

    fn file() -> PlayersFile {
        let mut second = player("K2=Left,retrigger=30").expect("a player");
        second.places.extend(player("K2=Right").expect("a player").places);
        let entries = ["K1=Module, Big,channel=10,notes=36-40", "K4=Stage,keys", "beat=Stage,pedal=64"]
            .map(|text| player(text).expect("a player"));
        let roster = Roster::new(entries.into_iter().chain([second]).collect()).expect("a list");
        let controls = ["start=Module, Big,notes=51", "next=Stage,pedal=67"]
            .map(|text| control(text).expect("an order"));
        PlayersFile { roster, controls: Controls::new(controls.to_vec()) }
    }

    #[test]
    fn what_is_kept_is_read_again() {
        let folder = std::env::temp_dir().join(format!("countline-players-{}", std::process::id()));
        let path = folder.join("players.toml");
        assert_eq!(keep_players(Some(&path), &file()).expect("kept"), path);
        assert_eq!(players(Some(&path)).expect("read"), file());
        std::fs::remove_dir_all(&folder).expect("it was made");
        assert!(players(Some(&path)).is_err(), "a file that was named must be there");
    }

    #[test]
    fn what_is_wrong_in_a_file_is_said() {
        let check = |text: &str, word: &str| {
            let said =
                toml::from_str(text).map_err(|error| error.to_string()).and_then(of_form).expect_err("wrong");
            assert!(said.contains(word), "{text}: {said}");
        };
        check("[[player]]\ncode = \"K1\"\non = [{ port = \"Pad\", channel = 0 }]", "1 to 16");
        check("[[player]]\ncode = \"K1\"\non = []", "nothing to play on");
        check("[[player]]\ncode = \"K1\"\non = [{ port = \"Pad\", note = 3 }]", "note");
        check("[[player]]\ncode = \"K1\"\nretrigger_ms = 900.0\non = [{ port = \"Pad\" }]", "0 to 100");
        check("[[control]]\norder = \"dance\"\non = { port = \"Pad\" }", "dance");
    }
}
