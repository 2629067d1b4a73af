//! How much memory reading a rhythm text takes, as a multiple of the text: the most it held at a time, and what the
//! rhythm itself is. The text is that of the benchmark, so many bars of it; with `unlike`, one in which no two bars near
//! each other are alike, so that none can share its events with another.
//!
//!     cargo run --release -p rhythm --example memory -- 100000 [unlike]

#![expect(clippy::print_stdout, reason = "printing is what this program is for")]

use std::collections::HashSet;

#[path = "../benches/bars/mod.rs"]
mod bars;

use rhythm::{Bar, Event};

fn main() {
    let mut arguments = std::env::args().skip(1);
    let many = arguments.next().and_then(|many| many.parse().ok()).unwrap_or(100_000);
    let text = if arguments.next().as_deref() == Some("unlike") { unlike(many) } else { bars::text(many) };
    let before = memory("VmRSS:");
    let reading = rhythm::text::read(&text);
    let most = memory("VmHWM:").saturating_sub(before);
    let rhythm = reading.rhythm.expect("a rhythm");
    let counts: usize = rhythm.bars().iter().map(|bar| bar.events().len()).sum();
    let times = |bytes: usize| bytes as f64 / text.len() as f64;
    println!(
        "{} bytes, {} bars, {counts} counts: at most {:.1} times the text, {:.1} times it the rhythm",
        text.len(),
        rhythm.bars().len(),
        times(most),
        times(own(rhythm.bars()))
    );
}

/// What bars take: themselves, and their events, once where several share them.
fn own(bars: &[Bar]) -> usize {
    let mut seen = HashSet::new();
    let events = bars.iter().map(Bar::events).filter(|events| seen.insert(events.as_ptr()));
    size_of_val(bars) + events.map(size_of_val::<[Event]>).sum::<usize>()
}

/// So many bars of sixteenths, no two alike until all that are possible were there.
fn unlike(bars: usize) -> String {
    const COUNTS: [&str; 16] =
        ["1 ", "e ", "& ", "a ", "2 ", "e ", "& ", "a ", "3 ", "e ", "& ", "a ", "4 ", "e ", "& ", "a "];
    let mut text = "title: Long Road\nmeter: 4/4\ntempo: quarter = 96\n\n".to_owned();
    for bar in 0..bars {
        text.push_str("| ");
        // Every beat is written; which of the other counts are, the bits of a number say.
        let chosen = (bar % 4096) * 2477 % 4096;
        let mut bit = 0;
        for (place, count) in COUNTS.iter().enumerate() {
            let written = place % 4 == 0 || {
                bit += 1;
                chosen >> (bit - 1) & 1 == 1
            };
            text.push_str(if written { count } else { "" });
        }
        text.push_str(if bar % 4 == 3 { "|\n" } else { "" });
    }
    text.push_str("|\n");
    text
}

/// A figure of this process in bytes: the most memory it has held so far, or what it holds now; 0 where the system does not
/// tell.
fn memory(name: &str) -> usize {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix(name));
    line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok()).unwrap_or(0) * 1024
}
