//! Offsets split into what they are: what went in comes out, as closely as it is said to.

use counting::TimedCount;
use judge::{Estimate, Judgement, NotApplicable, Place, PlaceOffset, Settings, Split, judge};
use timebase::Seconds;

use crate::pattern::{counts, played, struck, written_ms};
use crate::player::{Chance, EVEN, Player};

const MS: Seconds = Seconds::from_millis(1);

fn judged(counts: &[TimedCount], played: &[judge::Played]) -> Judgement {
    judge(counts, played, &Settings::default())
}

fn ms(length: Seconds) -> f64 {
    length.as_millis_f64()
}

/// How often intervals hold the truth.
#[derive(Clone, Copy, Debug, Default)]
struct Coverage {
    held: u32,
    of: u32,
}

impl Coverage {
    fn add(&mut self, interval: Option<Estimate<Seconds>>, truth_ms: f64) {
        if let Some(interval) = interval {
            self.add_numbers(ms(interval.low), ms(interval.high), truth_ms);
        }
    }

    fn add_numbers(&mut self, low: f64, high: f64, truth: f64) {
        self.of += 1;
        self.held += u32::from(low <= truth && truth <= high);
    }

    #[track_caller]
    fn check(&self, what: &str, takes: u32, least: f64, most: f64) {
        let share = f64::from(self.held) / f64::from(self.of);
        assert!(self.of * 10 >= takes * 9, "{what}: {self:?}");
        assert!((least..=most).contains(&share), "{what}: {share} {self:?}");
    }
}

/// Takes of one player on 48 quarters: how often the intervals of bias, spread and drift hold what went in.
fn coverage(player: Player, takes: u32, least: f64, most: f64) {
    let counts = counts(&["xxxx"; 12], 100);
    let written = written_ms(&counts);
    let [mut bias, mut spread, mut drift] = [Coverage::default(), Coverage::default(), Coverage::default()];
    for seed in 0..takes {
        let take = player.play(&written, &mut Chance::from(900_000 + u64::from(seed) * 17));
        let split = judged(&counts, &take).split(MS);
        bias.add(split.bias, player.bias_ms);
        spread.add(split.spread, player.variance().sqrt());
        let percent = split.drift_percent.expect("enough attacks");
        drift.add_numbers(percent.low, percent.high, player.rush_percent);
    }
    if player.rush_percent == 0.0 {
        bias.check("bias", takes, least, most);
    }
    spread.check("spread", takes, least, most);
    drift.check("drift", takes, least, most);
}

/// A correction of 1 and no motor noise: offsets independent of each other.
const INDEPENDENT: Player =
    Player { correction: 1.0, timekeeper_ms: 15.0, motor_ms: 0.0, bias_ms: -30.0, rush_percent: 0.0 };

#[test]
fn intervals_hold_the_truth_in_95_of_100_takes() {
    coverage(INDEPENDENT, 2_000, 0.93, 0.97);
}

#[test]
fn and_of_a_player_who_rushes() {
    coverage(Player { rush_percent: 2.0, ..INDEPENDENT }, 2_000, 0.93, 0.97);
}

/// Their offsets hang together (ρ(1) = .35), and of 48 attacks that is known but roughly.
#[test]
fn and_nearly_so_of_players_who_correct_themselves() {
    coverage(Player { bias_ms: -30.0, ..EVEN }, 1_000, 0.90, 0.985);
}

/// Four bars, and under every attack where it stands, as a teacher would say it.
const BARS: [&str; 4] = ["x---x-x-x-xxx---", "x-------xx-x..x-", "....x---..x-x-x-", "xxxx--x-xx--"];
const WHERE: [&[Place]; 23] = {
    use Place::{
        AfterLong, AfterRest, BarLine, FirstQuarter, FirstThird, Half, LastQuarter, OnBeat, SecondThird,
    };
    [
        &[OnBeat, BarLine],
        &[OnBeat],
        &[Half],
        &[OnBeat],
        &[Half],
        &[LastQuarter],
        &[OnBeat],
        &[OnBeat, BarLine],
        &[OnBeat, AfterLong],
        &[FirstQuarter],
        &[LastQuarter],
        &[Half, AfterRest],
        &[OnBeat, AfterRest],
        &[Half, AfterRest],
        &[OnBeat],
        &[Half],
        &[OnBeat, BarLine],
        &[FirstThird],
        &[SecondThird],
        &[OnBeat],
        &[OnBeat],
        &[SecondThird],
        &[OnBeat],
    ]
};

/// Where every attack of these bars stands.
fn standings(attacks: usize) -> impl Iterator<Item = &'static [Place]> {
    WHERE.iter().copied().cycle().take(attacks)
}

fn of(split: &Split, place: Place) -> Option<PlaceOffset> {
    split.places.iter().copied().find(|offset| offset.place == place)
}

#[test]
fn every_attack_is_counted_where_it_stands() {
    let counts = counts(&BARS.repeat(10), 60);
    let written = written_ms(&counts);
    assert_eq!(written.len(), 230);
    let split = judged(&counts, &struck(&counts, &[12.0])).split(MS);
    for place in Place::ALL {
        let expected = standings(230).filter(|standing| standing.contains(&place)).count();
        let offset = of(&split, place).unwrap_or_else(|| panic!("{place:?}: {split:?}"));
        assert_eq!((offset.attacks, ms(offset.offset.value).round()), (expected, 0.0), "{place:?}");
    }
    assert_eq!(split.bias.map(|bias| bias.value), Some(Seconds::from_millis(12)));
}

/// 30 ms late at one place and 12 ms of scatter everywhere: it is found there and nowhere else.
#[test]
fn what_is_planted_at_a_place_is_found_there_and_nowhere_else() {
    let counts = counts(&BARS.repeat(12), 60);
    let written = written_ms(&counts);
    for (seed, planted) in (70..).zip(&Place::ALL[1..]) {
        let mut chance = Chance::from(seed);
        let late = |standing: &[Place]| if standing.contains(planted) { 30.0 } else { 0.0 };
        let at = written.iter().zip(standings(written.len()));
        let take = played(at.map(|(at, standing)| at - 20.0 + 12.0 * chance.normal() + late(standing)));
        let split = judged(&counts, &take).split(MS);
        for place in Place::ALL {
            let found = of(&split, place).unwrap_or_else(|| panic!("{planted:?}: {place:?}"));
            let truth = if place == *planted { 30.0 } else { 0.0 };
            let distance = (ms(found.offset.value) - truth).abs();
            assert!(distance < 3.5 * ms(found.error), "{planted:?} planted: {found:?}");
            assert!(place != *planted || found.offset.is_sure(), "{found:?}");
        }
    }
}

/// The ands 50 ms late, half of all attacks: it is they that are late, and not the beats that are early.
#[test]
fn a_swing_belongs_to_the_ands() {
    let counts = counts(&["xxxxxxxx"; 6], 90);
    let mut chance = Chance::from(3);
    let swung = written_ms(&counts).into_iter().zip([0.0, 50.0].iter().cycle());
    let take = played(swung.map(|(at, late)| at + late + 10.0 * chance.normal()));
    let split = judged(&counts, &take).split(MS);
    let ands = of(&split, Place::Half).expect("24 of them").offset;
    assert!(ands.low > Seconds::from_millis(40) && ands.high < Seconds::from_millis(60), "{ands:?}");
    assert_eq!(of(&split, Place::OnBeat).map(|beats| beats.offset.value), Some(Seconds::ZERO));
    assert!(!of(&split, Place::BarLine).expect("six of them").offset.is_sure(), "{split:?}");
    assert!(of(&split, Place::FirstQuarter).is_none() && of(&split, Place::AfterRest).is_none());
}

#[test]
fn intervals_of_places_hold_the_truth_in_95_of_100_takes() {
    let counts = counts(&BARS.repeat(4), 60);
    let written = written_ms(&counts);
    let mut of_places = vec![Coverage::default(); Place::ALL.len()];
    let takes = 800;
    for seed in 0..takes {
        let take = INDEPENDENT.play(&written, &mut Chance::from(5_000_000 + u64::from(seed) * 13));
        let split = judged(&counts, &take).split(MS);
        for (coverage, place) in of_places.iter_mut().zip(Place::ALL) {
            coverage.add(of(&split, place).map(|found| found.offset), 0.0);
        }
    }
    for (coverage, place) in of_places[1..].iter().zip(&Place::ALL[1..]) {
        coverage.check(place.name(), takes, 0.92, 0.975);
    }
}

#[test]
fn few_attacks_make_no_claim() {
    let counts = counts(&["xxxx", "xxxx"], 120);
    for number in 0..8 {
        let take = struck(&counts, &[3.0, -4.0, 8.0]);
        let split = judged(&counts, &take[..number]).split(MS);
        assert!(number >= 6 || split.bias.is_none(), "{number}: {split:?}");
        assert_eq!(split.spread.is_some(), number >= 4, "{number}: {split:?}");
        assert_eq!(split.drift_percent, None, "{number}");
        assert!(number >= 4 || split.places.is_empty(), "{number}: {split:?}");
        assert!(of(&split, Place::BarLine).is_none(), "{number}: {split:?}");
        let few = NotApplicable::TooFewIntervals { given: if number < 3 { 0 } else { number - 1 } };
        assert_eq!(split.clock_motor, Err(few), "{number}");
    }
}

/// Where the beats are silent there is no pulse to count from.
#[test]
fn without_beats_nothing_is_said_of_places() {
    let counts = counts(&[".x.x.x.x"; 6], 90);
    assert_eq!(judged(&counts, &struck(&counts, &[10.0, 14.0])).split(MS).places, []);
}

/// A dotted figure played even is a reading and no late "a".
#[test]
fn misread_notes_take_no_part() {
    let counts = counts(&["x--xx-x-x---x-x-"; 8], 80);
    let mut chance = Chance::from(8);
    let even = |(n, at): (usize, f64)| at + if n % 7 == 1 { -187.5 } else { 0.0 } + 5.0 * chance.normal();
    let take = played(written_ms(&counts).into_iter().enumerate().map(even));
    let judgement = judged(&counts, &take);
    let answers: Vec<_> = judgement.attacks().iter().filter_map(|attack| attack.answer).collect();
    let misread = answers.iter().filter(|answer| answer.misread).count();
    assert!(misread >= 8, "{misread}");
    let split = judgement.split(MS);
    assert!(of(&split, Place::LastQuarter).is_none(), "{split:?}");
    assert!(split.bias.is_some_and(|bias| ms(bias.value).abs() < 4.0), "{split:?}");
}

/// A rush is no bias: where the offsets go on growing, their middle is nobody's steady distance.
#[test]
fn a_rush_leaves_no_steady_bias() {
    let counts = counts(&["xxxx"; 8], 96);
    let player = Player { rush_percent: 2.0, ..EVEN }.with_spread(10.0);
    let split = judged(&counts, &player.play(&written_ms(&counts), &mut Chance::from(1))).split(MS);
    assert_eq!(split.bias, None);
    let drift = split.drift_percent.expect("enough");
    assert!(drift.low < 2.0 && 2.0 < drift.high && drift.low > 1.0, "{drift:?}");
}

/// Without a click: every interval is the clock's, with the difference of two motor delays. Of whole judged takes, on the average.
#[test]
fn clock_and_motor_come_out_of_judged_takes() {
    let counts = counts(&["xxxx"; 40], 110);
    let written = written_ms(&counts);
    let (mut variance, mut covariance, mut takes) = (0.0, 0.0, 0.0);
    for seed in 0..40 {
        let mut chance = Chance::from(60_000 + seed * 7);
        let mut clock = 0.0;
        let walk = written.iter().map(|at| {
            clock += 8.0 * chance.normal();
            at + clock + 8.0 * chance.normal()
        });
        let split = judged(&counts, &played(walk.collect::<Vec<_>>())).split(MS);
        if let Ok(found) = split.clock_motor {
            assert!(found.intervals > 120, "{found:?}");
            variance += found.variance;
            covariance += found.covariance;
            takes += 1.0;
        }
    }
    // 8² + 2·8² = 192, and −64.
    eprintln!("{takes} takes: {} {}", variance / takes, covariance / takes);
    assert!(takes >= 35.0);
    assert!((variance / takes / 192.0 - 1.0).abs() < 0.1, "{}", variance / takes);
    assert!((covariance / takes / -64.0 - 1.0).abs() < 0.15, "{}", covariance / takes);
}
