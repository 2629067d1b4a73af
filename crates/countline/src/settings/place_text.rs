//! Players and controls as they are typed: `K1=Pad,channel=10,notes=36-40`.

use input::{Entry, Instrument, NoteRange, Order, Place, Touch};
use timebase::Seconds;

/// What was typed behind the `=`.
#[derive(Debug, Default)]
struct Typed {
    port: String,
    channel: Option<String>,
    notes: Option<String>,
    pedal: Option<String>,
    retrigger: Option<String>,
    keys: bool,
}

/// A player with one place.
pub(crate) fn player(text: &str) -> Result<Entry, String> {
    let (code, typed) = split(text, "CODE=PORT, such as K1=Pad,channel=10,notes=36-40")?;
    let retrigger = match &typed.retrigger {
        Some(given) => {
            let ms: f64 =
                given.parse().map_err(|_| format!("\"{given}\" is not a number of milliseconds"))?;
            Some(Seconds::from_millis_f64(ms))
        }
        None => None,
    };
    let instrument = if typed.keys { Instrument::Keys } else { Instrument::Pad };
    Ok(Entry { code: code.to_owned(), places: vec![place(&typed)?], instrument, retrigger })
}

/// An order and where it is asked for.
pub(crate) fn control(text: &str) -> Result<(Order, Place), String> {
    let (name, typed) = split(text, "ORDER=PORT, such as start=Pad,notes=51")?;
    let order = order(name)?;
    if typed.keys || typed.retrigger.is_some() {
        return Err(format!("\"{text}\": an order has no keys and no retrigger"));
    }
    Ok((order, place(&typed)?))
}

pub(crate) fn order(name: &str) -> Result<Order, String> {
    Order::named(name).ok_or_else(|| format!("\"{name}\" is no order: there are start, stop, next and again"))
}

fn split<'a>(text: &'a str, form: &str) -> Result<(&'a str, Typed), String> {
    let (name, rest) = text.split_once('=').ok_or_else(|| format!("\"{text}\" is not of the form {form}"))?;
    let mut typed = Typed::default();
    let mut port = Vec::new();
    for part in rest.split(',') {
        let (key, value) =
            part.split_once('=').map_or((part.trim(), None), |(key, value)| (key.trim(), Some(value.trim())));
        match (key, value) {
            ("channel", Some(value)) => typed.channel = Some(value.to_owned()),
            ("note" | "notes", Some(value)) => typed.notes = Some(value.to_owned()),
            ("pedal", Some(value)) => typed.pedal = Some(value.to_owned()),
            ("retrigger", Some(value)) => typed.retrigger = Some(value.to_owned()),
            ("keys", None) => typed.keys = true,
            // A port's name may have commas.
            (_, None) => port.push(part),
            (key, Some(_)) => {
                return Err(format!(
                    "\"{key}\" says nothing of a port: there are channel, notes, pedal, retrigger and keys"
                ));
            }
        }
    }
    typed.port = port.join(",");
    Ok((name.trim(), typed))
}

fn place(typed: &Typed) -> Result<Place, String> {
    let channel = typed.channel.as_deref().map(channel).transpose()?;
    if typed.notes.is_some() && typed.pedal.is_some() {
        return Err("notes or a pedal, not both: write two players, or one player twice".to_owned());
    }
    let notes = typed.notes.as_deref().map(notes).transpose()?;
    let pedal = typed.pedal.as_deref().map(|given| number(given, "controller")).transpose()?;
    place_of(&typed.port, channel, notes, pedal)
}

/// A place of its parts; the channel from 0.
pub(super) fn place_of(
    port: &str,
    channel: Option<u8>,
    notes: Option<NoteRange>,
    pedal: Option<u8>,
) -> Result<Place, String> {
    let touch = match (notes, pedal) {
        (_, Some(controller)) => Touch::Pedal(controller),
        (Some(notes), None) => Touch::Notes(notes),
        (None, None) => Touch::AnyNote,
    };
    let place = Place::port(port).and_then(|place| place.with_touch(touch));
    let place = match channel {
        Some(channel) => place.and_then(|place| place.on_channel(channel)),
        None => place,
    };
    place.map_err(|error| error.to_string())
}

/// People count channels from 1.
fn channel(text: &str) -> Result<u8, String> {
    match text.parse::<u8>() {
        Ok(channel @ 1..=16) => Ok(channel - 1),
        _ => Err(format!("\"{text}\" is no MIDI channel: they go from 1 to 16")),
    }
}

/// `38`, or `36-40`.
pub(super) fn notes(text: &str) -> Result<NoteRange, String> {
    let (least, most) = text.split_once('-').unwrap_or((text, text));
    let (least, most) = (number(least.trim(), "note")?, number(most.trim(), "note")?);
    NoteRange::new(least, most).map_err(|error| error.to_string())
}

fn number(text: &str, what: &str) -> Result<u8, String> {
    text.parse().map_err(|_| format!("\"{text}\" is no MIDI {what}: write its number"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_understood() {
        let check = |text: &str, code: &str, place: &str, instrument: Instrument, mask: Option<i64>| {
            let entry = player(text).unwrap_or_else(|error| panic!("{text}: {error}"));
            assert_eq!((entry.code.as_str(), entry.places[0].to_string().as_str()), (code, place), "{text}");
            assert_eq!(
                (entry.instrument, entry.retrigger),
                (instrument, mask.map(Seconds::from_millis)),
                "{text}"
            );
        };
        check("K1=Pad", "K1", "Pad", Instrument::Pad, None);
        check(
            "K1=Pad:Pad MIDI 1 24:0,channel=10",
            "K1",
            "Pad:Pad MIDI 1 24:0, channel 10",
            Instrument::Pad,
            None,
        );
        check("K2 = Pad, notes=36-40, retrigger=30", "K2", "Pad, notes 36-40", Instrument::Pad, Some(30));
        check("K3=Drum, Big,note=38", "K3", "Drum, Big, note 38", Instrument::Pad, None);
        check("K4=Stage,keys", "K4", "Stage", Instrument::Keys, None);
        check("beat=Stage,pedal=64", "beat", "Stage, pedal 64", Instrument::Pad, None);
    }

    #[test]
    fn what_is_wrong_is_said() {
        let check = |text: &str, words: &[&str]| {
            let said = player(text).map(|_| ()).or_else(|_| control(text).map(|_| ())).err();
            let said = said.into_iter().chain(player(text).err()).collect::<Vec<_>>().join(" / ");
            assert!(words.iter().all(|word| said.contains(word)), "{text}: {said}");
        };
        check("K1", &["CODE=PORT"]);
        check("K1=Pad,channel=17", &["1 to 16"]);
        check("K1=Pad,notes=40-36", &["36 to 40"]);
        check("K1=Pad,notes=x", &["\"x\""]);
        check("K1=Pad,loud=1", &["loud", "channel"]);
        check("K1=Pad,notes=38,pedal=64", &["not both"]);
        check("K1=,notes=38", &["name of a MIDI port"]);
        assert!(control("dance=Pad").expect_err("no order").contains("start, stop, next and again"));
        assert!(control("start=Pad,keys").is_err());
        assert_eq!(control("next=Pad,pedal=64").expect("an order").0, Order::Next);
    }
}
