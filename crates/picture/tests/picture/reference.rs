use engrave::svg::{SvgOptions, write};
use picture::{Mark, PictureOptions, Row, Side, Spread, picture, playhead};

use crate::{attacks, page, read};

/// Reference pictures stand in `snapshots/`. After a change that is meant, look at the new ones and keep
/// them with `INSTA_UPDATE=always cargo test -p picture`.
#[test]
fn four_players_and_every_kind_of_mark() {
    let rhythm = read(
        "title: Tin Roof\ntempo: quarter = 88\n| 1 2 & 3 (4) | 1 _2 3 & 4 & | _1 2 & (3) 4 | 1 e & a 2 & 3 4 |",
    );
    let ids = attacks(&rhythm);
    let pins = |leans: &[f64]| -> Vec<Mark> {
        let pin = |(&id, &lean_ms): (_, &f64)| {
            let side = if lean_ms < 0.0 { Side::Early } else { Side::Late };
            Mark::Pin { id, lean_ms, beyond: (lean_ms.abs() > 50.0).then_some(side) }
        };
        ids.iter().zip(leans).map(pin).collect()
    };
    let steady: Vec<f64> =
        ids.iter().zip([4.0, -3.0, 0.0, 6.0].iter().cycle()).map(|(_, lean)| *lean).collect();
    let rushing: Vec<f64> = (0..ids.len()).map(|index| 60.0 - 8.0 * index as f64).collect();
    let loose: Vec<f64> = (0..ids.len()).map(|index| [38.0, -44.0, 20.0, -66.0, 72.0][index % 5]).collect();
    let mut faults = pins(&steady);
    faults[3] = Mark::Missed { id: ids[3] };
    faults.push(Mark::Extra { system: 0, x: 31.0 });
    let row = |label: &str, bias_ms, marks| Row { label: label.to_owned(), bias_ms, marks, ..Row::default() };
    let rows = [
        row("P1", Some(-4.0), pins(&steady)),
        row("P2", Some(-28.0), pins(&rushing)),
        row("P3", Some(12.0), pins(&loose)),
        row("P4", None, faults),
    ];
    let engraving = page(&rhythm, &rows);
    let spreads: Vec<Spread> =
        ids.iter().enumerate().map(|(index, &id)| Spread { id, ms: 4.0 + 3.0 * index as f64 }).collect();
    let mut scene = picture(&engraving, &rows, &spreads, &PictureOptions::default()).expect("a picture");
    let place = engraving.place(ids[6]).expect("a place");
    playhead(&engraving.systems()[place.system], place.x).add_to(&mut scene);
    let svg = write(&scene, &SvgOptions { title: "Tin Roof".to_owned(), ..SvgOptions::default() });
    insta::assert_binary_snapshot!("four_players.svg", svg.into_bytes());
}
