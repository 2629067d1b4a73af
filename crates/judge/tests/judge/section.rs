use judge::{Settings, judge, section};
use timebase::Seconds;

use crate::pattern::{counts, played, struck};

#[test]
fn players_are_compared_at_each_written_attack() {
    let counts = counts(&["xxxx"], 120);
    let settings = Settings::default();
    let takes = [
        struck(&counts, &[-30.0]),
        struck(&counts, &[0.0, 0.0, 40.0, 0.0]),
        // The third player misses the second attack.
        played([30.0, 1000.0, 1530.0]),
    ];
    let judgements: Vec<_> = takes.iter().map(|take| judge(&counts, take, &settings)).collect();
    let together = section(&judgements);
    let players: Vec<_> = together.iter().map(|place| place.players).collect();
    assert_eq!(players, [3, 2, 3, 3]);
    // −30, 0, 30: standard deviation 30, range 60. −30, 0: 21.2 and 30.
    assert_eq!(together[0].spread, Some(Seconds::from_millis(30)));
    assert_eq!(together[0].range, Some(Seconds::from_millis(60)));
    assert_eq!(together[1].spread.map(|s| (s.as_millis_f64() * 10.0).round()), Some(212.0));
    assert_eq!(together[1].range, Some(Seconds::from_millis(30)));
}

#[test]
fn one_player_is_no_section() {
    let counts = counts(&["xxxx"], 120);
    let judgement = judge(&counts, &struck(&counts, &[0.0]), &Settings::default());
    let together = section(&[judgement]);
    assert_eq!(together.len(), 4);
    assert!(
        together.iter().all(|place| place.players == 1 && place.spread.is_none() && place.range.is_none())
    );
    assert_eq!(section(&[]), []);
}
