//! A lesson of hours in minutes: the whole engine without devices, drills of two minutes one after the other, players at so many
//! strokes a second, with everything that a take is compared with what was struck.
//!
//! ```sh
//! cargo run --release -p live --example soak -- HOURS PLAYERS STROKES_A_SECOND
//! ```
//!
//! Printed are lost, doubled and misplaced strokes, the drift between click and stamps, and the memory at the first and the last
//! drill.

#![expect(clippy::print_stdout, reason = "what was measured is printed")]

use std::path::Path;

use input::{Entry, InputSettings, Place, Roster};
use live::offline::{Offline, Setup};
use live::{Drill, Event};
use timebase::{Moment, Seconds};

/// Sixty bars of four quarters at 120: two minutes.
const RHYTHM: &str = "meter: 4/4\ntempo: quarter = 120\n|: 1 2 3 4 | 1 2 3 4 :| 30 times\n";
const DRILL_SECONDS: f64 = 120.0;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let mut number = |usual: f64| arguments.next().and_then(|text| text.parse().ok()).unwrap_or(usual);
    let (hours, players, a_second) = (number(4.0), number(4.0), number(4.0));
    let drills = (hours * 3_600.0 / DRILL_SECONDS).ceil().max(1.0);
    let rhythm = rhythm::text::read(RHYTHM).rhythm.ok_or("no rhythm")?;
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
    let setup = Setup { out_ppm: 40.0, judged_every: Seconds::from_millis(500), input, ..Setup::default() };
    let mut engine = Offline::new(setup)?;
    (0..count.div_ceil(16)).for_each(|module| engine.plug(&port(module * 16)));

    let mut sum = Sum::default();
    let mut number = 0.0;
    while number < drills {
        let take = folder.path().join(format!("{number}"));
        let drill = Drill { take: Some(take.clone()), ..Drill::new(rhythm.clone(), plan) };
        engine.start(drill)?;
        play(&mut engine, count, a_second);
        compare(&take, count, a_second, &mut sum)?;
        std::fs::remove_dir_all(&take)?;
        number += 1.0;
        if number == 2.0 || number >= drills {
            println!("after {:.1} h: {} kB", number * DRILL_SECONDS / 3_600.0, resident_kb());
        }
    }
    println!(
        "{count} players, {a_second} strokes a second, {:.1} h: {} strokes, {} lost, {} doubled, {} out of order, {} dropouts; \
         worst {:.3} ms from where it was struck, drift {:.3} ms within a drill",
        drills * DRILL_SECONDS / 3_600.0,
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

fn play(engine: &mut Offline, players: u8, a_second: f64) {
    let mut next = vec![0u64; usize::from(players)];
    loop {
        engine.pass(Seconds::from_millis(1));
        if let Some(now) = engine.drill_now() {
            for player in 0..players {
                let next = &mut next[usize::from(player)];
                while *next < wanted(a_second) && moment(player, *next, a_second) <= now {
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
        if engine.events().try_iter().any(|event| matches!(event, Event::Ended { .. })) {
            return;
        }
    }
}

/// Strokes of one player in a drill; the last second is left free.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some thousands")]
fn wanted(a_second: f64) -> u64 {
    ((DRILL_SECONDS - 1.0) * a_second) as u64
}

fn compare(take: &Path, players: u8, a_second: f64, sum: &mut Sum) -> Result<(), take::Error> {
    let take = take::Take::open(take)?;
    let bar_one = take.header().bar_one;
    sum.disturbed += take.disturbed().len();
    let wanted = wanted(a_second);
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

/// What the process holds in memory, in kB; 0 where the system does not tell.
fn resident_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmRSS"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok()).unwrap_or(0)
}
