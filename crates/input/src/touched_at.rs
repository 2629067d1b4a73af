use std::fmt;

use crate::{Error, NoteRange, Place, Touch, Touched};

/// What was touched where, for whoever learns what somebody plays on.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct TouchedAt {
    /// The device, by its name.
    pub port: String,
    /// The MIDI channel, 0 to 15.
    pub channel: u8,
    /// What of it.
    pub touched: Touched,
}

impl TouchedAt {
    /// Just this and nothing else: the one note or pedal, on its channel.
    ///
    /// # Errors
    /// If the device has no name, or a number is none.
    pub fn place(&self) -> Result<Place, Error> {
        let touch = match self.touched {
            Touched::Note(note) => Touch::Notes(NoteRange::new(note, note)?),
            Touched::Pedal(controller) => Touch::Pedal(controller),
        };
        Place::port(self.port.as_str())?.on_channel(self.channel)?.with_touch(touch)
    }
}

/// As people write it: `Pad, channel 10, note 38`.
impl fmt::Display for TouchedAt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, channel {}, ", self.port, u32::from(self.channel) + 1)?;
        match self.touched {
            Touched::Note(note) => write!(f, "note {note}"),
            Touched::Pedal(controller) => write!(f, "pedal {controller}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_touch_is_a_place() {
        let check = |touched, expected: &str| {
            let touch = TouchedAt { port: "Pad".to_owned(), channel: 9, touched };
            assert_eq!(touch.place().expect("a place").to_string(), expected);
            assert_eq!(touch.to_string(), expected);
        };
        check(Touched::Note(38), "Pad, channel 10, note 38");
        check(Touched::Pedal(64), "Pad, channel 10, pedal 64");
        let nowhere = TouchedAt { port: String::new(), channel: 0, touched: Touched::Note(1) };
        assert!(nowhere.place().is_err());
    }
}
