use std::collections::HashMap;

use mixer::{Bank, Programme, SampleId, SoundEvent};
use timebase::{Frame, Frames, Moment, Position, SampleRate};
use voice::{Fit, RecordingId, VoicePack};

use crate::clicks::Clicks;
use crate::levels::COUNT;
use crate::limits::SOFTER_DB;
use crate::strokes::{Note, Strokes, factor};
use crate::words::{self, Next, Spoken};
use crate::{Cue, Cued, Error, Sequence, Speech};

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

/// Makes the cues of `sequence` sound: clicks, claps, tones and the voice's syllables, each with its attack or its
/// perceptual centre on the frame of its beat.
///
/// The programme begins with the lead-in and runs at the voice's sample rate. The words of a bar are said at one speed where
/// they can be. A word that has no room is said in a shorter form, or cut; where that is not enough only the beats are
/// said; never is a word piled on the next. [`Sounding::compromises`] tells where. Every attack is there as a clap and as a
/// tone: [`Levels`](crate::Levels) say which of them are heard.
///
/// # Errors
/// If the voice cannot say a word, or the sequence lasts longer than a programme may.
pub fn lower(sequence: &Sequence, voice: &VoicePack) -> Result<Sounding, Error> {
    let rate = voice.rate();
    if let Some(words) = sequence.plan().choice().entry.words()
        && let Some(missing) = words.into_iter().find(|word| !voice.says(word))
    {
        return Err(Error::EntryWord { voice: voice.name().to_owned(), word: missing });
    }
    let bar_one = Frame::at(Moment::ZERO + sequence.before_bar_one(), rate);
    let frame_of = |at: Position| bar_one + (sequence.tempo().frame_at(at, rate) - Frame::ZERO);

    let mut bank = Bank::new(rate);
    let mut events = Vec::with_capacity(2 * sequence.cues().len());
    let clicks = Clicks::new(&mut bank);
    events.extend(sequence.cues().iter().filter_map(|cue| clicks.event(cue, frame_of(cue.at))));
    let strokes = Strokes::new(&mut bank);
    strike(sequence.cues(), &frame_of, &strokes, &mut events);
    let compromises = say(sequence, &frame_of, voice, &mut bank, &mut events)?;
    events.iter_mut().for_each(not_before_the_beginning);

    let length = Frames::of(sequence.sounding_length(), rate);
    let clap = strokes.clap();
    Ok(Sounding { programme: Programme::new(bank, events, length)?, bar_one, clap, compromises })
}

fn strike(
    cues: &[Cue],
    frame_of: &impl Fn(Position) -> Frame,
    strokes: &Strokes,
    events: &mut Vec<SoundEvent>,
) {
    let mut before = None;
    for cue in cues {
        let Cued::Clap { length, marks, .. } = cue.cued else { continue };
        let (at, end) = (frame_of(cue.at), frame_of(cue.at + length));
        let note = Note { at, end, before, place: cue.at, length, marks, frame_of };
        strokes.claps(&note, events);
        events.push(strokes.held(&note));
        before = Some(at);
    }
}

fn say(
    sequence: &Sequence,
    frame_of: &impl Fn(Position) -> Frame,
    voice: &VoicePack,
    bank: &mut Bank,
    events: &mut Vec<SoundEvent>,
) -> Result<Vec<Compromise>, Error> {
    let said: Vec<&Cue> =
        sequence.cues().iter().filter(|cue| matches!(cue.cued, Cued::Count { .. })).collect();
    let words = spoken(sequence, &said, frame_of);
    let fitted = words::fit(&words, Next { at: frame_of(sequence.end()), lead: Frames::ZERO }, voice)?;
    let mut syllables: HashMap<(RecordingId, bool), SampleId> = HashMap::new();
    let mut compromises = Vec::new();
    for ((cue, word), fitted) in said.iter().zip(&words).zip(fitted) {
        if fitted.is_none_or(|fitted| fitted.fit != Fit::Whole) {
            let fit = fitted.map(|fitted| fitted.fit);
            compromises.push(Compromise { at: cue.at, word: word.word.to_owned(), fit });
        }
        let Some(fitted) = fitted else { continue };
        let whispered = word.speech == Speech::Whispered;
        let recording = voice.recording(fitted.recording);
        let sample = *syllables.entry((fitted.recording, whispered)).or_insert_with(|| {
            bank.add(if whispered { recording.whispered() } else { recording.sample().clone() })
        });
        let gain = if word.speech == Speech::Aloud { 1.0 } else { factor(SOFTER_DB) };
        events.push(SoundEvent { gain, ..fitted.event(word.at, sample, COUNT) });
    }
    Ok(compromises)
}

/// The words of these cues, each with its bar and its beat. What is counted in is a bar of its own.
fn spoken<'a>(
    sequence: &Sequence,
    said: &[&'a Cue],
    frame_of: &impl Fn(Position) -> Frame,
) -> Vec<Spoken<'a>> {
    let (bars, beats) = (sequence.performance().bars(), sequence.beats());
    let spoken = |cue: &&'a Cue| {
        let Cued::Count { say, speech, .. } = &cue.cued else { return None };
        let beat = beats.partition_point(|(at, _)| *at <= cue.at);
        Some(Spoken {
            word: say.as_str(),
            speech: *speech,
            at: frame_of(cue.at),
            bar: bars.partition_point(|bar| bar.start <= cue.at),
            beat,
            on_beat: beat.checked_sub(1).is_some_and(|beat| beats[beat].0 == cue.at),
        })
    };
    said.iter().filter_map(spoken).collect()
}

/// What would begin before the lead-in, a voice with a long consonant or grace strokes, begins inside it.
fn not_before_the_beginning(event: &mut SoundEvent) {
    let missing = Frame::ZERO - event.at;
    if missing > Frames::ZERO {
        event.at = Frame::ZERO;
        event.from += missing;
        event.length = event.length.map(|length| (length - missing).max(Frames::ZERO));
    }
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
