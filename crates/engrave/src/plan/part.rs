//! What one part has in a bar: symbols with what stands on them, counts, the foot's way.

use counting::{Count, CountedBar, Foot};
use rhythm::spelling::{Note, Value, spell};
use rhythm::{Bar, Deed, Dynamics, Grace, Marks, Rhythm, Roll};
use timebase::Span;

use crate::metrics::{BEAM, BEAM_STEP, HALF_HEAD, STEM, STEM_LENGTH};
use crate::voice::Voice;
use crate::{Glyph, Layout};

/// A symbol and what stands on it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sign {
    pub(crate) note: Note,
    pub(crate) marks: Marks,
    /// The roll it is played as, or that goes on in it.
    pub(crate) roll: Option<Roll>,
    /// How far its stem reaches over the line; the same for all under a beam.
    pub(crate) stem: f64,
    /// How far up that stem is free of beams.
    pub(crate) free: f64,
    /// Its column of the bar.
    pub(crate) column: usize,
    pub(crate) voice: Voice,
}

/// A count and its column of the bar.
#[derive(Clone, Debug)]
pub(crate) struct CountAt {
    pub(crate) count: Count,
    pub(crate) column: usize,
}

/// One part of a bar.
#[derive(Clone, Debug)]
pub(crate) struct PartBar {
    pub(crate) signs: Vec<Sign>,
    /// One list a count line.
    pub(crate) counts: Vec<Vec<CountAt>>,
    /// Where the foot goes, and the column.
    pub(crate) feet: Vec<(Foot, usize)>,
    pub(crate) dynamics: Dynamics,
    pub(crate) voice: Voice,
}

/// Between a grace note and the head that it leads to.
pub(crate) const GRACE_GAP: f64 = 0.35;
/// The size of grace notes that are drawn by themselves, of that of full ones (the font's own single one has it too).
pub(crate) const GRACE_SCALE: f64 = 0.6;
/// From one grace note to the next.
pub(crate) const GRACE_STEP: f64 = 1.0;
/// Between a symbol and its dot, and between two dots.
pub(crate) const DOT_GAP: f64 = 0.25;
/// What is kept free over and under the sign of a roll.
pub(crate) const ROLL_GAP: f64 = 0.3;
/// How far the stems of grace notes reach over their line: as those of full notes, smaller.
pub(crate) const GRACE_STEM: f64 = STEM_LENGTH * GRACE_SCALE;
/// What is kept free between grace notes and the beams over them: more than between two beams, so that their own are not
/// taken for more of those.
const GRACE_CLEAR: f64 = 0.7;
/// Half the height of a notehead.
pub(crate) const HEAD_TOP: f64 = 0.5;
/// What is kept free between the staff's line and the rests of two voices.
const REST_APART: f64 = 0.3;
/// The same of rests on a line of their own, so that none is taken to hang from the staff's line or to sit on it.
const LEDGER_APART: f64 = 0.9;
/// How far flags take the room of a roll's sign, which stands on the stem inside their bow.
const FLAG_ROOM: f64 = 1.6;

impl PartBar {
    /// The bar of a part, its columns not known yet. `roll` goes on into it.
    pub(crate) fn of(
        bar: &Bar,
        counted: &[&CountedBar],
        roll: Option<Roll>,
        voice: Voice,
        layout: &Layout,
    ) -> Self {
        let mut signs: Vec<Sign> = spell(bar)
            .into_iter()
            .map(|note| Sign { note, marks: Marks::NONE, roll: None, stem: 0.0, free: 0.0, column: 0, voice })
            .collect();
        mark(&mut signs, bar, roll);
        set_stems(&mut signs);
        let shown = if layout.counts { counted } else { &[] };
        let at_first = |count: &Count| CountAt { count: count.clone(), column: 0 };
        let feet = shown.iter().find(|counted| !counted.feet().is_empty());
        Self {
            signs,
            counts: shown.iter().map(|counted| counted.counts().iter().map(at_first).collect()).collect(),
            feet: feet
                .map_or(Vec::new(), |counted| counted.feet().iter().map(|step| (step.foot, 0)).collect()),
            dynamics: bar.dynamics(),
            voice,
        }
    }

    /// Gives everything its column among these places; `feet` are the places of the foot's way.
    pub(crate) fn stand_in(&mut self, columns: &[Span], feet: &[Span]) {
        let mut column = Columns { columns, next: 0 };
        self.signs.iter_mut().for_each(|sign| sign.column = column.of(sign.note.at));
        for line in &mut self.counts {
            let mut column = Columns { columns, next: 0 };
            line.iter_mut().for_each(|count| count.column = column.of(count.count.at));
        }
        let mut column = Columns { columns, next: 0 };
        self.feet.iter_mut().zip(feet).for_each(|(step, &at)| step.1 = column.of(at));
    }
}

/// Finds the columns of places that rise.
struct Columns<'a> {
    columns: &'a [Span],
    next: usize,
}

impl Columns<'_> {
    fn of(&mut self, at: Span) -> usize {
        while self.next + 1 < self.columns.len() && self.columns[self.next] < at {
            self.next += 1;
        }
        self.next
    }
}

/// Marks stand on the first symbol of their event, a fermata on its last; a roll goes on through what is tied to it.
fn mark(signs: &mut [Sign], bar: &Bar, roll: Option<Roll>) {
    let mut roll = roll;
    let mut events = bar.events().iter().peekable();
    let mut first = 0;
    while let Some(event) = events.next() {
        let end = events.peek().map_or(signs.len(), |next| {
            first + signs[first..].iter().take_while(|sign| sign.note.at < next.at).count()
        });
        roll = match event.deed {
            Deed::Attack => event.marks.roll,
            Deed::Hold => roll,
            Deed::Rest => None,
        };
        let Some(inside) = signs.get_mut(first..end).filter(|inside| !inside.is_empty()) else { continue };
        inside.iter_mut().for_each(|sign| sign.roll = roll);
        inside[0].marks = Marks { fermata: false, ..event.marks };
        if let Some(last) = inside.last_mut() {
            last.marks.fermata = event.marks.fermata;
        }
        first = end;
    }
}

/// The roll that goes on into every written bar.
pub(crate) fn rolls(rhythm: &Rhythm) -> Vec<Option<Roll>> {
    let mut roll = None;
    let into = |bar: &Bar| {
        let before = roll;
        for event in bar.events() {
            roll = match event.deed {
                Deed::Attack => event.marks.roll,
                Deed::Hold => roll,
                Deed::Rest => None,
            };
        }
        before
    };
    rhythm.bars().iter().map(into).collect()
}

/// All stems under a beam are as long as the longest of them needs to be.
fn set_stems(signs: &mut [Sign]) {
    let mut first = 0;
    while first < signs.len() {
        let beam = signs[first].note.beam;
        let many = if beam.is_some() {
            signs[first..].iter().take_while(|sign| sign.note.beam == beam).count()
        } else {
            1
        };
        let group = &mut signs[first..first + many];
        let struck = group.iter().filter(|sign| !sign.is_rest());
        let flags = struck.map(|sign| sign.note.value.flags()).max().unwrap_or(0);
        let hung = hung(flags, beam.is_some());
        let usual = STEM_LENGTH + BEAM_STEP * f64::from(flags.saturating_sub(2));
        // Grace notes of the first stand before the beam.
        let graced = group.iter().skip_while(|sign| sign.is_rest()).skip(1).filter(|sign| !sign.is_rest());
        let graces = graced.map(|sign| sign.grace_height() + GRACE_CLEAR + hung);
        let rooms = group.iter().map(|sign| sign.room_under_beams() + hung);
        let stem = rooms.chain(graces).fold(usual, f64::max);
        group.iter_mut().for_each(|sign| (sign.stem, sign.free) = (stem, stem - hung));
        first += many;
    }
}

/// How much of a stem beams or flags take.
fn hung(flags: u8, beamed: bool) -> f64 {
    match (flags, beamed) {
        (0, _) => 0.0,
        (_, true) => BEAM + BEAM_STEP * f64::from(flags - 1),
        (_, false) => FLAG_ROOM + BEAM_STEP * f64::from(flags - 1),
    }
}

impl Sign {
    pub(crate) fn is_rest(&self) -> bool {
        self.note.deed == Deed::Rest
    }

    /// How high beams or flags must hang over its line, so that they are clear of a roll's sign or of a rest.
    fn room_under_beams(&self) -> f64 {
        match (self.is_rest(), self.roll) {
            (true, _) => self.rest_rise() - self.rest().bounds().y0 + ROLL_GAP,
            (false, Some(roll)) => HEAD_TOP + Glyph::roll(roll).bounds().height() + 2.0 * ROLL_GAP,
            (false, None) => 0.0,
        }
    }

    /// The symbol of a rest.
    pub(crate) fn rest(&self) -> Glyph {
        let value = if self.note.whole_bar { Value::Whole } else { self.note.value };
        match self.voice {
            Voice::Alone => Glyph::rest(value),
            Voice::Upper | Voice::Lower => Glyph::rest_apart(value),
        }
    }

    /// How far over its line a rest stands, or under it where stems go down: the longest would reach down into what
    /// stands under the staff, and those of two voices stand apart, clear of the staff's line.
    pub(crate) fn rest_rise(&self) -> f64 {
        match self.voice {
            Voice::Alone if self.note.value == Value::SixtyFourth && !self.note.whole_bar => 1.0,
            Voice::Alone => 0.0,
            Voice::Upper | Voice::Lower => {
                let glyph = self.rest();
                let ledger = matches!(glyph, Glyph::RestWholeLedger | Glyph::RestHalfLedger);
                let apart = if ledger { LEDGER_APART } else { REST_APART };
                glyph.bounds().y1 - self.voice.off_line() + apart
            }
        }
    }

    /// The middle of the stem of a note whose head is at `x`: at its right side where stems go up, else at its left.
    pub(crate) fn stem_x(&self, x: f64) -> f64 {
        match self.voice {
            Voice::Lower => x - HALF_HEAD + STEM / 2.0,
            Voice::Alone | Voice::Upper => x + HALF_HEAD - STEM / 2.0,
        }
    }

    /// Whether it stands alone with flags on its stem.
    pub(crate) fn is_flagged(&self) -> bool {
        !self.is_rest() && self.note.beam.is_none() && self.note.value.flags() > 0
    }

    /// How far its grace notes reach over the line.
    fn grace_height(&self) -> f64 {
        match self.marks.grace {
            Grace::None => 0.0,
            Grace::Flam => -Glyph::GraceFlam.bounds().y0,
            Grace::Drag | Grace::Ruff => GRACE_STEM,
        }
    }

    /// How wide its grace notes are, with the gap behind them.
    pub(crate) fn grace_width(&self) -> f64 {
        match self.marks.grace {
            Grace::None => 0.0,
            Grace::Flam => Glyph::GraceFlam.bounds().width() + GRACE_GAP,
            Grace::Drag | Grace::Ruff => {
                let many = f64::from(self.marks.grace.strokes());
                (many - 1.0) * GRACE_STEP + 2.0 * HALF_HEAD * GRACE_SCALE + GRACE_GAP
            }
        }
    }

    pub(crate) fn half_head(&self) -> f64 {
        Glyph::head(self.note.value).bounds().width() / 2.0
    }

    /// How far it reaches to the left and right of its column.
    pub(crate) fn extent(&self) -> (f64, f64) {
        let note = &self.note;
        let fermata = if self.marks.fermata { Glyph::Fermata.bounds().width() / 2.0 + 0.05 } else { 0.0 };
        if note.whole_bar {
            return (fermata, fermata);
        }
        let half = if self.is_rest() { self.rest().bounds().width() / 2.0 } else { self.half_head() };
        let flag = Glyph::flag(note.value).filter(|_| self.is_flagged());
        // Where stems go down the flag hangs under the head.
        let flag = flag.filter(|_| self.voice != Voice::Lower).map_or(0.0, |flag| flag.bounds().width());
        let dots = f64::from(note.dots) * (DOT_GAP + Glyph::Dot.bounds().width());
        let (before, behind) = self.roll.filter(|_| !self.is_rest()).map_or((0.0, 0.0), |roll| {
            let middle = if note.value == Value::Whole { 0.0 } else { self.stem_x(0.0) };
            let reach = Glyph::roll(roll).bounds().width() / 2.0 + STEM / 2.0;
            (reach - middle, reach + middle)
        });
        let left = (half + self.grace_width()).max(before).max(fermata);
        (left, (half + flag + dots).max(behind).max(fermata))
    }
}
