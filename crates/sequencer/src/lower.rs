use std::collections::HashMap;
use std::sync::Arc;

use mixer::{Bank, Programme, SampleId, SoundEvent};
use timebase::{Frame, Frames, Moment, Position, SampleRate, TempoMap};
use voice::{Fit, RecordingId, VoicePack, percussion};

use crate::drill::Round;
use crate::levels::{CLAP, CLICK, COUNT};
use crate::limits::LEAD_IN;
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

/// Everything a voice can say and the sounds that are struck, in one bank: made once, shared by all that is made sound with it.
#[derive(Clone, Debug)]
pub struct Sounds {
    voice: VoicePack,
    bank: Arc<Bank>,
    plain: Placed,
    accent: Placed,
    clap: Placed,
    syllables: HashMap<RecordingId, SampleId>,
}

/// A struck sound in the bank.
#[derive(Clone, Copy, Debug)]
struct Placed {
    sample: SampleId,
    attack: Frames,
}

/// Cues that are to sound in one programme.
struct Part<'a> {
    cues: &'a [Cue],
    tempo: &'a TempoMap,
    /// The frame of the programme on which frame 0 of `tempo` falls.
    zero: Frame,
    length: Frames,
    /// How early before the end the word of whatever comes next may begin.
    next_lead: Frames,
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
    Sounds::of(voice).lower(sequence)
}

impl Sounds {
    /// The sounds of this voice, at its rate.
    #[must_use]
    pub fn of(voice: &VoicePack) -> Self {
        let rate = voice.rate();
        let mut bank = Bank::new(rate);
        let mut struck =
            |sound: percussion::Struck| Placed { attack: sound.attack, sample: bank.add(sound.sample) };
        let (plain, accent) = (struck(percussion::click(false, rate)), struck(percussion::click(true, rate)));
        let clap = struck(percussion::clap(rate));
        let syllables = voice.recordings().map(|(id, recording)| (id, bank.add(recording.sample().clone())));
        let syllables = syllables.collect();
        Self { voice: voice.clone(), bank: Arc::new(bank), plain, accent, clap, syllables }
    }

    /// As [`lower`](lower()).
    ///
    /// # Errors
    /// As there.
    pub fn lower(&self, sequence: &Sequence) -> Result<Sounding, Error> {
        let rate = self.voice.rate();
        self.sounding(&Part {
            cues: sequence.cues(),
            tempo: sequence.tempo(),
            zero: Frame::at(Moment::ZERO + sequence.before_bar_one(), rate),
            length: Frames::of(sequence.sounding_length(), rate),
            next_lead: Frames::ZERO,
        })
    }

    /// The same for a round of a drill. Its programme begins with the lead-in before [`Round::sounds_from`] and is as long as the
    /// round, or until its last sound has rung out; [`Sounding::bar_one`] is the frame of the programme on which count 1 of the
    /// drill's first round would fall, so that places in the drill are frames of the programme. Its last word leaves room for the
    /// next round's first.
    ///
    /// # Errors
    /// As there.
    pub fn lower_round(&self, round: &Round) -> Result<Sounding, Error> {
        let rate = self.voice.rate();
        let first = round.tempo_map().frame_at(round.sounds_from(), rate) - Frames::of(LEAD_IN, rate);
        self.sounding(&Part {
            cues: round.cues(),
            tempo: round.tempo_map(),
            zero: Frame::ZERO - (first - Frame::ZERO),
            length: round.tempo_map().frame_at(round.end(), rate) - first,
            next_lead: self.voice.longest_lead(),
        })
    }

    fn sounding(&self, part: &Part<'_>) -> Result<Sounding, Error> {
        let rate = self.voice.rate();
        let frame_of = |at: Position| part.zero + (part.tempo.frame_at(at, rate) - Frame::ZERO);
        let struck =
            |beat: Frame, sound: Placed, strip| SoundEvent::new(beat - sound.attack, sound.sample, strip);
        let mut events = Vec::with_capacity(part.cues.len());
        let mut compromises = Vec::new();
        // From the last to the first, because how long a word may sound depends on how early the next begins.
        let mut next_lead = part.next_lead;
        for cue in part.cues.iter().rev() {
            let beat = frame_of(cue.at);
            match &cue.cued {
                Cued::Click { accented: true } => events.push(struck(beat, self.accent, CLICK)),
                Cued::Click { accented: false } => events.push(struck(beat, self.plain, CLICK)),
                Cued::Clap { .. } => events.push(struck(beat, self.clap, CLAP)),
                Cued::Count { say, slot, .. } => {
                    let room = (frame_of(cue.at + *slot) - beat).seconds(rate);
                    let fitted = self.voice.fit_before(say.as_str(), room, next_lead)?;
                    if fitted.is_none_or(|fitted| fitted.fit != Fit::Whole) {
                        let fit = fitted.map(|fitted| fitted.fit);
                        compromises.push(Compromise { at: cue.at, word: say.to_string(), fit });
                    }
                    next_lead = Frames::ZERO;
                    if let Some(fitted) = fitted {
                        let sample = self.syllables[&fitted.recording];
                        events.push(not_before_the_beginning(fitted.event(beat, sample, COUNT)));
                        next_lead = fitted.centre;
                    }
                }
            }
        }
        events.reverse();
        compromises.reverse();
        let programme = Programme::new(Arc::clone(&self.bank), events, part.length)?;
        Ok(Sounding { programme, bar_one: part.zero, clap: self.clap.sample, compromises })
    }
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
