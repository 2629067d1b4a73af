//! The thread that minds the devices.

use std::sync::PoisonError;
use std::time::{Duration, Instant};

use audio::Output;
use crossbeam_channel::{Receiver, RecvTimeoutError, Sender};
use input::{Input, Notice, Players, Stroke};
use mixer::{Controller, Report};
use sequencer::Levels;
use take::Ended;
use timebase::{Anchored, ClockFit, Frame, HostOrigin, Moment, Seconds};

use crate::rig::Heard;
use crate::run::Run;
use crate::{Event, Phase};

/// How often the clocks are looked at while nothing is struck.
const TICK: Duration = Duration::from_millis(5);

/// How often everybody is judged anew while nothing is struck, so that a missed attack shows.
const JUDGE_EVERY: Seconds = Seconds::from_millis(50);

/// How long after the end of the last bar late strokes are waited for.
const AFTER_END: Seconds = Seconds::from_millis(900);

/// What the rig asks of its thread.
#[derive(Debug)]
pub(crate) enum Command {
    Start(Box<Run>),
    Stop,
    Levels(Levels),
    Close,
}

pub(crate) struct Worker {
    output: Output,
    controller: Controller,
    origin: HostOrigin,
    fit: ClockFit,
    strokes: Receiver<Stroke>,
    notices: Receiver<Notice>,
    /// Asks who plays on what.
    players: Box<dyn Fn() -> Players + Send>,
    commands: Receiver<Command>,
    events: Sender<Event>,
    heard: Heard,
    wake: Box<dyn Fn() + Send>,
    run: Option<Box<Run>>,
    phase: Phase,
    judged_at: Moment,
    /// A drill whose programme found no room in the mixer's queue yet.
    to_send: bool,
    /// Programmes that were sent and have not reported that they began.
    begins_awaited: usize,
    anchored_at: Option<Frame>,
}

impl Worker {
    #[expect(
        clippy::too_many_arguments,
        reason = "one maker, called in one place, that moves a rig's parts over"
    )]
    pub(crate) fn new(
        output: Output,
        controller: Controller,
        origin: HostOrigin,
        input: &Input,
        commands: Receiver<Command>,
        events: Sender<Event>,
        heard: Heard,
        wake: Box<dyn Fn() + Send>,
    ) -> Self {
        let fit = ClockFit::new(output.rate());
        Self {
            output,
            controller,
            origin,
            fit,
            strokes: input.strokes().clone(),
            notices: input.notices().clone(),
            players: Box::new(input.players_view()),
            commands,
            events,
            heard,
            wake,
            run: None,
            phase: Phase::Ready,
            judged_at: Moment::ZERO,
            to_send: false,
            begins_awaited: 0,
            anchored_at: None,
        }
    }

    /// Until the rig is closed or the sound device goes.
    pub(crate) fn run(mut self) {
        loop {
            // A stroke wakes the thread at once; everything else can wait for the next tick.
            match self.strokes.recv_timeout(TICK) {
                Ok(stroke) => self.strike(stroke),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => std::thread::sleep(TICK),
            }
            while let Ok(stroke) = self.strokes.try_recv() {
                self.strike(stroke);
            }
            if !self.mind_device() || !self.obey() {
                return;
            }
            self.mind_drill();
        }
    }

    fn tell(&self, event: Event) {
        // Nobody is left to tell when the rig is being dropped.
        let _ = self.events.send(event);
        (self.wake)();
    }

    /// What the caller asked for; `false` when the rig is to be closed.
    fn obey(&mut self) -> bool {
        while let Ok(command) = self.commands.try_recv() {
            match command {
                Command::Start(run) => {
                    self.end(Ended::Stopped);
                    self.run = Some(run);
                    self.to_send = true;
                    self.enter(Phase::CountIn);
                    self.judged_at = Moment::ZERO - Seconds::from_millis(i64::from(u32::MAX));
                }
                Command::Stop => self.end(Ended::Stopped),
                Command::Levels(levels) => {
                    if let Err(error) = levels.send(&mut self.controller) {
                        self.tell(Event::Notice(error.to_string()));
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

    /// Anchors, reports and what happened to devices; `false` when the sound device has gone.
    fn mind_device(&mut self) -> bool {
        while let Some(anchor) = self.output.next_anchor() {
            let anchored = self.fit.add(anchor);
            if let Anchored::Jumped(by) = anchored {
                self.disturbed(&format!("sound was lost: {} ms", by.as_millis_f64().round()));
            }
            let second = i64::from(self.output.rate().hz());
            if self.anchored_at.is_none_or(|last| (anchor.frame - last).count() >= second) {
                self.anchored_at = Some(anchor.frame);
                self.with_take(|run| run.anchor(anchor));
            }
        }
        while let Some(report) = self.controller.next_report() {
            if let Report::Began { at, from } = report {
                self.begins_awaited = self.begins_awaited.saturating_sub(1);
                // A programme that was replaced before it began reports all the same: only the last one counts.
                if let (0, false, Some(run)) = (self.begins_awaited, self.to_send, &mut self.run) {
                    run.began(at, from);
                }
            }
            // What comes back from the audio thread is dropped here.
        }
        while let Ok(notice) = self.notices.try_recv() {
            self.tell(Event::Notice(match notice {
                Notice::Gone(port) => format!("{port} has gone; its player goes on when it is back"),
                Notice::Back(port) => format!("{port} is back"),
            }));
        }
        while let Some(event) = self.output.next_event() {
            match event {
                audio::Event::Dropout => {
                    self.fit.expect_jump();
                    self.disturbed("the sound system reports a dropout");
                }
                audio::Event::Gone { why } => {
                    self.end(Ended::Stopped);
                    self.tell(Event::SoundGone { why });
                    return false;
                }
                audio::Event::Moved => {
                    self.disturbed("the system moved the sound to another device");
                }
                audio::Event::NotRealTime { why } => self.tell(Event::Notice(format!(
                    "the system gives no real-time priority ({why}): sound may drop out while the machine is busy"
                ))),
                audio::Event::OwnBlock { asked } => self.tell(Event::Notice(format!(
                    "the sound device chose its own block of {} frames instead of {}",
                    self.output.block().count(),
                    asked.count()
                ))),
                audio::Event::Other { why } => self.tell(Event::Notice(why)),
            }
        }
        true
    }

    /// What the device plays now, in its own time.
    fn device_now(&self) -> Option<Moment> {
        self.fit.moment_at(self.origin.time(Instant::now()))
    }

    fn drill_now(&self) -> Option<Moment> {
        let device = self.device_now()?;
        self.run.as_ref()?.moment(device)
    }

    fn mind_drill(&mut self) {
        if self.to_send {
            self.send();
        }
        let Some(device) = self.device_now() else { return };
        let Some(run) = &mut self.run else { return };
        run.replay_until(&self.fit, device);
        if run.has_begun() {
            for stroke in run.waited() {
                self.strike(stroke);
            }
        }
        let Some(now) = self.drill_now() else { return };
        *self.heard.lock().unwrap_or_else(PoisonError::into_inner) =
            Some((self.origin.time(Instant::now()), now));
        let Some(run) = &mut self.run else { return };
        let (start, end) = (run.start(), run.end());
        self.enter(Phase::at(now, start, end));
        self.with_take(|run| run.write_sound(now));
        if now - self.judged_at >= JUDGE_EVERY {
            self.judge(now);
        }
        if now >= end + AFTER_END {
            self.end(Ended::Finished);
        }
    }

    /// Sends the programme to the mixer; tries again at the next tick where the queue is full.
    fn send(&mut self) {
        let Some(run) = &self.run else { return };
        let levels = run.levels().send(&mut self.controller);
        let sent = levels.and_then(|()| self.controller.replace(run.programme(), Frame::ZERO));
        match sent {
            Ok(()) => {
                self.to_send = false;
                self.begins_awaited += 1;
            }
            Err(mixer::Error::QueueFull) => {}
            Err(error) => {
                self.tell(Event::Notice(error.to_string()));
                self.end(Ended::Stopped);
            }
        }
    }

    fn strike(&mut self, stroke: Stroke) {
        let Some(run) = &mut self.run else { return };
        let struck = run.strike(stroke, &self.fit, &(self.players)());
        match struck {
            Ok(None) => {}
            Ok(Some(player)) => {
                if let Some(now) = self.drill_now() {
                    self.judge_stroke(player, now);
                }
            }
            Err(error) => self.recording_failed(&error),
        }
    }

    fn judge_stroke(&mut self, player: usize, now: Moment) {
        let Some(run) = &mut self.run else { return };
        let (attack, states) = (run.judge_stroke(player, now), run.states());
        if let Some(attack) = attack {
            self.tell(Event::Struck { player, attack });
        }
        self.tell(Event::Judged(states));
    }

    fn judge(&mut self, now: Moment) {
        self.judged_at = now;
        let Some(run) = &mut self.run else { return };
        if run.judge_so_far(now) {
            let states = run.states();
            self.tell(Event::Judged(states));
        }
    }

    fn disturbed(&mut self, why: &str) {
        let Some(now) = self.drill_now() else { return };
        self.with_take(|run| run.disturb(now, why));
        self.tell(Event::Disturbed { why: why.to_owned() });
    }

    fn with_take(&mut self, write: impl FnOnce(&mut Run) -> Result<(), take::Error>) {
        let Some(run) = &mut self.run else { return };
        if let Err(error) = write(run) {
            self.recording_failed(&error);
        }
    }

    /// A failure ends the recording, not the drill. Where only the sound cannot be written, strokes still are.
    fn recording_failed(&mut self, error: &take::Error) {
        if matches!(error, take::Error::Ended { .. }) {
            return;
        }
        self.tell(Event::Notice(error.to_string()));
    }

    fn enter(&mut self, phase: Phase) {
        if self.phase != phase {
            self.phase = phase;
            self.tell(Event::Phase(phase));
        }
    }

    fn end(&mut self, ended: Ended) {
        let now = self.drill_now();
        let Some(run) = self.run.take() else { return };
        self.to_send = false;
        if ended == Ended::Stopped
            && let Err(error) = self.controller.stop()
        {
            self.tell(Event::Notice(error.to_string()));
        }
        *self.heard.lock().unwrap_or_else(PoisonError::into_inner) = None;
        let heard = now.unwrap_or(run.start());
        let (event, failure) = run.finish(ended, heard);
        if let Some(error) = failure {
            self.recording_failed(&error);
        }
        self.phase = Phase::Judged;
        self.tell(Event::Phase(Phase::Judged));
        self.tell(event);
    }
}

impl std::fmt::Debug for Worker {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Worker").field("phase", &self.phase).field("run", &self.run).finish_non_exhaustive()
    }
}
