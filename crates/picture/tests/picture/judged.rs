use counting::TimedCount;
use judge::{Judgement, Played, Settings, judge};
use picture::{Against, Mark, Player, Row, Side, Timeline, rows, section_row};
use rhythm::{Deed, Rhythm};
use timebase::{Moment, Seconds, TempoMap};

use crate::{page, read};

/// Eight quarters at 60, a second apart, and a bar of rest.
const TEXT: &str = "tempo: quarter = 60\n| 1 2 3 4 | 1 2 3 4 | (1) |";

fn counts(rhythm: &Rhythm) -> Vec<TimedCount> {
    let tempo = TempoMap::constant(rhythm.tempo());
    counting::count(rhythm).timed(rhythm, &rhythm.performance(), &tempo)
}

/// A player whose attacks are off by these many milliseconds, one a written attack; `None` misses it.
fn take(rhythm: &Rhythm, offsets: &[Option<i64>], extra_ms: &[i64]) -> Judgement {
    let counts = counts(rhythm);
    let attacks = counts.iter().filter(|count| count.deed == Deed::Attack);
    let mut played: Vec<Played> = attacks
        .zip(offsets)
        .filter_map(|(count, offset)| Some(Played::new(count.at + Seconds::from_millis((*offset)?))))
        .chain(extra_ms.iter().map(|&ms| Played::new(Moment::ZERO + Seconds::from_millis(ms))))
        .collect();
    played.sort_by_key(|played| played.at);
    judge(&counts, &played, &Settings::default())
}

fn drawn(judgements: &[(&str, &Judgement)], against: Against) -> Vec<Row> {
    let rhythm = read(TEXT);
    let timeline = Timeline::new(&page(&rhythm, &[]), &TempoMap::constant(rhythm.tempo()));
    let players: Vec<Player<'_>> =
        judgements.iter().map(|&(label, judgement)| Player { label, judgement }).collect();
    rows(&players, against, &timeline)
}

fn leans(row: &Row) -> Vec<i64> {
    let lean = |mark: &Mark| if let Mark::Pin { lean_ms, .. } = mark { Some(lean_ms.round()) } else { None };
    #[expect(clippy::cast_possible_truncation, reason = "a few hundred milliseconds")]
    row.marks.iter().filter_map(lean).map(|lean| lean as i64).collect()
}

/// The same take against the player's own pulse, the click and the section.
#[test]
fn what_the_pins_lean_against_can_be_chosen() {
    let rhythm = read(TEXT);
    let ahead = take(&rhythm, &[Some(-40); 8], &[]);
    let behind = take(&rhythm, &[Some(20); 8], &[]);
    let check = |against: Against, first: i64, second: i64| {
        let rows = drawn(&[("P1", &ahead), ("P2", &behind)], against);
        assert_eq!(leans(&rows[0]), [first; 8], "{}", against.name());
        assert_eq!(leans(&rows[1]), [second; 8], "{}", against.name());
        assert_eq!(rows[0].bias_ms.map(f64::round), Some(-40.0));
    };
    check(Against::OwnPulse, 0, 0);
    check(Against::Click, -40, 20);
    check(Against::Section, -30, 30);
}

#[test]
fn verdicts_are_taken_over_and_not_made() {
    let rhythm = read(TEXT);
    let mut offsets = [Some(0); 8];
    (offsets[2], offsets[4], offsets[5]) = (Some(90), Some(-80), None);
    let judgement = take(&rhythm, &offsets, &[9_000]);
    let row = &drawn(&[("P1", &judgement)], Against::OwnPulse)[0];
    let sides: Vec<Option<Side>> = row
        .marks
        .iter()
        .filter_map(|mark| if let Mark::Pin { beyond, .. } = mark { Some(*beyond) } else { None })
        .collect();
    assert_eq!(sides, [None, None, Some(Side::Late), None, Some(Side::Early), None, None]);
    assert_eq!(row.marks.iter().filter(|mark| matches!(mark, Mark::Missed { .. })).count(), 1);
    // The extra attack fell on count 2 of the silent bar.
    let engraving = page(&rhythm, &[]);
    let place = engraving
        .places()
        .iter()
        .find(|place| place.id.bar == 3 && place.position.since_zero() == "9/4".parse().expect("a span"));
    let place = place.expect("the count of a rest has a place");
    let extra = row
        .marks
        .iter()
        .find_map(|mark| if let Mark::Extra { system, x } = mark { Some((*system, *x)) } else { None });
    assert_eq!(extra, Some((place.system, place.x)));
}

/// The section as a whole: the mean of the pins, dashed only where nobody struck.
#[test]
fn the_section_is_shown_without_its_players() {
    let rhythm = read(TEXT);
    let mut few = [Some(-40); 8];
    (few[6], few[7]) = (None, None);
    let mut fewer = [Some(20); 8];
    fewer[7] = None;
    let (first, second) = (take(&rhythm, &few, &[]), take(&rhythm, &fewer, &[]));
    let players = [Player { label: "P1", judgement: &first }, Player { label: "P2", judgement: &second }];
    let row = section_row(&players, Against::Click);
    let mut means = leans(&row);
    means.sort_unstable();
    assert_eq!(means, [-10, -10, -10, -10, -10, -10, 20]);
    let missed: Vec<_> = row
        .marks
        .iter()
        .filter_map(|mark| if let Mark::Missed { id } = mark { Some(*id) } else { None })
        .collect();
    assert_eq!(missed.len(), 1);
    assert_eq!(row.label, "section");
}

#[test]
fn spreads_are_those_of_the_section() {
    let rhythm = read(TEXT);
    let (first, second) = (take(&rhythm, &[Some(-30); 8], &[]), take(&rhythm, &[Some(30); 8], &[]));
    let spreads = picture::spreads(&judge::section(&[first, second]));
    assert_eq!(spreads.len(), 8);
    // The standard deviation of two numbers 60 apart, divided by n − 1.
    assert!(spreads.iter().all(|spread| (spread.ms - 60.0 / 2.0_f64.sqrt()).abs() < 0.001), "{spreads:?}");
}
