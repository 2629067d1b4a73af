//! Any bytes as a packed MusicXML file: unpacking and reading end.

#![no_main]

use exchange::musicxml::{Choice, read};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _ = read(bytes, &Choice::default());
});
