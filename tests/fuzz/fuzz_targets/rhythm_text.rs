//! Any text: reading it ends, and what was read can be counted, written and read again as the same rhythm.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let reading = rhythm::text::read(text);
    for diagnostic in &reading.diagnostics {
        assert!(text.get(diagnostic.span.clone()).is_some(), "a diagnostic points at the text");
    }
    let Some(rhythm) = reading.rhythm else { return };
    let line = counting::count(&rhythm);
    assert_eq!(line.bars().len(), rhythm.bars().len());
    let written = rhythm::text::write(&rhythm);
    assert_eq!(rhythm::text::read(&written).rhythm, Some(rhythm), "written again:\n{written}");
});
