//! Any text: reading it ends, and what was read can be counted, spelled, written, formatted and read again as the same
//! piece.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let reading = rhythm::text::read_piece(text);
    for diagnostic in &reading.diagnostics {
        assert!(text.get(diagnostic.span.clone()).is_some(), "a diagnostic points at the text");
    }
    let Some(piece) = reading.piece else { return };
    for part in piece.parts() {
        let line = counting::count(&part.rhythm);
        assert_eq!(line.bars().len(), part.rhythm.bars().len());
        for bar in part.rhythm.bars() {
            assert!(!rhythm::spelling::spell(bar).is_empty());
        }
    }
    let written = rhythm::text::write_piece(&piece);
    assert_eq!(rhythm::text::read_piece(&written).piece.as_ref(), Some(&piece), "written again:\n{written}");
    let formatted = rhythm::text::format(text).text.expect("what was read can be formatted");
    assert_eq!(rhythm::text::read_piece(&formatted).piece, Some(piece), "formatted:\n{formatted}");
    assert_eq!(rhythm::text::format(&formatted).text.as_ref(), Some(&formatted), "formatting twice changes nothing more");
});
