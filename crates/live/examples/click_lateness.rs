//! How late the thread that sends the click to a MIDI device is, on a loaded machine: from the time of a message to its being
//! handed to the driver, here to nothing. Beside it, in the same run, a thread that does the same without priority.
//!
//!     cargo run --release -p live --example click_lateness -- [SECONDS [BUSY]]
//!
//! BUSY threads count in circles meanwhile; by default two for each processor.

#![expect(clippy::print_stdout, reason = "printing is what this program is for")]

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use input::{Error, OutMessage, Outlet};
use live::{ClickOut, TimedMessage};
use timebase::{HostOrigin, HostTime, Moment, Seconds};

/// Takes everything and sends it nowhere.
#[derive(Debug)]
struct Nowhere;

impl Outlet for Nowhere {
    fn ahead(&self) -> Seconds {
        Seconds::ZERO
    }

    fn send(&mut self, message: OutMessage, _: HostTime) -> Result<(), Error> {
        std::hint::black_box(message);
        Ok(())
    }
}

fn main() {
    let mut numbers = std::env::args().skip(1).map(|word| word.parse::<usize>().expect("a whole number"));
    let seconds = numbers.next().unwrap_or(30);
    let processors = std::thread::available_parallelism().map_or(1, usize::from);
    let busy = numbers.next().unwrap_or(2 * processors);

    let stop = Arc::new(AtomicBool::new(false));
    let load: Vec<_> = (0..busy)
        .map(|_| {
            let stop = Arc::clone(&stop);
            std::thread::spawn(move || {
                let mut count = 0_u64;
                while !stop.load(Ordering::Relaxed) {
                    count = std::hint::black_box(count + 1);
                }
            })
        })
        .collect();

    // Sixteenths at 150 a minute, each with its end: 20 messages a second, at no round distance.
    let count = i64::try_from(20 * seconds).expect("a human number of seconds");
    let messages: Vec<TimedMessage> =
        (0..count).map(|n| (Moment::ZERO + Seconds::from_micros(50_003 * n), [0x99, 76, 100])).collect();
    let origin = HostOrigin::at(Instant::now());
    let zero = origin.time(Instant::now()) + Seconds::from_millis(300);
    let click = ClickOut::start(Box::new(Nowhere), messages.clone(), zero, origin).expect("a thread");
    let plain = std::thread::spawn(move || {
        let mut late: Vec<Seconds> = messages
            .iter()
            .map(|(at, _)| {
                let at = zero + at.since_zero();
                std::thread::sleep(origin.instant(at).saturating_duration_since(Instant::now()));
                origin.time(Instant::now()) - at
            })
            .collect();
        late.sort_unstable();
        late
    });
    let plain = plain.join().expect("no panic");
    let report = click.finish();
    stop.store(true, Ordering::Relaxed);
    for thread in load {
        thread.join().expect("no panic");
    }

    println!(
        "{} messages in {seconds} s, {busy} busy threads on {processors} processors",
        report.lateness.len()
    );
    match &report.not_real_time {
        None => print("the click's thread, real-time priority", &report.lateness),
        Some(why) => print(&format!("the click's thread, no real-time priority ({why})"), &report.lateness),
    }
    print("a thread without priority", &plain);
}

fn print(what: &str, sorted: &[Seconds]) {
    let ms = |percent: usize| {
        let rank = (sorted.len() * percent).div_ceil(100).max(1) - 1;
        sorted.get(rank).copied().unwrap_or_default().as_millis_f64()
    };
    println!("{what}: late by {:.3} ms at the median, {:.3} at p99, {:.3} at most", ms(50), ms(99), ms(100));
}
