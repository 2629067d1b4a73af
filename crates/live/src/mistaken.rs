//! What was typed of ports and cannot be meant so.

use input::{Input, InputSettings, SourceKind};

/// What is to be played or asked for on a port that is not there, a sentence each, with what is there.
pub(crate) fn unseen(input: &Input) -> Vec<String> {
    let players = input.players();
    let there: Vec<String> = players
        .sources()
        .iter()
        .filter(|source| source.kind == SourceKind::Port && source.is_there)
        .map(|source| format!("\"{}\"", source.name))
        .collect();
    let there = if there.is_empty() {
        "nothing is plugged in".to_owned()
    } else {
        format!("there is {}", there.join(", "))
    };
    let told = |(who, name)| {
        format!(
            "{who}: no MIDI input that is listened to is called \"{name}\" or has that in its name, and {there}. It is listened \
             to as soon as it is plugged in"
        )
    };
    input.unseen().into_iter().map(told).collect()
}

/// Who of the list would only give orders where they are to play, a sentence each.
#[must_use]
pub fn conflicts(settings: &InputSettings) -> Vec<String> {
    let told = |(code, place, order): (&str, &input::Place, input::Order)| {
        format!(
            "everything that {code} strikes on {place} is the order \"{}\": give the order one note or pedal that {code} does not \
             play, such as --control {}={},note=51",
            order.name(),
            order.name(),
            place.port_name()
        )
    };
    settings.controls.swallowed(&settings.roster).into_iter().map(told).collect()
}

#[cfg(test)]
mod tests {
    use input::{Controls, Entry, Order, Place, Roster};

    use super::*;

    #[test]
    fn what_is_mistyped_is_told_with_what_is_there() {
        let place = |name: &str| Place::port(name).expect("a name");
        let entries =
            ["Modull", "Pad", "space bar"].map(|name| Entry::new(&format!("on {name}"), vec![place(name)]));
        let controls = Controls::new(vec![(Order::Next, place("Pad")), (Order::Stop, place("Bel"))]);
        let settings = InputSettings {
            roster: Roster::new(entries.to_vec()).expect("apart"),
            controls,
            ..InputSettings::default()
        };
        let input = Input::new(&settings);
        let told = unseen(&input);
        assert_eq!(told.len(), 4, "{told:?}");
        assert!(told[0].contains("\"Modull\"") && told[0].contains("nothing is plugged in"), "{told:?}");
        let told = conflicts(&settings);
        assert_eq!(told.len(), 1);
        assert!(told[0].contains("on Pad") && told[0].contains("--control next=Pad,note=51"), "{told:?}");
    }
}
