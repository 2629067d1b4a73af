use mixer::{Bank, SampleId, SoundEvent};
use rhythm::{Accent, Marks, Roll, Sticking};
use timebase::{Frame, Frames, Position, SampleRate, Span};
use voice::percussion;

use crate::levels::{CLAP, TONE};
use crate::limits::{
    ACCENT_DB, BOTH_DB, BUZZ, GRACE_APART, GRACE_DB, ROLL_DB, STRONG_ACCENT_DB, TONE_RELEASE,
};
use crate::tone;

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
        let hand = note.marks.sticking;
        let mut strike = |at: Frame, gain: f32, hand: Option<Sticking>| {
            let gain = gain * if hand == Some(Sticking::Both) { factor(BOTH_DB) } else { 1.0 };
            for sample in self.hand(hand) {
                events.push(SoundEvent { gain, ..SoundEvent::new(at - self.attack, sample, CLAP) });
            }
        };
        let graces = i64::from(note.marks.grace.strokes());
        if graces > 0 {
            let apart = Frames::of(GRACE_APART, self.rate);
            // Where the note before is near, they stay in the half of the way that is this note's.
            let room =
                note.before.map_or(apart, |before| Frames::new((note.at - before).count() / (2 * graces)));
            for number in (1..=graces).rev() {
                let at = note.at - Frames::new(apart.min(room).count() * number);
                strike(at, gain * factor(GRACE_DB), if number % 2 == 1 { other(hand) } else { hand });
            }
        }
        strike(note.at, gain, hand);
        let mut rolling = hand;
        for at in self.roll(note) {
            rolling = other(rolling);
            strike(at, gain * factor(ROLL_DB), rolling);
        }
    }

    /// Where a roll strikes after its first stroke, until the note ends.
    fn roll(&self, note: &Note<'_>) -> Vec<Frame> {
        match note.marks.roll {
            None => Vec::new(),
            Some(Roll::Measured(slashes)) => {
                // One slash is eighths; each more halves them.
                let every = Span::EIGHTH / (1_i64 << slashes.saturating_sub(1).min(8));
                let strokes = (1..).map(|number| every * number).take_while(|into| *into < note.length);
                strokes.map(|into| (note.frame_of)(note.place + into)).collect()
            }
            Some(Roll::Unmeasured) => {
                let every = Frames::of(BUZZ, self.rate);
                let strokes = (1..).map(|number| note.at + Frames::new(every.count() * number));
                strokes.take_while(|at| *at + every <= note.end).collect()
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
