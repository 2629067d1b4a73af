//! How often simulated players' rhythms are recovered exactly, as a table:
//!
//!     cargo run --release -p exchange --example recovery

#![expect(clippy::print_stdout, reason = "printing is what this program is for")]

#[path = "../tests/simulated/mod.rs"]
mod simulated;

use exchange::quantise::{Free, Grid, Quantised, Settings, Timing, quantise};
use rhythm::Meter;
use simulated::{Chance, alone, attacks, exactly, rhythm, same_bars, taps, with_click};
use timebase::{Moment, Seconds, Span, Tempo, TempoMap};

const BARS: i64 = 8;

#[derive(Default)]
struct Rate {
    bars: i64,
    right: i64,
    pieces: i64,
    whole: i64,
    /// Said probability of the bars, summed.
    said: f64,
    tempo: i64,
}

impl Rate {
    fn add(&mut self, places: &[Span], quantised: &Quantised, meter: Meter, bpm: f64) {
        let found = attacks(quantised);
        let right = same_bars(places, &found, meter, BARS);
        self.bars += BARS;
        self.right += right;
        self.pieces += 1;
        self.whole += i64::from(found == places);
        let said: f64 = quantised.bars.iter().map(|bar| bar.probability).sum();
        self.said += said / quantised.bars.len() as f64;
        self.tempo += i64::from((quantised.tempo.bpm_f64() / bpm - 1.0).abs() < 0.04);
    }

    fn row(&self) -> String {
        let percent = |part: i64, whole: i64| 100.0 * part as f64 / whole as f64;
        format!(
            "{:>6.1} | {:>6.1} | {:>6.1} | {:>6.1}",
            percent(self.right, self.bars),
            percent(self.whole, self.pieces),
            100.0 * self.said / self.pieces as f64,
            percent(self.tempo, self.pieces)
        )
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let many = std::env::args().nth(1).map_or(Ok(100), |text| text.parse::<u64>())?;
    let meters = [Meter::COMMON, Meter::new(3, 4)?, Meter::new(6, 8)?];
    println!("| player | meter | spread ms | bars % | pieces % | said % | tempo % |");
    println!("|---|---|---|---|---|---|---|");
    for meter in meters {
        for spread_ms in [0.0, 5.0, 15.0, 30.0] {
            let (mut click, mut free) = (Rate::default(), Rate::default());
            for seed in 0..many {
                let mut chance = Chance::new(seed);
                let bpm = (60.0 + 60.0 * chance.part()).round();
                let beat = 60.0 / bpm;
                let places = rhythm(&mut chance, meter, BARS);
                let exact = exactly(&places, meter, beat);
                let spread = spread_ms / 1000.0;
                let tempo = Tempo::new(meter.felt_beat(), Tempo::parse_bpm(&bpm.to_string())?)?;
                let grid =
                    Grid::new(TempoMap::constant(tempo), Moment::ZERO + Seconds::from_secs_f64(1.0), meter);
                let lead = if spread == 0.0 { 0.0 } else { -0.02 };
                let played = with_click(&mut chance, &exact, spread, lead + 1.0);
                let quantised = quantise(&taps(&played), &Timing::Known(grid), &Settings::default())?;
                click.add(&places, &quantised, meter, bpm);
                let played = alone(&mut chance, &exact, beat, spread, 0.0);
                let timing = Timing::Free(Free { tempo: None, meter: Some(meter) });
                let quantised = quantise(&taps(&played), &timing, &Settings::default())?;
                free.add(&places, &quantised, meter, bpm);
            }
            println!("| click | {meter} | {spread_ms} | {} |", click.row());
            println!("| alone | {meter} | {spread_ms} | {} |", free.row());
        }
    }
    Ok(())
}
