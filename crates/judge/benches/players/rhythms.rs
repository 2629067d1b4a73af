//! Rhythms as a method book has them: bars filled with the figures of a level, by the beat.
//!
//! A piece draws a small vocabulary from the cells of its level and meter and fills its bars with it; one bar in five
//! is an earlier one again, the last ends on a long note. Attacks may be tied over a beat or a bar line; a pickup may stand
//! before, a passage may be repeated, with endings or without. Every place is a whole number of twelfths of a felt beat.

use counting::TimedCount;
use rhythm::{
    Accent, Bar, Deed, Division, Ending, Event, Form, Grace, Marks, Meter, Performance, Repeat, Rhythm, Roll,
    Sticking,
};
use timebase::{Span, Tempo, TempoMap};

use super::chance::Chance;

/// Parts a felt beat is cut into: sixteenths are 3 and triplet eighths 4 in a simple beat, eighths 4 in a beat of three.
pub(crate) const PARTS: i64 = 12;

/// What is done, and for how many twelfths of a beat; negative is silence.
type Cell = &'static [i64];

/// By level, in a beat that divides in two.
const SIMPLE: [&[Cell]; 4] = [
    &[&[12], &[12], &[24], &[36], &[-12], &[12, -12], &[6, 6], &[6, 6]],
    &[&[-6, 6], &[6, -6], &[18, 6], &[18, 6], &[6, 12, 6], &[12, 6, 6], &[6, 6, 12], &[24], &[48]],
    &[&[3, 3, 3, 3], &[6, 3, 3], &[3, 3, 6], &[9, 3], &[3, 6, 3], &[-3, 3, 3, 3], &[6, -3, 3]],
    &[&[4, 4, 4], &[4, 4, 4], &[8, 4], &[-4, 4, 4]],
];
/// By level, in a beat that divides in three.
const COMPOUND: [&[Cell]; 3] = [
    &[&[12], &[12], &[4, 4, 4], &[4, 4, 4], &[8, 4], &[8, 4], &[24], &[-12]],
    &[&[4, 8], &[-4, 4, 4], &[8, -4], &[-8, 4], &[4, -4, 4], &[20, 4], &[-12]],
    &[&[4, 2, 2, 4], &[6, 2, 4], &[2, 2, 4, 4], &[4, 4, 2, 2], &[2, 2, 2, 2, 2, 2]],
];

/// One written attack as it is performed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct WrittenNote {
    /// Which of the counts it is.
    pub(crate) count: usize,
    /// When, in ms from count 1 of bar 1.
    pub(crate) at_ms: f64,
    /// Where, in twelfths of a beat from count 1 of bar 1.
    pub(crate) at: i64,
    /// How long it sounds, ties and all, in twelfths of a beat.
    pub(crate) length: i64,
    /// How long the silence after it lasts, in twelfths of a beat.
    pub(crate) silence: i64,
    /// Which of the performed bars it stands in.
    pub(crate) bar: usize,
    pub(crate) marks: Marks,
}

/// A performed bar: where it begins and ends, in twelfths of a beat from count 1 of bar 1.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PlayedBar {
    pub(crate) start: i64,
    pub(crate) end: i64,
    /// Which written bar.
    pub(crate) index: usize,
    pub(crate) pass: u32,
}

/// A rhythm and all that a player, a planter and a judge need of it.
#[derive(Clone, Debug)]
pub(crate) struct Written {
    pub(crate) page: Page,
    pub(crate) rhythm: Rhythm,
    pub(crate) counts: Vec<TimedCount>,
    pub(crate) notes: Vec<WrittenNote>,
    pub(crate) bars: Vec<PlayedBar>,
    /// How long a felt beat lasts.
    pub(crate) beat_ms: f64,
    /// Whether a felt beat divides in three.
    pub(crate) compound: bool,
}

impl Written {
    /// So many twelfths of a beat in ms.
    pub(crate) fn ms(&self, twelfths: i64) -> f64 {
        twelfths as f64 * self.beat_ms / PARTS as f64
    }

    /// Every beginning of a felt beat but the end, in twelfths.
    pub(crate) fn beats(&self) -> impl Iterator<Item = i64> + '_ {
        self.bars.iter().flat_map(|bar| (bar.start..bar.end).filter(|at| at.rem_euclid(PARTS) == 0))
    }

    /// The last twelfth.
    pub(crate) fn end(&self) -> i64 {
        self.bars.last().map_or(0, |bar| bar.end)
    }

    /// Attacks of one performed bar, in twelfths from where it begins: two bars that give the same are the same to strike.
    pub(crate) fn content(&self, bar: usize) -> Vec<i64> {
        let inside = self.notes.iter().filter(|note| note.bar == bar);
        inside.map(|note| note.at - self.bars[bar].start).collect()
    }

    /// Whether grace strokes or rolls are written.
    pub(crate) fn has_ornaments(&self) -> bool {
        self.notes.iter().any(|note| note.marks.grace != Grace::None || note.marks.roll.is_some())
    }

    /// The distance to the nearest other written attack, in ms.
    pub(crate) fn room_ms(&self, note: usize) -> f64 {
        let to = |other: Option<&WrittenNote>| {
            other.map_or(f64::INFINITY, |other| (other.at_ms - self.notes[note].at_ms).abs())
        };
        to(note.checked_sub(1).and_then(|before| self.notes.get(before))).min(to(self.notes.get(note + 1)))
    }
}

/// How a piece is written.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Page {
    pub(crate) meter: Meter,
    pub(crate) bpm: u32,
}

/// Any page at all.
pub(crate) fn page(chance: &mut Chance) -> Page {
    let plain = |beats, unit| Meter::new(beats, unit).expect("a meter");
    let meters = [
        Meter::COMMON,
        Meter::COMMON,
        plain(3, 4),
        plain(2, 4),
        plain(6, 8),
        plain(6, 8),
        plain(2, 2),
        plain(9, 8),
        plain(12, 8),
        plain(5, 4),
        plain(7, 8).grouped(&[2, 2, 3]).expect("groups"),
    ];
    let meter = meters[chance.below(meters.len())];
    let bpm = 60 + u32::try_from(chance.below(73)).expect("small");
    Page { meter, bpm }
}

/// A rhythm of two to sixteen bars.
pub(crate) fn written(page: Page, chance: &mut Chance) -> Written {
    let beats = i64::from(page.meter.felt_beats());
    let compound = page.meter.division() == Division::Three;
    let words = vocabulary(compound, chance);
    let many = 2 + chance.below(15);
    let mut bars: Vec<Vec<i64>> = Vec::new();
    for _ in 1..many {
        let again = chance.percent(20).then(|| chance.pick(&bars).cloned()).flatten();
        bars.push(again.unwrap_or_else(|| bar(beats, &words, chance)));
    }
    bars.push(last_bar(beats, &words, chance));
    if bars.concat().iter().filter(|length| **length > 0).count() < 2 * many {
        return written(page, chance);
    }
    let pickup = chance.percent(25).then(|| pickup(compound, chance));
    let repeats = repeats(many, pickup.is_some(), chance);
    let rhythm = on_paper(page, pickup, &bars, repeats, chance);
    performed(rhythm, page, compound)
}

/// The cells of one piece: a few of its level, and some of the level below.
fn vocabulary(compound: bool, chance: &mut Chance) -> Vec<Cell> {
    let levels: &[&[Cell]] = if compound { &COMPOUND } else { &SIMPLE };
    let level = chance.below(levels.len() + 1).min(levels.len() - 1);
    let mut words = Vec::new();
    for (below, cells) in levels.iter().enumerate().take(level + 1) {
        let many = if below == level { 3 } else { 2 };
        let cells = chance.shuffled(cells.to_vec());
        words.extend(cells.into_iter().take(many));
    }
    words.push(if compound { &[4, 4, 4] } else { &[6, 6] });
    words
}

fn length(cell: &[i64]) -> i64 {
    cell.iter().map(|length| length.abs()).sum()
}

fn bar(beats: i64, words: &[Cell], chance: &mut Chance) -> Vec<i64> {
    let mut cells = Vec::new();
    let mut left = beats * PARTS;
    while left > 0 {
        let fitting: Vec<Cell> = words.iter().copied().filter(|cell| length(cell) <= left).collect();
        let cell = chance.pick(&fitting).copied().unwrap_or(&[12]);
        cells.extend_from_slice(cell);
        left -= length(cell);
    }
    cells
}

fn last_bar(beats: i64, words: &[Cell], chance: &mut Chance) -> Vec<i64> {
    let long = 1 + i64::try_from(chance.below(2)).expect("small");
    let long = long.min(beats);
    let mut cells = bar(beats - long, words, chance);
    cells.push(long * PARTS);
    cells
}

fn pickup(compound: bool, chance: &mut Chance) -> Vec<i64> {
    let simple: [Cell; 4] = [&[12], &[6, 6], &[6], &[6]];
    let three: [Cell; 3] = [&[4], &[4, 4], &[12]];
    let choices: &[Cell] = if compound { &three } else { &simple };
    chance.pick(choices).map_or_else(|| vec![12], |cell| cell.to_vec())
}

/// A repeated passage in a third of the pieces.
fn repeats(many: usize, pickup: bool, chance: &mut Chance) -> Vec<Repeat> {
    let first = usize::from(pickup);
    if !(3..=10).contains(&many) || !chance.percent(35) {
        return Vec::new();
    }
    let length = 2 + chance.below(many.min(5) - 1);
    let start = first + chance.below(many - length + 1);
    let bars = start..start + length;
    if length >= 4 && bars.end < first + many && chance.percent(60) {
        let (one, two) = (bars.end - 2..bars.end - 1, bars.end - 1..bars.end);
        let endings = vec![Ending { bars: one, passes: vec![1] }, Ending { bars: two, passes: vec![2] }];
        return vec![Repeat { bars, times: 2, endings }];
    }
    vec![Repeat::new(bars, 2)]
}

/// How one piece is marked.
struct Style {
    tie_percent: usize,
    accents: bool,
    sticking: bool,
    ornaments: bool,
}

fn on_paper(
    page: Page,
    pickup: Option<Vec<i64>>,
    bars: &[Vec<i64>],
    repeats: Vec<Repeat>,
    chance: &mut Chance,
) -> Rhythm {
    let style = Style {
        tie_percent: if chance.percent(50) { 12 } else { 0 },
        accents: chance.percent(35),
        sticking: chance.percent(35),
        ornaments: chance.percent(15),
    };
    // Nothing is held over a sign of repeat: the bar behind it is also entered from elsewhere.
    let mut edges: Vec<usize> =
        repeats.iter().flat_map(|repeat| [repeat.bars.start, repeat.bars.end]).collect();
    edges.extend(repeats.iter().flat_map(|repeat| &repeat.endings).map(|ending| ending.bars.start));
    let full = page.meter.bar_length();
    let part = page.meter.felt_beat() / PARTS;
    let begins = pickup.as_ref().map(|cells| full - part * length(cells));
    let all = pickup.iter().chain(bars);
    let mut sounding = false;
    let mut hand = 0;
    let mut made = Vec::new();
    for (index, cells) in all.enumerate() {
        let late = begins.filter(|_| index == 0);
        let number = index + usize::from(begins.is_none());
        let number = u32::try_from(number).expect("few bars");
        let may_tie = sounding && !edges.contains(&index);
        let events = events(cells, late.unwrap_or(Span::ZERO), part, may_tie, &style, &mut hand, chance);
        sounding = events.last().is_some_and(|event| event.deed != Deed::Rest);
        let bar = if late.is_some() {
            Bar::cut(number, page.meter, Form::Lengths, events)
        } else {
            Bar::new(number, page.meter, Form::Lengths, events)
        };
        made.push(bar.expect("cells that fill the bar"));
    }
    let tempo = Tempo::new(page.meter.felt_beat(), page.bpm.into()).expect("a tempo");
    Rhythm::new(None, Some(tempo), made, repeats).expect("a rhythm")
}

fn events(
    cells: &[i64],
    begins: Span,
    part: Span,
    may_tie: bool,
    style: &Style,
    hand: &mut usize,
    chance: &mut Chance,
) -> Vec<Event> {
    let mut at = begins;
    let mut sounding = may_tie;
    let mut events: Vec<Event> = Vec::new();
    for &cell in cells {
        let length = part * cell.abs();
        // A tie begins at a beat or a bar line, where a method book has them.
        let on_beat = (at - begins).is_multiple_of(part * PARTS);
        let tied = cell > 0 && on_beat && sounding && chance.percent(style.tie_percent);
        let deed = match (cell > 0, tied) {
            (false, _) => Deed::Rest,
            (true, true) => Deed::Hold,
            (true, false) => Deed::Attack,
        };
        let mut marks = Marks::NONE;
        if deed == Deed::Attack {
            if style.accents && chance.percent(22) {
                marks.accent = Some(Accent::Accent);
            }
            if style.sticking {
                marks.sticking = Some(if hand.is_multiple_of(2) { Sticking::Right } else { Sticking::Left });
                *hand += if chance.percent(85) { 1 } else { 2 };
            }
            // A beginner's flam and roll: on a beat, with half a beat before it and a beat after it.
            let before = events.last().map_or(Span::ZERO, |event| event.length);
            let roomy = before >= part * (PARTS / 2) && cell >= PARTS;
            if style.ornaments && on_beat && roomy {
                ornament(&mut marks, chance);
            }
        }
        events.push(Event::new(at, length, deed).with_marks(marks));
        sounding = deed != Deed::Rest;
        at += length;
    }
    events
}

fn ornament(marks: &mut Marks, chance: &mut Chance) {
    match chance.below(10) {
        0..3 => marks.grace = Grace::Flam,
        3 => marks.grace = Grace::Drag,
        4 => marks.roll = Some(Roll::Unmeasured),
        5 => marks.roll = Some(Roll::Measured(1)),
        _ => {}
    }
}

/// The rhythm as it is performed at its tempo.
fn performed(rhythm: Rhythm, page: Page, compound: bool) -> Written {
    let performance = rhythm.performance();
    let tempo = Tempo::new(page.meter.felt_beat(), page.bpm.into()).expect("a tempo");
    let counts = counting::count(&rhythm).timed(&rhythm, &performance, &TempoMap::constant(tempo));
    let part = page.meter.felt_beat() / PARTS;
    let twelfths = |span: Span| *span.in_units_of(part).numer();
    let bars = played_bars(&performance, &twelfths);
    let mut notes: Vec<WrittenNote> = Vec::new();
    for (bar, performed) in performance.bars().iter().enumerate() {
        for event in rhythm.bars()[performed.index].events() {
            let length = twelfths(event.length);
            match (event.deed, notes.last_mut()) {
                (Deed::Attack, _) => notes.push(WrittenNote {
                    count: 0,
                    at_ms: 0.0,
                    at: twelfths(performed.position(event.at).since_zero()),
                    length,
                    silence: 0,
                    bar,
                    marks: event.marks,
                }),
                (Deed::Hold, Some(note)) => note.length += length,
                (Deed::Rest, Some(note)) => note.silence += length,
                (Deed::Hold | Deed::Rest, None) => {}
            }
        }
    }
    let struck = counts.iter().enumerate().filter(|(_, count)| count.deed == Deed::Attack);
    for (note, (count, timed)) in notes.iter_mut().zip(struck) {
        (note.count, note.at_ms) = (count, timed.at.as_millis_f64());
    }
    Written { page, rhythm, counts, notes, bars, beat_ms: 60_000.0 / f64::from(page.bpm), compound }
}

fn played_bars(performance: &Performance, twelfths: &impl Fn(Span) -> i64) -> Vec<PlayedBar> {
    let bars = performance.bars().iter();
    bars.map(|bar| PlayedBar {
        start: twelfths(bar.start.since_zero()),
        end: twelfths(bar.end.since_zero()),
        index: bar.index,
        pass: bar.pass,
    })
    .collect()
}
