//! Any bytes as what a MIDI port sends: in whatever portions they come, the messages are the same and within their ranges, and
//! a full message at the end is read.

#![no_main]

use input::{Message, Parser};
use libfuzzer_sys::fuzz_target;

fn read<'a>(portions: impl Iterator<Item = &'a [u8]>) -> Vec<Message> {
    let mut parser = Parser::new();
    let mut found = Vec::new();
    for portion in portions {
        parser.feed(portion, |message| found.push(message));
    }
    found
}

fuzz_target!(|bytes: &[u8]| {
    let (size, bytes) = bytes.split_first().map_or((1, bytes), |(size, rest)| (usize::from(*size).max(1), rest));
    let whole = read(std::iter::once(bytes));
    assert_eq!(read(bytes.chunks(size)), whole);
    for message in &whole {
        match message {
            Message::Note(note) => assert!(note.channel < 16 && note.note < 128 && note.velocity < 128),
            Message::Control(control) => {
                assert!(control.channel < 16 && control.controller < 120 && control.value < 128);
            }
        }
    }
    let last = [bytes, &[0x99, 38, 100]].concat();
    assert!(matches!(read(std::iter::once(&*last)).last(), Some(Message::Note(note)) if note.note == 38));
});
