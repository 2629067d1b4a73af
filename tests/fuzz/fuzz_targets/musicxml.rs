//! Any bytes as a MusicXML file: reading ends, and what was read can be played, and written, as MusicXML and as rhythm text,
//! and read again.

#![no_main]

use exchange::musicxml::{Choice, contents, read, write};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _ = contents(bytes);
    let Ok(import) = read(bytes, &Choice::default()) else { return };
    for part in import.piece.parts() {
        let _ = part.rhythm.performance();
    }
    if let Ok(told) = import.clone().for_text() {
        let text = rhythm::text::write_piece(&told.piece);
        let reading = rhythm::text::read_piece(&text);
        assert!(reading.piece.is_some(), "written as text:\n{text}\n{:?}", reading.diagnostics);
    }
    let Ok(file) = write(&import.piece) else { return };
    let again = read(file.as_bytes(), &Choice::default()).expect("what was written is read");
    let bars = |piece: &rhythm::Piece| piece.parts()[0].rhythm.bars().len();
    assert_eq!(bars(&again.piece), bars(&import.piece), "written again:\n{file}");
});
