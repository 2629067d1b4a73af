//! How much memory reading a rhythm text takes, as a multiple of the text: the most it held at a time, and what the
//! rhythm itself is. The text is that of the benchmark, so many bars of it.
//!
//!     cargo run --release -p rhythm --example memory -- 100000

#![expect(clippy::print_stdout, reason = "printing is what this program is for")]

#[path = "../benches/bars/mod.rs"]
mod bars;

use rhythm::Event;

fn main() {
    let many = std::env::args().nth(1).and_then(|many| many.parse().ok()).unwrap_or(100_000);
    let text = bars::text(many);
    let before = memory("VmRSS:");
    let reading = rhythm::text::read(&text);
    let most = memory("VmHWM:").saturating_sub(before);
    let rhythm = reading.rhythm.expect("a rhythm");
    let counts: usize = rhythm.bars().iter().map(|bar| bar.events().len()).sum();
    let own = size_of_val(rhythm.bars()) + counts * size_of::<Event>();
    let times = |bytes: usize| bytes as f64 / text.len() as f64;
    println!(
        "{} bytes, {} bars, {counts} counts: at most {:.1} times the text, {:.1} times it the rhythm",
        text.len(),
        rhythm.bars().len(),
        times(most),
        times(own)
    );
}

/// A figure of this process in bytes: the most memory it has held so far, or what it holds now; 0 where the system does not
/// tell.
fn memory(name: &str) -> usize {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix(name));
    line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok()).unwrap_or(0) * 1024
}
