//! Rhythms as lessons have them, and players who play them: with a click after the linear phase correction model,
//! without one after Wing & Kristofferson. Everything comes from a seed.

use exchange::quantise::{Quantised, Tap};
use rhythm::{Deed, Meter};
use timebase::{Moment, Seconds, Span};

/// Numbers that look like chance: a permuted congruential generator (O'Neill 2014, from memory), the same everywhere.
#[derive(Clone, Debug)]
pub(crate) struct Chance(u64);

impl Chance {
    /// The numbers of this seed.
    pub(crate) fn new(seed: u64) -> Self {
        let mut chance = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0xDEAD_BEEF_CAFE_F00D);
        for _ in 0..8 {
            chance.next();
        }
        chance
    }

    fn next(&mut self) -> u32 {
        let state = self.0;
        self.0 = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mixed = u32::try_from(((state >> 18) ^ state) >> 27 & 0xFFFF_FFFF).expect("32 bits");
        mixed.rotate_right(u32::try_from(state >> 59).expect("5 bits"))
    }

    /// Between 0 and 1.
    pub(crate) fn part(&mut self) -> f64 {
        (f64::from(self.next()) + 0.5) / 4_294_967_296.0
    }

    /// Normally distributed (Box & Muller 1958).
    pub(crate) fn normal(&mut self, deviation: f64) -> f64 {
        let (a, b) = (self.part(), self.part());
        deviation * (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }

    /// One of these, each with its weight.
    pub(crate) fn of<T: Copy>(&mut self, choices: &[(f64, T)]) -> T {
        let mut left = self.part() * choices.iter().map(|(weight, _)| weight).sum::<f64>();
        for &(weight, choice) in choices {
            left -= weight;
            if left < 0.0 {
                return choice;
            }
        }
        choices[choices.len() - 1].1
    }
}

/// What one beat may hold: where it is struck, in twelfths.
type Beat = &'static [i64];

/// Beats of simple meters as a second year has them. Common practice, no source.
const SIMPLE: [(f64, Beat); 11] = [
    (30.0, &[0]),
    (20.0, &[0, 6]),
    (8.0, &[0, 3, 6, 9]),
    (6.0, &[0, 6, 9]),
    (5.0, &[0, 3, 6]),
    (5.0, &[0, 9]),
    (5.0, &[0, 4, 8]),
    (6.0, &[6]),
    (2.0, &[0, 3, 9]),
    (1.0, &[6, 9]),
    (12.0, &[]),
];

/// Beats of 6/8.
const COMPOUND: [(f64, Beat); 8] = [
    (30.0, &[0]),
    (20.0, &[0, 4, 8]),
    (20.0, &[0, 8]),
    (4.0, &[0, 4]),
    (4.0, &[0, 4, 6, 8]),
    (4.0, &[0, 6, 8]),
    (4.0, &[4, 8]),
    (12.0, &[]),
];

/// A rhythm of so many bars: the places of its attacks, rising, the first on count 1.
pub(crate) fn rhythm(chance: &mut Chance, meter: Meter, bars: i64) -> Vec<Span> {
    let beats = i64::from(meter.felt_beats()) * bars;
    let compound = meter.division() == rhythm::Division::Three;
    let mut places = Vec::new();
    for beat in 0..beats {
        let mut held = if compound { chance.of(&COMPOUND) } else { chance.of(&SIMPLE) };
        if beat == 0 && held.first() != Some(&0) {
            held = &[0];
        }
        places.extend(held.iter().map(|&at| meter.felt_beat() * beat + meter.felt_beat() * at / 12));
    }
    places
}

/// When each place would fall exactly, in seconds, with `beat` seconds a felt beat.
pub(crate) fn exactly(places: &[Span], meter: Meter, beat: f64) -> Vec<f64> {
    let beats = |place: &Span| {
        let beats = place.in_units_of(meter.felt_beat());
        *beats.numer() as f64 / *beats.denom() as f64
    };
    places.iter().map(|place| beats(place) * beat).collect()
}

/// A player with a click, whose strokes lie about it with the standard deviation `spread` and the mean `lead`, in seconds.
///
/// The linear phase correction model: A' = (1 − α)·A + T + ΔM, of each stroke's asynchrony A, with α = ½ and a
/// timekeeper that is twice as unsteady as the hand. σT 20 and σM 10 give 25.82 ms (Vorberg & Schulze 2002).
pub(crate) fn with_click(chance: &mut Chance, exact: &[f64], spread: f64, lead: f64) -> Vec<f64> {
    let (timer, hand) = (spread * 20.0 / 25.82, spread * 10.0 / 25.82);
    let mut asynchrony = chance.normal(spread);
    let mut before = 0.0;
    exact
        .iter()
        .map(|at| {
            let motor = chance.normal(hand);
            asynchrony = 0.5 * asynchrony + chance.normal(timer) + motor - before;
            before = motor;
            at + asynchrony + lead
        })
        .collect()
}

/// A player without a click. Wing & Kristofferson (1973): I = C + M' − M, a timekeeper and a hand; var(I) = σC² + 2σM².
/// Here the standard deviation of an interval of a beat is `spread`, the timekeeper's twice the hand's, and its variance
/// grows with the interval. The tempo changes by `drift` parts a beat.
pub(crate) fn alone(chance: &mut Chance, exact: &[f64], beat: f64, spread: f64, drift: f64) -> Vec<f64> {
    let hand = spread / 6.0_f64.sqrt();
    let timer = 2.0 * hand;
    let (mut at, mut before) = (0.0, 0.0);
    exact
        .iter()
        .map(|&place| {
            let interval = place - before;
            at += interval * (1.0 + drift * place / beat) + chance.normal(timer * (interval / beat).sqrt());
            before = place;
            at + chance.normal(hand)
        })
        .collect()
}

/// Strokes at these seconds.
pub(crate) fn taps(seconds: &[f64]) -> Vec<Tap> {
    seconds.iter().map(|&at| Tap::new(Moment::ZERO + Seconds::from_secs_f64(at))).collect()
}

/// Where the attacks of a rhythm fall as it is played, from count 1 of bar 1.
pub(crate) fn attacks(quantised: &Quantised) -> Vec<Span> {
    let rhythm = &quantised.rhythm;
    let performance = rhythm.performance();
    let mut places = Vec::new();
    for performed in performance.bars() {
        let events = rhythm.bars()[performed.index].events();
        let attacks = events.iter().filter(|event| event.deed == Deed::Attack);
        places.extend(attacks.map(|event| performed.position(event.at).since_zero()));
    }
    places
}

/// How many of `bars` bars hold the same attacks in both.
pub(crate) fn same_bars(written: &[Span], found: &[Span], meter: Meter, bars: i64) -> i64 {
    let length = meter.bar_length();
    let inside = |places: &[Span], bar: i64| {
        let from = length * bar;
        places.iter().copied().filter(|&at| from <= at && at < from + length).collect::<Vec<_>>()
    };
    (0..bars).map(|bar| i64::from(inside(written, bar) == inside(found, bar))).sum()
}
