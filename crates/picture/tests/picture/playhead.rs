use engrave::{Ink, Item};
use picture::{PictureOptions, Timeline, picture, playhead};
use timebase::{Moment, Seconds, TempoMap};

use crate::{page, read};

/// At the moment of a note the playhead stands at the note; between two it moves evenly.
#[test]
fn every_moment_has_its_place() {
    let rhythm = read("tempo: quarter = 60\n4 | 1 2 & 3 4 |: 1 2 3 4 :|");
    let engraving = page(&rhythm, &[]);
    let tempo = TempoMap::constant(rhythm.tempo());
    let timeline = Timeline::new(&engraving, &tempo);
    for place in engraving.places() {
        let found = timeline.x_at(tempo.moment_at(place.position)).expect("inside the piece");
        assert!(found.0 == place.system && (found.1 - place.x).abs() < 1e-9, "{found:?} {place:?}");
    }
    let at = |ms: i64| timeline.x_at(Moment::ZERO + Seconds::from_millis(ms));
    let (first, half, second) = (at(0), at(500), at(1_000));
    let x = |found: Option<(usize, f64)>| found.expect("inside the piece").1;
    assert!((x(half) - f64::midpoint(x(first), x(second))).abs() < 1e-6);
    assert_eq!((at(-1_001), at(12_001)), (None, None));
    let clamped = timeline.nearest(Moment::ZERO - Seconds::from_millis(5_000)).expect("a first note");
    assert!((clamped.1 - engraving.places()[0].x).abs() < 1e-9);
}

/// A mark over the staff and a pale column under everything: no line from top to bottom of the staff alone.
#[test]
fn the_playhead_is_no_bar_line() {
    let rhythm = read("| 1 2 3 4 |");
    let engraving = page(&rhythm, &[]);
    let system = &engraving.systems()[0];
    let mut scene = picture(&engraving, &[], &[], &PictureOptions::default()).expect("a picture");
    playhead(system, 30.0).add_to(&mut scene);
    let (under, over) = (&scene.items[0], &scene.items[scene.items.len() - 1]);
    assert_eq!((under.ink(), over.ink()), (Ink::Column, Ink::Main));
    assert!(under.bounds().width() > 1.5 && under.bounds().y1 >= system.rows);
    assert!(over.bounds().y1 <= system.staff - 3.5, "the mark stands over the stems");
    assert!(over.bounds().y0 >= system.top);
    assert!(!matches!(under, Item::Line { .. }) && !matches!(over, Item::Line { .. }));
}
