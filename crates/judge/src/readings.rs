//! What was read for what: where a figure, or a note after a rest or a long note, was played in another way that has a name,
//! and that explains the strokes better than misses, strays and bad timing do.

use std::collections::BTreeMap;

use rhythm::Deed;

use crate::FindingKind;
use crate::alignment::Alignment;
use crate::figures::{FIGURES, Figure};
use crate::lattice::{Pulse, Row, RowKind, Rule, UNIT, best_path};
use crate::written::{PARTS, Written, middle};

/// A place where something else was played than is written.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Reading {
    pub(crate) kind: FindingKind,
    /// The written attacks it is about, as counts, in order.
    pub(crate) notes: Vec<usize>,
    /// How the figure is called and what was played for it; empty for entries.
    pub(crate) called: &'static str,
    pub(crate) for_it: &'static str,
    /// How many parts of a beat an entry came early.
    pub(crate) early: i64,
    /// Whether the last note of a figure is read later than it is written.
    late: bool,
    /// How much dearer the strokes are explained without it, in units of a miss; what it is held against taken off.
    pub(crate) gain: f64,
    /// How often the figure is written in the take.
    pub(crate) written: usize,
    /// Whether it is not to be told.
    pub(crate) hushed: bool,
}

impl Reading {
    /// Whether the short note of a dotted figure came later than written.
    pub(crate) fn is_late(&self) -> bool {
        self.kind == FindingKind::DottedAsTriplet && self.late
    }

    fn of(offer: Offer, written_times: &BTreeMap<usize, usize>) -> Self {
        let figure = FIGURES.get(offer.figure);
        Self {
            kind: offer.kind,
            called: figure.map_or("", |figure| figure.called),
            for_it: figure.map_or("", |figure| figure.for_it),
            early: offer.early,
            late: figure.is_some_and(|figure| figure.played.last() > figure.written.last()),
            gain: offer.gain.min(offer.beyond_chance).max(0.0),
            written: written_times.get(&offer.figure).copied().unwrap_or(1),
            notes: offer.notes,
            hushed: false,
        }
    }
}

/// What one reading in one place is held against at least, in misses or strays: about one figure in thirty.
const ONCE: f64 = 0.85;
/// The same where the figure is mostly played as written: one place that differs is likelier a slip.
const ONCE_SLIP: f64 = 1.0;
/// How far, in reaches, the strokes must lie from what is written on the way to what was read, for it to be no chance in the only
/// place of the figure: 3.2 standard deviations.
const NO_CHANCE: f64 = 0.84;
/// One standard deviation in reaches.
const DEVIATION: f64 = 1.0 / 3.8;
/// How much neighbouring offsets hang together: what leads or lags at one note mostly does at the next.
const NEIGHBOURS: f64 = 0.4;
/// What a habit is held against (every figure of a kind played alike), and each of its places.
const HABIT: f64 = 1.9;
const EACH: f64 = 0.1;
/// The share of a figure's places that must speak for a habit.
const MOSTLY: f64 = 0.6;
/// What is struck so nearly as written is not looked at further, and speaks against a habit with so much.
const NOTHING_TO_GAIN: f64 = 0.08;
const AS_WRITTEN: f64 = -1.5;
/// How far beside the edges of a figure its strokes may lie, as a part of a beat.
const EDGE: i64 = 6;
/// So many attacks on beats there must be to say how the beats are struck.
const FEWEST_ON_BEATS: usize = 6;
/// How wide the gate of a note of a figure is at most, in nanoseconds.
const GATE: i64 = 200_000_000;

/// One way to read one place.
#[derive(Clone, Debug)]
struct Offer {
    /// The felt beats it is about, as indices.
    from: usize,
    until: usize,
    /// Which figure, as an index into [`FIGURES`]; entries follow after them.
    figure: usize,
    /// Where the strokes of its notes are looked for.
    notes: Vec<usize>,
    /// Which stroke then answers each note.
    strokes: Vec<Option<usize>>,
    gain: f64,
    /// What speaks for it beyond chance: the same, a stroke being the dearer the further off it is, without end.
    beyond_chance: f64,
    /// How far the notes are moved.
    way: Way,
    /// Whether the figure is mostly read so.
    habit: bool,
    early: i64,
    kind: FindingKind,
}

/// How far what is read lies from what is written.
#[derive(Clone, Copy, Debug)]
struct Way {
    /// The root of the sum of squares over the notes, in reaches.
    length: f64,
    /// How much wider than a single offset those of people scatter along this way: neighbours that are moved to the same side
    /// are so by chance more often. Never narrower, for those that are moved apart scatter by themselves.
    wider: f64,
}

impl Way {
    fn of(moved: &[f64]) -> Self {
        let length = moved.iter().map(|by| by * by).sum::<f64>().sqrt();
        let pairs =
            |apart: usize| moved.iter().zip(moved.iter().skip(apart)).map(|(a, b)| a * b).sum::<f64>();
        let together: f64 =
            (1..moved.len()).zip(1..).map(|(apart, power)| NEIGHBOURS.powi(power) * pairs(apart)).sum();
        let wider = (1.0 + 2.0 * together / (length * length).max(1e-9)).max(1.0).sqrt();
        Self { length, wider }
    }

    /// What a reading must gain for its strokes to lie so many reaches along the way: a stroke `x` from what is written and
    /// `length - x` from what was read costs 2x² as the one and 2(length − x)² as the other.
    fn gain_at(self, reaches: f64) -> f64 {
        2.0 * (2.0 * reaches * self.wider * self.length - self.length * self.length)
    }
}

/// How much better one way to read a place explains it.
#[derive(Clone, Debug)]
struct Weighed {
    gain: f64,
    beyond_chance: f64,
    strokes: Vec<Option<usize>>,
}

/// Finds what was read for what and puts it into the alignment. Gives how much cheaper the take is explained by it, in units of a miss.
pub(crate) fn read(written: &Written<'_>, strokes: &[i64], reach: i64, alignment: &mut Alignment) -> f64 {
    if strokes.is_empty() || written.beats.len() < 2 {
        return 0.0;
    }
    let mut offers = Offers::new(written, strokes, reach, alignment).made();
    let written_times = habits(&mut offers);
    let unsure = offers.iter().filter(|offer| offer.habit && offer.gain <= 0.0 && offer.gain > AS_WRITTEN);
    alignment.half_read.extend(unsure.flat_map(|offer| &offer.notes));
    offers.retain(|offer| offer.gain > 0.0);
    for offer in chosen(offers) {
        if !keeps_order(written, alignment, &offer) {
            continue;
        }
        // Of two readings the likelier is looked at, and if that may be chance nothing was read.
        if offer.beyond_chance > 0.0 {
            answer(alignment, &offer);
            alignment.readings.push(Reading::of(offer, &written_times));
        } else {
            alignment.maybe_read.push(Reading::of(offer, &written_times));
        }
    }
    alignment.readings.sort_by_key(|reading| reading.notes[0]);
    hush(&mut alignment.readings);
    alignment.readings.iter().map(|reading| reading.gain).sum()
}

/// Gives the notes of an offer the strokes that answer them then.
fn answer(alignment: &mut Alignment, offer: &Offer) {
    let (from, until) = (offer.notes[0], offer.notes[offer.notes.len() - 1] + 1);
    for (&note, &stroke) in offer.notes.iter().zip(&offer.strokes) {
        for count in from..until.max(note + 1) {
            if stroke.is_some() && alignment.strokes[count] == stroke {
                alignment.strokes[count] = None;
            }
        }
    }
    // A stroke taken for a held or silent count before an early entry is the entry.
    for &stroke in offer.strokes.iter().flatten() {
        let near = from.saturating_sub(32)..(until + 8).min(alignment.strokes.len());
        for taken in &mut alignment.strokes[near] {
            if *taken == Some(stroke) {
                *taken = None;
            }
        }
    }
    for (&note, &stroke) in offer.notes.iter().zip(&offer.strokes) {
        alignment.strokes[note] = stroke;
    }
}

/// Where a figure is read in one way at most places, one that seems to be read in yet another is that way too, played badly: it
/// is told as neither.
fn hush(readings: &mut [Reading]) {
    let mut ways: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for reading in readings.iter().filter(|reading| !reading.called.is_empty()) {
        *ways.entry((reading.called, reading.for_it)).or_default() += 1;
    }
    for reading in readings {
        let own = ways.get(&(reading.called, reading.for_it)).copied().unwrap_or(1);
        let others =
            ways.iter().filter(|((called, way), _)| *called == reading.called && *way != reading.for_it);
        let most = others.map(|(_, many)| *many).max().unwrap_or(0);
        reading.hushed = !reading.called.is_empty() && most >= 2 && most >= 2 * own;
    }
}

/// Whether the strokes of an offer lie behind those of the notes before it and before those of the notes after it.
fn keeps_order(written: &Written<'_>, alignment: &Alignment, offer: &Offer) -> bool {
    let (first, last) = (offer.notes[0], offer.notes[offer.notes.len() - 1]);
    let place = |count: usize| written.notes.partition_point(|&note| note < count);
    let before = written.notes[..place(first)].iter().rev().find_map(|&note| alignment.strokes[note]);
    let after = written.notes[place(last + 1)..].iter().find_map(|&note| alignment.strokes[note]);
    let mut strokes = offer.strokes.iter().flatten();
    strokes.all(|&stroke| before.is_none_or(|b| b < stroke) && after.is_none_or(|a| stroke < a))
}

struct Offers<'a> {
    written: &'a Written<'a>,
    strokes: &'a [i64],
    reach: i64,
    /// How much later than the pulse the beats are struck: where much is misread, the pulse of all strokes lies beside that of the beats.
    lean: i64,
    alignment: &'a Alignment,
    /// When each felt beat falls by the player's pulse, and one more.
    beats: Vec<i64>,
    /// For each stroke, the count it fell on.
    count_of: Vec<Option<usize>>,
}

impl<'a> Offers<'a> {
    fn new(written: &'a Written<'a>, strokes: &'a [i64], reach: i64, alignment: &'a Alignment) -> Self {
        let on_beats = OnBeats::of(written, strokes, alignment);
        let lean = on_beats.map_or(0, |on_beats| on_beats.lean);
        let mut beats: Vec<i64> = written
            .beats
            .iter()
            .map(|&count| alignment.moved[count] + alignment.course[count] + lean)
            .collect();
        let last = beats.len() - 1;
        beats.push(beats[last] + (beats[last] - beats[last - 1]).max(1));
        let mut count_of = vec![None; strokes.len()];
        for (count, stroke) in alignment.strokes.iter().enumerate() {
            if let Some(stroke) = *stroke {
                count_of[stroke] = Some(count);
            }
        }
        Self {
            written,
            strokes,
            reach: on_beats.map_or(reach, |on_beats| on_beats.reach),
            lean,
            alignment,
            beats,
            count_of,
        }
    }

    fn made(&self) -> Vec<Offer> {
        let mut offers = Vec::new();
        for beat in 0..self.written.beats.len() {
            self.figures_at(beat, &mut offers);
        }
        for place in 1..self.written.notes.len() {
            self.entries_at(place, &mut offers);
        }
        offers
    }

    /// The figures that begin on a felt beat.
    fn figures_at(&self, beat: usize, offers: &mut Vec<Offer>) {
        let start = self.written.beats[beat];
        if self.written.deed(start) != Deed::Attack
            || self.alignment.skipped[start]
            || !self.alignment.due[start]
        {
            return;
        }
        for beats in [1, 2] {
            let Some((notes, places)) = self.content(beat, beats) else { continue };
            let in_three = self.written.divides_in_three(start);
            for (index, figure) in FIGURES.iter().enumerate() {
                if figure.beats == beats && figure.in_three == in_three && figure.written == places {
                    offers.extend(self.offer(beat, index, figure, &notes));
                }
            }
        }
    }

    /// The attacks within so many felt beats and where they lie, if nothing in them is silent and they lie in one bar.
    fn content(&self, beat: usize, beats: usize) -> Option<(Vec<usize>, Vec<i64>)> {
        let written = self.written;
        let start = written.beats[beat];
        let end = written.beats.get(beat + beats).copied().unwrap_or(written.counts.len());
        if beat + beats > written.beats.len() {
            return None;
        }
        let mut notes = Vec::new();
        let mut places = Vec::new();
        for count in start..end {
            let (here, first) = (written.counts[count].id, written.counts[start].id);
            if (here.bar, here.pass) != (first.bar, first.pass) || written.deed(count) == Deed::Rest {
                return None;
            }
            if written.deed(count) == Deed::Attack {
                notes.push(count);
                places.push(written.parts_between(start, count)?);
            }
        }
        (notes.len() > 1).then_some((notes, places))
    }

    fn offer(&self, beat: usize, index: usize, figure: &Figure, notes: &[usize]) -> Option<Offer> {
        let mut weighed = self.weighed(beat, figure.beats, notes, figure.played)?;
        // What has more strokes than were played was not played. The notes a figure has no stroke for are missed in it.
        if weighed.strokes.iter().any(Option::is_none) {
            (weighed.gain, weighed.beyond_chance) = (AS_WRITTEN, AS_WRITTEN);
        }
        weighed.strokes.resize(notes.len(), None);
        Some(Offer {
            from: beat,
            until: beat + figure.beats,
            figure: index,
            notes: notes.to_vec(),
            strokes: weighed.strokes,
            gain: weighed.gain,
            beyond_chance: weighed.beyond_chance,
            way: self.way(beat, notes, figure.played),
            habit: false,
            early: 0,
            kind: figure.kind,
        })
    }

    /// A note after a rest or a long note that comes early by a half or a whole beat.
    fn entries_at(&self, place: usize, offers: &mut Vec<Offer>) {
        let written = self.written;
        let (before, note) = (written.notes[place - 1], written.notes[place]);
        if self.alignment.skipped[note] || !self.alignment.due[note] {
            return;
        }
        let Some(beat) = written.beat_of(note) else { return };
        let after_rest = written.deed(note - 1) == Deed::Rest;
        let gap = self.expected(note) - self.expected(before);
        let length = written.beat_nanos(note);
        let silence = (before + 1..note).find(|&count| written.deed(count) == Deed::Rest);
        let lasted = self.expected(note) - self.expected(silence.unwrap_or(before));
        // A long note lasts two beats or more.
        let enough = if after_rest { lasted * 10 >= length * 3 } else { lasted * 10 >= length * 19 };
        if !enough {
            return;
        }
        let Some(part) = written.part(note) else { return };
        let thirds: &[i64] = if written.divides_in_three(note) { &[PARTS / 3, 2 * PARTS / 3] } else { &[] };
        for &early in [PARTS / 2, PARTS].iter().chain(thirds) {
            let kind = if after_rest { FindingKind::EarlyEntry } else { FindingKind::CutShort };
            if early * length / PARTS * 10 > gap * 8 || early * length / PARTS * 10 > lasted * 11 {
                continue;
            }
            if let Some(weighed) = self.weighed(beat, 1, &[note], &[part - early]) {
                offers.push(Offer {
                    from: beat.saturating_sub(1),
                    until: beat + 1,
                    figure: FIGURES.len() + place,
                    notes: vec![note],
                    strokes: weighed.strokes,
                    gain: weighed.gain,
                    beyond_chance: weighed.beyond_chance,
                    way: self.way(beat, &[note], &[part - early]),
                    habit: false,
                    early,
                    kind,
                });
            }
        }
    }

    /// How far the notes are moved from what is written.
    fn way(&self, beat: usize, notes: &[usize], places: &[i64]) -> Way {
        let by =
            |(&note, &place): (&usize, &i64)| self.reaches(self.place(beat, place) - self.expected(note));
        Way::of(&notes.iter().zip(places).map(by).collect::<Vec<f64>>())
    }

    fn reaches(&self, length: i64) -> f64 {
        length as f64 / self.reach.max(1) as f64
    }

    fn expected(&self, count: usize) -> i64 {
        self.alignment.moved[count] + self.alignment.course[count] + self.lean
    }

    /// When a place lies, so many parts after a felt beat, by the player's pulse.
    fn place(&self, beat: usize, parts: i64) -> i64 {
        let whole = parts.div_euclid(PARTS);
        let rest = parts.rem_euclid(PARTS);
        let beat = i64::try_from(beat).unwrap_or(0) + whole;
        let last = self.beats.len() - 1;
        let beat = usize::try_from(beat.max(0)).unwrap_or(0).min(last);
        // Behind the last felt beat there is one more, as long as the last.
        let length = if beat < last {
            self.beats[beat + 1] - self.beats[beat]
        } else {
            self.beats[last] - self.beats[last - 1]
        };
        self.beats[beat] + length * rest / PARTS
    }

    /// By how much playing `notes` at `places` explains what was struck there better than what is written, and with which strokes.
    fn weighed(&self, beat: usize, beats: usize, notes: &[usize], places: &[i64]) -> Option<Weighed> {
        // Of what went unheard nobody knows how it was played.
        let unheard = |&note: &usize| self.alignment.unheard[note] && self.alignment.strokes[note].is_none();
        if notes.iter().any(unheard) {
            return None;
        }
        let at: Vec<i64> = places.iter().map(|&place| self.place(beat, place)).collect();
        let edge = self.place(beat, EDGE) - self.place(beat, 0);
        let opens = at[0].min(self.place(beat, 0)) - 2 * edge;
        let closes = at[at.len() - 1].max(self.place(beat, PARTS * i64::try_from(beats).unwrap_or(1))) - edge;
        let near = |stroke: usize| {
            let ours = self.count_of[stroke].is_some_and(|count| notes.contains(&count));
            let free = self.count_of[stroke].is_none_or(|count| self.written.deed(count) != Deed::Attack);
            ours || (free
                && self.strokes[stroke] >= opens
                && self.strokes[stroke] < closes
                && !self.alignment.again[stroke])
        };
        let first = self.strokes.partition_point(|&stroke| stroke < opens - GATE);
        let end = self.strokes.partition_point(|&stroke| stroke < closes + 2 * GATE);
        let heard: Vec<usize> = (first..end).filter(|&stroke| near(stroke)).collect();
        if heard.is_empty() {
            return None;
        }
        let rule = Rule::Likely { reach: self.reach };
        let written = self.as_written(notes, &heard, rule);
        if written < NOTHING_TO_GAIN * UNIT as f64 {
            let strokes = vec![None; notes.len()];
            return Some(Weighed { gain: AS_WRITTEN, beyond_chance: AS_WRITTEN, strokes });
        }
        let mut rows: Vec<Row> = at.iter().map(|&at| Row::new(at, RowKind::Due, GATE, GATE)).collect();
        for index in 1..rows.len() {
            let width = crate::alignment::width(rows[index].at - rows[index - 1].at, GATE);
            rows[index - 1].late = width;
            rows[index].early = width;
        }
        let times: Vec<i64> = heard.iter().map(|&stroke| self.strokes[stroke]).collect();
        let path = best_path(&rows, &times, rule, Pulse::Known(&vec![0; rows.len()]));
        let gain = (written - path.cost.rest as f64) / UNIT as f64;
        let strokes = path.strokes.iter().map(|stroke| stroke.map(|stroke| heard[stroke])).collect();
        Some(Weighed { gain, beyond_chance: gain + self.beyond_reach(notes), strokes })
    }

    /// What the strokes that answer these notes cost beyond the most that an alignment takes: that is the price of two mistakes, and
    /// no measure of chance.
    fn beyond_reach(&self, notes: &[usize]) -> f64 {
        let off = |&note: &usize| Some(self.strokes[self.alignment.strokes[note]?] - self.expected(note));
        let squares = notes.iter().filter_map(off).map(|off| self.reaches(off).powi(2));
        squares.map(|square| 2.0 * (square - 1.0).max(0.0)).sum()
    }

    /// What the strokes and notes cost as they are explained so far.
    fn as_written(&self, notes: &[usize], heard: &[usize], rule: Rule) -> f64 {
        let row = |count: usize, kind: RowKind| Row::new(self.expected(count), kind, GATE, GATE);
        let missed =
            notes.iter().filter(|&&note| self.alignment.strokes[note].is_none()).count() as f64 * UNIT as f64;
        let each = heard.iter().map(|&stroke| match self.count_of[stroke] {
            Some(count) => {
                let silent = self.written.deed(count) != Deed::Attack;
                let kind = if silent { RowKind::Silent } else { RowKind::Due };
                let cost =
                    rule.taken(&row(count, kind), self.strokes[stroke] - self.expected(count)).rest as f64;
                cost.min(2.0 * UNIT as f64)
            }
            None => UNIT as f64,
        });
        missed + each.sum::<f64>()
    }
}

/// How the beats are struck.
#[derive(Clone, Copy, Debug)]
struct OnBeats {
    /// Where they lie beside the pulse, in nanoseconds.
    lean: i64,
    /// The reach by how they scatter: a habit between the beats must not make a player look loose.
    reach: i64,
}

impl OnBeats {
    /// `None` where there are too few.
    fn of(written: &Written<'_>, strokes: &[i64], alignment: &Alignment) -> Option<Self> {
        let beats = written.beats.iter().filter(|&&count| written.deed(count) == Deed::Attack);
        let off = |&count: &usize| {
            Some(strokes[alignment.strokes[count]?] - alignment.moved[count] - alignment.course[count])
        };
        let mut offsets: Vec<i64> = beats.filter_map(off).collect();
        if offsets.len() < FEWEST_ON_BEATS {
            return None;
        }
        let lean = middle(&mut offsets)?;
        offsets.iter_mut().for_each(|offset| *offset = (*offset - lean).abs());
        let median = middle(&mut offsets)?;
        let spread = crate::course::believed(median / 1_000 * 1_483, offsets.len());
        Some(Self { lean, reach: spread.clamp(15_000_000, 50_000_000) / 10 * 38 })
    }
}

/// Takes off every offer's gain what it is held against: little where the same is read nearly everywhere the figure is written.
/// Gives how often each figure is written.
fn habits(offers: &mut [Offer]) -> BTreeMap<usize, usize> {
    let mut figures: BTreeMap<usize, (usize, usize, f64)> = BTreeMap::new();
    for offer in offers.iter() {
        let (places, speaking, sum) = figures.entry(offer.figure).or_default();
        *places += 1;
        *speaking += usize::from(offer.gain > 0.0);
        *sum += offer.gain;
    }
    for offer in offers.iter_mut() {
        let (places, speaking, sum) = figures[&offer.figure];
        let habit = places >= 2
            && speaking as f64 >= MOSTLY * places as f64
            && sum > HABIT + EACH * places as f64
            && offer.figure < FIGURES.len();
        // Where the figure is mostly played as written, one place that differs is likelier a slip.
        let slip = places >= 3 && speaking * 3 <= places;
        let once = if slip { ONCE_SLIP } else { ONCE };
        offer.habit = habit;
        if habit {
            offer.gain -= EACH;
            offer.beyond_chance = offer.gain;
        } else if places > 1 && FIGURES.get(offer.figure).is_some_and(|figure| figure.seldom) {
            (offer.gain, offer.beyond_chance) = (0.0, 0.0);
        } else {
            offer.gain -= once;
            let among = places * FIGURES.get(offer.figure).map_or(1, Figure::ways);
            offer.beyond_chance -= offer.way.gain_at(no_chance(among as f64 / speaking.max(1) as f64));
        }
    }
    figures.into_iter().map(|(figure, (places, ..))| (figure, places)).collect()
}

/// The same as [`NO_CHANCE`] for one of so many places and ways to read them: among n the largest of n chances is seen, and by it the
/// square of the distance in standard deviations grows by twice the logarithm of n.
fn no_chance(among: f64) -> f64 {
    (NO_CHANCE * NO_CHANCE + 2.0 * among.max(1.0).ln() * DEVIATION * DEVIATION).sqrt()
}

/// The offers that do not overlap and gain most together.
fn chosen(mut offers: Vec<Offer>) -> Vec<Offer> {
    offers.sort_by_key(|offer| (offer.until, offer.from));
    // The best that can be gained with the first n offers.
    let mut best = vec![0.0_f64; offers.len() + 1];
    let before: Vec<usize> =
        offers.iter().map(|offer| offers.partition_point(|other| other.until <= offer.from)).collect();
    for (n, offer) in offers.iter().enumerate() {
        best[n + 1] = best[n].max(best[before[n]] + offer.gain);
    }
    let mut taken = vec![false; offers.len()];
    let mut n = offers.len();
    while n > 0 {
        if best[n] > best[n - 1] {
            taken[n - 1] = true;
            n = before[n - 1];
        } else {
            n -= 1;
        }
    }
    offers.into_iter().zip(taken).filter_map(|(offer, taken)| taken.then_some(offer)).collect()
}
