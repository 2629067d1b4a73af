use std::collections::HashMap;

use mixer::{Bank, Programme, SampleId, SoundEvent};
use timebase::{Frame, Frames, Moment, Position, SampleRate};
use voice::{Fit, RecordingId, VoicePack, percussion};

use crate::levels::{CLAP, CLICK, COUNT};
use crate::words::{self, Next, Spoken};
use crate::{Cue, Cued, Error, Sequence};

/// A sequence made sound.
#[derive(Clone, Debug)]
pub struct Sounding {
    programme: Programme,
    bar_one: Frame,
    clap: SampleId,
    compromises: Vec<Compromise>,
}

/// A word that did not fit whole between its beat and the next word.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Compromise {
    /// Where.
    pub at: Position,
    /// The word.
    pub word: String,
    /// What was done: cut, said in a weaker form, or (`None`) left out.
    pub fit: Option<Fit>,
}

/// Makes the cues of `sequence` sound: a click, a clap and the voice's syllables, each with its attack or its
/// perceptual centre on the frame of its beat.
///
/// The programme begins with the lead-in and runs at the voice's sample rate. The words of a
/// bar are said at one speed where they can be. A word that has no room is said in a shorter form, or cut; where that is
/// not enough only the beats are said; never is a word piled on the next. [`Sounding::compromises`] tells where.
///
/// # Errors
/// If the voice cannot say a word, or the sequence lasts longer than a programme may.
pub fn lower(sequence: &Sequence, voice: &VoicePack) -> Result<Sounding, Error> {
    let rate = voice.rate();
    let bar_one = Frame::at(Moment::ZERO + sequence.before_bar_one(), rate);
    let frame_of = |at: Position| bar_one + (sequence.tempo().frame_at(at, rate) - Frame::ZERO);

    let mut bank = Bank::new(rate);
    let plain = percussion::click(false, rate);
    let accented = percussion::click(true, rate);
    let clap = percussion::clap(rate);
    let (plain_attack, accented_attack, clap_attack) = (plain.attack, accented.attack, clap.attack);
    let plain = bank.add(plain.sample);
    let accent = bank.add(accented.sample);
    let clap = bank.add(clap.sample);
    let mut syllables: HashMap<RecordingId, SampleId> = HashMap::new();

    let mut events = Vec::with_capacity(sequence.cues().len());
    let mut compromises = Vec::new();
    for cue in sequence.cues() {
        let beat = frame_of(cue.at);
        match &cue.cued {
            Cued::Click { accented: true } => {
                events.push(SoundEvent::new(beat - accented_attack, accent, CLICK));
            }
            Cued::Click { accented: false } => {
                events.push(SoundEvent::new(beat - plain_attack, plain, CLICK));
            }
            Cued::Clap { .. } => events.push(SoundEvent::new(beat - clap_attack, clap, CLAP)),
            Cued::Count { .. } => {}
        }
    }
    let said: Vec<&Cue> =
        sequence.cues().iter().filter(|cue| matches!(cue.cued, Cued::Count { .. })).collect();
    let words = spoken(sequence, &said, &frame_of);
    let fitted = words::fit(&words, Next { at: frame_of(sequence.end()), lead: Frames::ZERO }, voice)?;
    for ((cue, word), fitted) in said.iter().zip(&words).zip(fitted) {
        if fitted.is_none_or(|fitted| fitted.fit != Fit::Whole) {
            let fit = fitted.map(|fitted| fitted.fit);
            compromises.push(Compromise { at: cue.at, word: word.word.to_owned(), fit });
        }
        if let Some(fitted) = fitted {
            let sample = *syllables
                .entry(fitted.recording)
                .or_insert_with(|| bank.add(voice.recording(fitted.recording).sample().clone()));
            events.push(not_before_the_beginning(fitted.event(word.at, sample, COUNT)));
        }
    }
    let length = Frames::of(sequence.sounding_length(), rate);
    Ok(Sounding { programme: Programme::new(bank, events, length)?, bar_one, clap, compromises })
}

/// The words of these cues, each with its bar and its beat. What is counted in is a bar of its own.
fn spoken<'a>(
    sequence: &Sequence,
    said: &[&'a Cue],
    frame_of: &impl Fn(Position) -> Frame,
) -> Vec<Spoken<'a>> {
    let (bars, beats) = (sequence.performance().bars(), sequence.beats());
    let spoken = |cue: &&'a Cue| {
        let Cued::Count { say, .. } = &cue.cued else { return None };
        let beat = beats.partition_point(|(at, _)| *at <= cue.at);
        Some(Spoken {
            word: say.as_str(),
            at: frame_of(cue.at),
            bar: bars.partition_point(|bar| bar.start <= cue.at),
            beat,
            on_beat: beat.checked_sub(1).is_some_and(|beat| beats[beat].0 == cue.at),
        })
    };
    said.iter().filter_map(spoken).collect()
}

/// A voice with a longer consonant than the lead-in has room for begins inside it.
fn not_before_the_beginning(mut event: SoundEvent) -> SoundEvent {
    let missing = Frame::ZERO - event.at;
    if missing > Frames::ZERO {
        event.at = Frame::ZERO;
        event.from += missing;
        event.length = event.length.map(|length| (length - missing).max(Frames::ZERO));
    }
    event
}

impl Sounding {
    /// What is rendered: it begins with the lead-in.
    #[must_use]
    pub fn programme(&self) -> &Programme {
        &self.programme
    }

    /// The frame of the programme on which count 1 of bar 1 falls.
    #[must_use]
    pub fn bar_one(&self) -> Frame {
        self.bar_one
    }

    /// The programme's sample rate.
    #[must_use]
    pub fn rate(&self) -> SampleRate {
        self.programme.bank().rate()
    }

    /// The clap, for sounding a stroke at once or rendering a player's strokes.
    #[must_use]
    pub fn clap(&self) -> SampleId {
        self.clap
    }

    /// The words that did not fit whole, in order of place.
    #[must_use]
    pub fn compromises(&self) -> &[Compromise] {
        &self.compromises
    }
}
