use mixer::{Bank, SampleId, SoundEvent};
use rhythm::{Division, Meter, PerformedBar, Rhythm};
use timebase::{Frame, Frames, Position, SampleRate, Span};
use voice::percussion;

use crate::choice::ClickOn;
use crate::levels::CLICK;
use crate::limits::{DIVISION_DB, GROUP_DB};
use crate::strokes::factor;
use crate::{Cue, Cued};

/// A felt beat of a bar or of the count-in.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Beat {
    pub(crate) at: Position,
    /// Its number in the bar, from 1.
    pub(crate) number: u32,
    pub(crate) meter: Meter,
}

impl Beat {
    pub(crate) fn is_downbeat(&self) -> bool {
        self.number == 1
    }

    /// Whether a group begins on it, in a meter whose groups all begin on beats.
    fn begins_group(&self) -> bool {
        let on_beats =
            self.meter.group_spans().all(|(at, _)| at.in_units_of(self.meter.felt_beat()).is_integer());
        let place = self.meter.count_at(self.number);
        on_beats && self.meter.group_spans().any(|(at, _)| at == place)
    }
}

/// The felt beats that a bar has; one that was cut has those that lie in it.
pub(crate) fn beats(rhythm: &Rhythm, bar: &PerformedBar) -> impl Iterator<Item = Beat> {
    let bar = *bar;
    let meter = rhythm.bars()[bar.index].meter();
    (1..=meter.felt_beats())
        .map(move |number| Beat { at: bar.position(meter.count_at(number)), number, meter })
        .filter(move |beat| beat.at >= bar.start && beat.at < bar.end)
}

/// The clicks of these beats up to `end`, where they are wanted.
pub(crate) fn clicks(beats: &[Beat], on: ClickOn, end: Position) -> Vec<Cue> {
    let nexts = beats.iter().skip(1).map(|beat| beat.at).chain([end]);
    let mut cues = Vec::with_capacity(beats.len());
    for (beat, next) in beats.iter().zip(nexts) {
        let (accented, group) = (beat.is_downbeat(), beat.begins_group());
        let click = Cue { at: beat.at, cued: Cued::Click { accented, group } };
        match on {
            ClickOn::Beats => cues.push(click),
            ClickOn::Downbeats => cues.extend(accented.then_some(click)),
            ClickOn::Groups => groups(beat, &mut cues),
            ClickOn::Divisions => {
                cues.push(click);
                let part = beat.meter.felt_beat() / divisions(beat.meter);
                let between = (1..divisions(beat.meter)).map(|number| beat.at + part * number);
                cues.extend(between.filter(|at| *at < next).map(|at| Cue { at, cued: Cued::Division }));
            }
        }
    }
    cues
}

fn divisions(meter: Meter) -> i64 {
    match meter.division() {
        Division::Two => 2,
        Division::Three => 3,
    }
}

/// The clicks of the groups that begin in this beat, on it or inside it; a meter without groups has its beats.
fn groups(beat: &Beat, cues: &mut Vec<Cue>) {
    let place = beat.meter.count_at(beat.number);
    let mut begins: Vec<Span> = beat.meter.group_spans().map(|(at, _)| at).collect();
    if begins.is_empty() {
        begins.push(place);
    }
    let inside = begins.into_iter().filter(|at| (place..place + beat.meter.felt_beat()).contains(at));
    cues.extend(inside.map(|at| Cue {
        at: beat.at + (at - place),
        cued: Cued::Click { accented: at == Span::ZERO, group: !beat.meter.groups().is_empty() },
    }));
}

/// The sounds of clicks: each sample and how long into it it is heard to begin.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Clicks {
    accented: (SampleId, Frames),
    plain: (SampleId, Frames),
    low: (SampleId, Frames),
}

impl Clicks {
    pub(crate) fn new(bank: &mut Bank) -> Self {
        let rate = bank.rate();
        // A click made for a higher rate sounds lower at this one: a fifth, 3 to 2.
        let lower_rate = SampleRate::new(rate.hz() * 3 / 2).unwrap_or(rate);
        let mut made = |accented: bool, made_for: SampleRate| {
            let click = percussion::click(accented, made_for);
            (bank.add(click.sample), click.attack)
        };
        Self { accented: made(true, rate), plain: made(false, rate), low: made(false, lower_rate) }
    }

    /// The sound of a cue that falls on this frame, if it is a click.
    pub(crate) fn event(&self, cue: &Cue, at: Frame) -> Option<SoundEvent> {
        let ((sample, attack), db) = match cue.cued {
            Cued::Click { accented: true, .. } => (self.accented, 0.0),
            Cued::Click { group: true, .. } => (self.accented, GROUP_DB),
            Cued::Click { .. } => (self.plain, 0.0),
            Cued::Division => (self.low, DIVISION_DB),
            Cued::Count { .. } | Cued::Clap { .. } | Cued::Tone { .. } => return None,
        };
        Some(SoundEvent { gain: factor(db), ..SoundEvent::new(at - attack, sample, CLICK) })
    }
}
