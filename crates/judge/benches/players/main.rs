//! The judge against simulated players: hundreds of rhythms, played clean and with every kind of mistake.
//!
//! `cargo bench -p judge --bench players -- --takes 40 --spread 20` prints what of each kind was told (recall), how
//! often what was told was true (precision), how well the strokes found their notes (F), and what was said of clean takes.
//! Seeds for tuning (`--tuning`) and seeds reported are never the same. What may be planted where is told in `mistakes`,
//! how a player plays in `player`, what counts as true in `score`.

mod chance;
mod fit;
mod mistakes;
mod ornaments;
mod player;
mod reliability;
mod report;
mod rhythms;
mod score;
mod several;
mod show;
mod take;

use std::process::ExitCode;

use judge::{FindingKind, Settings, judge};

use crate::score::{Table, score};
use crate::several::{MANY, several};
use crate::take::Take;

/// The seeds that are reported, and those that may be looked at while the judge is made better.
const REPORTED: u64 = 7_000_000_000;
const TUNING: u64 = 1_000_000;
/// Seeds that are neither: by these it is seen whether what was tuned holds for others.
const CHECKING: u64 = 3_000_000_000;
/// So far apart lie the seeds of two kinds.
const APART: u64 = 100_000;
const SPREADS: [f64; 4] = [10.0, 20.0, 30.0, 45.0];
/// So many failing takes of a kind are shown.
const SHOWN: usize = 6;

/// What is asked for.
#[derive(Clone, Debug)]
struct Asked {
    takes: u64,
    seed_base: u64,
    kinds: Vec<Option<FindingKind>>,
    spreads: Vec<f64>,
    show: bool,
    /// Whether all that was confused is printed.
    confusions: bool,
    /// Whether the curve from evidence to confidence is fitted anew to these takes.
    fit: bool,
    /// Whether takes with several mistakes are judged too.
    several: bool,
}

fn every_kind() -> Vec<Option<FindingKind>> {
    let mistakes =
        FindingKind::ALL.iter().copied().filter(|kind| kind.is_mistake() && *kind != FindingKind::Unclear);
    std::iter::once(None).chain(mistakes.map(Some)).collect()
}

fn asked(mut words: impl Iterator<Item = String>) -> Result<Asked, String> {
    let mut asked = Asked {
        takes: 100,
        seed_base: REPORTED,
        kinds: every_kind(),
        spreads: SPREADS.to_vec(),
        show: false,
        confusions: false,
        fit: false,
        several: false,
    };
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or(format!("{word} needs a value"));
        let number =
            |text: String| text.parse().map_err(|_| format!("{word} {text}: a whole number is needed"));
        match word.as_str() {
            "--takes" => asked.takes = number(value()?)?,
            "--seed-base" => asked.seed_base = number(value()?)?,
            "--tuning" => asked.seed_base = TUNING,
            "--checking" => asked.seed_base = CHECKING,
            "--show" => asked.show = true,
            "--confusions" => asked.confusions = true,
            "--fit" => asked.fit = true,
            "--several" => asked.several = true,
            "--kind" => {
                let name = value()?;
                let named = |kind: &Option<FindingKind>| kind.map_or("clean", FindingKind::name) == name;
                asked.kinds = every_kind().into_iter().filter(named).collect();
                if asked.kinds.is_empty() {
                    let all: Vec<&str> = every_kind()
                        .into_iter()
                        .map(|kind| kind.map_or("clean", FindingKind::name))
                        .collect();
                    return Err(format!("--kind {name}: there are {}", all.join(", ")));
                }
            }
            "--spread" => {
                let text = value()?;
                let ms: f64 = text.parse().map_err(|_| format!("--spread {text}: ms are needed"))?;
                if !(1.0..=100.0).contains(&ms) {
                    return Err(format!("--spread {text}: it goes from 1 to 100 ms"));
                }
                asked.spreads = vec![ms];
            }
            // What cargo says to every benchmark.
            "--bench" => {}
            _ => {
                return Err(format!(
                    "{word}: there are --takes N, --seed-base N, --tuning, --checking, --kind NAME, --spread MS, --show, --confusions, --several and --fit"
                ));
            }
        }
    }
    Ok(asked)
}

/// The takes of every kind at one spread, judged.
fn run(asked: &Asked, spread_ms: f64, mut shown: impl FnMut(String)) -> Table {
    let mut table = Table::default();
    let kinds = every_kind();
    for kind in &asked.kinds {
        let place = kinds.iter().position(|other| other == kind).unwrap_or(0);
        let first = asked.seed_base + APART * u64::try_from(place).unwrap_or(0);
        let mut left = SHOWN;
        table.rows.entry(*kind).or_default();
        for seed in first..first + asked.takes {
            let Some(take) = Take::new(*kind, spread_ms, seed) else { continue };
            let judgement = judge(&take.written.counts, &take.played(), &Settings::default());
            let result = score(&take, &judgement);
            if asked.show && left > 0 && show::fails(&take, &result) {
                left -= 1;
                shown(show::show(&take, &judgement, &result));
            }
            table.add(&take, &result);
        }
    }
    table
}

#[expect(clippy::print_stdout, clippy::print_stderr, reason = "printing is what this program is for")]
fn main() -> ExitCode {
    let asked = match asked(std::env::args().skip(1)) {
        Ok(asked) => asked,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::FAILURE;
        }
    };
    let seeds = match asked.seed_base {
        REPORTED => "the seeds that are reported",
        TUNING => "the seeds for tuning, not to be reported",
        CHECKING => "seeds that nothing was tuned by",
        _ => "seeds of your own",
    };
    println!("{} takes a kind and spread, {seeds}, from {}", asked.takes, asked.seed_base);
    let mut tables = Vec::new();
    let (mut told, mut doubtful) = (Vec::new(), Vec::new());
    for &spread_ms in &asked.spreads {
        let table = run(&asked, spread_ms, |text| println!("{text}"));
        print!("{}", report::table(spread_ms, &table));
        if asked.confusions {
            print!("{}", report::confusions(&table));
        }
        if asked.several {
            let takes = |&many| (many, several(many, 4 * asked.takes, spread_ms, asked.seed_base));
            let sums: Vec<_> = MANY.iter().map(takes).collect();
            print!("{}", several::lines(&sums));
            for (_, sum) in sums {
                told.extend(sum.sure);
                doubtful.extend(sum.doubtful);
            }
        }
        tables.push((spread_ms, table));
    }
    print!("{}{}", report::consequences(), report::summary(&tables));
    told.extend(tables.iter().flat_map(|(_, table)| table.sure.iter().copied()));
    print!("\nhow sure findings are said to be, all spreads together\n{}", reliability::bins(&told));
    if asked.fit {
        doubtful.extend(tables.iter().flat_map(|(_, table)| table.doubtful.iter().copied()));
        told.extend(doubtful);
        print!("{}", fit::fitted(&told));
    }
    ExitCode::SUCCESS
}
