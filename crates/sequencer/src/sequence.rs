use counting::{Count, CountLine, TimedCount, Voicing, Word};
use rhythm::{Deed, Meter, Performance, Rhythm};
use timebase::{Moment, Position, Seconds, TempoMap};

use crate::clicks::{Beat, beats, clicks};
use crate::count_in::CountIn;
use crate::dynamics::Course;
use crate::limits::{LEAD_IN, LEAD_OUT};
use crate::{Aside, Choice, CountOn, Cue, Cued, Plan, Speech};

/// A rhythm laid out in time, once through: what sounds, and what is expected of a player.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sequence {
    plan: Plan,
    tempo: TempoMap,
    performance: Performance,
    bar_lines: Vec<(Position, Meter)>,
    beats: Vec<(Position, bool)>,
    cues: Vec<Cue>,
    counts: Vec<TimedCount>,
    start: Position,
}

/// Lays `rhythm`, counted as `line`, along the tempo of `plan`; the changes of tempo that it has keep their proportion.
///
/// What a player is judged by are the counts of [`counting::count`], in whatever system the line says them: a place is called
/// by its number, and a take is the same whoever counted.
#[must_use]
pub fn sequence(rhythm: &Rhythm, line: &CountLine, plan: &Plan) -> Sequence {
    let performance = rhythm.performance();
    let tempo = rhythm.tempo_map(&performance, plan.tempo());
    let counts = counting::count(rhythm).timed(rhythm, &performance, &tempo);

    let count_in = CountIn::before(rhythm, &performance, plan.count_in_bars());
    let bars = performance.bars().iter();
    let felt: Vec<Beat> = count_in.beats().chain(bars.flat_map(|bar| beats(rhythm, bar))).collect();
    let mut cues = clicks(&felt, plan.choice().click, performance.end());
    cues.extend(claps(rhythm, &performance));
    cues.extend(spoken(&count_in, line, &performance, plan.choice()));
    // A stable sort: at one place the click comes first, then the clap, then the count.
    cues.sort_by_key(|cue| cue.at);

    Sequence {
        plan: *plan,
        tempo,
        bar_lines: bar_lines(rhythm, &performance, &count_in),
        beats: felt.iter().map(|beat| (beat.at, beat.is_downbeat())).collect(),
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

    /// Where every bar begins, from [`Sequence::start`] on, and the meter it is in: the bars counted in, then those that are played. A
    /// pickup that is counted into has no bar line of its own. A bar ends where the next begins, whatever its meter says.
    #[must_use]
    pub fn bar_lines(&self) -> &[(Position, Meter)] {
        &self.bar_lines
    }

    /// Every felt beat, from the count-in on, and whether it is count 1 of a bar; whatever is heard of them.
    #[must_use]
    pub fn beats(&self) -> &[(Position, bool)] {
        &self.beats
    }

    /// What sounds, in order of place. Attacks are among them whether they are heard or not.
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

fn bar_lines(rhythm: &Rhythm, performance: &Performance, count_in: &CountIn) -> Vec<(Position, Meter)> {
    let entry = performance.start();
    let counted = (0_i64..).map(|bar| count_in.start + count_in.meter.bar_length() * bar);
    let counted = counted.take_while(|at| *at < entry).map(|at| (at, count_in.meter));
    let played = performance.bars().iter();
    // The bar of a pickup begins in the count-in.
    let played = played.filter(|bar| bar.start == bar.origin || bar.start > entry || count_in.start == entry);
    counted.chain(played.map(|bar| (bar.start, rhythm.bars()[bar.index].meter()))).collect()
}

/// A clap on every attack, as long as the note and what is tied to it.
fn claps(rhythm: &Rhythm, performance: &Performance) -> Vec<Cue> {
    let mut claps: Vec<Cue> = Vec::new();
    let loudness = Course::of(rhythm, performance);
    for bar in performance.bars() {
        for event in rhythm.bars()[bar.index].events() {
            match event.deed {
                Deed::Attack => claps.push(Cue {
                    at: bar.position(event.at),
                    cued: Cued::Clap {
                        id: bar.attack_id(event.at),
                        length: event.length,
                        marks: event.marks,
                        louder: loudness.at(bar.position(event.at)),
                        held: true,
                    },
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

/// What is said aloud, softly or in a whisper, each with the room until the next.
fn spoken(count_in: &CountIn, line: &CountLine, performance: &Performance, choice: Choice) -> Vec<Cue> {
    let before = count_in.counts(choice.entry).into_iter();
    let mut said: Vec<(Position, Word, Deed, Speech)> =
        before.map(|(at, say)| (at, say, Deed::Rest, Speech::Aloud)).collect();
    for bar in performance.bars() {
        let counts = line.bars()[bar.index].counts().iter();
        said.extend(counts.filter_map(|count| {
            let (say, speech) = (count.say.clone()?, speech(count, choice)?);
            Some((bar.position(count.at), say, count.deed, speech))
        }));
    }
    let ends = said.iter().skip(1).map(|(at, ..)| *at).chain([performance.end()]).collect::<Vec<_>>();
    said.into_iter()
        .zip(ends)
        .map(|((at, say, deed, speech), next)| Cue {
            at,
            cued: Cued::Count { say, deed, speech, slot: next - at },
        })
        .collect()
}

/// How a count is said; `None` where it is not.
fn speech(count: &Count, choice: Choice) -> Option<Speech> {
    let wanted = match choice.count {
        CountOn::Everything => true,
        CountOn::Beats => count.on_beat,
        CountOn::Attacks => count.deed == Deed::Attack,
    };
    let aside = match count.deed {
        Deed::Attack => Aside::Aloud,
        Deed::Hold => choice.holds,
        Deed::Rest => choice.rests,
    };
    let speech = match (aside, count.voicing) {
        (Aside::Aloud, _) | (Aside::AsCounted, Voicing::Said) => Some(Speech::Aloud),
        (Aside::Softer, _) | (Aside::AsCounted, Voicing::Softer) => Some(Speech::Softer),
        (Aside::Whispered, _) => Some(Speech::Whispered),
        (Aside::Silent, _) | (Aside::AsCounted, Voicing::Parentheses | Voicing::Silent) => None,
    };
    speech.filter(|_| wanted)
}
