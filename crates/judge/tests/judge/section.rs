use judge::{Judgement, Played, Section, Settings, TempoOf, judge, section};
use timebase::{Moment, Seconds};

use crate::pattern::{counts, played, struck, written_ms};
use crate::player::Chance;

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
    assert_eq!(section::<Judgement>(&[]), []);
}

fn ms(length: Seconds) -> f64 {
    length.as_millis_f64()
}

fn judged(counts: &[counting::TimedCount], takes: &[Vec<Played>]) -> Vec<Judgement> {
    takes.iter().map(|take| judge(counts, take, &Settings::default())).collect()
}

fn section_of(judgements: &[Judgement]) -> Section {
    Section::of(&judgements.iter().collect::<Vec<_>>())
}

/// Players at these distances from the section and with these spreads, about a pulse that lies so far from the click.
fn about(
    counts: &[counting::TimedCount],
    pulse_ms: &[f64],
    players: &[(f64, f64)],
    chance: &mut Chance,
) -> Vec<Vec<Played>> {
    let written = written_ms(counts);
    let mut take = |&(distance, spread): &(f64, f64)| {
        let strokes = written.iter().zip(pulse_ms);
        played(
            strokes.map(|(at, pulse)| at + pulse + distance + spread * chance.normal()).collect::<Vec<_>>(),
        )
    };
    players.iter().map(&mut take).collect()
}

/// A pulse that swings 40 ms about the click in 16 beats, and walks.
fn wandering(count: usize, chance: &mut Chance) -> Vec<f64> {
    let mut walked = 0.0;
    let mut at = |n: usize| {
        walked += 2.0 * chance.normal();
        40.0 * (n as f64 * std::f64::consts::TAU / 16.0).sin() + walked
    };
    (0..count).map(&mut at).collect()
}

fn rms(distances: impl Iterator<Item = f64> + Clone) -> f64 {
    (distances.clone().map(|d| d * d).sum::<f64>() / distances.count() as f64).sqrt()
}

/// Three players about one wandering pulse: the common pulse is nearer to it than the best of the three, his own
/// distance taken out, and nearer than their mean at each attack.
#[test]
fn the_common_pulse_is_nearer_than_any_player() {
    let counts = counts(&["xxxx"; 12], 90);
    let written = written_ms(&counts);
    let (mut nearer, mut ours, mut means, mut bests) = (0, 0.0, 0.0, 0.0);
    let takes = 60;
    for seed in 0..takes {
        let mut chance = Chance::from(31_000 + seed);
        let truth = wandering(written.len(), &mut chance);
        let players = [(-15.0, 14.0), (0.0, 18.0), (15.0, 30.0)];
        let takes = about(&counts, &truth, &players, &mut chance);
        let judgements = judged(&counts, &takes);
        assert!(judgements.iter().all(|judgement| judgement.missed().count() == 0), "seed {seed}");
        let section = section_of(&judgements);
        assert_eq!(section.pulse.len(), written.len(), "seed {seed}");
        let own = |player: usize| {
            let distance = players[player].0;
            let strokes = written.iter().zip(&takes[player]).zip(&truth);
            strokes.map(move |((at, stroke), truth)| stroke.at.as_millis_f64() - at - distance - truth)
        };
        let best = (0..3).map(|player| rms(own(player))).fold(f64::INFINITY, f64::min);
        let mean = rms(own(0).zip(own(1)).zip(own(2)).map(|((a, b), c)| (a + b + c) / 3.0));
        let common = rms(section.pulse.iter().zip(&truth).map(|(pulse, truth)| ms(pulse.offset) - truth));
        nearer += u64::from(common < best);
        ours += common;
        means += mean;
        bests += best;
    }
    let each = |sum: f64| sum / takes as f64;
    eprintln!(
        "common {:.2}, mean {:.2}, best player {:.2} ms; nearer in {nearer}",
        each(ours),
        each(means),
        each(bests)
    );
    assert_eq!(nearer, takes);
    assert!(ours < 0.85 * means && ours < 0.7 * bests, "{ours} {means} {bests}");
}

/// One of four half a beat late for two bars: the pulse of the others does not follow.
#[test]
fn a_player_who_is_elsewhere_does_not_pull_the_pulse() {
    let counts = counts(&["xxxx"; 8], 90);
    let mut chance = Chance::from(5);
    let level = vec![0.0; 32];
    let mut takes = about(&counts, &level, &[(0.0, 8.0); 4], &mut chance);
    for stroke in &mut takes[2][12..20] {
        stroke.at += Seconds::from_millis(240);
    }
    let section = section_of(&judged(&counts, &takes));
    let farthest = section.pulse.iter().map(|pulse| ms(pulse.offset).abs()).fold(0.0, f64::max);
    assert!(farthest < 15.0 && section.pulse.len() == 32, "{farthest}");
}

/// One of three a whole bar behind from bar 5 on: how close they fall is said of the others.
#[test]
fn how_close_players_fall_is_told_of_those_who_are_there() {
    let counts = counts(&["xxxx"; 10], 90);
    let mut chance = Chance::from(9);
    let level = vec![0.0; 40];
    let mut takes = about(&counts, &level, &[(0.0, 12.0); 3], &mut chance);
    let bar = counts[4].at - counts[0].at;
    for stroke in &mut takes[2][16..] {
        stroke.at += bar;
    }
    let section = section_of(&judged(&counts, &takes));
    let widest = section.together.iter().filter_map(|place| place.range).max().expect("ranges");
    assert!(widest < Seconds::from_millis(120), "{widest}");
}

/// Without a click there is a section all the same: who leads, and how close they fall; nothing is said of a click.
#[test]
fn players_without_a_click_are_a_section() {
    let counts = counts(&["xxxx"; 8], 90);
    let mut chance = Chance::from(21);
    let level = vec![0.0; 32];
    let takes = about(&counts, &level, &[(-30.0, 8.0), (0.0, 8.0), (30.0, 8.0)], &mut chance);
    let slower = |stroke: &Played| {
        Played::new(Moment::ZERO + Seconds::from_millis_f64(1.08 * stroke.at.as_millis_f64()))
    };
    let takes: Vec<Vec<Played>> = takes.iter().map(|take| take.iter().map(slower).collect()).collect();
    let settings = Settings::default().with_tempo_of(TempoOf::Player);
    let judged: Vec<Judgement> = takes.iter().map(|take| judge(&counts, take, &settings)).collect();
    let section = section_of(&judged);
    assert_eq!(section.with_click, None);
    assert!(section.members[0].leads() && section.members[2].follows(), "{:?}", section.members);
    assert!(section.members.iter().all(|member| member.attacks > 28), "{:?}", section.members);
}

#[test]
fn who_leads_and_who_follows() {
    let counts = counts(&["xxxx"; 10], 100);
    let mut chance = Chance::from(11);
    let pulse = wandering(40, &mut chance);
    let takes = about(&counts, &pulse, &[(-30.0, 8.0), (0.0, 8.0), (30.0, 16.0)], &mut chance);
    let section = section_of(&judged(&counts, &takes));
    let roles: Vec<_> = section.members.iter().map(|member| (member.leads(), member.follows())).collect();
    assert_eq!((roles[0], roles[2]), ((true, false), (false, true)), "{:?}", section.members);
    for (member, expected) in section.members.iter().zip([-30.0, 0.0, 30.0]) {
        assert!((ms(member.distance.expect("enough").value) - expected).abs() < 6.0, "{member:?}");
    }
    let steady: Vec<_> = section.members.iter().map(|m| ms(m.steadiness.expect("enough").value)).collect();
    assert!(steady[2] > 1.3 * steady[0], "{steady:?}");
}

/// Together and late is not the same as on the click and apart. The intervals hold what went in as often as they say.
#[test]
fn agreement_with_the_click_is_apart_from_agreement_with_each_other() {
    let counts = counts(&["xxxx"; 8], 100);
    let (mut bias_held, mut each_held) = (0, 0);
    let takes = 500;
    for seed in 0..takes {
        let mut chance = Chance::from(80_000 + seed * 3);
        // The section's own wander of 12 ms at each attack, and 9 ms of each player about it.
        let pulse: Vec<f64> = (0..32).map(|_| 70.0 + 12.0 * chance.normal()).collect();
        let takes = about(&counts, &pulse, &[(0.0, 9.0); 3], &mut chance);
        let section = section_of(&judged(&counts, &takes));
        let (click, each) = (section.with_click.expect("32"), section.with_each_other.expect("32"));
        let holds = |low, high, truth: f64| u64::from(ms(low) <= truth && truth <= ms(high));
        bias_held += holds(click.bias.low, click.bias.high, 70.0);
        each_held += holds(each.low, each.high, 9.0);
        // √(12² + 9²/3).
        assert!((ms(click.spread.value) - 13.08).abs() < 7.0, "{click:?}");
    }
    let share = |held: u64| held as f64 / takes as f64;
    eprintln!("with the click {}, with each other {}", share(bias_held), share(each_held));
    assert!((0.93..=0.975).contains(&share(bias_held)), "{}", share(bias_held));
    assert!((0.93..=0.97).contains(&share(each_held)), "{}", share(each_held));
}

#[test]
fn of_one_player_nothing_is_said_of_a_section() {
    let counts = counts(&["xxxx"; 4], 120);
    let section = section_of(&judged(&counts, &[struck(&counts, &[5.0])]));
    assert_eq!((section.with_click, section.with_each_other, section.pulse.len()), (None, None, 0));
    assert_eq!(section.members.len(), 1);
    assert!(section.members[0].distance.is_none() && section.members[0].attacks == 0);
    let nobody = Section::of(&[]);
    assert!(nobody.members.is_empty() && nobody.together.is_empty());
}
