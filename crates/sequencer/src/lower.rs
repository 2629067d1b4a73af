use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use mixer::{Bank, Programme, SampleId, SoundEvent};
use timebase::{Frame, Frames, Moment, Position, SampleRate, TempoMap};
use voice::{Drum, Fit, RecordingId, VoicePack};

use crate::clicks::Clicks;
use crate::drill::{Drill, Round};
use crate::levels::COUNT;
use crate::limits::{LEAD_IN, SOFTER_DB};
use crate::strokes::{Note, Strokes, factor};
use crate::words::{self, Next, Spoken};
use crate::{Cue, Cued, Entry, Error, Sequence, Speech};

/// A sequence made sound.
#[derive(Clone, Debug)]
pub struct Sounding {
    programme: Programme,
    bar_one: Frame,
    pads: Pads,
    compromises: Vec<Compromise>,
}

/// What pads sound like that make no sound of their own, in the bank of a [`Sounding`].
#[derive(Clone, Debug)]
pub struct Pads {
    clap: SampleId,
    drums: Arc<HashMap<Drum, SampleId>>,
}

impl Pads {
    /// One that claps, whatever is struck.
    #[must_use]
    pub fn clapping(clap: SampleId) -> Self {
        Self { clap, drums: Arc::default() }
    }

    /// The drum, or the clap where drums were not made ([`Sounds::with_drums`]).
    #[must_use]
    pub fn sound(&self, drum: Drum) -> SampleId {
        self.drums.get(&drum).copied().unwrap_or(self.clap)
    }
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

/// Words of a voice and the sounds that are struck, in one bank: made once, shared by all that is made sound with it.
#[derive(Clone, Debug)]
pub struct Sounds {
    voice: VoicePack,
    bank: Arc<Bank>,
    clicks: Clicks,
    strokes: Strokes,
    syllables: HashMap<RecordingId, SampleId>,
    /// The same in a whisper, where they were made.
    whispered: HashMap<RecordingId, SampleId>,
    /// What pads sound like, where that was made.
    drums: Arc<HashMap<Drum, SampleId>>,
}

/// Cues that are to sound in one programme.
struct Part<'a> {
    cues: &'a [Cue],
    /// Every felt beat, and whether it is count 1 of a bar.
    beats: &'a [(Position, bool)],
    tempo: &'a TempoMap,
    /// The frame of the programme on which frame 0 of `tempo` falls.
    zero: Frame,
    length: Frames,
    /// Where whatever comes next falls.
    end: Position,
    /// How early before it its word may begin.
    next_lead: Frames,
}

impl Part<'_> {
    fn frame_of(&self, at: Position, rate: SampleRate) -> Frame {
        self.zero + (self.tempo.frame_at(at, rate) - Frame::ZERO)
    }
}

/// Makes the cues of `sequence` sound: clicks, claps, tones and the voice's syllables, each with its attack or its
/// perceptual centre on the frame of its beat.
///
/// The programme begins with the lead-in and runs at the voice's sample rate. The words of a bar are said at one speed where
/// they can be. A word that has no room is said in a shorter form, or cut, or the next begins late; where that is not enough only the beats are
/// said; never is a word piled on the next. [`Sounding::compromises`] tells where. Every attack is there as a clap and as a
/// tone: [`Levels`](crate::Levels) say which of them are heard.
///
/// # Errors
/// If the voice cannot say a word, or the sequence lasts longer than a programme may.
pub fn lower(sequence: &Sequence, voice: &VoicePack) -> Result<Sounding, Error> {
    Sounds::of_sequence(sequence, voice).lower(sequence)
}

fn can_say(voice: &VoicePack, entry: Entry) -> Result<(), Error> {
    let lacks = |word: &&str| !voice.says(word) || voice.borrows(word).is_some();
    let words = entry.words().into_iter().flatten().filter(lacks);
    let words = words.map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(", ");
    if words.is_empty() {
        return Ok(());
    }
    Err(Error::EntryWord { voice: voice.name().to_owned(), words })
}

impl Sounds {
    /// The sounds of this voice for what is said in `sequence`, whispers too where something is whispered.
    #[must_use]
    pub fn of_sequence(sequence: &Sequence, voice: &VoicePack) -> Self {
        let words = sequence.cues().iter().filter_map(|cue| match &cue.cued {
            Cued::Count { say, .. } => Some(say.as_str()),
            _ => None,
        });
        let sounds = Self::of(voice, words);
        if sequence.cues().iter().any(Cue::is_whispered) { sounds.with_whispers() } else { sounds }
    }

    /// The sounds of this voice for what is said in any round of `drill`, whispers too where something is whispered.
    ///
    /// # Errors
    /// If the voice cannot say the words of its entry.
    pub fn of_drill(drill: &Drill, voice: &VoicePack) -> Result<Self, Error> {
        can_say(voice, drill.plan().count_in.entry)?;
        let words = drill.words();
        let sounds = Self::of(voice, words.iter().map(|word| word.as_str()));
        Ok(if drill.is_whispered() { sounds.with_whispers() } else { sounds })
    }

    /// The sounds of this voice for what says no more than these words, at its rate. Counts to be whispered are said
    /// softly, unless there are whispers ([`Self::with_whispers`]).
    #[must_use]
    pub fn of<'a>(voice: &VoicePack, words: impl IntoIterator<Item = &'a str>) -> Self {
        let mut bank = Bank::new(voice.rate());
        let (clicks, strokes) = (Clicks::new(&mut bank), Strokes::new(&mut bank));
        let words: BTreeSet<&str> = words.into_iter().collect();
        let mut syllables = HashMap::new();
        for form in words.into_iter().flat_map(|word| voice.forms(word)) {
            syllables.entry(form).or_insert_with(|| bank.add(voice.recording(form).sample().clone()));
        }
        let (whispered, drums) = (HashMap::new(), Arc::default());
        Self { voice: voice.clone(), bank: Arc::new(bank), clicks, strokes, syllables, whispered, drums }
    }

    /// The same, with drums for pads that sound at once ([`Sounding::pads`]). Made by arithmetic, which takes some time.
    #[must_use]
    pub fn with_drums(mut self) -> Self {
        let mut bank = (*self.bank).clone();
        let rate = bank.rate();
        self.drums =
            Arc::new(Drum::ALL.into_iter().map(|drum| (drum, bank.add(drum.sound(rate).sample))).collect());
        self.bank = Arc::new(bank);
        self
    }

    /// The same, with every word in a whisper too. Made by filters, which takes some time.
    #[must_use]
    pub fn with_whispers(mut self) -> Self {
        let mut bank = (*self.bank).clone();
        let mut forms: Vec<RecordingId> = self.syllables.keys().copied().collect();
        forms.sort_unstable();
        let whisper = |form| (form, bank.add(self.voice.recording(form).whispered()));
        self.whispered = forms.into_iter().map(whisper).collect();
        self.bank = Arc::new(bank);
        self
    }

    /// As [`lower`](lower()).
    ///
    /// # Errors
    /// As there.
    ///
    /// # Panics
    /// If a word is to be said that these are not the sounds of.
    pub fn lower(&self, sequence: &Sequence) -> Result<Sounding, Error> {
        let rate = self.voice.rate();
        can_say(&self.voice, sequence.plan().choice().entry)?;
        self.sounding(&Part {
            cues: sequence.cues(),
            beats: sequence.beats(),
            tempo: sequence.tempo(),
            zero: Frame::at(Moment::ZERO + sequence.before_bar_one(), rate),
            length: Frames::of(sequence.sounding_length(), rate),
            end: sequence.end(),
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
            beats: round.beats(),
            tempo: round.tempo_map(),
            zero: Frame::ZERO - (first - Frame::ZERO),
            length: round.tempo_map().frame_at(round.end(), rate) - first,
            end: round.end(),
            next_lead: self.voice.longest_lead(),
        })
    }

    fn sounding(&self, part: &Part<'_>) -> Result<Sounding, Error> {
        let rate = self.voice.rate();
        let frame_of = |at: Position| part.frame_of(at, rate);
        let mut events = Vec::with_capacity(2 * part.cues.len());
        events.extend(part.cues.iter().filter_map(|cue| self.clicks.event(cue, frame_of(cue.at))));
        strike(part.cues, &frame_of, &self.strokes, &mut events);
        let compromises = self.say(part, &mut events)?;
        events.iter_mut().for_each(not_before_the_beginning);
        let programme = Programme::new(Arc::clone(&self.bank), events, part.length)?;
        let pads = Pads { clap: self.strokes.clap(), drums: Arc::clone(&self.drums) };
        Ok(Sounding { programme, bar_one: part.zero, pads, compromises })
    }

    fn say(&self, part: &Part<'_>, events: &mut Vec<SoundEvent>) -> Result<Vec<Compromise>, Error> {
        let rate = self.voice.rate();
        let said: Vec<&Cue> = part.cues.iter().filter(|cue| matches!(cue.cued, Cued::Count { .. })).collect();
        let words = spoken(part, &said, rate);
        let next = Next { at: part.frame_of(part.end, rate), lead: part.next_lead, late: None };
        let fitted = words::fit(&words, next, &self.voice)?;
        let mut compromises = Vec::new();
        for ((cue, word), fitted) in said.iter().zip(&words).zip(fitted) {
            if fitted.is_none_or(|fitted| fitted.fit != Fit::Whole) {
                let fit = fitted.map(|fitted| fitted.fit);
                compromises.push(Compromise { at: cue.at, word: word.word.to_owned(), fit });
            }
            let Some(fitted) = fitted else { continue };
            let plain = self.syllables[&fitted.recording];
            let whispered = self.whispered.get(&fitted.recording).copied().unwrap_or(plain);
            let (sample, gain) = match word.speech {
                Speech::Aloud => (plain, 1.0),
                Speech::Softer => (plain, factor(SOFTER_DB)),
                Speech::Whispered => (whispered, factor(SOFTER_DB)),
            };
            events.push(SoundEvent { gain, ..fitted.event(word.at, sample, COUNT) });
        }
        Ok(compromises)
    }
}

fn strike(
    cues: &[Cue],
    frame_of: &impl Fn(Position) -> Frame,
    strokes: &Strokes,
    events: &mut Vec<SoundEvent>,
) {
    let mut before = None;
    for cue in cues {
        let (length, marks, louder, is_held, is_clapped) = match cue.cued {
            Cued::Clap { length, marks, louder, held, .. } => (length, marks, louder, held, true),
            Cued::Tone { length, marks, louder } => (length, marks, louder, true, false),
            _ => continue,
        };
        let (at, end) = (frame_of(cue.at), frame_of(cue.at + length));
        let note = Note { at, end, before, place: cue.at, length, marks, louder, frame_of };
        if is_clapped {
            strokes.claps(&note, events);
            before = Some(at);
        }
        if is_held {
            events.push(strokes.held(&note));
        }
    }
}

/// The words of these cues, each with its bar and its beat. What is counted in is a bar of its own.
fn spoken<'a>(part: &Part<'_>, said: &[&'a Cue], rate: SampleRate) -> Vec<Spoken<'a>> {
    let mut bars = 0;
    let bar_of: Vec<usize> = part
        .beats
        .iter()
        .map(|&(_, is_first)| {
            bars += usize::from(is_first);
            bars
        })
        .collect();
    let spoken = |cue: &&'a Cue| {
        let Cued::Count { say, speech, .. } = &cue.cued else { return None };
        let beat = part.beats.partition_point(|(at, _)| *at <= cue.at);
        let begun = beat.checked_sub(1);
        Some(Spoken {
            word: say.as_str(),
            speech: *speech,
            at: part.frame_of(cue.at, rate),
            bar: begun.map_or(0, |begun| bar_of[begun]),
            beat,
            on_beat: begun.is_some_and(|begun| part.beats[begun].0 == cue.at),
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
        self.pads.clap
    }

    /// What a pad sounds like at once.
    #[must_use]
    pub fn pads(&self) -> &Pads {
        &self.pads
    }

    /// The words that did not fit whole, in order of place.
    #[must_use]
    pub fn compromises(&self) -> &[Compromise] {
        &self.compromises
    }
}
