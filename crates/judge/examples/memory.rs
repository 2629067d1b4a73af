//! Prints how much memory judging a take of so many attacks needs at most, beyond the take and its counts.
//!
//! ```sh
//! cargo run --release -p judge --example memory -- ATTACKS
//! ```
//!
//! A bar of 2 s holds ten attacks, a hold and a rest; every attack lies up to 60 ms off to either side, one in fifty is left out. What a
//! process held at most (`VmHWM`) is told by Linux only.

#![expect(clippy::print_stdout, reason = "what was measured is printed")]

use counting::TimedCount;
use judge::{Played, Settings, judge};
use rhythm::{AttackId, Deed};
use timebase::{Moment, Seconds, Span};

const PLACES: u32 = 12;
const BAR_MS: f64 = 2_000.0;

fn main() {
    let attacks: u32 = std::env::args().nth(1).and_then(|text| text.parse().ok()).unwrap_or(1_000);
    let counts: Vec<TimedCount> =
        (1..=attacks.div_ceil(10)).flat_map(|bar| (0..PLACES).map(move |place| count(bar, place))).collect();
    let played = played(&counts);
    let before = kb("VmRSS");
    let judgement = judge(&counts, &played, &Settings::default());
    let most = kb("VmHWM").saturating_sub(before);
    let struck = judgement.attacks().len();
    println!(
        "{struck} attacks: {most} kB at most while they are judged, {} bytes each",
        1_024 * most / u64::try_from(struck.max(1)).unwrap_or(1)
    );
}

fn count(bar: u32, place: u32) -> TimedCount {
    TimedCount {
        id: AttackId { bar, pass: 1, at: Span::new(i64::from(place), i64::from(PLACES)) },
        at: at(f64::from(bar - 1) * BAR_MS + f64::from(place) * BAR_MS / f64::from(PLACES)),
        say: None,
        deed: match place {
            2 => Deed::Hold,
            6 => Deed::Rest,
            _ => Deed::Attack,
        },
        on_beat: place.is_multiple_of(3),
        beat: Span::new(1, 4),
        marks: rhythm::Marks::NONE,
    }
}

fn at(ms: f64) -> Moment {
    Moment::ZERO + Seconds::from_millis_f64(ms)
}

fn played(counts: &[TimedCount]) -> Vec<Played> {
    let mut state = 1_u64;
    let mut chance = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / (1_u64 << 31) as f64
    };
    let mut played = Vec::new();
    for count in counts.iter().filter(|count| count.deed == Deed::Attack) {
        let off = (chance() + chance() - 1.0) * 60.0;
        if chance() > 0.02 {
            played.push(Played::new(at(count.at.as_millis_f64() + off)));
        }
    }
    played
}

/// What the process holds in memory (`VmRSS`), or held at most (`VmHWM`), in kB; 0 where the system does not tell.
fn kb(what: &str) -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with(what));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok()).unwrap_or(0)
}
