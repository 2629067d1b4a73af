use timebase::SampleRate;

/// What can be wrong with sound devices.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// There is nothing to play through or to record from.
    #[error(
        "no sound device on this machine: plug one in or switch it on; writing sound to a file works without one"
    )]
    NoDevice,
    /// There are devices, but none of this kind.
    #[error("no device to {what} on this machine: {}", listed(.there))]
    NoneFor {
        /// "play through" or "record from".
        what: &'static str,
        /// The names of the devices that are there.
        there: Vec<String>,
    },
    /// A device that is not there, or a name that fits several.
    #[error("no single device \"{given}\" to {what}: {}", listed(.there))]
    NoSuchDevice {
        /// The name that was given.
        given: String,
        /// "play through" or "record from".
        what: &'static str,
        /// The names of the devices of that kind.
        there: Vec<String>,
    },
    /// A channel that the device does not have.
    #[error("the input \"{device}\" has no channel {given}: they are counted from 1, and it has {there}")]
    NoSuchChannel {
        /// The device's name.
        device: String,
        /// The channel that was given, counted from 1.
        given: u32,
        /// How many it has.
        there: u16,
    },
    /// JACK was asked for and its library is not there.
    #[error(
        "JACK was asked for, but its library is not installed: install JACK (on Debian: libjack-jackd2-0), \
         or use the machine's own sound"
    )]
    NoJackLibrary,
    /// JACK was asked for and no server answers.
    #[error(
        "JACK was asked for, but no server named \"{server}\" answers: start one, name another in \
         JACK_DEFAULT_SERVER, or use the machine's own sound"
    )]
    NoJackServer {
        /// The server that was looked for.
        server: String,
    },
    /// JACK was asked for where this program knows none.
    #[error(
        "JACK was asked for, but this program was built without it: it is there on Linux, with the feature \
         \"jack\"; use the machine's own sound"
    )]
    NoJackBuilt,
    /// A device of which nothing can be used.
    #[error(
        "the sound device \"{device}\" offers no rate from 8000 to 192000 Hz in a format this program knows: choose \
         another device"
    )]
    NoConfig {
        /// Its name.
        device: String,
    },
    /// The sounds were prepared for another rate than the device's.
    #[error("the sounds are at {given} Hz and the device \"{device}\" runs at {runs} Hz: prepare them for {runs} Hz", given = .given.hz(), runs = .runs.hz())]
    Rate {
        /// The device's name.
        device: String,
        /// The rate of the sounds.
        given: SampleRate,
        /// The rate of the device.
        runs: SampleRate,
    },
    /// The device could not be opened.
    #[error(
        "the sound device \"{device}\" cannot be opened ({why}): check that no other program holds it, or choose \
         another"
    )]
    Open {
        /// Its name.
        device: String,
        /// What the driver said.
        why: String,
    },
}

fn listed(names: &[String]) -> String {
    if names.is_empty() {
        "there is none".to_owned()
    } else {
        format!("there is {}", names.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_say_what_to_do() {
        let check = |error: Error, expected: &str| assert_eq!(error.to_string(), expected);
        check(
            Error::Rate {
                device: "Card".to_owned(),
                given: SampleRate::HZ_48000,
                runs: SampleRate::new(44_100).expect("in range"),
            },
            "the sounds are at 48000 Hz and the device \"Card\" runs at 44100 Hz: prepare them for 44100 Hz",
        );
        check(
            Error::NoSuchDevice {
                given: "x".to_owned(),
                what: "play through",
                there: vec!["A".to_owned(), "B".to_owned()],
            },
            "no single device \"x\" to play through: there is \"A\", \"B\"",
        );
    }
}
