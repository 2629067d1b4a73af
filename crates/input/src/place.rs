use std::fmt;

use crate::Error;
use crate::limits::{CHANNEL, CONTROLLER, NOTE};

/// A place on the devices that something or somebody is known by: a port, or of it only a channel, certain notes or a
/// pedal.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Place {
    port: String,
    channel: Option<u8>,
    touch: Touch,
}

/// What of a port or a channel is meant.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Touch {
    /// Every note, and no pedal.
    #[default]
    AnyNote,
    /// Only these notes.
    Notes(NoteRange),
    /// A pedal: the controller of this number, 0 to 119. Down is 64 or more, as for the switches of MIDI 1.0.
    Pedal(u8),
}

/// The notes from one to another, both included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NoteRange {
    least: u8,
    most: u8,
}

/// What came from a device, as far as places are told apart by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Touched {
    /// A note of this number.
    Note(u8),
    /// A controller of this number.
    Pedal(u8),
}

impl Place {
    /// The port name by which the computer's own keyboard is meant.
    pub const SPACE_BAR: &'static str = "space bar";

    /// Everything struck on a port, by its name or a part of it.
    ///
    /// # Errors
    /// If the name is empty.
    pub fn port(port: impl Into<String>) -> Result<Self, Error> {
        let port = port.into();
        if port.trim().is_empty() {
            return Err(Error::NoPortName);
        }
        Ok(Self { port: port.trim().to_owned(), channel: None, touch: Touch::AnyNote })
    }

    /// The same place, only on this MIDI channel, 0 to 15.
    ///
    /// # Errors
    /// If there is no such channel.
    pub fn on_channel(self, channel: u8) -> Result<Self, Error> {
        checked(CHANNEL, channel).map(|channel| Self { channel: Some(channel), ..self })
    }

    /// The same place, only these notes or this pedal.
    ///
    /// # Errors
    /// If there is no such controller.
    pub fn with_touch(self, touch: Touch) -> Result<Self, Error> {
        if let Touch::Pedal(controller) = touch {
            checked(CONTROLLER, controller)?;
        }
        Ok(Self { touch, ..self })
    }

    /// The port's name or a part of it.
    #[must_use]
    pub fn port_name(&self) -> &str {
        &self.port
    }

    /// The channel, 0 to 15, if only one is meant.
    #[must_use]
    pub const fn channel(&self) -> Option<u8> {
        self.channel
    }

    /// What of it is meant.
    #[must_use]
    pub const fn touch(&self) -> Touch {
        self.touch
    }

    /// Whether this is meant by it, on the right port.
    #[must_use]
    pub fn holds(&self, channel: u8, touched: Touched) -> bool {
        self.channel.is_none_or(|own| own == channel) && self.touch.holds(touched)
    }

    /// Whether a touch can be meant by both, of whatever port.
    pub(crate) fn meets(&self, other: &Self) -> bool {
        let channels = match (self.channel, other.channel) {
            (Some(own), Some(other)) => own == other,
            _ => true,
        };
        channels && self.touch.meets(other.touch)
    }

    /// Whether everything that is meant by it is meant by `other` too.
    pub(crate) fn is_within(&self, other: &Self) -> bool {
        let channels = other.channel.is_none() || self.channel == other.channel;
        channels && self.touch.is_within(other.touch)
    }
}

impl Touch {
    fn holds(self, touched: Touched) -> bool {
        match (self, touched) {
            (Self::AnyNote, Touched::Note(_)) => true,
            (Self::Notes(range), Touched::Note(note)) => range.holds(note),
            (Self::Pedal(own), Touched::Pedal(controller)) => own == controller,
            (Self::AnyNote | Self::Notes(_), Touched::Pedal(_)) | (Self::Pedal(_), Touched::Note(_)) => false,
        }
    }

    fn meets(self, other: Self) -> bool {
        match (self, other) {
            (Self::Pedal(own), Self::Pedal(other)) => own == other,
            (Self::Pedal(_), _) | (_, Self::Pedal(_)) => false,
            (Self::Notes(own), Self::Notes(other)) => own.least <= other.most && other.least <= own.most,
            (Self::AnyNote, _) | (_, Self::AnyNote) => true,
        }
    }

    fn is_within(self, other: Self) -> bool {
        match (self, other) {
            (Self::Pedal(own), Self::Pedal(other)) => own == other,
            (Self::AnyNote | Self::Notes(_), Self::AnyNote) => true,
            (Self::Notes(own), Self::Notes(other)) => other.least <= own.least && own.most <= other.most,
            _ => false,
        }
    }
}

impl NoteRange {
    /// The notes from `least` to `most`, MIDI key numbers 0 to 127.
    ///
    /// # Errors
    /// If one is no key number, or the first lies above the last.
    pub fn new(least: u8, most: u8) -> Result<Self, Error> {
        checked(NOTE, least)?;
        checked(NOTE, most)?;
        if least > most {
            return Err(Error::NotesBackwards { least, most });
        }
        Ok(Self { least, most })
    }

    /// Whether the note is one of them.
    #[must_use]
    pub const fn holds(self, note: u8) -> bool {
        self.least <= note && note <= self.most
    }

    /// The lowest.
    #[must_use]
    pub const fn least(self) -> u8 {
        self.least
    }

    /// The highest.
    #[must_use]
    pub const fn most(self) -> u8 {
        self.most
    }
}

fn checked(limit: timebase::limits::Limit, given: u8) -> Result<u8, Error> {
    if limit.holds(i64::from(given)) {
        Ok(given)
    } else {
        Err(Error::OutOfRange { given: i64::from(given), limit })
    }
}

/// As people write it: `Pad, channel 10, notes 36-40`.
impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.port)?;
        if let Some(channel) = self.channel {
            write!(f, ", channel {}", channel + 1)?;
        }
        match self.touch {
            Touch::AnyNote => Ok(()),
            Touch::Notes(notes) if notes.least == notes.most => write!(f, ", note {notes}"),
            Touch::Notes(notes) => write!(f, ", notes {notes}"),
            Touch::Pedal(controller) => write!(f, ", pedal {controller}"),
        }
    }
}

impl fmt::Display for NoteRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.least == self.most {
            write!(f, "{}", self.least)
        } else {
            write!(f, "{}-{}", self.least, self.most)
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn notes(least: u8, most: u8) -> Touch {
        Touch::Notes(NoteRange::new(least, most).expect("a range"))
    }

    fn place(channel: Option<u8>, touch: Touch) -> Place {
        let place = Place::port("Pad").expect("a name").with_touch(touch).expect("a touch");
        channel.map_or(place.clone(), |channel| place.on_channel(channel).expect("a channel"))
    }

    #[test]
    fn what_is_no_place_is_refused_with_what_is_allowed() {
        let check = |refused: Result<Place, Error>, words: &[&str]| {
            let said = refused.expect_err("no place").to_string();
            assert!(words.iter().all(|word| said.contains(word)), "{said}");
        };
        check(Place::port(" "), &["name"]);
        check(Place::port("Pad").and_then(|pad| pad.on_channel(16)), &["0 to 15"]);
        check(Place::port("Pad").and_then(|pad| pad.with_touch(Touch::Pedal(120))), &["120", "0 to 119"]);
        assert!(NoteRange::new(40, 36).expect_err("backwards").to_string().contains("36 to 40"));
        assert!(NoteRange::new(36, 128).expect_err("no note").to_string().contains("0 to 127"));
    }

    #[test]
    fn places_are_written_as_people_read_them() {
        assert_eq!(place(Some(9), notes(36, 40)).to_string(), "Pad, channel 10, notes 36-40");
        assert_eq!(place(None, notes(38, 38)).to_string(), "Pad, note 38");
        assert_eq!(place(None, Touch::Pedal(64)).to_string(), "Pad, pedal 64");
    }

    fn any_place() -> impl Strategy<Value = Place> {
        let touch = prop_oneof![
            Just(Touch::AnyNote),
            (0u8..12, 0u8..12).prop_map(|(a, b)| notes(a.min(b), a.max(b))),
            (0u8..3).prop_map(Touch::Pedal),
        ];
        (prop::option::of(0u8..3), touch).prop_map(|(channel, touch)| place(channel, touch))
    }

    fn touches() -> impl Iterator<Item = (u8, Touched)> {
        (0..3).flat_map(|channel| {
            let notes = (0..13).map(Touched::Note);
            notes.chain((0..4).map(Touched::Pedal)).map(move |touched| (channel, touched))
        })
    }

    proptest! {
        /// Meeting and lying within are what they are for the sets of touches.
        #[test]
        fn places_are_sets(a in any_place(), b in any_place()) {
            let both = |(channel, touched)| a.holds(channel, touched) && b.holds(channel, touched);
            prop_assert_eq!(a.meets(&b), touches().any(both));
            let only_a = |(channel, touched)| a.holds(channel, touched) && !b.holds(channel, touched);
            prop_assert_eq!(a.is_within(&b), !touches().any(only_a));
        }
    }
}
