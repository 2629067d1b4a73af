//! Four simulated players under a rhythm text, as SVG: `cargo run -p picture --example players -- FILE [WIDTH] [MOMENT_MS] > FILE.svg`.
//!
//! The players are made up: one steady and ahead, one loose, one rushing, one who misses notes and strikes rests.

use judge::{Played, Settings, judge, section};
use picture::{Against, PictureOptions, Player, Timeline, picture, playhead};
use rhythm::Deed;
use timebase::{Moment, Seconds, TempoMap};

/// Numbers from −1 to 1 that are the same every time (a linear congruential generator after Knuth).
struct Wander(u64);

impl Wander {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let bits = u32::try_from(self.0 >> 32).unwrap_or_default();
        f64::from(bits) / f64::from(u32::MAX) * 2.0 - 1.0
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let file = arguments.next().ok_or("name a .rhythm file")?;
    let width: f64 = arguments.next().map_or(Ok(100.0), |width| width.parse())?;
    let moment = arguments.next().map(|ms| ms.parse::<i64>()).transpose()?;
    let rhythm = rhythm::text::read(&std::fs::read_to_string(file)?).rhythm.ok_or("the text is no rhythm")?;
    let counting = counting::count(&rhythm);
    let tempo = TempoMap::constant(rhythm.tempo());
    let counts = counting.timed(&rhythm, &rhythm.performance(), &tempo);
    let mut wander = Wander(7);
    let mut take = |ahead_ms: f64, loose_ms: f64, rush: f64, faults: bool| {
        let mut played = Vec::new();
        for (index, count) in counts.iter().enumerate() {
            let strikes = match count.deed {
                Deed::Attack => !(faults && index % 7 == 4),
                Deed::Rest | Deed::Hold => faults && index % 2 == 0,
            };
            if strikes {
                let off = ahead_ms + loose_ms * wander.next() - rush * count.at.as_secs_f64();
                played.push(Played::new(count.at + Seconds::from_millis_f64(off)));
            }
        }
        judge(&counts, &played, &Settings::default())
    };
    let judgements = [
        take(-28.0, 12.0, 0.0, false),
        take(0.0, 60.0, 0.0, false),
        take(5.0, 10.0, 9.0, false),
        take(14.0, 25.0, 0.0, true),
    ];
    let labels = ["P1", "P2", "P3", "P4"];
    let players: Vec<Player<'_>> =
        labels.iter().zip(&judgements).map(|(label, judgement)| Player { label, judgement }).collect();
    let base = engrave::Layout { width, ..engrave::Layout::default() };
    // The head of a row depends on its label alone, so that the rows can be made before the page.
    let bare = engrave::engrave(&rhythm, &counting, &engrave::Layout { written_out: true, ..base })?;
    let layout = picture::layout(
        base,
        &picture::rows(&players, Against::OwnPulse, &Timeline::new(&bare, &tempo)),
        true,
    );
    let engraving = engrave::engrave(&rhythm, &counting, &layout)?;
    let timeline = Timeline::new(&engraving, &tempo);
    let rows = picture::rows(&players, Against::OwnPulse, &timeline);
    let spreads = picture::spreads(&section(&judgements));
    let mut scene = picture(&engraving, &rows, &spreads, &PictureOptions::default())?;
    if let Some((system, x)) = moment.and_then(|ms| timeline.x_at(Moment::ZERO + Seconds::from_millis(ms))) {
        playhead(&engraving.systems()[system], x).add_to(&mut scene);
    }
    let svg = engrave::svg::write(&scene, &engrave::svg::SvgOptions::default());
    std::io::Write::write_all(&mut std::io::stdout(), svg.as_bytes())?;
    Ok(())
}
