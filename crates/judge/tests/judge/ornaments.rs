//! Graces and rolls: which stroke is the note, and what is said of those that were not played.

use counting::TimedCount;
use judge::{FindingKind, Hand, Judgement, Played, Settings, judge};
use timebase::{Moment, Seconds};

use crate::pattern::of_text;
use crate::player::Chance;

const TEXT: &str = "meter: 4/4\ntempo: quarter = 76\n
          | 1 & 2 3 4 | 1 2 3 4 | 1 2 3 & 4 | 1 2 & 3 4 | 1 & 2 3 4 | 1 2 3 (4) |
sticking: | R L R R L | R L R L | R L R L R | R L R L R | R L R R L | R L R |
accents:  | > . . . . | > . > . | > . . . > | > . > . . | > . . . . | > . > |
strokes:  | flam . . . . | . . flam . | . flam . . . | drag . . . . | . . . drag . | flam . . |\n";

fn other(hand: Hand) -> Hand {
    if hand == Hand::Right { Hand::Left } else { Hand::Right }
}

/// As written, a little ahead: graces soft, so far before their notes, struck with the other hand.
fn take(counts: &[TimedCount], apart_ms: f64, seed: u64) -> Vec<Played> {
    let mut chance = Chance::new(seed);
    let mut played = Vec::new();
    let notes = counts.iter().filter(|count| count.deed == rhythm::Deed::Attack);
    for count in notes {
        let at = count.at.as_millis_f64() - 22.0 + 14.0 * chance.normal();
        let hand = match count.marks.sticking {
            Some(rhythm::Sticking::Left) => Hand::Left,
            _ => Hand::Right,
        };
        let stroke = |ms: f64, velocity: u8, hand| {
            Played::new(Moment::ZERO + Seconds::from_millis_f64(ms)).with_velocity(velocity).with_hand(hand)
        };
        for grace in (1..=count.marks.grace.strokes()).rev() {
            let velocity = 34 + u8::try_from(seed % 9).expect("small");
            played.push(stroke(at - apart_ms * f64::from(grace), velocity, other(hand)));
        }
        played.push(stroke(at, if count.marks.accent.is_some() { 108 } else { 72 }, hand));
    }
    played
}

fn says(judgement: &Judgement) -> Vec<&str> {
    let mistakes = judgement.findings().iter().filter(|finding| finding.kind.is_mistake());
    mistakes.map(|finding| finding.says.as_str()).collect()
}

#[test]
fn the_main_stroke_of_a_flam_or_drag_is_the_note() {
    let counts = of_text(TEXT);
    for apart_ms in [28.0, 40.0, 55.0] {
        for seed in 0..20 {
            let judgement = judge(&counts, &take(&counts, apart_ms, seed), &Settings::default());
            assert!(says(&judgement).is_empty(), "{apart_ms} {seed}: {:?}", says(&judgement));
            let soft = judgement.attacks().iter().filter(|attack| attack.played.velocity < Some(50));
            for grace in soft {
                assert!(grace.ornament.is_some(), "{apart_ms} {seed}: {grace:?}");
            }
        }
    }
}

#[test]
fn a_soft_stroke_behind_a_flam_is_one_too_many() {
    let counts = of_text(TEXT);
    let mut played = take(&counts, 40.0, 3);
    let echo = Played::new(played[1].at + Seconds::from_millis(45)).with_velocity(30);
    played.push(echo.with_hand(Hand::Right));
    let judgement = judge(&counts, &played, &Settings::default());
    let found: Vec<FindingKind> =
        judgement.findings().iter().map(|finding| finding.kind).filter(|kind| kind.is_mistake()).collect();
    assert_eq!(found, [FindingKind::ExtraAttack], "{:?}", says(&judgement));
}

#[test]
fn rolls_that_are_played_as_single_strokes_are_told() {
    let text = "meter: 4/4\ntempo: quarter = 76\n
         | 1 _2 3 4 | 1 2 3 4 | 1 _2 3 4 | 1 2 3 (4) |
strokes: | z . . | . | z . . | . |\n";
    let piece = rhythm::text::read_piece(text).piece.expect("a rhythm text");
    let rhythm = &piece.parts()[0].rhythm;
    let performance = rhythm.performance();
    let counts =
        counting::count(rhythm).timed(rhythm, &performance, &rhythm.tempo_map(&performance, rhythm.tempo()));
    let plain: Vec<Played> = crate::pattern::written_ms(&counts)
        .into_iter()
        .map(|at| Played::new(Moment::ZERO + Seconds::from_millis_f64(at)))
        .collect();
    let good = |played: &[Played]| judge(&counts, played, &Settings::default()).findings()[0].says.clone();
    assert!(good(&plain).ends_with("; none of the written rolls was played as one"), "{}", good(&plain));
    let mut rolled = plain.clone();
    for roll in [plain[0], plain[7]] {
        rolled.extend((1..12).map(|n| Played::new(roll.at + Seconds::from_millis(90 * n))));
    }
    assert!(!good(&rolled).contains("roll"), "{}", good(&rolled));
}
