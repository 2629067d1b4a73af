//! Reads MusicXML files so many times over and prints how long it took and how much memory it needed, for
//! `tests/readers/musicxml_speed.py`.
//!
//!     import_speed TIMES FILE...

use std::time::Instant;

use exchange::musicxml::{Choice, read};

#[expect(clippy::print_stdout, reason = "printing is what this program is for")]
fn main() {
    let mut arguments = std::env::args().skip(1);
    let times: u32 = arguments.next().and_then(|times| times.parse().ok()).expect("TIMES FILE...");
    for path in arguments {
        let bytes = std::fs::read(&path).expect("the file can be read");
        let before = resident();
        let started = Instant::now();
        let mut bars = 0;
        for _ in 0..times {
            // Parts whose bars differ make no piece together; then the first is read.
            let one = || Choice { part: Some("1".to_owned()), voice: None };
            let import = read(&bytes, &Choice::default()).or_else(|_| read(&bytes, &one()));
            bars = import.map_or(0, |import| import.piece.parts()[0].rhythm.bars().len());
        }
        let seconds = started.elapsed().as_secs_f64() / f64::from(times);
        let grown = resident().saturating_sub(before);
        println!(
            "{{\"bytes\":{},\"bars\":{bars},\"seconds\":{seconds:.9},\"grown_kib\":{grown}}}",
            bytes.len()
        );
    }
}

/// The most memory this process has held so far, in KiB; 0 where the system does not tell.
fn resident() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok()).unwrap_or(0)
}
