//! A bar before it is placed: the symbols and counts of every part in columns, and how far apart they want to be.

pub(crate) mod gaps;
pub(crate) mod over;
pub(crate) mod part;
pub(crate) mod words;

use counting::CountLine;
use rhythm::{Bar, Dynamics, Ending, Jump, Meter, PerformedBar, Repeat, Until};
use timebase::Span;

use self::gaps::{Gap, gaps, widen};
use self::over::Over;
use self::part::{PartBar, rolls};
use crate::font::{Weight, text_width};
use crate::metrics::{JOINED_REST, SYMBOL_GAP};
use crate::tempo_words::TempoWords;
use crate::voice::Voice;
use crate::{Glyph, Layout, Staff};

/// A bar of the page with all that stands in it.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    /// Every time it is played: once if repeats are written out; never where no way through the piece leads.
    pub(crate) played: Vec<PerformedBar>,
    /// The written bar's number, if it is told: not of a pickup, nor again of the second half of a bar that was cut.
    pub(crate) number: Option<u32>,
    pub(crate) meter: Meter,
    /// Whether the meter is printed at its beginning.
    pub(crate) shows_meter: bool,
    /// The parts from the top.
    pub(crate) parts: Vec<PartBar>,
    /// The places at which something stands in any of them.
    pub(crate) columns: Vec<Span>,
    /// Before the first column, between each two, and behind the last.
    pub(crate) gaps: Vec<Gap>,
    pub(crate) opens_repeat: bool,
    /// Whether a repeated passage begins here, written out.
    pub(crate) begins_pass: bool,
    /// The repeat that it closes.
    pub(crate) closes_repeat: Option<Closing>,
    /// The ending of a repeated passage that it belongs to.
    pub(crate) ending: Option<EndingPart>,
    /// Whether the bar before it on the page is not played before it.
    pub(crate) stands_apart: bool,
    /// What stands over its beginning, from the left, and over its end, from the right.
    pub(crate) over_start: Vec<Over>,
    pub(crate) over_end: Vec<Over>,
    pub(crate) is_last: bool,
    /// Which of several bars of rest it is that are drawn as one.
    pub(crate) joined: Option<Joined>,
}

/// A closing repeat sign.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Closing {
    /// How often the passage is played, where that is told: endings tell it by themselves.
    pub(crate) times: Option<u32>,
}

/// A bar's part of the bracket over an ending.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EndingPart {
    pub(crate) begins: bool,
    pub(crate) ends: bool,
    /// Whether its bracket is closed at the end: all but the last.
    pub(crate) is_closed: bool,
}

/// One of several bars of rest that are drawn as one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Joined {
    /// From 1.
    pub(crate) index: u32,
    pub(crate) of: u32,
}

impl Joined {
    pub(crate) fn is_last(self) -> bool {
        self.index == self.of
    }
}

/// The bars of the page in order: as they are written, or as they are played where repeats are written out.
pub(crate) fn plan(staves: &[Staff<'_>], layout: &Layout) -> Vec<Plan> {
    let rhythm = staves[0].rhythm;
    let performance = rhythm.performance();
    let rolls: Vec<_> = staves.iter().map(|staff| rolls(staff.rhythm)).collect();
    let voices = Voice::all(staves);
    let spelled = |index: usize| {
        let parts = staves.iter().zip(&rolls).zip(&voices);
        let parts = parts.map(|((staff, rolls), voice)| {
            let counted: Vec<_> = staff.countings.iter().map(|counting| &counting.bars()[index]).collect();
            PartBar::of(&staff.rhythm.bars()[index], &counted, rolls[index], *voice, layout)
        });
        bare(&rhythm.bars()[index], parts.collect(), &feet(staves, index), layout)
    };
    let mut plans: Vec<Plan> = Vec::new();
    if layout.written_out {
        let mut known: Vec<Option<Plan>> = vec![None; rhythm.bars().len()];
        for played in performance.bars() {
            let mut plan = known[played.index].get_or_insert_with(|| spelled(played.index)).clone();
            plan.shows_meter = plans.last().is_none_or(|before: &Plan| before.meter != plan.meter);
            let repeat = rhythm.repeat_of(played.index);
            plan.begins_pass = repeat.is_some_and(|repeat| repeat.bars.start == played.index);
            if plan.begins_pass && played.pass > 1 {
                plan.over_start.insert(0, Over::Words(format!("{} time", ordinal(played.pass))));
            }
            plan.played.push(*played);
            plans.push(plan);
        }
    } else {
        for index in 0..rhythm.bars().len() {
            let mut plan = spelled(index);
            plan.shows_meter = plans.last().is_none_or(|before: &Plan| before.meter != plan.meter);
            if let Some(repeat) = rhythm.repeat_of(index) {
                plan.show_repeat(repeat, index);
            }
            if let Some(jump) = rhythm.jump() {
                plan.show_jump(jump, index);
            }
            plans.push(plan);
        }
        for played in performance.bars() {
            plans[played.index].played.push(*played);
        }
    }
    if let Some(last) = plans.last_mut() {
        last.is_last = true;
    }
    if !layout.counts {
        join_rests(&mut plans, staves);
    }
    for plan in &mut plans {
        plan.make_room(layout);
    }
    plans
}

/// The places of the foot's way in a bar, of every part that has one.
fn feet(staves: &[Staff<'_>], index: usize) -> Vec<Vec<Span>> {
    let of_staff = |staff: &Staff<'_>| {
        let steps = staff.countings.iter().map(|counting: &&CountLine| counting.bars()[index].feet());
        let steps = steps.into_iter().find(|steps| !steps.is_empty()).unwrap_or_default();
        steps.iter().map(|step| step.at).collect()
    };
    staves.iter().map(of_staff).collect()
}

/// A bar as it stands by itself.
fn bare(bar: &Bar, mut parts: Vec<PartBar>, feet: &[Vec<Span>], layout: &Layout) -> Plan {
    let mut columns: Vec<Span> = Vec::new();
    for (part, feet) in parts.iter().zip(feet) {
        columns.extend(part.signs.iter().map(|sign| sign.note.at));
        columns.extend(part.counts.iter().flatten().map(|count| count.count.at));
        columns.extend(feet.iter().take(part.feet.len()));
    }
    columns.sort_unstable();
    columns.dedup();
    parts.iter_mut().zip(feet).for_each(|(part, feet)| part.stand_in(&columns, feet));
    let gaps = gaps(&parts, &columns, bar.end(), layout);
    let goes_on = bar.is_pickup() || bar.start().is_positive();
    let tempo = bar.tempo_mark().map(|mark| Over::Tempo(TempoWords::mark(mark)));
    Plan {
        played: Vec::new(),
        number: (!goes_on).then_some(bar.number()),
        meter: bar.meter(),
        shows_meter: true,
        parts,
        columns,
        gaps,
        opens_repeat: false,
        begins_pass: false,
        closes_repeat: None,
        ending: None,
        stands_apart: false,
        over_start: tempo.into_iter().collect(),
        over_end: Vec::new(),
        is_last: false,
        joined: None,
    }
}

/// Bars of rest that were written as one are drawn as one, if nothing stands between them in any part.
fn join_rests(plans: &mut [Plan], staves: &[Staff<'_>]) {
    let rest = |plan: &Plan| {
        let index = plan.played.first()?.index;
        let rest = staves[0].rhythm.bars()[index].rest()?;
        staves.iter().all(|staff| staff.rhythm.bars()[index].rest() == Some(rest)).then_some(rest)
    };
    let mut first = 0;
    while first < plans.len() {
        let many = rest(&plans[first]).filter(|rest| rest.index == 1).map_or(0, |rest| rest.of);
        let many = usize::try_from(many).unwrap_or(usize::MAX);
        let group = plans.get_mut(first..first.saturating_add(many)).filter(|group| !group.is_empty());
        let whole = |group: &&mut [Plan]| {
            (1..).zip(group.iter()).all(|(index, plan)| {
                let is_next = rest(plan).is_some_and(|rest| usize::try_from(rest.index) == Ok(index));
                is_next && plan.may_join(index == 1, index == many)
            })
        };
        let Some(group) = group.filter(whole) else {
            first += 1;
            continue;
        };
        let of = u32::try_from(many).unwrap_or(u32::MAX);
        for (index, plan) in (1..).zip(group.iter_mut()) {
            plan.joined = Some(Joined { index, of });
            plan.number = plan.number.filter(|_| index == 1);
            let each = JOINED_REST / f64::from(of) / plan.gaps.len() as f64;
            plan.gaps.iter_mut().for_each(|gap| *gap = Gap { ideal: each, least: each * 0.7 });
        }
        first += many;
    }
}

impl Plan {
    /// Whether nothing parts it from the bars of rest around it, or stands on it alone.
    fn may_join(&self, is_first: bool, is_last: bool) -> bool {
        let quiet = self.parts.iter().all(|part| part.dynamics == Dynamics::NONE);
        let begins = self.opens_repeat || self.shows_meter || self.begins_pass || self.stands_apart;
        let free = !begins && self.over_start.is_empty() && quiet;
        let open = self.closes_repeat.is_none() && self.over_end.is_empty();
        let plain = self.parts.iter().flat_map(|part| &part.signs).all(|sign| !sign.marks.fermata);
        (is_first || free) && (is_last || open) && plain && self.ending.is_none()
    }

    fn show_repeat(&mut self, repeat: &Repeat, index: usize) {
        self.opens_repeat = repeat.bars.start == index;
        let Some((number, ending)) =
            repeat.endings.iter().enumerate().find(|(_, ending)| ending.bars.contains(&index))
        else {
            if repeat.endings.is_empty() && repeat.bars.end == index + 1 {
                self.closes_repeat = Some(Closing { times: Some(repeat.times) });
            }
            return;
        };
        let (begins, ends) = (ending.bars.start == index, ending.bars.end == index + 1);
        // Whoever comes to its end before the last time goes back.
        let goes_back = ending.passes.iter().any(|&pass| pass < repeat.times);
        if ends && goes_back {
            self.closes_repeat = Some(Closing { times: None });
        }
        self.ending = Some(EndingPart { begins, ends, is_closed: goes_back });
        self.stands_apart |= begins && number > 0;
        if begins {
            self.over_start.insert(0, Over::Words(passes(ending)));
        }
    }

    fn show_jump(&mut self, jump: Jump, index: usize) {
        if jump.from_sign && jump.to == index {
            self.over_start.push(Over::Sign(Glyph::Segno));
        }
        let end = match jump.until {
            Until::End => "",
            Until::Fine(fine) => {
                if fine == index {
                    self.over_end.push(Over::Words("Fine".to_owned()));
                }
                " al Fine"
            }
            Until::Coda { leave, coda } => {
                if coda == index {
                    self.over_start.push(Over::Sign(Glyph::Coda));
                    self.stands_apart = true;
                }
                if leave == index {
                    self.over_end.push(Over::Sign(Glyph::Coda));
                    self.over_end.push(Over::Words("To".to_owned()));
                }
                " al Coda"
            }
        };
        if jump.after == index {
            let from = if jump.from_sign { "D.S." } else { "D.C." };
            self.over_end.push(Over::Words(format!("{from}{end}")));
        }
        if let Some(Closing { times: Some(times) }) = self.closes_repeat.filter(|_| !self.over_end.is_empty())
        {
            // The number of times would stand in the same place.
            self.closes_repeat = Some(Closing { times: None });
            if times > 2 {
                self.over_end.insert(0, Over::Words(format!("{times}×")));
            }
        }
    }

    /// How often a passage is played that is played more than twice: what stands over its end.
    pub(crate) fn times(&self) -> Option<String> {
        let times = self.closes_repeat?.times.filter(|&times| times > 2)?;
        Some(format!("{times}×"))
    }

    fn times_width(&self, small: f64) -> Option<f64> {
        Some(text_width(&self.times()?, Over::TIMES * small, Weight::Bold))
    }

    /// Widens the bar so that what stands over its beginning and what stands over its end do not touch, nor its number
    /// the first stem, and a loudness and its swell find room under it.
    fn make_room(&mut self, layout: &Layout) {
        let size = layout.print.small();
        let last = self.gaps.len() - 1;
        let over = self.over_start.iter().chain(&self.over_end);
        let widths = over.map(|over| over.width(size)).chain(self.times_width(size));
        let room: f64 = widths.map(|width| width + Over::GAP).sum();
        if room > 0.0 {
            widen(&mut self.gaps, 0, last, room + 1.0);
        }
        if let Some(number) = self.number.filter(|_| layout.bar_numbers && self.joined.is_none()) {
            let width = crate::draw::number_width(number, layout);
            widen(&mut self.gaps, 0, 0, width + SYMBOL_GAP);
        }
        let dynamics = self.parts.iter().map(|part| {
            let level =
                part.dynamics.level.map_or(0.0, |level| Glyph::loudness(level).bounds().width() + 1.6);
            level + if part.dynamics.swell.is_some() { 4.0 } else { 0.0 }
        });
        let dynamics = dynamics.fold(0.0, f64::max);
        if dynamics > 0.0 && self.joined.is_none() {
            widen(&mut self.gaps, 0, last, dynamics);
        }
    }
}

/// `1. 2.`
fn passes(ending: &Ending) -> String {
    ending.passes.iter().map(|pass| format!("{pass}.")).collect::<Vec<_>>().join(" ")
}

fn ordinal(number: u32) -> String {
    let ending = match (number % 10, number % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}
