use timebase::limits::Limit;

/// What can be wrong with MIDI devices.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// The operating system has no MIDI at all.
    #[error(
        "no MIDI system on this machine, so no pad can be connected: play on the space bar, or connect \
         to a JACK server if one runs"
    )]
    NoMidiSystem,
    /// The operating system has no MIDI to send to.
    #[error(
        "no MIDI system on this machine, so nothing can be sent to a MIDI device: play through the loudspeakers, or \
         send to a JACK server if one runs"
    )]
    NoMidiOut,
    /// JACK was asked for and its library is not there.
    #[error(
        "JACK was asked for, but its library is not installed: install JACK (on Debian: libjack-jackd2-0), \
         or use the machine's own MIDI"
    )]
    NoJackLibrary,
    /// JACK was asked for and no server answers.
    #[error(
        "JACK was asked for, but no server named \"{server}\" answers: start one, name another in \
         JACK_DEFAULT_SERVER, or use the machine's own MIDI"
    )]
    NoJackServer {
        /// The server that was looked for.
        server: String,
    },
    /// JACK was asked for where this program knows none.
    #[error(
        "JACK was asked for, but this program was built without it: it is there on Linux, with the feature \
         \"jack\"; use the machine's own MIDI"
    )]
    NoJackBuilt,
    /// A port that is not there.
    #[error("there is no MIDI port \"{given}\": {}", listed(.there))]
    NoSuchPort {
        /// The port that was asked for.
        given: String,
        /// The names of the ports that are there.
        there: Vec<String>,
    },
    /// A part of several ports' names.
    #[error("\"{given}\" is a part of {} MIDI ports' names, {}: write more of the one that is meant", .there.len(), quoted(.there))]
    ManyPorts {
        /// What was asked for.
        given: String,
        /// The names of the ports that could be meant.
        there: Vec<String>,
    },
    /// A port that is open already.
    #[error("the MIDI port \"{port}\" is open already: close it first, or play on it")]
    OpenAlready {
        /// Its name.
        port: String,
    },
    /// A port that could not be opened.
    #[error(
        "the MIDI port \"{port}\" cannot be opened ({why}): check that no other program holds it, unplug it and \
         plug it in again"
    )]
    Open {
        /// Its name.
        port: String,
        /// What the driver said.
        why: String,
    },
    /// A port that takes no more messages.
    #[error(
        "nothing can be sent to the MIDI port \"{port}\" any more ({why}): plug it in again, or choose another, and \
         begin anew"
    )]
    Send {
        /// Its name.
        port: String,
        /// What the driver said.
        why: String,
    },
    /// A number outside its limit.
    #[error("{given} is not a {} that is allowed: it goes from {} to {}", .limit.what, .limit.least, .limit.most)]
    OutOfRange {
        /// What was given.
        given: i64,
        /// What is allowed.
        limit: Limit,
    },
    /// A place without a port.
    #[error(
        "a place needs the name of a MIDI port or a part of it, or \"space bar\": `countline devices` lists the ports"
    )]
    NoPortName,
    /// A range of notes that begins above its end.
    #[error("the notes {least} to {most} are no range: write the lower first, {most} to {least}")]
    NotesBackwards {
        /// The first, the higher.
        least: u8,
        /// The last, the lower.
        most: u8,
    },
    /// A code that cannot be written in a list.
    #[error("{given:?} is no code for a player: it stands on one line, without blanks at its ends")]
    NoCode {
        /// What was given.
        given: String,
    },
    /// Two players of one code.
    #[error("two players are called \"{code}\": give each a code of their own")]
    CodeTwice {
        /// The code.
        code: String,
    },
    /// A player who plays nowhere.
    #[error("the player {code} has nothing to play on: name a port, as `countline devices` lists them")]
    NoPlace {
        /// The player's code.
        code: String,
    },
    /// Two players who would both be meant by a stroke.
    #[error(
        "\"{one}\" and \"{other}\" cross, so nobody could say whose a stroke is: part them by channel or notes, or let one \
         lie within the other"
    )]
    PlacesCross {
        /// One player and place.
        one: String,
        /// The other.
        other: String,
    },
    /// No MIDI system was attached.
    #[error("no MIDI system is attached, so there are no ports: attach one first")]
    NotAttached,
}

fn listed(names: &[String]) -> String {
    if names.is_empty() { "nothing is plugged in".to_owned() } else { format!("there is {}", quoted(names)) }
}

fn quoted(names: &[String]) -> String {
    names.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_port_lists_what_is_there() {
        let check = |there: &[&str], expected: &str| {
            let there = there.iter().map(|&name| name.to_owned()).collect();
            assert_eq!(Error::NoSuchPort { given: "Pad".to_owned(), there }.to_string(), expected);
        };
        check(&[], "there is no MIDI port \"Pad\": nothing is plugged in");
        check(&["A", "B"], "there is no MIDI port \"Pad\": there is \"A\", \"B\"");
    }
}
