//! Any bytes as a MIDI file: reading them ends, and what was read as a take can be written, and read again with as many strokes.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok(read) = take::midi::read_take(bytes) else { return };
    for player in &read.players {
        assert!(player.strokes.is_sorted_by_key(|stroke| stroke.at), "strokes stand in order of time");
    }
    let written = take::midi::write_take(&read).expect("what was read lies within a take's limits");
    let again = take::midi::read_take(&written).expect("our own file");
    let strokes = |take: &take::midi::MidiTake| take.players.iter().map(|p| p.strokes.len()).sum::<usize>();
    assert_eq!(strokes(&again), strokes(&read));
});
