use wmidi::MidiMessage;

use crate::StrokeKind;
use crate::limits::CONTROLLER;

/// Reads the bytes of one MIDI port and finds the notes and the controllers (pedals) in them.
///
/// Bytes may come in any portions: several messages at once, one in pieces, with running status (the
/// status byte left out while it stays the same) or without, with real-time bytes in between. System
/// exclusive messages of any length are passed over, and so is everything that is neither; bytes that
/// make no sense are skipped up to the next status byte.
///
/// Real-time: no allocation, lock, I/O or panic, whatever the bytes.
#[derive(Clone, Debug, Default)]
pub struct Parser {
    /// The status byte in force, 0x80 to 0xEF, or 0 for none.
    status: u8,
    data: [u8; 2],
    filled: usize,
}

/// What a message says, of all that a program for strokes can use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Message {
    /// A note begins or ends.
    Note(NoteMessage),
    /// A controller moves.
    Control(ControlMessage),
}

/// A controller's new value, as it stood in a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ControlMessage {
    /// 0 to 15; people call them 1 to 16.
    pub channel: u8,
    /// Which controller, 0 to 119: 64 is the sustain pedal.
    pub controller: u8,
    /// 0 to 127.
    pub value: u8,
}

/// A note that begins or ends, as it stood in a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoteMessage {
    /// Begins or ends.
    pub kind: StrokeKind,
    /// 0 to 15; people call them 1 to 16.
    pub channel: u8,
    /// Key number, 0 to 127.
    pub note: u8,
    /// 1 to 127 where a note begins, 0 to 127 where it ends.
    pub velocity: u8,
}

impl Parser {
    /// A parser that has seen no byte.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes the next bytes and hands every message completed by them to `each`, in order.
    pub fn feed(&mut self, bytes: &[u8], mut each: impl FnMut(Message)) {
        for &byte in bytes {
            if let Some(message) = self.take(byte) {
                each(message);
            }
        }
    }

    /// The bytes of MIDI 1.0, from memory of the specification's message table: 0xF8 to 0xFF are
    /// real-time and may stand anywhere, also inside another message; 0xF0 to 0xF7 end running status.
    fn take(&mut self, byte: u8) -> Option<Message> {
        match byte {
            0xF8..=0xFF => None,
            0xF0..=0xF7 => {
                // Without a status, the data bytes of system messages fall away, however many.
                self.status = 0;
                self.filled = 0;
                None
            }
            0x80..=0xEF => {
                self.status = byte;
                self.filled = 0;
                None
            }
            0x00..=0x7F if self.status == 0 => None,
            0x00..=0x7F => {
                self.data[self.filled] = byte;
                self.filled += 1;
                // Program change and channel pressure have one data byte, the others two.
                let wanted = if matches!(self.status & 0xF0, 0xC0 | 0xD0) { 1 } else { 2 };
                if self.filled < wanted {
                    return None;
                }
                self.filled = 0;
                read(&[self.status, self.data[0], self.data[1]][..=wanted])
            }
        }
    }
}

fn read(message: &[u8]) -> Option<Message> {
    let (kind, channel, note, velocity) = match MidiMessage::try_from(message).ok()? {
        // A note-on of velocity 0 comes out of wmidi as a note-off, which it is.
        MidiMessage::NoteOn(channel, note, velocity) => (StrokeKind::On, channel, note, velocity),
        MidiMessage::NoteOff(channel, note, velocity) => (StrokeKind::Off, channel, note, velocity),
        MidiMessage::ControlChange(channel, controller, value) => {
            let (controller, value) = (controller.into(), value.into());
            let control = ControlMessage { channel: channel.index(), controller, value };
            // From 120 on they are channel mode messages, of no pedal.
            return CONTROLLER.holds(i64::from(controller)).then_some(Message::Control(control));
        }
        _ => return None,
    };
    let (note, velocity) = (note.into(), velocity.into());
    Some(Message::Note(NoteMessage { kind, channel: channel.index(), note, velocity }))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn on(channel: u8, note: u8, velocity: u8) -> Message {
        Message::Note(NoteMessage { kind: StrokeKind::On, channel, note, velocity })
    }

    fn off(channel: u8, note: u8, velocity: u8) -> Message {
        Message::Note(NoteMessage { kind: StrokeKind::Off, channel, note, velocity })
    }

    fn control(channel: u8, controller: u8, value: u8) -> Message {
        Message::Control(ControlMessage { channel, controller, value })
    }

    fn messages(bytes: &[u8]) -> Vec<Message> {
        let mut parser = Parser::new();
        let mut found = Vec::new();
        parser.feed(bytes, |message| found.push(message));
        found
    }

    fn check(bytes: &[u8], expected: &[Message]) {
        assert_eq!(messages(bytes), expected, "{bytes:02X?}");
        // The same bytes one at a time.
        let mut parser = Parser::new();
        let mut found = Vec::new();
        for &byte in bytes {
            parser.feed(&[byte], |message| found.push(message));
        }
        assert_eq!(found, expected, "{bytes:02X?} one at a time");
    }

    /// MIDI 1.0 message table, from memory.
    #[test]
    fn notes_are_read_from_their_three_bytes() {
        check(&[0x90, 38, 100], &[on(0, 38, 100)]);
        check(&[0x99, 38, 1], &[on(9, 38, 1)]);
        check(&[0x80, 60, 64], &[off(0, 60, 64)]);
        check(&[0x8F, 127, 127], &[off(15, 127, 127)]);
        check(&[], &[]);
    }

    /// MIDI 1.0: a note-on of velocity 0 is a note-off.
    #[test]
    fn velocity_0_ends_the_note() {
        check(&[0x90, 60, 0], &[off(0, 60, 0)]);
    }

    /// MIDI 1.0, running status: the status byte may be left out while it does not change.
    #[test]
    fn running_status_goes_on_until_another_status() {
        check(&[0x90, 36, 90, 38, 80, 36, 0], &[on(0, 36, 90), on(0, 38, 80), off(0, 36, 0)]);
        check(
            &[0x90, 36, 90, 0xB0, 4, 90, 5, 1, 0x91, 38, 80],
            &[on(0, 36, 90), control(0, 4, 90), control(0, 5, 1), on(1, 38, 80)],
        );
        // Program change and channel pressure carry one data byte.
        check(&[0xC0, 5, 6, 0x90, 36, 90], &[on(0, 36, 90)]);
        check(&[0xD9, 5, 0x99, 36, 90], &[on(9, 36, 90)]);
    }

    /// MIDI 1.0: real-time bytes may come between any two bytes and change nothing.
    #[test]
    fn real_time_bytes_are_harmless_anywhere() {
        check(&[0xF8, 0x90, 0xFE, 36, 0xF8, 90, 0xFA, 38, 0xFF, 80], &[on(0, 36, 90), on(0, 38, 80)]);
    }

    /// MIDI 1.0: system exclusive and system common messages end running status.
    #[test]
    fn system_messages_are_passed_over() {
        check(&[0xF0, 0x7E, 0x7F, 6, 1, 0xF7, 0x90, 36, 90], &[on(0, 36, 90)]);
        check(&[0xF0, 0x7E, 0xF8, 0x7F, 0x90, 36, 90], &[on(0, 36, 90)]);
        check(&[0x90, 36, 90, 0xF2, 1, 2, 38, 80], &[on(0, 36, 90)]);
        check(&[0xF1, 36, 90, 0xF6, 0x90, 36, 90], &[on(0, 36, 90)]);
    }

    /// MIDI 1.0: controllers 0 to 119; from 120 on the same status carries channel mode messages.
    #[test]
    fn controllers_are_read_and_channel_modes_passed_over() {
        check(&[0xB9, 64, 127, 64, 0], &[control(9, 64, 127), control(9, 64, 0)]);
        check(&[0xB0, 119, 1, 123, 0, 120, 0], &[control(0, 119, 1)]);
    }

    #[test]
    fn bytes_without_a_status_are_skipped() {
        check(&[36, 90, 12, 0x90, 36, 90], &[on(0, 36, 90)]);
        check(&[0x90, 36, 0x90, 38, 80], &[on(0, 38, 80)]);
    }

    proptest! {
        /// No bytes make it panic, and however they are portioned the notes are the same and in range.
        #[test]
        fn any_bytes_in_any_portions(bytes in prop::collection::vec(any::<u8>(), 0..200), portion in 1usize..9) {
            let whole = messages(&bytes);
            let mut parser = Parser::new();
            let mut found = Vec::new();
            for portion in bytes.chunks(portion) {
                parser.feed(portion, |message| found.push(message));
            }
            prop_assert_eq!(&found, &whole);
            for message in whole {
                match message {
                    Message::Note(note) => {
                        prop_assert!(note.channel < 16 && note.note < 128 && note.velocity < 128);
                        prop_assert!(note.kind == StrokeKind::Off || note.velocity > 0);
                    }
                    Message::Control(control) => {
                        prop_assert!(control.channel < 16 && control.controller < 120 && control.value < 128);
                    }
                }
            }
        }

        /// Whatever stands before, a full message is read.
        #[test]
        fn a_full_message_is_always_read(
            before in prop::collection::vec(any::<u8>(), 0..50),
            channel in 0u8..16,
            note in 0u8..128,
            velocity in 1u8..128,
        ) {
            let mut bytes = before;
            bytes.extend([0x90 | channel, note, velocity]);
            prop_assert_eq!(messages(&bytes).last().copied(), Some(on(channel, note, velocity)));
        }

        /// Real-time bytes put anywhere change nothing.
        #[test]
        fn real_time_bytes_change_nothing(
            bytes in prop::collection::vec(0u8..0xF8, 0..60),
            places in prop::collection::vec((any::<prop::sample::Index>(), 0xF8u8..=0xFF), 0..10),
        ) {
            let mut mixed = bytes.clone();
            for (place, byte) in places {
                mixed.insert(place.index(mixed.len() + 1), byte);
            }
            prop_assert_eq!(messages(&mixed), messages(&bytes));
        }
    }
}
