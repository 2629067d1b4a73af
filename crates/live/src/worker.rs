//! The thread that minds the devices.

mod heard;
mod losses;
mod rounds;

use std::sync::PoisonError;
use std::time::Duration;

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender};
use input::{Echoes, Input, Notice, Order, SourceKind, Stroke, TouchedAt, View};
use mixer::Report;
use sequencer::Levels;
use take::Ended;
use take::midi::PERCUSSION_CHANNEL;
use timebase::{Frame, HostTime, Moment, Seconds};
use voice::Drum;

use self::losses::Losses;
use crate::clock::{Clock, SleepWatch};
use crate::microphone::{Microphone, MicrophoneNews};
use crate::rig::Heard;
use crate::run::Run;
use crate::sound::{Sound, SoundNews, SoundNow};
use crate::through::Through;
use crate::{Event, Measured, Phase};

/// How often the clocks are looked at while nothing is struck.
const TICK: Duration = Duration::from_millis(10);

/// How often the sound of a take is rendered on and written.
const WRITE_EVERY: Seconds = Seconds::from_millis(100);

/// How often it is asked whether time has changed what is said of somebody, so that a missed attack shows.
const JUDGE_EVERY: Seconds = Seconds::from_millis(100);

/// After a judging that took so long, the next one waits this many times as long: at most a fifth of the thread's time goes
/// into judging, however many play, and strokes are taken in meanwhile.
const JUDGE_SHARE: i64 = 4;

/// The longest wait between two judgings that the share asks for.
const JUDGE_LATEST: Seconds = Seconds::from_millis(250);

/// How often players are judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pace {
    /// As often as the computer can without missing anything else.
    OfTheComputer,
    /// One player after so much time, for an engine whose time is not the computer's.
    Every(Seconds),
}

/// How long after the end of the last bar late strokes are waited for.
const AFTER_END: Seconds = Seconds::from_millis(900);

/// A gap in the sound beyond which nobody can have played on: the drill is stopped.
const TOO_LONG: Seconds = Seconds::from_millis(1_000);

/// What the rig asks of its thread.
#[derive(Debug)]
pub(crate) enum Command {
    Start(Box<Run>),
    Stop,
    Levels(Levels),
    Close,
}

/// What a worker is made of.
pub(crate) struct Parts {
    pub(crate) sound: Sound,
    pub(crate) measured: Measured,
    pub(crate) clock: Box<dyn Clock>,
    /// How loud a stroke sounds at once, from 0 to 1.
    pub(crate) thru: f32,
    /// Where strokes are sent on to.
    pub(crate) through: Option<Through>,
    pub(crate) pace: Pace,
    pub(crate) commands: Receiver<Command>,
    pub(crate) events: Sender<Event>,
    pub(crate) heard: Heard,
    pub(crate) wake: Box<dyn Fn() + Send>,
}

pub(crate) struct Worker {
    parts: Parts,
    microphone: Option<Microphone>,
    strokes: Receiver<Stroke>,
    orders: Receiver<Order>,
    notices: Receiver<Notice>,
    touches: Receiver<TouchedAt>,
    /// Who plays on what, and what was lost.
    view: View,
    sleep: SleepWatch,
    run: Option<Box<Run>>,
    phase: Phase,
    /// Up to when the sound of the take was last written.
    written_at: Moment,
    /// When it was last asked whether time has changed a judgement, and when the next judging may be.
    judged_at: Moment,
    judge_from: HostTime,
    /// A drill whose programme found no room in the mixer's queue yet.
    to_send: bool,
    /// Programmes that were sent and have not reported that they began.
    begins_awaited: usize,
    /// Strokes that were lost before the drill began.
    lost_before: u64,
    /// Soft strokes that may be another pad's blow, and what waits behind them.
    echoes: Echoes,
    /// What was told of sound that was lost.
    losses: Losses,
    /// Why the microphone could not be opened, as it was told last.
    deaf: Option<String>,
    /// How many messages were told of that a device sent beyond what hands can strike.
    held_told: u64,
}

impl Worker {
    pub(crate) fn new(parts: Parts, input: &Input) -> Self {
        let mut worker = Self {
            parts,
            microphone: None,
            strokes: input.strokes().clone(),
            orders: input.orders().clone(),
            notices: input.notices().clone(),
            touches: input.touches().clone(),
            view: input.view(),
            sleep: SleepWatch::new(),
            run: None,
            phase: Phase::Ready,
            written_at: Moment::ZERO,
            judged_at: Moment::ZERO,
            judge_from: HostTime::from_nanos(i64::MIN),
            to_send: false,
            begins_awaited: 0,
            lost_before: 0,
            echoes: Echoes::new(),
            losses: Losses::default(),
            deaf: None,
            held_told: 0,
        };
        worker.open_microphone();
        worker
    }

    /// Until the rig is closed.
    pub(crate) fn run(mut self) {
        loop {
            // A stroke wakes the thread at once; everything else can wait for the next tick.
            match self.strokes.recv_timeout(TICK) {
                Ok(stroke) => self.strike(stroke),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => std::thread::sleep(TICK),
            }
            if !self.step() {
                return;
            }
        }
    }

    /// Does everything that is due; `false` when the rig is to be closed.
    pub(crate) fn step(&mut self) -> bool {
        while let Ok(stroke) = self.strokes.try_recv() {
            self.strike(stroke);
        }
        self.note_due();
        self.mind_sleep();
        self.mind_sound();
        self.mind_microphone();
        self.mind_input();
        if !self.obey() {
            return false;
        }
        self.mind_drill();
        true
    }

    fn tell(&self, event: Event) {
        // Nobody is left to tell when the rig is being dropped.
        let _ = self.parts.events.send(event);
        (self.parts.wake)();
    }

    fn notice(&self, notice: impl Into<String>) {
        self.tell(Event::Notice(notice.into()));
    }

    /// What the caller asked for; `false` when the rig is to be closed.
    fn obey(&mut self) -> bool {
        while let Ok(command) = self.parts.commands.try_recv() {
            match command {
                Command::Start(run) => self.start(run),
                Command::Stop => self.end(Ended::Stopped),
                Command::Levels(levels) => {
                    let sent = self.parts.sound.controller().map(|controller| levels.send(controller));
                    if let Some(Err(error)) = sent {
                        self.notice(error.to_string());
                    }
                }
                Command::Close => {
                    self.end(Ended::Stopped);
                    return false;
                }
            }
        }
        true
    }

    fn start(&mut self, run: Box<Run>) {
        self.end(Ended::Stopped);
        // What was before is no part of it.
        self.mind_floods(true);
        let rate = run.rate();
        self.run = Some(run);
        if self.parts.sound.rate() != Some(rate) {
            self.notice("the sound device went or changed its rate just now: start the drill again");
            self.end(Ended::Stopped);
            return;
        }
        // One that had gone may be back.
        if self.microphone.is_none() {
            self.open_microphone();
        }
        if let (Some(run), Some(microphone)) = (&mut self.run, &self.microphone) {
            run.records(microphone.late());
        }
        self.lost_before = self.view.lost();
        self.losses = Losses::default();
        self.to_send = true;
        self.enter(Phase::CountIn);
        if let Some(run) = &self.run {
            self.tell(Event::Judged(run.states()));
        }
        self.written_at = Moment::ZERO - Seconds::from_millis(i64::from(u32::MAX));
        self.judged_at = Moment::ZERO - Seconds::from_millis(i64::from(u32::MAX));
    }

    /// The computer slept: nobody played on, so the drill is over. Its take is whole.
    fn mind_sleep(&mut self) {
        if let Some(slept) = self.sleep.look(&*self.parts.clock)
            && self.run.is_some()
        {
            let seconds = slept.as_secs_f64();
            self.disturbed(&format!("the computer slept for {seconds:.0} s"));
            self.notice(format!(
                "the computer slept for {seconds:.0} s: the drill was stopped, and its take is kept up to there"
            ));
            self.end(Ended::Stopped);
        }
    }

    /// What happened to the sound device, and what the mixer said.
    fn mind_sound(&mut self) {
        let now = self.parts.clock.now();
        for news in self.parts.sound.mind(now, self.run.is_none()) {
            match news {
                SoundNews::Anchor(anchor) => self.with_take(|run| run.anchor(anchor)),
                SoundNews::Jumped(by) => self.jumped(by),
                SoundNews::Report(Report::Began { from, follows: true, .. }) => {
                    if from > Frame::ZERO {
                        self.disturbed("a round was ready too late: its beginning was not heard");
                    }
                }
                SoundNews::Report(Report::Began { at, from, follows: false }) => {
                    self.begins_awaited = self.begins_awaited.saturating_sub(1);
                    // A programme that was replaced before it began reports all the same: only the last one counts.
                    if let (0, false, Some(run)) = (self.begins_awaited, self.to_send, &mut self.run) {
                        run.began(at, from);
                    }
                }
                SoundNews::Report(_) => {}
                SoundNews::Event(event) => self.heed(event),
                SoundNews::Gone(why) => {
                    self.disturbed(&format!("the sound device has gone ({why})"));
                    self.end(Ended::Stopped);
                    self.begins_awaited = 0;
                    self.tell(Event::SoundGone { why });
                }
                SoundNews::Back => {
                    if self.microphone.is_none() {
                        self.open_microphone();
                    }
                    let now = self.sound_now();
                    self.tell(Event::SoundBack { name: now.name, rate: now.rate });
                }
            }
        }
    }

    /// Frames are heard later than they were: sound was lost, or the device stood still.
    fn jumped(&mut self, by: Seconds) {
        let ms = by.abs().as_millis_f64().round().max(1.0);
        let (why, lost) = if by > Seconds::ZERO {
            (format!("sound was lost: {ms} ms"), by)
        } else {
            (format!("the sound came sooner than it should: {ms} ms"), Seconds::ZERO)
        };
        self.lost(&why, lost);
        if by.abs() >= TOO_LONG && self.run.is_some() {
            self.notice(format!(
                "the sound stood still for {:.1} s: the drill was stopped, and its take is kept up to there",
                by.abs().as_secs_f64()
            ));
            self.end(Ended::Stopped);
        }
    }

    fn heed(&mut self, event: audio::Event) {
        match event {
            audio::Event::Dropout => self.lost("the sound system reports a dropout", Seconds::ZERO),
            audio::Event::Moved => {
                self.disturbed("the system moved the sound to another device");
                self.notice(
                    "the system moved the sound to another device: a latency measured before is another device's",
                );
            }
            // Why is a library's sentence, in its own words.
            audio::Event::NotRealTime { .. } => self.notice(
                "the system gives no real-time priority: sound may drop out while the machine is busy; close other programs",
            ),
            audio::Event::OwnBlock { asked } => self.notice(format!(
                "the sound device chose its own block of {} frames instead of {}",
                self.parts.sound.block(),
                asked.count()
            )),
            audio::Event::Other { why } | audio::Event::Gone { why } => self.notice(why),
        }
    }

    /// Opens the microphone, if one is to be recorded. Without it the players' strokes are rendered.
    fn open_microphone(&mut self) {
        match self.parts.sound.record() {
            None => {}
            Some(Ok(device)) => {
                let name = device.name();
                let late = self.parts.measured.loop_late(&self.sound_now().at(), &name);
                if late.is_none() {
                    self.notice(format!(
                        "what {name} records is not aligned with what sounds: measure it with `countline calibrate loopback`"
                    ));
                }
                self.parts.sound.records(Some(name));
                self.deaf = None;
                self.microphone = Some(Microphone::new(device, late.unwrap_or(Seconds::ZERO)));
            }
            Some(Err(error)) => {
                let why = error.to_string();
                if self.deaf.as_ref() != Some(&why) {
                    self.notice(format!("{why}; the strokes are rendered instead of recorded"));
                }
                self.deaf = Some(why);
            }
        }
    }

    fn mind_microphone(&mut self) {
        match self.microphone.as_mut().and_then(Microphone::mind) {
            None => {}
            Some(MicrophoneNews::Disturbed) => self.lost("sound of the microphone was lost", Seconds::ZERO),
            Some(MicrophoneNews::Gone(why)) => {
                let name = self.microphone.take().map_or_else(String::new, |gone| gone.name());
                self.parts.sound.records(None);
                self.disturbed("the microphone has gone");
                self.notice(format!("{name} has gone ({why}): from here on the strokes are rendered"));
            }
        }
    }

    /// What happened to MIDI devices, and what pads and pedals asked for.
    fn mind_input(&mut self) {
        let mut changed = false;
        while let Ok(notice) = self.notices.try_recv() {
            changed = true;
            self.heed_input(&notice);
        }
        self.mind_floods(false);
        let now = self.drill_now();
        if changed && let Some(run) = &mut self.run {
            let looked = run.look_for(&self.view.players(), now);
            let states = run.states();
            if let Err(error) = looked {
                self.recording_failed(&error);
            }
            self.tell(Event::Judged(states));
        }
        self.view.settle_orders(self.parts.clock.now());
        while let Ok(order) = self.orders.try_recv() {
            if order == Order::Stop {
                self.end(Ended::Stopped);
            }
            self.tell(Event::Order(order));
        }
        while let Ok(touch) = self.touches.try_recv() {
            self.tell(Event::Touched(touch));
        }
    }

    /// What is known of the sound device.
    pub(crate) fn sound_now(&self) -> SoundNow {
        self.parts.sound.shared().lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    pub(crate) fn drill_now(&self) -> Option<Moment> {
        let device = self.parts.sound.moment_at(self.parts.clock.now())?;
        self.run.as_ref()?.moment(device)
    }

    fn mind_drill(&mut self) {
        if self.to_send {
            self.send();
        }
        let now = self.parts.clock.now();
        let Some(device) = self.parts.sound.moment_at(now) else { return };
        let Some(run) = &mut self.run else { return };
        run.replay_until(self.parts.sound.fit(), device);
        if run.has_begun() {
            for stroke in run.waited() {
                self.note(stroke);
            }
        }
        let Some(heard) = self.drill_now() else { return };
        *self.parts.heard.lock().unwrap_or_else(PoisonError::into_inner) = Some((now, heard));
        self.mind_rounds(heard);
        let Some(run) = &mut self.run else { return };
        let (start, end) = (run.start(), run.end());
        self.enter(Phase::at(heard, start, end));
        if heard - self.written_at >= WRITE_EVERY {
            self.written_at = heard;
            self.write_sound(heard);
        }
        if heard - self.judged_at >= JUDGE_EVERY {
            self.judged_at = heard;
            if let Some(run) = &mut self.run {
                run.time_has_passed(heard);
            }
        }
        self.judge(heard);
        if heard >= end + AFTER_END {
            self.end(Ended::Finished);
        }
    }

    fn write_sound(&mut self, heard: Moment) {
        let Some(run) = &mut self.run else { return };
        let beside = self.microphone.as_ref().map(|microphone| (microphone, self.parts.sound.fit()));
        if let Err(error) = run.write_sound(heard, beside) {
            self.recording_failed(&error);
        }
    }

    /// Sends the programme to the mixer; tries again at the next tick where the queue is full.
    fn send(&mut self) {
        let Some(run) = &self.run else { return };
        let Some(controller) = self.parts.sound.controller() else { return };
        let levels = run.levels().send(controller);
        let sent = levels.and_then(|()| controller.replace(run.programme(), Frame::ZERO));
        match sent {
            Ok(()) => {
                let pads = run.pads().clone();
                self.parts.sound.sounds_with(pads);
                self.to_send = false;
                self.begins_awaited += 1;
            }
            Err(mixer::Error::QueueFull) => {}
            Err(error) => {
                self.notice(error.to_string());
                self.end(Ended::Stopped);
            }
        }
    }

    /// Somebody struck just now: it sounds, if strokes are to, before anything else is done. Whether a soft one was the echo of a blow that
    /// comes after it is not known yet, and what has sounded cannot be taken back.
    fn strike(&mut self, stroke: Stroke) {
        if self.parts.thru > 0.0 && stroke.is_attack() {
            // Pads speak on the percussion channel; what a key of a piano strikes, claps.
            let drum =
                if stroke.channel == PERCUSSION_CHANNEL { Drum::of_key(stroke.note) } else { Drum::Clap };
            self.parts.sound.strike(drum, self.parts.thru * f32::from(stroke.velocity) / 127.0);
        }
        self.pass_on(&stroke);
        self.echoes.take(stroke, self.view.instrument(stroke.player), self.parts.clock.now());
        self.note_due();
    }

    /// To the MIDI device that sounds, if there is one. Only what comes from a MIDI port ends its notes, so only that goes there.
    fn pass_on(&mut self, stroke: &Stroke) {
        let Some(through) = &mut self.parts.through else { return };
        let kind = self.view.players().source(stroke.source).map(|source| source.kind);
        if kind != Some(SourceKind::Port) {
            return;
        }
        let passed = through.pass(stroke, self.parts.clock.now());
        self.passed(passed);
    }

    fn note(&mut self, stroke: Stroke) {
        let Some(run) = &mut self.run else { return };
        let device = self.parts.sound.moment_struck(&stroke);
        if let Err(error) = run.strike(stroke, device, &self.view) {
            self.recording_failed(&error);
        }
    }

    /// Judges one of those whose judgement is due, those who struck first, and tells what became of their strokes.
    fn judge(&mut self, now: Moment) {
        let begun = self.parts.clock.now();
        if begun < self.judge_from {
            return;
        }
        let Some(run) = &mut self.run else { return };
        let Some(judged) = run.judge_next(now) else { return };
        let took = self.parts.clock.now() - begun;
        self.judge_from = match self.parts.pace {
            Pace::OfTheComputer => {
                begun + Seconds::from_nanos(took.as_nanos() * (1 + JUDGE_SHARE)).min(JUDGE_LATEST)
            }
            Pace::Every(pause) => begun + pause,
        };
        let states = judged.changed.then(|| run.states());
        // Whoever came in only now is known by name before anything is told of a stroke.
        if let Some(states) = states {
            self.tell(Event::Judged(states));
        }
        for attack in judged.struck {
            self.tell(Event::Struck { player: judged.player, attack });
        }
    }

    fn disturbed(&mut self, why: &str) {
        if self.mark_disturbed(why) {
            self.tell(Event::Disturbed { why: why.to_owned() });
        }
    }

    /// Sound was lost, so much where that is known: the take has each time, and who listens hears of the first and then of several
    /// together.
    fn lost(&mut self, why: &str, lost: Seconds) {
        if self.mark_disturbed(why)
            && let Some(why) = self.losses.lost(self.parts.clock.now(), why, lost)
        {
            self.tell(Event::Disturbed { why });
        }
    }

    /// Marks the take as disturbed now; `false` where no drill is heard.
    fn mark_disturbed(&mut self, why: &str) -> bool {
        let Some(now) = self.drill_now() else { return false };
        self.with_take(|run| run.disturb(now, why));
        true
    }

    fn with_take(&mut self, write: impl FnOnce(&mut Run) -> Result<(), take::Error>) {
        let Some(run) = &mut self.run else { return };
        if let Err(error) = write(run) {
            self.recording_failed(&error);
        }
    }

    /// A failure ends the recording, not the drill. Where only the sound cannot be written, strokes still are.
    fn recording_failed(&self, error: &take::Error) {
        if matches!(error, take::Error::Ended { .. }) {
            return;
        }
        self.notice(error.to_string());
    }

    fn enter(&mut self, phase: Phase) {
        if self.phase != phase {
            self.phase = phase;
            self.tell(Event::Phase(phase));
        }
    }

    fn end(&mut self, ended: Ended) {
        while let Some(stroke) = self.echoes.rest() {
            self.note(stroke);
        }
        self.mind_floods(true);
        let now = self.drill_now();
        let lost = self.view.lost() - self.lost_before;
        if lost > 0 && self.run.is_some() {
            self.disturbed(&format!("{lost} strokes came faster than they could be taken in"));
        }
        let Some(mut run) = self.run.take() else { return };
        if let Some(why) = self.losses.rest() {
            self.tell(Event::Disturbed { why });
        }
        self.to_send = false;
        if ended == Ended::Stopped
            && let Some(Err(error)) = self.parts.sound.controller().map(mixer::Controller::stop)
        {
            self.notice(error.to_string());
        }
        *self.parts.heard.lock().unwrap_or_else(PoisonError::into_inner) = None;
        for marked in run.marked() {
            self.notice(marked);
        }
        let heard = now.unwrap_or(run.start());
        let beside = self.microphone.as_ref().map(|microphone| (microphone, self.parts.sound.fit()));
        let mut failure = run.complete_sound(heard, beside).err();
        if let Some(name) = self.microphone.as_ref().map(Microphone::name).filter(|_| run.heard_nothing()) {
            self.notice(format!(
                "nothing was heard on {name}: see whether it is muted, whether its level is turned down, and whether another input \
                 is meant (`--record`, or the devices' pane of the window)"
            ));
        }
        let (events, failed) = run.finish(ended, heard);
        if let Some(error) = failure.take().or(failed) {
            self.recording_failed(&error);
        }
        self.phase = Phase::Judged;
        self.tell(Event::Phase(Phase::Judged));
        events.into_iter().for_each(|event| self.tell(event));
    }
}

impl std::fmt::Debug for Worker {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Worker").field("phase", &self.phase).field("run", &self.run).finish_non_exhaustive()
    }
}
