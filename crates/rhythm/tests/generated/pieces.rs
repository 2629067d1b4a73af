//! Rhythms of all kinds, made from numbers.

use rhythm::{
    Accent, Bar, BarsOfRest, Deed, Dynamics, Ending, Event, Form, Grace, Jump, Loudness, Marks, Meter, Part,
    Piece, Repeat, Rhythm, Roll, Sticking, Swell, TempoMark, Tuplet, Until,
};
use timebase::{Ratio, Span, Tempo};

/// Numbers to decide by, used up from the front; when they are at an end every decision is 0.
struct Dice<'d> {
    numbers: &'d [u16],
    next: usize,
}

impl Dice<'_> {
    /// A number below `below`.
    fn roll(&mut self, below: usize) -> usize {
        let number = self.numbers.get(self.next).copied().unwrap_or(0);
        self.next += 1;
        usize::from(number) % below
    }

    fn one_in(&mut self, many: usize) -> bool {
        self.roll(many) == many - 1
    }

    fn pick<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[self.roll(choices.len())]
    }
}

fn meters() -> Vec<Meter> {
    let plain = |beats, unit| Meter::new(beats, unit).expect("a meter");
    let grouped = |beats, unit, groups: &[u32]| plain(beats, unit).grouped(groups).expect("groups");
    vec![
        plain(4, 4),
        plain(3, 4),
        plain(2, 4),
        plain(2, 2),
        plain(6, 8),
        plain(9, 8),
        plain(12, 8),
        plain(3, 8),
        plain(5, 4),
        plain(6, 8).felt_in(6).expect("six"),
        plain(2, 2).felt_in(4).expect("four"),
        plain(3, 4).felt_in(1).expect("one"),
        grouped(7, 8, &[2, 2, 3]),
        grouped(5, 8, &[3, 2]),
        grouped(4, 4, &[3, 3, 2]),
        grouped(9, 8, &[2, 2, 2, 3]),
        grouped(7, 8, &[2, 2, 3]).counted_by_group().expect("by group"),
        grouped(8, 8, &[3, 3, 2]).counted_by_group().expect("by group"),
    ]
}

/// Events and tuplets being filled in from the left.
#[derive(Default)]
struct Filling {
    events: Vec<Event>,
    tuplets: Vec<Tuplet>,
}

impl Filling {
    /// Fills `length` from `at` on; inside tuplets a length that is written lasts `ratio` of it.
    fn fill(
        &mut self,
        at: Span,
        length: Span,
        ratio: Ratio<i64>,
        depth: usize,
        sounding: &mut bool,
        dice: &mut Dice<'_>,
    ) {
        let plain = length.numerator().count_ones() == 1;
        let written = length.scaled(ratio.recip());
        let divides = written.denominator() <= 16;
        if depth < 2 && plain && divides && dice.one_in(5) {
            let (actual, normal) = dice.pick(&[(3_u32, 2_u32), (5, 4), (7, 4), (6, 4), (2, 3), (4, 3)]);
            self.tuplets.push(Tuplet { at, length, actual, normal });
            let ratio = ratio * Ratio::new(i64::from(normal), i64::from(actual));
            // So much is written in it, in as many notes of one value, some of them joined or halved.
            let one = written.scaled(Ratio::new(i64::from(actual), i64::from(normal))) / i64::from(actual);
            let small = one.denominator() <= 64 && (one * i64::from(actual)).scaled(ratio) == length;
            if !small || one.numerator().count_ones() != 1 || one.denominator().count_ones() != 1 {
                self.tuplets.pop();
            } else {
                let mut place = at;
                let mut left = actual;
                while left > 0 {
                    let many = if left >= 2 && dice.one_in(4) { 2 } else { 1 };
                    let step = (one * i64::from(many)).scaled(ratio);
                    self.fill(place, step, ratio, depth + 1, sounding, dice);
                    place += step;
                    left -= many;
                }
                return;
            }
        }
        if divides && dice.roll(3) > 0 {
            let half = if plain { length / 2 } else { length / length.numerator() };
            self.fill(at, half, ratio, depth, sounding, dice);
            self.fill(at + half, length - half, ratio, depth, sounding, dice);
            return;
        }
        let deed = match dice.roll(5) {
            0 => Deed::Rest,
            1 if *sounding => Deed::Hold,
            _ => Deed::Attack,
        };
        *sounding = deed != Deed::Rest;
        let beam_broken = !self.events.is_empty() && dice.one_in(9);
        let event = Event { beam_broken, ..Event::new(at, length, deed) };
        self.events.push(event.with_marks(marks(deed, dice)));
    }
}

fn marks(deed: Deed, dice: &mut Dice<'_>) -> Marks {
    let fermata = dice.one_in(12);
    if deed != Deed::Attack {
        return Marks { fermata, ..Marks::NONE };
    }
    Marks {
        grace: dice.pick(&[Grace::None, Grace::None, Grace::None, Grace::Flam, Grace::Drag, Grace::Ruff]),
        roll: dice.pick(&[None, None, None, Some(Roll::Unmeasured), Some(Roll::Measured(3))]),
        accent: dice.pick(&[None, None, Some(Accent::Accent), Some(Accent::Strong)]),
        sticking: dice.pick(&[None, None, Some(Sticking::Right), Some(Sticking::Left), Some(Sticking::Both)]),
        fermata,
    }
}

/// A bar in counts: attacks and rests on beats and on halves of simple beats, whose words never depend on ties.
fn in_counts(number: u32, meter: Meter, sounding: &mut bool, dice: &mut Dice<'_>) -> Bar {
    let mut places = vec![Span::ZERO];
    for beat in 1..=meter.felt_beats() {
        let at = meter.count_at(beat);
        if beat > 1 && dice.roll(3) > 0 {
            places.push(at);
        }
        if meter.division() == rhythm::Division::Two && dice.one_in(3) {
            places.push(at + meter.felt_beat() / 2);
        }
    }
    let ends: Vec<Span> = places.iter().copied().skip(1).chain([meter.bar_length()]).collect();
    let mut events = Vec::new();
    for (at, end) in places.into_iter().zip(ends) {
        let deed = if dice.one_in(4) { Deed::Rest } else { Deed::Attack };
        *sounding = deed == Deed::Attack;
        events.push(Event::new(at, end - at, deed).with_marks(marks(deed, dice)));
    }
    Bar::new(number, meter, Form::Counts, events).expect("a bar in counts")
}

fn in_lengths(
    number: u32,
    meter: Meter,
    from: Span,
    to: Span,
    sounding: &mut bool,
    dice: &mut Dice<'_>,
) -> Bar {
    let mut filling = Filling::default();
    let unit = Span::new(1, i64::from(meter.unit()));
    let mut at = from;
    while at < to {
        let step = if dice.one_in(3) && at + unit * 2 <= to { unit * 2 } else { unit }.min(to - at);
        filling.fill(at, step, Ratio::from_integer(1), 0, sounding, dice);
        at += step;
    }
    let bar = Bar::cut(number, meter, Form::Lengths, filling.events).expect("a bar in lengths");
    bar.with_tuplets(filling.tuplets).expect("tuplets")
}

fn rhythm(layout: &[u16], own: &[u16]) -> Rhythm {
    let mut dice = Dice { numbers: layout, next: 0 };
    let mut notes = Dice { numbers: own, next: 0 };
    let all = meters();
    let mut meter = dice.pick(&all);
    let mut sounding = false;
    let mut bars: Vec<Bar> = Vec::new();
    let mut number = 1;
    let routed = dice.one_in(2);
    let pickup = dice.one_in(3);
    if pickup {
        let from = meter.bar_length() - Span::new(1, i64::from(meter.unit()));
        if from.is_positive() {
            bars.push(in_lengths(0, meter, from, meter.bar_length(), &mut sounding, &mut notes));
        }
    }
    let many = 2 + dice.roll(6);
    for _ in 0..many {
        if dice.one_in(4) {
            meter = dice.pick(&all);
        }
        // A repeated passage may be entered from anywhere, so there nothing is held over a bar line.
        if routed {
            sounding = false;
        }
        let kind = dice.roll(6);
        let full = meter.bar_length();
        let tempo = match dice.roll(8) {
            6 => Some(TempoMark::Beats(Tempo::new(Span::QUARTER, 77.into()).expect("a tempo"))),
            7 => Some(TempoMark::Equal { before: Span::QUARTER, after: Span::QUARTER }),
            _ => None,
        };
        let dynamics = Dynamics {
            level: dice.pick(&[None, None, Some(Loudness::P), Some(Loudness::Fff)]),
            swell: dice.pick(&[None, None, Some(Swell::Crescendo), Some(Swell::Decrescendo)]),
        };
        let dressed = |bar: Bar| bar.with_tempo(tempo).with_dynamics(dynamics);
        match kind {
            0 if !routed => {
                let of = 2 + u32::try_from(dice.roll(3)).expect("small");
                for index in 1..=of {
                    let events = vec![Event::new(Span::ZERO, full, Deed::Rest)];
                    let bar = Bar::new(number, meter, Form::Counts, events).expect("a silent bar");
                    bars.push(bar.with_rest(BarsOfRest { index, of }).expect("bars of rest"));
                    number += 1;
                }
                sounding = false;
            }
            1 if meter.beats() > 1 => {
                let cut = Span::new(1, i64::from(meter.unit()));
                bars.push(dressed(in_lengths(number, meter, Span::ZERO, cut, &mut sounding, &mut notes)));
                if routed {
                    sounding = false;
                }
                bars.push(in_lengths(number, meter, cut, full, &mut sounding, &mut notes));
                number += 1;
            }
            // The last bar of a rhythm with a pickup cannot always be told in counts.
            2 | 3 if !pickup => {
                bars.push(dressed(in_counts(number, meter, &mut sounding, &mut notes)));
                number += 1;
            }
            _ => {
                bars.push(dressed(in_lengths(number, meter, Span::ZERO, full, &mut sounding, &mut notes)));
                number += 1;
            }
        }
    }
    // A passage is repeated with the pickup or without it.
    let first = if dice.one_in(2) { 0 } else { usize::from(bars[0].is_pickup()) };
    let end = bars.len();
    let mut repeats = Vec::new();
    let mut jump = None;
    if routed && end - first >= 3 {
        match dice.roll(4) {
            0 => repeats.push(Repeat::new(first..end - 1, 3)),
            1 => {
                let endings = vec![
                    Ending { bars: end - 2..end - 1, passes: vec![1, 2] },
                    Ending { bars: end - 1..end, passes: vec![3] },
                ];
                repeats.push(Repeat { bars: first..end, times: 3, endings });
            }
            2 => {
                let until = dice.pick(&[Until::End, Until::Fine(first)]);
                jump = Some(Jump { after: end - 1, to: first, from_sign: true, until });
            }
            _ => {
                let until = Until::Coda { leave: first, coda: end - 1 };
                jump = Some(Jump { after: end - 2, to: 0, from_sign: false, until });
            }
        }
    }
    let tempo = Tempo::new(Span::QUARTER, 96.into()).expect("a tempo");
    let title = dice.one_in(2).then(|| "Under the Eaves".to_owned());
    let made = Rhythm::new(title, Some(tempo), bars, repeats).expect("a rhythm");
    match jump {
        Some(jump) => made.with_jump(jump).expect("a jump"),
        None => made,
    }
}

pub(crate) fn piece(layout: &[u16], own: &[Vec<u16>]) -> Piece {
    let named = own.len() > 1;
    let parts = own.iter().enumerate().map(|(index, own)| Part {
        name: named.then(|| format!("part {index}")),
        rhythm: rhythm(layout, own),
        // Two share a line where the second is told so.
        shares_line: index % 2 == 1 && own.first().is_some_and(|first| first % 3 == 0),
    });
    Piece::new(parts.collect()).expect("parts that belong together")
}
