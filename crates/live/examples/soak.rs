//! A lesson of hours in minutes: the whole engine without devices, drills of two minutes (or as many as are asked for) one after the
//! other, players at so many strokes a second, with everything that a take is compared with what was struck.
//!
//! ```sh
//! cargo run --release -p live --example soak -- HOURS PLAYERS STROKES_A_SECOND [MINUTES]
//! ```
//!
//! Printed are lost, doubled and misplaced strokes, the drift between click and stamps, and the memory at the first and the last
//! drill; of the first drill, also what it is after ten seconds and at the end, and the most until all of it is judged and written.

#![expect(clippy::print_stdout, reason = "what was measured is printed")]

use std::path::Path;

use input::{Entry, InputSettings, Place, Roster};
use live::offline::{Offline, Setup};
use live::{Drill, Event};
use timebase::{Moment, Seconds};

/// Fifteen bars of four quarters at 120: half a minute.
fn half_minutes(times: f64) -> String {
    let bars = "1 2 3 4 | ".repeat(15);
    format!("meter: 4/4\ntempo: quarter = 120\n|: {} :| {times} times\n", bars.trim_end_matches([' ', '|']))
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let mut number = |usual: f64| arguments.next().and_then(|text| text.parse().ok()).unwrap_or(usual);
    let (hours, players, a_second) = (number(4.0), number(4.0), number(4.0));
    let minutes = number(2.0).round().max(1.0);
    let seconds = minutes * 60.0;
    let drills = (hours * 3_600.0 / seconds).ceil().max(1.0);
    let rhythm = rhythm::text::read(&half_minutes(minutes * 2.0)).rhythm.ok_or("no rhythm")?;
    let plan = sequencer::Plan::of(&rhythm);
    let folder = tempfile::tempdir()?;

    let mut entries = Vec::new();
    let mut players_left = players;
    while players_left >= 1.0 {
        let index = u8::try_from(entries.len())?;
        let place = Place::port(port(index))?.on_channel(index % 16)?;
        entries.push(Entry::new(&format!("K{index:02}"), vec![place]));
        players_left -= 1.0;
    }
    let count = u8::try_from(entries.len())?;
    let input = InputSettings { roster: Roster::new(entries)?, ..InputSettings::default() };
    // A card 40 parts in a million fast, so that nothing is even by chance.
    let setup = Setup { out_ppm: 40.0, judged_every: Seconds::from_millis(100), input, ..Setup::default() };
    let mut engine = Offline::new(setup)?;
    (0..count.div_ceil(16)).for_each(|module| engine.plug(&port(module * 16)));

    let mut sum = Sum::default();
    let mut number = 0.0;
    while number < drills {
        let take = folder.path().join(format!("{number}"));
        let drill = Drill { take: Some(take.clone()), ..Drill::new(rhythm.clone(), plan) };
        engine.start(drill)?;
        let played = Played { players: count, a_second, seconds };
        let held = play(&mut engine, &played);
        if number == 0.0 {
            println!("{held}");
        }
        compare(&take, &played, &mut sum)?;
        std::fs::remove_dir_all(&take)?;
        number += 1.0;
        if number == 2.0 || number >= drills {
            println!("after {:.1} h: {} kB", number * seconds / 3_600.0, kb("VmRSS"));
        }
    }
    println!(
        "{count} players, {a_second} strokes a second, {:.1} h: {} strokes, {} lost, {} doubled, {} out of order, {} dropouts; \
         worst {:.3} ms from where it was struck, drift {:.3} ms within a drill",
        drills * seconds / 3_600.0,
        sum.struck,
        sum.lost + engine.input().lost() + engine.input().held(),
        sum.doubled,
        sum.out_of_order,
        sum.disturbed,
        sum.worst_ms,
        sum.drift_ms,
    );
    Ok(())
}

fn port(player: u8) -> String {
    format!("Module {}", player / 16 + 1)
}

#[derive(Debug, Default)]
struct Sum {
    struck: u64,
    lost: u64,
    doubled: u64,
    out_of_order: u64,
    disturbed: usize,
    worst_ms: f64,
    drift_ms: f64,
}

/// When a player's stroke of this number falls: everybody a little after the one before.
fn moment(player: u8, stroke: u64, a_second: f64) -> Moment {
    let seconds = stroke as f64 / a_second + 0.000_7 * f64::from(player);
    Moment::ZERO + Seconds::from_secs_f64(seconds)
}

/// What is struck in a drill.
#[derive(Clone, Copy, Debug)]
struct Played {
    players: u8,
    a_second: f64,
    seconds: f64,
}

impl Played {
    /// Strokes of one player; the last second is left free.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some thousands")]
    fn wanted(self) -> u64 {
        ((self.seconds - 1.0) * self.a_second) as u64
    }
}

/// The memory of the process in a drill, in kB: after ten seconds, before the end, and at most.
#[derive(Clone, Copy, Debug, Default)]
struct Held {
    begun: u64,
    played: u64,
    most: u64,
    strokes: u64,
}

impl std::fmt::Display for Held {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let a_stroke = self.played.saturating_sub(self.begun) * 1_000 / self.strokes.max(1);
        write!(
            f,
            "{} kB after ten seconds, {} kB before the end ({a_stroke} bytes a stroke), {} kB at most until it is written",
            self.begun, self.played, self.most
        )
    }
}

/// Plays a drill to its end.
fn play(engine: &mut Offline, played: &Played) -> Held {
    let Played { players, a_second, seconds } = *played;
    let mut held = Held::default();
    let mut next = vec![0u64; usize::from(players)];
    loop {
        engine.pass(Seconds::from_millis(1));
        if let Some(now) = engine.drill_now() {
            if held.begun == 0 && now.since_zero().as_secs_f64() >= 10.0 {
                held = Held { begun: kb("VmRSS"), strokes: next.iter().sum(), ..held };
            }
            if held.played == 0 && now.since_zero().as_secs_f64() >= seconds - 0.5 {
                let strokes = next.iter().sum::<u64>() - held.strokes;
                held = Held { played: kb("VmRSS"), strokes, ..held };
            }
            for player in 0..players {
                let next = &mut next[usize::from(player)];
                while *next < played.wanted() && moment(player, *next, a_second) <= now {
                    let stamp = engine.now() - (now - moment(player, *next, a_second));
                    engine.send_at(&port(player), &[0x90 | (player % 16), 38, 80], stamp);
                    engine.send_at(
                        &port(player),
                        &[0x80 | (player % 16), 38, 0],
                        stamp + Seconds::from_millis(15),
                    );
                    *next += 1;
                }
            }
        }
        let over = |event| matches!(event, Event::Ended { .. });
        if engine.events().try_iter().any(over) {
            return Held { most: kb("VmHWM"), ..held };
        }
    }
}

fn compare(take: &Path, played: &Played, sum: &mut Sum) -> Result<(), take::Error> {
    let (players, a_second) = (played.players, played.a_second);
    let take = take::Take::open(take)?;
    let bar_one = take.header().bar_one;
    sum.disturbed += take.disturbed().len();
    let wanted = played.wanted();
    for number in 0..players {
        sum.struck += wanted;
        let label = format!("K{number:02}");
        let Some(player) = take.players().iter().find(|player| player.label == label) else {
            sum.lost += wanted;
            continue;
        };
        let kept = u64::try_from(player.strokes.len()).unwrap_or(u64::MAX);
        sum.lost += wanted.saturating_sub(kept);
        sum.doubled += kept.saturating_sub(wanted);
        sum.out_of_order +=
            u64::try_from(player.strokes.windows(2).filter(|pair| pair[1].at < pair[0].at).count())
                .unwrap_or(0);
        let off = |stroke: &take::Stroke, number_of: u64| {
            let expected = bar_one + moment(number, number_of, a_second).since_zero();
            (stroke.at - expected).as_millis_f64()
        };
        let offs: Vec<f64> =
            player.strokes.iter().zip(0u64..).map(|(stroke, number)| off(stroke, number)).collect();
        sum.worst_ms = offs.iter().fold(sum.worst_ms, |most, off| most.max(off.abs()));
        let tenth = (offs.len() / 10).max(1);
        let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len().max(1) as f64;
        let drift = mean(&offs[offs.len().saturating_sub(tenth)..]) - mean(&offs[..tenth.min(offs.len())]);
        sum.drift_ms = sum.drift_ms.max(drift.abs());
    }
    Ok(())
}

/// What the process holds in memory (`VmRSS`), or held at most (`VmHWM`), in kB; 0 where the system does not tell.
fn kb(what: &str) -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with(what));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok()).unwrap_or(0)
}
