//! What was read for what: where a figure, or a note after a rest or a long note, was played in another way that has a name,
//! and that explains the strokes better than misses, strays and bad timing do.

use std::collections::BTreeMap;

use rhythm::Deed;

use crate::FindingKind;
use crate::alignment::Alignment;
use crate::figures::{FIGURES, Figure};
use crate::lattice::{Pulse, Row, RowKind, Rule, UNIT, best_path};
use crate::written::{PARTS, Written};

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
    /// How much dearer the strokes are explained without it, in units of a miss; what it is held against taken off.
    pub(crate) gain: f64,
    /// How often the figure is written in the take.
    pub(crate) written: usize,
    /// Whether it is not to be told.
    pub(crate) hushed: bool,
}

/// What one reading in one place is held against, in misses or strays: e to the fifth, less than one figure in a hundred.
const ONCE: f64 = 1.4;
/// The same where a note is moved further than a player's spread ever does: about one in thirty.
const ONCE_FAR: f64 = 0.85;
/// So many tenths of the reach are further than a spread carries a note.
const FAR: i64 = 11;
/// The same where the figure is mostly played as written: still less than a miss and half a stray beside it.
const ONCE_FAR_SLIP: f64 = 1.0;
/// The same where it is neither: a spread as players have it does so once in a while.
const ONCE_SLIP: f64 = 2.1;
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
    /// How far the note that is moved most lies from where it is written, in nanoseconds, against the reach.
    far: bool,
    early: i64,
    kind: FindingKind,
}

/// Finds what was read for what and puts it into the alignment. Gives how much cheaper the take is explained by it, in units of a miss.
pub(crate) fn read(written: &Written<'_>, strokes: &[i64], reach: i64, alignment: &mut Alignment) -> f64 {
    if strokes.is_empty() || written.beats.len() < 2 {
        return 0.0;
    }
    let mut offers = Offers::new(written, strokes, reach, alignment).made();
    let written_times = habits(&mut offers);
    offers.retain(|offer| offer.gain > 0.0);
    for offer in chosen(offers) {
        if !keeps_order(written, alignment, &offer) {
            continue;
        }
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
        let figure = FIGURES.get(offer.figure);
        alignment.readings.push(Reading {
            kind: offer.kind,
            called: figure.map_or("", |figure| figure.called),
            for_it: figure.map_or("", |figure| figure.for_it),
            early: offer.early,
            gain: offer.gain,
            written: written_times.get(&offer.figure).copied().unwrap_or(1),
            notes: offer.notes,
            hushed: false,
        });
    }
    alignment.readings.sort_by_key(|reading| reading.notes[0]);
    hush(&mut alignment.readings);
    alignment.readings.iter().map(|reading| reading.gain).sum()
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
    alignment: &'a Alignment,
    /// When each felt beat falls by the player's pulse, and one more.
    beats: Vec<i64>,
    /// For each stroke, the count it fell on.
    count_of: Vec<Option<usize>>,
}

impl<'a> Offers<'a> {
    fn new(written: &'a Written<'a>, strokes: &'a [i64], reach: i64, alignment: &'a Alignment) -> Self {
        let mut beats: Vec<i64> =
            written.beats.iter().map(|&count| alignment.moved[count] + alignment.course[count]).collect();
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
            reach: on_the_beat(written, strokes, alignment).unwrap_or(reach),
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
        let (gain, strokes) = self.weighed(beat, figure.beats, notes, figure.played)?;
        Some(Offer {
            from: beat,
            until: beat + figure.beats,
            figure: index,
            notes: notes.to_vec(),
            strokes,
            gain,
            far: self.is_far(beat, notes, figure.played),
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
            if let Some((gain, strokes)) = self.weighed(beat, 1, &[note], &[part - early]) {
                let from = beat.saturating_sub(1);
                let figure = FIGURES.len() + place;
                let far = self.is_far(beat, &[note], &[part - early]);
                let until = beat + 1;
                offers.push(Offer {
                    from,
                    until,
                    figure,
                    notes: vec![note],
                    strokes,
                    gain,
                    far,
                    early,
                    kind,
                });
            }
        }
    }

    /// Whether some note is moved so far that no player's spread carries it there.
    fn is_far(&self, beat: usize, notes: &[usize], places: &[i64]) -> bool {
        notes.iter().zip(places).any(|(&note, &place)| {
            (self.place(beat, place) - self.expected(note)).abs() * 10 >= self.reach * FAR
        })
    }

    fn expected(&self, count: usize) -> i64 {
        self.alignment.moved[count] + self.alignment.course[count]
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
    fn weighed(
        &self,
        beat: usize,
        beats: usize,
        notes: &[usize],
        places: &[i64],
    ) -> Option<(f64, Vec<Option<usize>>)> {
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
            return Some((AS_WRITTEN, vec![None; notes.len()]));
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
        Some((gain, strokes))
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

/// The reach by what is struck on the beats: a habit between them must not make a player look loose.
fn on_the_beat(written: &Written<'_>, strokes: &[i64], alignment: &Alignment) -> Option<i64> {
    let mut distances: Vec<i64> = written
        .beats
        .iter()
        .filter(|&&count| written.deed(count) == Deed::Attack)
        .filter_map(|&count| {
            Some(
                (strokes[alignment.strokes[count]?] - alignment.moved[count] - alignment.course[count]).abs(),
            )
        })
        .collect();
    if distances.len() < 6 {
        return None;
    }
    let middle = distances.len() / 2;
    let (_, median, _) = distances.select_nth_unstable(middle);
    let spread = crate::course::believed(*median / 1_000 * 1_483, distances.len());
    Some(spread.clamp(15_000_000, 50_000_000) / 10 * 38)
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
        let once = match (offer.far, slip) {
            (true, false) => ONCE_FAR,
            (true, true) => ONCE_FAR_SLIP,
            (false, false) => ONCE,
            (false, true) => ONCE_SLIP,
        };
        offer.gain -= if habit { EACH } else { once };
    }
    figures.into_iter().map(|(figure, (places, ..))| (figure, places)).collect()
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
