use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};

use rtrb::{Consumer, Producer, PushError, RingBuffer};
use timebase::{Frame, SampleRate};

use crate::deck::Deck;
use crate::limits::{EVENT_GAIN_MOST, GAIN_MOST, QUEUE};
use crate::programme::check_gain;
use crate::succession::Next;
use crate::{Error, Programme, SampleId, Setting, StripId};

/// Controls a [`Mixer`](crate::Mixer) from another thread, and hears from it.
///
/// Nothing here waits: a command goes into a bounded queue and takes effect at the beginning of the
/// mixer's next block, [`Mixer::look_ahead`](crate::Mixer::look_ahead) later in what is heard. What the mixer no longer needs comes back as a [`Report`] and is dropped on
/// this side, so [`Controller::next_report`] must be called now and then.
#[derive(Debug)]
pub struct Controller {
    commands: Producer<Command>,
    reports: Consumer<Report>,
    shared: Arc<Shared>,
    rate: SampleRate,
    /// The programme last sent, whose samples can be played at once.
    programme: Programme,
    /// How many programmes were sent to follow another.
    followers: u64,
}

/// What the mixer has to say. Frames count from the first one it ever rendered; those of a report may lie ahead of
/// what has been rendered by [`Mixer::look_ahead`](crate::Mixer::look_ahead).
#[derive(Debug)]
pub enum Report {
    /// Another programme began.
    Began {
        /// The rendered frame on which it began.
        at: Frame,
        /// The frame of the programme that sounded there.
        from: Frame,
        /// Whether it followed another ([`Controller::follow`]).
        follows: bool,
    },
    /// The programme was played to its end.
    Finished {
        /// The first rendered frame after it.
        at: Frame,
    },
    /// The programme was stopped and has faded.
    Stopped {
        /// The first rendered frame of silence.
        at: Frame,
    },
    /// A sound to be played at once was left out, because too many sounded already.
    Refused {
        /// The sample that was not played.
        sample: SampleId,
    },
    /// A programme that is no longer needed. Drop it here.
    Returned(Retired),
}

/// A programme that has been played and made way for another, on its way to be dropped.
#[derive(Debug)]
pub struct Retired {
    deck: Box<Deck>,
}

impl Retired {
    pub(crate) const fn new(deck: Box<Deck>) -> Self {
        Self { deck }
    }

    /// Where it had got to.
    #[must_use]
    pub fn position(&self) -> Frame {
        self.deck.position()
    }
}

impl Controller {
    /// Moves a strip to another level, 0 to [`GAIN_MOST`](crate::limits::GAIN_MOST), within [`LEVEL_RAMP`](crate::limits::LEVEL_RAMP).
    ///
    /// # Errors
    /// If `level` is no gain, the queue is full or the mixer is gone.
    pub fn set_level(&mut self, strip: StripId, level: f32) -> Result<(), Error> {
        check_gain(level, GAIN_MOST)?;
        self.send(Command::Level { strip, level })
    }

    /// Moves a strip to another level, place and muting within [`LEVEL_RAMP`](crate::limits::LEVEL_RAMP).
    ///
    /// # Errors
    /// If the setting's level is no gain or its pan beyond the sides, the queue is full or the mixer is gone.
    pub fn set(&mut self, strip: StripId, setting: Setting) -> Result<(), Error> {
        let setting = setting.checked()?;
        self.send(Command::Set { strip, setting })
    }

    /// Stops the programme with a fade of [`STOP_FADE`](crate::limits::STOP_FADE). Sounds played at once go on.
    ///
    /// # Errors
    /// If the queue is full or the mixer is gone.
    pub fn stop(&mut self) -> Result<(), Error> {
        self.send(Command::Stop)
    }

    /// Plays another programme from `from` on; the one before fades out meanwhile and comes back as
    /// [`Report::Returned`]. [`Report::Began`] says on which rendered frame it began.
    ///
    /// # Errors
    /// If its rate is not the mixer's, the queue is full or the mixer is gone.
    pub fn replace(&mut self, programme: &Programme, from: Frame) -> Result<(), Error> {
        let (given, runs) = (programme.bank().rate().hz(), self.rate.hz());
        if given != runs {
            return Err(Error::Rate { given, runs });
        }
        self.send(Command::Replace(Box::new(Deck::new(programme, from))))?;
        self.programme = programme.clone();
        Ok(())
    }

    /// Lets another programme follow the one last sent without a gap: it begins, at its frame `from`, exactly when that one
    /// reaches its frame `at`, and what still sounds of that one rings on and comes back as [`Report::Returned`] when it
    /// has. [`Report::Began`] says on which rendered frame it began. One that comes too late begins at once in its middle, where it
    /// would be by then. One programme may wait so; a stop or another programme drops it.
    ///
    /// # Errors
    /// If its rate is not the mixer's, the programme last sent ends before `at`, another waits already, the queue is full or the
    /// mixer is gone.
    pub fn follow(&mut self, programme: &Programme, from: Frame, at: Frame) -> Result<(), Error> {
        check_follower(self.rate, &self.programme, programme, at)?;
        if self.followers > self.shared.followed.load(Ordering::Relaxed) {
            return Err(Error::NextWaits);
        }
        self.send(Command::Follow(Next { deck: Box::new(Deck::new(programme, from)), at }))?;
        self.followers += 1;
        self.programme = programme.clone();
        Ok(())
    }

    /// Plays a sample of the programme last sent at once: from the beginning of the mixer's next block,
    /// the look-ahead later.
    ///
    /// # Errors
    /// If that programme's bank has no such sample, `gain` is none, the queue is full or the mixer is gone.
    pub fn play(&mut self, sample: SampleId, gain: f32, strip: StripId) -> Result<(), Error> {
        check_gain(gain, EVENT_GAIN_MOST)?;
        let bank = self.programme.bank();
        if bank.sample(sample).is_none() {
            return Err(Error::UnknownThrough { given: sample.index(), held: bank.len() });
        }
        self.send(Command::Play { sample, gain, strip })
    }

    /// What the mixer has said since, one at a time; nothing when all is heard.
    pub fn next_report(&mut self) -> Option<Report> {
        self.reports.pop().ok()
    }

    /// The frame of the programme that the mixer rendered last, as of its last block.
    #[must_use]
    pub fn position(&self) -> Frame {
        Frame::new(self.shared.position.load(Ordering::Relaxed))
    }

    /// Every frame the mixer has rendered, as of its last block.
    #[must_use]
    pub fn rendered(&self) -> Frame {
        Frame::new(self.shared.rendered.load(Ordering::Relaxed))
    }

    /// How many reports were dropped because nobody heard the ones before. [`Report::Returned`] is never dropped.
    #[must_use]
    pub fn lost_reports(&self) -> u64 {
        self.shared.lost.load(Ordering::Relaxed)
    }

    fn send(&mut self, command: Command) -> Result<(), Error> {
        if self.commands.is_abandoned() {
            return Err(Error::MixerGone);
        }
        self.commands.push(command).map_err(|_| Error::QueueFull)
    }
}

/// What the controller asks for.
#[derive(Debug)]
pub(crate) enum Command {
    Level { strip: StripId, level: f32 },
    Set { strip: StripId, setting: Setting },
    Stop,
    Replace(Box<Deck>),
    Follow(Next),
    Play { sample: SampleId, gain: f32, strip: StripId },
}

/// Numbers that are only looked at, never waited for.
#[derive(Debug, Default)]
struct Shared {
    rendered: AtomicI64,
    position: AtomicI64,
    lost: AtomicU64,
    /// How many programmes that were to follow another have begun, or never will.
    followed: AtomicU64,
}

/// Refuses a programme that cannot follow `present` at its frame `at`.
pub(crate) fn check_follower(
    rate: SampleRate,
    present: &Programme,
    next: &Programme,
    at: Frame,
) -> Result<(), Error> {
    let (given, runs) = (next.bank().rate().hz(), rate.hz());
    if given != runs {
        return Err(Error::Rate { given, runs });
    }
    let length = present.length().count();
    if at > Frame::ZERO + present.length() {
        return Err(Error::FollowFrame { given: at.index(), length });
    }
    Ok(())
}

/// The mixer's end of the queues. Every function is real-time: no allocation, lock, I/O or panic.
#[derive(Debug)]
pub(crate) struct Link {
    commands: Consumer<Command>,
    reports: Producer<Report>,
    shared: Arc<Shared>,
}

impl Link {
    pub(crate) fn new(rate: SampleRate, programme: Programme, position: Frame) -> (Self, Controller) {
        let (to_mixer, commands) = RingBuffer::new(QUEUE);
        let (reports, from_mixer) = RingBuffer::new(QUEUE);
        let shared = Arc::new(Shared::default());
        shared.position.store(position.index(), Ordering::Relaxed);
        let link = Self { commands, reports, shared: Arc::clone(&shared) };
        (link, Controller { commands: to_mixer, reports: from_mixer, shared, rate, programme, followers: 0 })
    }

    /// The next command; another programme only if it `may_replace` the present one, or `may_follow` it.
    pub(crate) fn next_command(&mut self, may_replace: bool, may_follow: bool) -> Option<Command> {
        match self.commands.peek() {
            Ok(Command::Replace(_)) if !may_replace => None,
            Ok(Command::Follow(_)) if !may_follow => None,
            _ => self.commands.pop().ok(),
        }
    }

    /// Says something that owns no memory; drops and counts it where there is no room.
    pub(crate) fn report(&mut self, report: Report) {
        if self.reports.push(report).is_err() {
            self.shared.lost.fetch_add(1, Ordering::Relaxed);
        }
    }

    /// Sends memory back to be dropped; gives it back where there is no room.
    pub(crate) fn give_back(&mut self, retired: Retired) -> Option<Box<Deck>> {
        match self.reports.push(Report::Returned(retired)) {
            Err(PushError::Full(Report::Returned(retired))) => Some(retired.deck),
            _ => None,
        }
    }

    /// A programme that was to follow another has begun, or never will.
    pub(crate) fn followed(&self) {
        self.shared.followed.fetch_add(1, Ordering::Relaxed);
    }

    pub(crate) fn publish(&self, rendered: Frame, position: Frame) {
        self.shared.rendered.store(rendered.index(), Ordering::Relaxed);
        self.shared.position.store(position.index(), Ordering::Relaxed);
    }
}
