//! From the ways through the cells to the rhythm and its certainty.

use rhythm::{Bar, Deed, Event, Rhythm, TempoMark};
use timebase::{Seconds, Span, Tempo};

use super::course::{Beat, Plan};
use super::heard::Heard;
use super::notation::{Note, Notes, Page};
use super::posterior::{Posterior, Way};
use super::timing::PlannedBar;
use super::{BarCertainty, Error, Quantised, Settings};

/// How many of the bars the strokes reach: the last of them may be followed by nothing.
pub(super) fn reached(bars: &[PlannedBar], beat: &Beat, last: f64) -> usize {
    let ends = |bar: &PlannedBar| {
        let cell = bar.cell + bar.cells;
        // So that a stroke early for the next bar has that bar.
        beat.begins[cell] - 0.55 * (beat.begins[cell] - beat.begins[cell - 1])
    };
    let bars_before = bars.partition_point(|bar| ends(bar) <= last);
    (bars_before + 1).min(bars.len())
}

/// The plan and the beat of these bars only.
pub(super) fn cut<'a>(plan: &Plan<'a>, beat: Beat, bars: &[PlannedBar]) -> (Plan<'a>, Beat) {
    let cells = bars.last().map_or(0, |bar| bar.cell + bar.cells);
    let plan = Plan {
        expected: plan.expected[..=cells].to_vec(),
        kinds: plan.kinds,
        cells: plan.cells[..cells].to_vec(),
    };
    let beat =
        Beat { begins: beat.begins[..=cells].to_vec(), variance: beat.variance[..=cells].to_vec(), ..beat };
    (plan, beat)
}

/// Where a bar begins and ends.
#[derive(Clone, Copy, Debug)]
struct Edges {
    /// Whether it begins with its first stroke.
    pickup: bool,
    /// Where the last bar of a rhythm with a pickup ends unless something is struck behind it.
    complement: Option<Span>,
    /// Whether releases tell how long sounds last.
    released: bool,
}

impl Edges {
    fn bar(
        self,
        page: &Page<'_>,
        number: u32,
        index: usize,
        mut events: Vec<Event>,
    ) -> Result<Bar, rhythm::Error> {
        if self.pickup {
            let silent = events.iter().take_while(|event| event.deed == Deed::Rest).count();
            events.drain(..silent);
        }
        if let Some(complement) = self.complement
            && !events.iter().any(|event| self.goes_on(event, complement))
        {
            events.retain(|event| event.at < complement);
            if let Some(last) = events.last_mut() {
                last.length = complement - last.at;
            }
        }
        page.bar(number, index, events)
    }

    /// Whether an event shows that its bar goes on behind `complement`: a stroke there, or a key that was held so long.
    fn goes_on(self, event: &Event, complement: Span) -> bool {
        let struck = event.deed == Deed::Attack && event.at >= complement;
        struck || (self.released && event.deed != Deed::Rest && event.end() > complement)
    }
}

/// What is to be written.
pub(super) struct Written<'a> {
    pub(super) heard: &'a Heard,
    pub(super) plan: &'a Plan<'a>,
    pub(super) beat: &'a Beat,
    pub(super) posterior: &'a Posterior<'a>,
    pub(super) bars: &'a [PlannedBar],
    pub(super) way: &'a Way,
    pub(super) first_is_pickup: bool,
    pub(super) tempo: Tempo,
    /// For each bar, a change of tempo at its beginning.
    pub(super) marks: &'a [Option<TempoMark>],
    pub(super) settings: &'a Settings,
}

impl Written<'_> {
    pub(super) fn quantised(&self) -> Result<Quantised, Error> {
        let page = Page {
            heard: self.heard,
            plan: self.plan,
            beat: self.beat,
            bars: self.bars,
            vocabulary: self.settings.vocabulary,
            ends: self.settings.ends,
        };
        let Notes { notes, left_out } = page.notes(0, self.way);
        let (Some(first), Some(last)) = (notes.first(), notes.last()) else {
            return Err(Error::NoStroke { left_out: left_out.len() });
        };
        let holds =
            |bar: &PlannedBar, note: &Note| bar.at <= note.at && note.at < bar.at + bar.meter.bar_length();
        let released = page.releases_tell(&notes);
        let begins = if self.first_is_pickup && !holds(&self.bars[0], first) { 1 } else { 0 };
        let pickup = self.first_is_pickup && begins == 0 && first.at > self.bars[0].at;
        // A sound may be held beyond the bar of its stroke where releases tell so.
        let mut bars = Vec::new();
        let mut certainties = Vec::new();
        let mut from = 0;
        for index in begins..self.bars.len() {
            let bar = &self.bars[index];
            let ends = bar.at + bar.meter.bar_length();
            from += notes[from..].partition_point(|note| note.at < bar.at);
            let to = from + notes[from..].partition_point(|note| note.at < ends);
            let around = &notes[from.saturating_sub(1)..notes.len().min(to + 1)];
            let events = page.events(index, around, released);
            let silent = events.iter().all(|event| event.deed == Deed::Rest);
            if silent && last.at < bar.at {
                break;
            }
            let number = u32::try_from(index - begins + usize::from(!pickup)).unwrap_or(u32::MAX);
            let length = bar.meter.bar_length();
            let edges = Edges {
                pickup: pickup && index == 0,
                complement: (pickup && index > 0 && last.at < ends)
                    .then(|| length - (self.bars[0].meter.bar_length() - (first.at - self.bars[0].at)))
                    .filter(|complement| complement.is_positive()),
                released,
            };
            let written = edges.bar(&page, number, index, events)?;
            certainties.push(self.certainty(&page, index, (&notes, from, to), number, &written, edges));
            bars.push(written.with_tempo(self.marks.get(index).copied().flatten()));
        }
        let rhythm = Rhythm::new(self.settings.title.clone(), Some(self.tempo), bars, Vec::new())?;
        let mut left_out: Vec<_> = left_out.into_iter().map(|stroke| self.heard.moment[stroke]).collect();
        left_out.sort_unstable();
        Ok(Quantised {
            rhythm,
            bars: certainties,
            tempo: self.tempo,
            count_one: None,
            bias: self.beat.bias.map(Seconds::from_secs_f64),
            spread: Seconds::from_secs_f64(self.beat.spread),
            left_out,
            evidence: self.posterior.evidence,
        })
    }

    fn certainty(
        &self,
        page: &Page<'_>,
        index: usize,
        (notes, from, to): (&[Note], usize, usize),
        number: u32,
        written: &Bar,
        edges: Edges,
    ) -> BarCertainty {
        let bar = &self.bars[index];
        let cells = bar.cell..bar.cell + bar.cells;
        let name = |way: &[(usize, super::cell_steps::Step)]| {
            way.iter().map(|(_, step)| step.pattern).collect::<Vec<_>>()
        };
        let chosen = name(&self.way[cells.clone()]);
        let readings = self.posterior.readings(cells.clone(), self.settings.alternatives + 1);
        let mut certainty = BarCertainty { probability: 0.0, alternatives: Vec::new() };
        for reading in readings {
            if name(&reading.way) == chosen {
                certainty.probability += reading.probability;
                continue;
            }
            let here = page.notes(cells.start, &reading.way).notes;
            let first = reading.way.first().map_or(0, |(stroke, _)| *stroke);
            let behind = reading.way.last().map_or(0, |(_, step)| step.next);
            let before = notes[..to].iter().rev().find(|note| note.stroke < first && note.at < bar.at);
            let after = notes[from..].iter().find(|note| note.stroke >= behind && note.cell >= cells.end);
            let around: Vec<Note> = before.into_iter().chain(&here).chain(after).copied().collect();
            let events = page.events(index, &around, edges.released);
            // A reading without an attack is no pickup, and has no bar to show.
            let Ok(other) = edges.bar(page, number, index, events) else { continue };
            if other.events() == written.events() {
                certainty.probability += reading.probability;
            } else {
                certainty.alternatives.push((other, reading.probability));
            }
        }
        certainty.alternatives.truncate(self.settings.alternatives);
        certainty
    }
}
