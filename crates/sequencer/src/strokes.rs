use mixer::{Bank, SampleId, SoundEvent};
use rhythm::{Accent, Marks, Roll, Sticking};
use timebase::{Frame, Frames, Moment, Position, SampleRate, Seconds, Span, TempoMap};
use voice::percussion;

use crate::levels::{CLAP, TONE};
use crate::limits::{
    ACCENT_DB, BOTH_DB, BUZZ, GRACE_APART, GRACE_DB, ROLL_DB, STRONG_ACCENT_DB, TONE_RELEASE,
};
use crate::{Cue, Cued, tone};

/// The sounds of struck notes: the clap as it is made, and as each hand claps, and the tone.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Strokes {
    plain: SampleId,
    left: SampleId,
    right: SampleId,
    pub(crate) tone: SampleId,
    attack: Frames,
    rate: SampleRate,
}

/// A written attack and where it falls.
pub(crate) struct Note<'a> {
    pub(crate) at: Frame,
    pub(crate) end: Frame,
    /// Where the note before was struck.
    pub(crate) before: Option<Frame>,
    pub(crate) place: Position,
    pub(crate) length: Span,
    pub(crate) marks: Marks,
    /// Tenths of a decibel that the loudness of the bar adds.
    pub(crate) louder: i32,
    pub(crate) frame_of: &'a dyn Fn(Position) -> Frame,
}

impl Strokes {
    pub(crate) fn new(bank: &mut Bank) -> Self {
        let rate = bank.rate();
        let plain = percussion::clap(rate);
        let attack = plain.attack;
        let plain = bank.add(plain.sample);
        // A clap made for a higher rate sounds lower at this one: a whole tone, 9 to 8.
        let mut pitched = |up: u32, down: u32| {
            let made_for = SampleRate::new(rate.hz() * up / down).ok();
            made_for.map_or(plain, |made_for| bank.add(percussion::clap(made_for).sample))
        };
        let (left, right) = (pitched(9, 8), pitched(8, 9));
        Self { plain, left, right, tone: bank.add(tone::tone(rate)), attack, rate }
    }

    /// The clap that sounds at once.
    pub(crate) fn clap(&self) -> SampleId {
        self.plain
    }

    /// The strokes of a note: grace strokes before it, itself, and the strokes of a roll.
    pub(crate) fn claps(&self, note: &Note<'_>, events: &mut Vec<SoundEvent>) {
        let gain = loudness(note);
        let figure = Figure {
            at: note.at.index(),
            end: note.end.index(),
            before: note.before.map(Frame::index),
            place: note.place,
            length: note.length,
            marks: note.marks,
            apart: Frames::of(GRACE_APART, self.rate).count(),
            buzz: Frames::of(BUZZ, self.rate).count(),
            when: &|place| (note.frame_of)(place).index(),
        };
        for stroke in figure.strokes() {
            let gain = gain * factor(stroke.db);
            let gain = gain * if stroke.hand == Some(Sticking::Both) { factor(BOTH_DB) } else { 1.0 };
            for sample in self.hand(stroke.hand) {
                let at = Frame::new(stroke.at) - self.attack;
                events.push(SoundEvent { gain, ..SoundEvent::new(at, sample, CLAP) });
            }
        }
    }

    /// The tone of a note, cut where the note ends.
    pub(crate) fn held(&self, note: &Note<'_>) -> SoundEvent {
        let length = note.end - note.at;
        let fade = Frames::of(TONE_RELEASE, self.rate).min(Frames::new(length.count() / 2));
        let event = SoundEvent::new(note.at, self.tone, TONE);
        SoundEvent { length: Some(length), fade, gain: loudness(note), ..event }
    }

    fn hand(&self, hand: Option<Sticking>) -> impl Iterator<Item = SampleId> {
        let (first, second) = match hand {
            None => (self.plain, None),
            Some(Sticking::Left) => (self.left, None),
            Some(Sticking::Right) => (self.right, None),
            Some(Sticking::Both) => (self.left, Some(self.right)),
        };
        std::iter::once(first).chain(second)
    }
}

/// A written attack in a time that is counted in whole units: frames, or nanoseconds.
struct Figure<'a> {
    at: i64,
    end: i64,
    /// When the note before was struck.
    before: Option<i64>,
    place: Position,
    length: Span,
    marks: Marks,
    /// [`GRACE_APART`] and [`BUZZ`] in those units.
    apart: i64,
    buzz: i64,
    when: &'a dyn Fn(Position) -> i64,
}

/// One stroke of a written attack.
struct Stroke {
    at: i64,
    /// Its place in the music, where it has one.
    place: Option<Position>,
    /// How much louder than the note, in decibels.
    db: f32,
    hand: Option<Sticking>,
}

impl Figure<'_> {
    /// Its strokes in order: the grace strokes, the note, those of a roll.
    fn strokes(&self) -> Vec<Stroke> {
        let hand = self.marks.sticking;
        let mut strokes = self.graces();
        strokes.push(Stroke { at: self.at, place: Some(self.place), db: 0.0, hand });
        let mut rolling = hand;
        for (at, place) in self.roll() {
            rolling = other(rolling);
            strokes.push(Stroke { at, place, db: ROLL_DB, hand: rolling });
        }
        strokes
    }

    fn graces(&self) -> Vec<Stroke> {
        let graces = i64::from(self.marks.grace.strokes());
        let hand = self.marks.sticking;
        // Where the note before is near, they stay in the half of the way that is this note's.
        let room = |before: i64| (self.at - before) / (2 * graces);
        let stroke = |number: i64| {
            let apart = self.before.map_or(self.apart, |before| room(before).min(self.apart));
            let hand = if number % 2 == 1 { other(hand) } else { hand };
            Stroke { at: self.at - apart * number, place: None, db: GRACE_DB, hand }
        };
        (1..=graces).rev().map(stroke).collect()
    }

    /// When a roll strikes after its first stroke, until the note ends.
    fn roll(&self) -> Vec<(i64, Option<Position>)> {
        match self.marks.roll {
            None => Vec::new(),
            Some(Roll::Measured(slashes)) => {
                // One slash is eighths; each more halves them.
                let every = Span::EIGHTH / (1_i64 << slashes.saturating_sub(1).min(8));
                let strokes = (1..).map(|number| every * number).take_while(|into| *into < self.length);
                let places = strokes.map(|into| self.place + into);
                places.map(|place| ((self.when)(place), Some(place))).collect()
            }
            Some(Roll::Unmeasured) => {
                let strokes = (1..).map(|number| self.at + self.buzz * number);
                strokes.take_while(|at| at + self.buzz <= self.end).map(|at| (at, None)).collect()
            }
        }
    }
}

/// A stroke that sounds: a written attack, a grace stroke before one, or one of a roll.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Struck {
    /// When, in the time of the tempo.
    pub at: Moment,
    /// Its place in the music; a grace stroke and those of an unmeasured roll have none.
    pub place: Option<Position>,
    /// Where the note to which it belongs ends.
    pub until: Position,
    /// How much louder than a plain attack where no loudness is written, in decibels.
    pub db: f32,
}

/// Every stroke of the claps among `cues`, in order of time, as they are heard: flams, drags, ruffs and rolls stroke by
/// stroke.
#[must_use]
pub fn struck(cues: &[Cue], tempo: &TempoMap) -> Vec<Struck> {
    let when = |place: Position| tempo.moment_at(place).since_zero().as_nanos();
    let (mut before, mut all) = (None, Vec::new());
    for cue in cues {
        let Cued::Clap { length, marks, louder, .. } = cue.cued else { continue };
        let (at, until) = (when(cue.at), cue.at + length);
        let (apart, buzz) = (GRACE_APART.as_nanos(), BUZZ.as_nanos());
        let end = when(until);
        let figure = Figure { at, end, before, place: cue.at, length, marks, apart, buzz, when: &when };
        let loud = attack_db(marks.accent, louder);
        all.extend(figure.strokes().into_iter().map(|stroke| Struck {
            at: Moment::ZERO + Seconds::from_nanos(stroke.at),
            place: stroke.place,
            until,
            db: loud + stroke.db,
        }));
        before = Some(at);
    }
    all
}

/// The other hand; where none is written, none is heard.
fn other(hand: Option<Sticking>) -> Option<Sticking> {
    hand.map(|hand| match hand {
        Sticking::Left => Sticking::Right,
        Sticking::Right => Sticking::Left,
        Sticking::Both => Sticking::Both,
    })
}

/// What its bar's loudness and its accent make of a note.
fn loudness(note: &Note<'_>) -> f32 {
    factor(attack_db(note.marks.accent, note.louder))
}

/// How much louder than a plain attack where no loudness is written one is sounded, in decibels: with this accent, and so
/// many tenths of a decibel `louder` by its bar ([`crate::Cued::Clap`]).
#[must_use]
pub fn attack_db(accent: Option<Accent>, louder: i32) -> f32 {
    let accent = match accent {
        None => 0.0,
        Some(Accent::Accent) => ACCENT_DB,
        Some(Accent::Strong) => STRONG_ACCENT_DB,
    };
    accent + louder as f32 / 10.0
}

/// So many decibels as a factor of amplitude.
pub(crate) fn factor(db: f32) -> f32 {
    if db == 0.0 { 1.0 } else { 10_f32.powf(db / 20.0) }
}
