//! A round laid out: where its sections fall, what sounds in them, and what is expected.

use std::ops::Range;

use counting::{TimedCount, Word};
use rhythm::{Deed, Meter};
use timebase::{Position, Span, Tempo, TempoChange, TempoMap};

use super::round::{Response, Round, RoundKind, Section, SectionKind};
use super::{Audible, DrillPlan, Material, PickupBy};
use crate::{Aside, CountOn, Cue, Cued, Speech};

/// What a round is about: a rhythm of the drill and performed bars of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Exercise {
    pub(super) rhythm: usize,
    pub(super) bars: Range<usize>,
    pub(super) kind: RoundKind,
    /// The tempo at its first bar line, and that in which its last bar ends, where the rhythm goes at its own.
    pub(super) entry: Tempo,
    pub(super) exit: Tempo,
}

impl Exercise {
    /// These bars of the rhythm of this number; `played` is the rhythm's own tempo.
    pub(super) fn of(
        (rhythm, material): (usize, &Material),
        played: &TempoMap,
        bars: Range<usize>,
        kind: RoundKind,
    ) -> Self {
        let (zero, end) = (bar_line(material, &bars), material.bars()[bars.end - 1].end);
        let entry = played.tempo_at(zero);
        let passage = TempoMap::constant(entry).then(Position::ZERO, played, zero..end);
        Self { rhythm, bars, kind, entry, exit: passage.tempo_at(at(end - zero)) }
    }
}

/// The first bar line of these bars: a pickup leads to it; a bar that begins late and stands alone is taken as it is.
pub(super) fn bar_line(material: &Material, bars: &Range<usize>) -> Position {
    let first = material.bars()[bars.start];
    if first.start > first.origin && bars.len() > 1 { first.end } else { first.start }
}

/// A round to be laid out.
#[derive(Clone, Debug)]
pub(super) struct Order<'a> {
    pub(super) number: usize,
    pub(super) exercise: &'a Exercise,
    pub(super) material: &'a Material,
    pub(super) tempo: Tempo,
    /// Bars counted in; none where no count-in is due.
    pub(super) counted_in: u32,
    /// Who answers, response by response.
    pub(super) players: Vec<Option<usize>>,
    /// Bars that were called and answered in the drill before this round.
    pub(super) bars_before: u32,
}

/// What a round needs to know of the one before.
#[derive(Clone, Debug)]
pub(super) struct Before {
    pub(super) map: TempoMap,
    pub(super) end: Position,
    /// How much its last bar lacked.
    pub(super) tail: Span,
    /// Whether the click went on through that.
    pub(super) is_tail_clicked: bool,
    /// Where in it a beat was counted instead, before its end.
    pub(super) counted_in_tail: Vec<Span>,
    /// Bars that were called and answered in the drill until then.
    pub(super) bars_played: u32,
}

/// Where the parts of a round lie, from the first bar line of its call.
#[derive(Clone, Debug)]
pub(super) struct Geometry {
    /// That bar line, in the performance of the rhythm.
    zero: Position,
    /// Where the first event stands: 0, or before it by a pickup.
    entry: Span,
    /// Where the bar of the first event begins.
    head: Span,
    /// Where the last bar ends as it is written.
    ends: Span,
    /// Where the last bar would end if it were whole.
    whole: Span,
    /// By how much each time through is later than the first.
    shifts: Vec<Span>,
    breath: Span,
    rest: Span,
    first_meter: Meter,
    last_meter: Meter,
    /// Where the round begins.
    start: Span,
}

impl Geometry {
    pub(super) fn of(plan: &DrillPlan, order: &Order<'_>, tail: Option<Span>) -> Self {
        let Exercise { bars, kind, .. } = order.exercise;
        let (first, last) = (order.material.bars()[bars.start], order.material.bars()[bars.end - 1]);
        let (first_meter, last_meter) =
            (order.material.meter(bars.start), order.material.meter(bars.end - 1));
        let zero = bar_line(order.material, bars);
        let ends = last.end - zero;
        let whole = (last.origin + last_meter.bar_length() - zero).max(ends);
        let breath = last_meter.felt_beat() * i64::from(plan.breath);
        let times = match kind {
            RoundKind::Model => 1,
            RoundKind::Hard | RoundKind::Phrase => order.players.len() + usize::from(plan.is_called),
        };
        let shift = |number: usize| (whole + breath) * i64::try_from(number).unwrap_or(i64::MAX);
        let rest = if tail.is_some() { first_meter.felt_beat() * i64::from(plan.rest) } else { Span::ZERO };
        let (entry, head) = (first.start - zero, first.origin - zero);
        let start = if order.counted_in > 0 {
            head - first_meter.bar_length() * i64::from(order.counted_in)
        } else {
            match tail {
                None => entry,
                // The bar before has left room for the pickup, or there is time to breathe.
                Some(tail) if Span::ZERO - entry <= tail + rest => Span::ZERO,
                Some(_) => head,
            }
        };
        let start = start - rest;
        Self {
            zero,
            entry,
            head,
            ends,
            whole,
            shifts: (0..times).map(shift).collect(),
            breath,
            rest,
            first_meter,
            last_meter,
            start,
        }
    }

    /// Where it ends.
    pub(super) fn end(&self) -> Position {
        at(self.shifts.last().copied().unwrap_or(Span::ZERO) + self.whole)
    }

    /// Where it begins.
    pub(super) fn start(&self) -> Span {
        self.start
    }

    pub(super) fn tail(&self) -> Span {
        self.whole - self.ends
    }

    /// The tempo of the round, before it is set behind another.
    pub(super) fn map(&self, order: &Order<'_>) -> TempoMap {
        let performance = order.material.sequence().performance();
        let played = order.material.rhythm().tempo_map(performance, order.tempo);
        let passage = self.zero..self.zero + self.ends;
        let entry = played.tempo_at(self.zero);
        let mut map = TempoMap::constant(entry);
        if played.changes().nth(1).is_some() {
            for shift in &self.shifts {
                if shift.is_positive() && self.breath.is_positive() {
                    // Whoever breathes hears the beat of what comes, not of what was.
                    map = map.with_change(TempoChange { at: at(*shift - self.breath), tempo: entry });
                }
                map = map.then(at(*shift), &played, passage.clone());
            }
        }
        map
    }

    /// The same, set behind the round before.
    pub(super) fn map_behind(&self, order: &Order<'_>, before: Option<&Before>) -> TempoMap {
        let map = self.map(order);
        match before {
            Some(before) => map.following(at(self.start), &before.map, before.end),
            None => map,
        }
    }

    /// The felt beats from `from` to the end of the last bar, `to`, and their numbers in it.
    fn beats_of_last_bar(&self, from: Span, to: Span) -> impl Iterator<Item = (Span, u32)> {
        let beat = self.last_meter.felt_beat();
        let bar = to - self.last_meter.bar_length();
        (0_u32..)
            .map(move |n| (bar + beat * i64::from(n), n + 1))
            .take_while(move |(at, _)| *at < to)
            .filter(move |(at, _)| *at >= from)
    }

    /// Where the count-in begins: behind the rest.
    fn counted(&self) -> Span {
        self.start + self.rest
    }
}

fn at(place: Span) -> Position {
    Position::ZERO + place
}

/// Lays out a round, and says what the next must know.
pub(super) fn lay(plan: &DrillPlan, order: &Order<'_>, before: Option<&Before>) -> (Round, Before) {
    let geometry = Geometry::of(plan, order, before.map(|before| before.tail));
    let map = geometry.map_behind(order, before);
    let layer = Layer { plan, order, geometry: &geometry, map: &map };
    let (cues, beats) = (layer.cues(before), layer.beats());
    let responses = layer.responses();
    let sections = layer.sections();
    let last = layer.passes().last();
    let is_tail_clicked = last.is_some_and(|(_, _, heard)| heard.click);
    let counted_in_tail = last.map_or_else(Vec::new, |(shift, _, heard)| layer.counted_in_tail(shift, heard));
    let end = geometry.end();
    let bars_played = order.bars_before + layer.bars_played();
    let tail = geometry.tail();
    let next = Before { map: map.clone(), end, tail, is_tail_clicked, counted_in_tail, bars_played };
    let round = Round {
        number: order.number,
        kind: order.exercise.kind,
        rhythm: order.exercise.rhythm,
        played: order.material.played(&order.exercise.bars),
        bar_lines: layer.bar_lines(),
        tempo: order.tempo,
        map,
        cues,
        beats,
        sections,
        responses,
        sounds_from: at(geometry.start.min(geometry.entry)),
        start: at(geometry.start),
        end,
    };
    (round, next)
}

struct Layer<'a> {
    plan: &'a DrillPlan,
    order: &'a Order<'a>,
    geometry: &'a Geometry,
    map: &'a TempoMap,
}

impl Layer<'_> {
    /// What each time through the bars is, and what is heard of it.
    fn passes(&self) -> impl Iterator<Item = (Span, SectionKind, Audible)> {
        let heard = self.plan.heard;
        let first = match self.order.exercise.kind {
            RoundKind::Model => Some((SectionKind::Model, heard.model.unwrap_or(Audible::ALL))),
            _ if self.plan.is_called => Some((SectionKind::Call, heard.call)),
            _ => None,
        };
        let responses = (0..).map(move |number| (SectionKind::Response(number), heard.response));
        let passes = first.into_iter().chain(responses);
        self.geometry.shifts.iter().zip(passes).map(|(shift, (kind, heard))| (*shift, kind, heard))
    }

    /// What is heard of the pickup of a section.
    fn heard_of_pickup(&self, kind: SectionKind, heard: Audible) -> Audible {
        match (kind, self.plan.pickup_by) {
            (SectionKind::Response(_), PickupBy::Call | PickupBy::Both) if self.plan.is_called => {
                self.plan.heard.call
            }
            _ => heard,
        }
    }

    fn sections(&self) -> Vec<Section> {
        let geometry = self.geometry;
        let section = |kind, from: Span, to: Span| Section {
            kind,
            from: at(from),
            to: at(to),
            is_hidden: self.plan.is_hidden_in_call && kind == SectionKind::Call,
        };
        let counted = geometry.start + geometry.rest;
        let mut sections = Vec::new();
        // A pickup may take up the whole of it.
        if geometry.start < counted.min(geometry.entry) {
            sections.push(section(SectionKind::Rest, geometry.start, counted.min(geometry.entry)));
        }
        if counted < geometry.entry {
            sections.push(section(SectionKind::CountIn, counted, geometry.entry));
        }
        for (shift, kind, _) in self.passes() {
            let from = shift + geometry.entry;
            if geometry.breath.is_positive() && shift.is_positive() {
                let begins = shift - geometry.breath - geometry.tail();
                if begins < from {
                    sections.push(section(SectionKind::Breath, begins, from));
                }
            }
            sections.push(section(kind, from, shift + geometry.ends));
        }
        sections
    }

    fn cues(&self, before: Option<&Before>) -> Vec<Cue> {
        let geometry = self.geometry;
        let mut cues = self.count_in();
        cues.extend(self.beats_between());
        for (shift, kind, heard) in self.passes() {
            let pickup = self.heard_of_pickup(kind, heard);
            // Where this pickup falls inside the section before, its words and claps stand instead of those.
            cues.extend(self.copies(shift, heard, pickup));
        }
        if let Some(before) = before {
            // What the round before has there already.
            cues.retain(|cue| {
                let counted = || before.counted_in_tail.contains(&(cue.at - at(geometry.start)));
                cue.at >= at(geometry.start)
                    || !(is_click(cue) && before.is_tail_clicked || is_count(cue) && counted())
            });
        }
        let silent = self.silent();
        cues.retain(|cue| !is_click(cue) || !silent.iter().any(|bar| bar.contains(&cue.at)));
        merge(cues, geometry.end())
    }

    /// Every felt beat in order, and whether it is count 1: of the count-in, of the bars each time through, and between them.
    fn beats(&self) -> Vec<(Position, bool)> {
        let geometry = self.geometry;
        let performed = &self.order.material.bars()[self.order.exercise.bars.clone()];
        let bars = performed[0].start..performed[performed.len() - 1].end;
        let mut beats: Vec<(Position, bool)> =
            self.counted().map(|(place, number)| (at(place), number == 1)).collect();
        for (shift, ..) in self.passes() {
            let written = self.order.material.sequence().beats().iter();
            let written = written.filter(|(place, _)| bars.contains(place));
            beats.extend(written.map(|&(place, first)| (at(place - geometry.zero + shift), first)));
            let between = geometry.beats_of_last_bar(shift + geometry.ends, shift + geometry.whole);
            beats.extend(between.map(|(place, _)| (at(place), false)));
        }
        // Where a pickup falls inside another section its beats stand there already.
        beats.sort_by_key(|&(place, first)| (place, !first));
        beats.dedup_by_key(|(place, _)| *place);
        beats
    }

    /// The beats that are counted before the entry, and their numbers: from the beginning of a bar, and what a pickup takes up
    /// is not counted.
    fn counted(&self) -> impl Iterator<Item = (Span, u32)> {
        let geometry = self.geometry;
        let (beat, beats) = (geometry.first_meter.felt_beat(), geometry.first_meter.felt_beats());
        let counted = geometry.start + geometry.rest;
        let begins =
            if counted < geometry.entry && counted <= geometry.head { counted } else { geometry.entry };
        (0_u32..)
            .map(move |n| (begins + beat * i64::from(n), n % beats + 1))
            .take_while(|(place, _)| *place < geometry.entry)
    }

    /// Clicks and numbers before the entry.
    fn count_in(&self) -> Vec<Cue> {
        let geometry = self.geometry;
        let beat = geometry.first_meter.felt_beat();
        let counted = geometry.start + geometry.rest;
        let mut cues = Vec::new();
        if self.plan.heard.response.click {
            let rest = (0_i64..).map(|n| geometry.start + beat * n).take_while(|at| *at < counted);
            let rest = rest.filter(|at| *at < geometry.entry);
            cues.extend(rest.map(|place| click(place, false)));
        }
        let counted: Vec<(Span, u32)> = self.counted().collect();
        // On the last two beats the words for the entry, if there are any; where only one is counted, the second of them.
        let entry = self.plan.count_in.entry.words().into_iter().flatten().rev().filter_map(Word::syllable);
        let mut entry = entry.map(Some).chain(std::iter::repeat(None));
        for &(place, number) in counted.iter().rev() {
            cues.push(click(place, number == 1));
            let number = count(place, geometry.first_meter, number);
            cues.push(match entry.next().flatten() {
                Some(word) => said(place, word),
                None => number,
            });
        }
        cues
    }

    /// The cues of the bars once, so much later.
    fn copies(&self, shift: Span, heard: Audible, pickup: Audible) -> impl Iterator<Item = Cue> {
        let geometry = self.geometry;
        let ends = at(shift + geometry.ends);
        let cues = self.order.material.cues(&self.order.exercise.bars).iter();
        let with_claps = !self.plan.heard.names_tone();
        cues.flat_map(move |cue| {
            let place = at(cue.at - geometry.zero + shift);
            let heard = if cue.at < geometry.zero { pickup } else { heard };
            let cued = match cue.cued {
                Cued::Click { .. } | Cued::Division => [heard.click.then(|| cue.cued.clone()), None],
                Cued::Count { .. } => [heard.count.then(|| cue.cued.clone()), None],
                Cued::Clap { id, length, marks, louder, .. } => {
                    let length = length.min(ends - place);
                    let clap = Cued::Clap { id, length, marks, louder, held: with_claps };
                    let tone = Cued::Tone { length, marks, louder };
                    [heard.clap.then_some(clap), heard.tone.then_some(tone)]
                }
                Cued::Tone { .. } => [None, None],
            };
            cued.into_iter().flatten().map(move |cued| Cue { at: place, cued })
        })
    }

    /// Clicks where a cut bar is made whole, and through a breath; where the pulse is in the counts alone, the beats that a cut
    /// bar lacks are counted.
    fn beats_between(&self) -> Vec<Cue> {
        let geometry = self.geometry;
        let beat = geometry.last_meter.felt_beat();
        let mut cues = Vec::new();
        let mut passes = self.passes().peekable();
        while let Some((shift, _, heard)) = passes.next() {
            // What is heard of the beats between two sections is what is heard of the second.
            let next = passes.peek().map_or(heard, |(_, _, next)| *next);
            let (ends, whole) = (shift + geometry.ends, shift + geometry.whole);
            let lacking = geometry.beats_of_last_bar(ends, whole);
            if !next.click {
                let lacking = lacking.filter(|_| self.counts_what_lacks(next));
                cues.extend(lacking.map(|(place, number)| count(place, geometry.last_meter, number)));
                continue;
            }
            cues.extend(lacking.map(|(place, _)| click(place, false)));
            if passes.peek().is_some() {
                let breath =
                    (0_i64..).map(|n| whole + beat * n).take_while(|at| *at < whole + geometry.breath);
                cues.extend(breath.map(|place| click(place, false)));
            }
        }
        cues
    }

    /// Whether the beats that a cut last bar lacks are counted aloud: where no click has the pulse, and rests are said.
    fn counts_what_lacks(&self, heard: Audible) -> bool {
        let choice = self.order.material.sequence().plan().choice();
        heard.count && !heard.click && choice.count != CountOn::Attacks && choice.rests != Aside::Silent
    }

    /// The beats counted behind the last pass, before the end of the round.
    fn counted_in_tail(&self, shift: Span, heard: Audible) -> Vec<Span> {
        let (ends, whole) = (shift + self.geometry.ends, shift + self.geometry.whole);
        let lacking = self.geometry.beats_of_last_bar(ends, whole).filter(|_| self.counts_what_lacks(heard));
        lacking.map(|(place, _)| place - whole).collect()
    }

    /// Where bars begin, and the meter they are in: rest, bars counted in, the bars each time through, breaths. The last bar of a
    /// pass goes on until it is whole, and a pickup that falls inside another bar has no bar line.
    fn bar_lines(&self) -> Vec<(Position, Meter)> {
        let geometry = self.geometry;
        let meter = geometry.first_meter;
        let mut lines = Vec::new();
        if geometry.rest.is_positive() {
            lines.push((geometry.start, meter));
        }
        let counted = geometry.counted();
        let is_counted_in = counted <= geometry.head && counted < Span::ZERO;
        if is_counted_in {
            let bars = (0_i64..).map(|n| counted + meter.bar_length() * n);
            lines
                .extend(bars.take_while(|at| *at <= geometry.head && *at < Span::ZERO).map(|at| (at, meter)));
        } else if counted < Span::ZERO {
            lines.push((counted, meter));
        }
        // A bar that begins late and stands alone goes on from the count-in that leads to it.
        let first_begun = is_counted_in && geometry.entry == Span::ZERO && geometry.head < Span::ZERO;
        for (shift, ..) in self.passes() {
            for index in self.order.exercise.bars.clone() {
                let place = self.order.material.bars()[index].start - geometry.zero;
                let has_begun = first_begun && shift == Span::ZERO && place == Span::ZERO;
                // A pickup has the room before.
                if place >= Span::ZERO && !has_begun {
                    lines.push((shift + place, self.order.material.meter(index)));
                }
            }
            if geometry.breath.is_positive() && shift + geometry.whole < geometry.end() - Position::ZERO {
                lines.push((shift + geometry.whole, geometry.last_meter));
            }
        }
        lines.dedup_by_key(|(place, _)| *place);
        lines.into_iter().map(|(place, meter)| (at(place), meter)).collect()
    }

    /// The bars in which the click is silent.
    fn silent(&self) -> Vec<Range<Position>> {
        let plan = &self.plan.silent;
        if self.order.exercise.kind == RoundKind::Model {
            return Vec::new();
        }
        let mut silent = Vec::new();
        let mut played = self.order.bars_before;
        for (shift, kind, _) in self.passes() {
            for index in self.order.exercise.bars.clone() {
                let bar = self.order.material.bars()[index];
                // A pickup belongs to no bar of its own, the second half of a bar that was cut to the first's.
                let number = if self.is_whole(index) { Some(played) } else { played.checked_sub(1) };
                let number = number.filter(|_| bar.start >= self.geometry.zero);
                let by_turns =
                    plan.by_turns.zip(number).is_some_and(|((on, off), number)| number % (on + off) >= on);
                let by_number = matches!(kind, SectionKind::Response(_)) && plan.bars.contains(&bar.number);
                if by_turns || by_number {
                    let place = |place: Position| at(place - self.geometry.zero + shift);
                    // The last bar is made whole by clicks of its own; after any other the next bar is played at once.
                    let is_last = index + 1 == self.order.exercise.bars.end;
                    let end = if is_last { at(shift + self.geometry.whole) } else { place(bar.end) };
                    silent.push(place(bar.start)..end);
                }
                played += u32::from(self.is_whole(index));
            }
        }
        silent
    }

    /// Whether a bar begins with its bar line.
    fn is_whole(&self, index: usize) -> bool {
        let bar = self.order.material.bars()[index];
        bar.start == bar.origin
    }

    /// How many bars are called and answered.
    fn bars_played(&self) -> u32 {
        if self.order.exercise.kind == RoundKind::Model {
            return 0;
        }
        let bars = self.order.exercise.bars.clone().filter(|index| self.is_whole(*index)).count();
        u32::try_from(bars * self.geometry.shifts.len()).unwrap_or(u32::MAX)
    }

    fn responses(&self) -> Vec<Response> {
        let geometry = self.geometry;
        let asks_pickup = !self.plan.is_called || self.plan.pickup_by != PickupBy::Call;
        let mut responses = Vec::new();
        for (shift, kind, _) in self.passes() {
            let SectionKind::Response(number) = kind else { continue };
            let mut counts = Vec::new();
            let mut bars = self.order.exercise.bars.clone();
            while !asks_pickup
                && bars.len() > 1
                && self.order.material.bars()[bars.start].start < geometry.zero
            {
                bars.start += 1;
            }
            for index in bars.clone() {
                let bar = self.order.material.bars()[index];
                counts.extend(self.order.material.counts(index).iter().map(|count| {
                    let place = at(bar.position(count.id.at) - geometry.zero + shift);
                    TimedCount { at: self.map.moment_at(place), ..count.clone() }
                }));
            }
            let player = self.order.players.get(number).copied().flatten();
            let bar = self.order.material.bars()[bars.start];
            let first = self.order.material.counts(bars.start).first();
            let first = first.map_or(bar.start, |count| bar.position(count.id.at));
            let range = self.order.material.count_range(bars);
            responses.push(Response { player, zero: at(shift), counts, range, first });
        }
        responses
    }
}

fn click(place: Span, accented: bool) -> Cue {
    Cue { at: at(place), cued: Cued::Click { accented, group: false } }
}

/// A beat of this number, counted aloud.
fn count(place: Span, meter: Meter, number: u32) -> Cue {
    said(place, Word::number(meter.said_number(number)))
}

/// A word on which nothing is done; how much room it has is found when all is placed.
fn said(place: Span, say: Word) -> Cue {
    let cued = Cued::Count { say, deed: Deed::Rest, speech: Speech::Aloud, slot: Span::ZERO };
    Cue { at: at(place), cued }
}

fn is_count(cue: &Cue) -> bool {
    matches!(cue.cued, Cued::Count { .. })
}

fn is_click(cue: &Cue) -> bool {
    matches!(cue.cued, Cued::Click { .. } | Cued::Division)
}

/// One click, one clap and one word at a place, where a pickup falls inside another section: of two clicks the accented one
/// stands, of two claps the first, whose note it is, of two words the second, which says what is to be done. At one place the
/// click comes first, then the clap, the tone and the count; a word has room until the next.
fn merge(mut cues: Vec<Cue>, end: Position) -> Vec<Cue> {
    let kind = |cue: &Cue| match cue.cued {
        Cued::Click { .. } | Cued::Division => 0,
        Cued::Clap { .. } => 1,
        Cued::Tone { .. } => 2,
        Cued::Count { .. } => 3,
    };
    cues.sort_by_key(|cue| (cue.at, kind(cue)));
    let mut merged: Vec<Cue> = Vec::with_capacity(cues.len());
    for cue in cues {
        match merged.last_mut().filter(|last| last.at == cue.at && kind(last) == kind(&cue)) {
            None => merged.push(cue),
            Some(last) => match (&last.cued, &cue.cued) {
                (Cued::Click { accented: true, .. }, _) | (Cued::Clap { .. } | Cued::Tone { .. }, _) => {}
                _ => *last = cue,
            },
        }
    }
    let mut next = end;
    for cue in merged.iter_mut().rev() {
        if let Cued::Count { slot, .. } = &mut cue.cued {
            *slot = next - cue.at;
            next = cue.at;
        }
    }
    merged
}
