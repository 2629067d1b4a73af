//! The parser may stand in a real-time callback: it neither allocates nor frees, whatever the bytes.

#[path = "../../mixer/tests/allocations/mod.rs"]
mod allocations;

use allocations::allocations;
use input::Parser;
use timebase::{ClockOffset, HostTime};

#[test]
fn the_check_trips_on_a_planted_allocation() {
    let planted = allocations(|| drop(std::hint::black_box(Vec::<u8>::with_capacity(64))));
    assert_eq!(planted, 2, "one allocation, one drop");
}

#[test]
fn the_parser_and_the_clocks_never_call_the_allocator() {
    // Every pair of bytes, each followed by a full note.
    let bytes: Vec<u8> =
        (0..=u16::MAX).flat_map(|pair| [pair.to_be_bytes().as_slice(), &[0x99, 38, 100]].concat()).collect();
    let mut parser = Parser::new();
    let mut offset = ClockOffset::new();
    let mut notes = 0;
    let calls = allocations(|| {
        for portion in bytes.chunks(7) {
            parser.feed(portion, |_| notes += 1);
            offset.add(HostTime::from_nanos(notes), 0);
        }
    });
    assert_eq!(calls, 0);
    assert!(notes >= 65_536, "{notes} notes were read");
}
