use std::fmt;

use crate::Error;

/// What this program is called in a MIDI system.
pub(crate) const CLIENT: &str = "countline";

/// A MIDI port from which notes can come.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Port {
    id: String,
    name: String,
}

impl Port {
    /// A port as a system lists it.
    #[must_use]
    pub fn new(id: impl Into<String>, name: impl Into<String>) -> Self {
        Self { id: id.into(), name: name.into() }
    }

    /// What the system knows it by; may change when the device is plugged in again.
    #[must_use]
    pub fn id(&self) -> &str {
        &self.id
    }

    /// What people know it by.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its name without the address that the kernel's sequencer puts behind it (`Pad:Pad MIDI 1 24:0`), which
    /// changes when the device is plugged in again.
    #[must_use]
    pub fn lasting_name(&self) -> &str {
        match self.name.rsplit_once(' ') {
            Some((name, address)) if is_address(address) => name,
            _ => &self.name,
        }
    }

    /// Whether this program made it, to send from or to listen by: connected to itself, it would hear itself. Systems name a port after its program, JACK
    /// with a number behind where the name is taken (`countline-01:out`).
    #[must_use]
    pub(crate) fn is_own(&self) -> bool {
        let behind = self.name.strip_prefix(CLIENT).and_then(|behind| behind.split_once(':'));
        behind.is_some_and(|(number, _)| {
            number.is_empty()
                || number
                    .strip_prefix('-')
                    .is_some_and(|number| number.bytes().all(|byte| byte.is_ascii_digit()))
        })
    }

    /// Whether it only hands on what programs send to it, with no device behind it.
    #[must_use]
    pub fn is_through(&self) -> bool {
        self.name.contains("Midi Through")
    }
}

impl fmt::Display for Port {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.name)
    }
}

/// Finds the port a person means: by its whole name, or by a part of it that no other has.
///
/// # Errors
/// If there is none, or more than one; the message lists what is there, or those that could be meant.
pub fn find_port<'a>(ports: &'a [Port], given: &str) -> Result<&'a Port, Error> {
    let exact = ports.iter().find(|port| port.name == given || port.id == given);
    let mut parts = ports.iter().filter(|port| port.name.to_lowercase().contains(&given.to_lowercase()));
    match (exact, parts.next(), parts.next()) {
        (Some(port), _, _) | (None, Some(port), None) => Ok(port),
        (None, Some(first), Some(second)) => Err(Error::ManyPorts {
            given: given.to_owned(),
            there: [first, second].into_iter().chain(parts).map(|port| port.name.clone()).collect(),
        }),
        (None, None, _) => Err(Error::NoSuchPort {
            given: given.to_owned(),
            there: ports.iter().map(|port| port.name.clone()).collect(),
        }),
    }
}

fn is_address(text: &str) -> bool {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    text.split_once(':').is_some_and(|(client, port)| digits(client) && digits(port))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_programs_own_ports_are_known() {
        for (name, own) in [
            ("countline:out", true),
            ("countline-01:out", true),
            ("countline-01:in", true),
            ("countline:click 129:0", true),
            ("countline pad:out", false),
            ("Stage Piano:MIDI 1 24:0", false),
            ("countline", false),
        ] {
            assert_eq!(Port::new("", name).is_own(), own, "{name}");
        }
    }

    #[test]
    fn the_address_is_no_part_of_the_lasting_name() {
        let check = |name: &str, expected: &str| {
            assert_eq!(Port::new("1", name).lasting_name(), expected);
        };
        check("Pad:Pad MIDI 1 24:0", "Pad:Pad MIDI 1");
        check("system:midi_capture_1", "system:midi_capture_1");
        check("Pad 2", "Pad 2");
        check("Pad 2:x", "Pad 2:x");
    }

    #[test]
    fn a_port_is_found_by_a_part_of_its_name() {
        let ports = [Port::new("20:0", "Pad One 20:0"), Port::new("21:0", "Pad Two 21:0")];
        let check = |given: &str, expected: Option<usize>| {
            let found = find_port(&ports, given);
            assert_eq!(found.ok(), expected.map(|index| &ports[index]), "{given}");
        };
        check("Pad Two 21:0", Some(1));
        check("one", Some(0));
        check("21:0", Some(1));
        check("pad", None);
        check("snare", None);
        let said = |given: &str| find_port(&ports, given).expect_err("not one").to_string();
        assert!(
            said("pad").contains("2 MIDI ports' names, \"Pad One 20:0\", \"Pad Two 21:0\""),
            "{}",
            said("pad")
        );
        assert!(said("snare").contains("there is no MIDI port \"snare\""), "{}", said("snare"));
    }
}
