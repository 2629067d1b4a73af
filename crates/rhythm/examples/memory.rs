//! How much memory reading a rhythm text takes, as a multiple of the text: the most it held at a time, and what the
//! rhythm keeps. The text is that of the benchmark, so many bars of it.
//!
//!     cargo run --release -p rhythm --example memory -- 100000

#![expect(clippy::print_stdout, reason = "printing is what this program is for")]

#[path = "../benches/bars/mod.rs"]
mod bars;

fn main() {
    let many = std::env::args().nth(1).and_then(|many| many.parse().ok()).unwrap_or(100_000);
    let text = bars::text(many);
    let before = memory();
    let reading = rhythm::text::read(&text);
    let [most, kept] = memory();
    let rhythm = reading.rhythm.expect("a rhythm");
    let counts: usize = rhythm.bars().iter().map(|bar| bar.events().len()).sum();
    let times = |now: usize, before: usize| now.saturating_sub(before) as f64 / text.len() as f64;
    println!(
        "{} bytes, {} bars, {counts} counts: at most {:.1} times the text, {:.1} times it kept",
        text.len(),
        rhythm.bars().len(),
        times(most, before[1]),
        times(kept, before[1])
    );
}

/// The most memory this process has held so far, and what it holds now, in bytes; 0 where the system does not tell.
fn memory() -> [usize; 2] {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    ["VmHWM:", "VmRSS:"].map(|name| {
        let line = status.lines().find_map(|line| line.strip_prefix(name));
        line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok()).unwrap_or(0) * 1024
    })
}
