use std::collections::HashMap;

use mixer::{Bank, Programme, SampleId, SoundEvent};
use timebase::{Frame, Frames, Moment, Position, SampleRate};
use voice::{Fit, RecordingId, VoicePack, percussion};

use crate::levels::{CLAP, CLICK, COUNT};
use crate::{Cued, Error, Sequence};

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
/// The programme begins with the lead-in and runs at the voice's sample rate. A word that has no room is cut,
/// weakened or left out, never piled on the next; [`Sounding::compromises`] tells where.
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
    // From the last to the first, because how long a word may sound depends on how early the next begins.
    let mut next_lead = Frames::ZERO;
    for cue in sequence.cues().iter().rev() {
        let beat = frame_of(cue.at);
        match &cue.cued {
            Cued::Click { accented: true } => {
                events.push(SoundEvent::new(beat - accented_attack, accent, CLICK));
            }
            Cued::Click { accented: false } => {
                events.push(SoundEvent::new(beat - plain_attack, plain, CLICK));
            }
            Cued::Clap { .. } => events.push(SoundEvent::new(beat - clap_attack, clap, CLAP)),
            Cued::Count { say, slot, .. } => {
                let room = (frame_of(cue.at + *slot) - beat).seconds(rate);
                let fitted = voice.fit_before(say.as_str(), room, next_lead)?;
                if fitted.is_none_or(|fitted| fitted.fit != Fit::Whole) {
                    let fit = fitted.map(|fitted| fitted.fit);
                    compromises.push(Compromise { at: cue.at, word: say.to_string(), fit });
                }
                next_lead = Frames::ZERO;
                if let Some(fitted) = fitted {
                    let sample = *syllables
                        .entry(fitted.recording)
                        .or_insert_with(|| bank.add(voice.recording(fitted.recording).sample().clone()));
                    events.push(not_before_the_beginning(fitted.event(beat, sample, COUNT)));
                    next_lead = fitted.centre;
                }
            }
        }
    }
    events.reverse();
    compromises.reverse();
    let length = Frames::of(sequence.sounding_length(), rate);
    Ok(Sounding { programme: Programme::new(bank, events, length)?, bar_one, clap, compromises })
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
