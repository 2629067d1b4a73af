use counting::{CountLine, TimedCount, Word};
use rhythm::{Deed, Meter, Performance, PerformedBar, Rhythm};
use timebase::{Moment, Position, Seconds, TempoMap};

use crate::limits::{LEAD_IN, LEAD_OUT};
use crate::{Cue, Cued, Plan};

/// A rhythm laid out in time, once through: what sounds, and what is expected of a player.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sequence {
    plan: Plan,
    tempo: TempoMap,
    performance: Performance,
    meters: Vec<(Position, Meter)>,
    beats: Vec<(Position, bool)>,
    cues: Vec<Cue>,
    counts: Vec<TimedCount>,
    start: Position,
}

/// Lays `rhythm`, counted as `line`, along the tempo of `plan`; the changes of tempo that it has keep their proportion.
#[must_use]
pub fn sequence(rhythm: &Rhythm, line: &CountLine, plan: &Plan) -> Sequence {
    let performance = rhythm.performance();
    let tempo = rhythm.tempo_map(&performance, plan.tempo());
    let counts = line.timed(rhythm, &performance, &tempo);

    let count_in = CountIn::before(rhythm, &performance, plan.count_in_bars());
    let mut cues = clicks(rhythm, &performance);
    cues.extend(claps(rhythm, &performance));
    let mut said: Vec<(Position, Word, Deed)> = count_in.counts();
    cues.extend(count_in.clicks());
    for bar in performance.bars() {
        let counted = line.bars()[bar.index].counts();
        said.extend(counted.iter().filter_map(|c| Some((bar.position(c.at), c.aloud()?.clone(), c.deed))));
    }
    let ends = said.iter().skip(1).map(|(at, ..)| *at).chain([performance.end()]).collect::<Vec<_>>();
    cues.extend(
        said.into_iter()
            .zip(ends)
            .map(|((at, say, deed), next)| Cue { at, cued: Cued::Count { say, deed, slot: next - at } }),
    );
    let mut beats: Vec<(Position, bool)> = cues
        .iter()
        .filter_map(|cue| match cue.cued {
            Cued::Click { accented } => Some((cue.at, accented)),
            _ => None,
        })
        .collect();
    beats.sort_by_key(|(at, _)| *at);
    // A stable sort: at one place the click comes first, then the clap, then the count.
    cues.sort_by_key(|cue| cue.at);

    Sequence {
        plan: *plan,
        tempo,
        meters: meters(rhythm, &performance),
        beats,
        start: count_in.start,
        performance,
        cues,
        counts,
    }
}

impl Sequence {
    /// The plan it was made by.
    #[must_use]
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Where every position falls in time; zero is count 1 of bar 1.
    #[must_use]
    pub fn tempo(&self) -> &TempoMap {
        &self.tempo
    }

    /// The bars as they are played.
    #[must_use]
    pub fn performance(&self) -> &Performance {
        &self.performance
    }

    /// Every meter and where it begins, in order; the first stands where the first bar's first event begins and holds for the count-in too.
    #[must_use]
    pub fn meters(&self) -> &[(Position, Meter)] {
        &self.meters
    }

    /// Every felt beat, from the count-in on, and whether it is count 1 of a bar.
    #[must_use]
    pub fn beats(&self) -> &[(Position, bool)] {
        &self.beats
    }

    /// What sounds, in order of place.
    #[must_use]
    pub fn cues(&self) -> &[Cue] {
        &self.cues
    }

    /// The counts of the performed rhythm in order of time, without the count-in: what a player is judged by.
    #[must_use]
    pub fn counts(&self) -> &[TimedCount] {
        &self.counts
    }

    /// Where it begins: the count-in's first beat, or the first event without one.
    #[must_use]
    pub fn start(&self) -> Position {
        self.start
    }

    /// Where the last bar ends.
    #[must_use]
    pub fn end(&self) -> Position {
        self.performance.end()
    }

    /// From the beginning of its sound to count 1 of bar 1: the lead-in and the count-in.
    #[must_use]
    pub fn before_bar_one(&self) -> Seconds {
        LEAD_IN + (Moment::ZERO - self.tempo.moment_at(self.start))
    }

    /// How long its sound lasts in all, from the lead-in to the last clap's ringing out.
    #[must_use]
    pub fn sounding_length(&self) -> Seconds {
        self.before_bar_one() + self.tempo.moment_at(self.end()).since_zero() + LEAD_OUT
    }
}

fn meters(rhythm: &Rhythm, performance: &Performance) -> Vec<(Position, Meter)> {
    let mut meters: Vec<(Position, Meter)> = Vec::new();
    for bar in performance.bars() {
        let meter = rhythm.bars()[bar.index].meter();
        if meters.last().is_none_or(|(_, last)| *last != meter) {
            meters.push((bar.start, meter));
        }
    }
    meters
}

/// A click on every felt beat of every bar, accented on count 1. A bar that was cut has those it holds.
fn clicks(rhythm: &Rhythm, performance: &Performance) -> Vec<Cue> {
    let beats_of = |bar: &PerformedBar| {
        let bar = *bar;
        let meter = rhythm.bars()[bar.index].meter();
        (1..=meter.felt_beats()).filter_map(move |number| {
            let at = bar.position(meter.count_at(number));
            (at >= bar.start && at < bar.end)
                .then_some(Cue { at, cued: Cued::Click { accented: number == 1 } })
        })
    };
    performance.bars().iter().flat_map(beats_of).collect()
}

/// A clap on every attack, as long as the note and what is tied to it.
fn claps(rhythm: &Rhythm, performance: &Performance) -> Vec<Cue> {
    let mut claps: Vec<Cue> = Vec::new();
    for bar in performance.bars() {
        for event in rhythm.bars()[bar.index].events() {
            match event.deed {
                Deed::Attack => claps.push(Cue {
                    at: bar.position(event.at),
                    cued: Cued::Clap { id: bar.attack_id(event.at), length: event.length },
                }),
                Deed::Hold => {
                    if let Some(Cue { cued: Cued::Clap { length, .. }, .. }) = claps.last_mut() {
                        *length += event.length;
                    }
                }
                Deed::Rest => {}
            }
        }
    }
    claps
}

/// The bars counted before the rhythm begins, in the meter of its first bar; before a pickup also the counts up to it.
struct CountIn {
    start: Position,
    entry: Position,
    meter: Meter,
}

impl CountIn {
    fn before(rhythm: &Rhythm, performance: &Performance, bars: u32) -> Self {
        let first = &performance.bars()[0];
        let meter = rhythm.bars()[0].meter();
        let entry = first.start;
        let start = if bars == 0 { entry } else { first.origin - meter.bar_length() * i64::from(bars) };
        Self { start, entry, meter }
    }

    fn beats(&self) -> impl Iterator<Item = (Position, u32)> {
        let (start, entry, meter) = (self.start, self.entry, self.meter);
        (0_u32..)
            .map(move |beat| (start + meter.felt_beat() * i64::from(beat), beat % meter.felt_beats() + 1))
            .take_while(move |(at, _)| *at < entry)
    }

    fn counts(&self) -> Vec<(Position, Word, Deed)> {
        self.beats().map(|(at, number)| (at, Word::number(number), Deed::Rest)).collect()
    }

    fn clicks(&self) -> impl Iterator<Item = Cue> {
        self.beats().map(|(at, number)| Cue { at, cued: Cued::Click { accented: number == 1 } })
    }
}
