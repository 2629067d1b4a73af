//! The click sent to a MIDI device, each note at its exact time.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use input::{OutMessage, Outlet};
use sequencer::{Sequence, struck};
use take::midi::{CLAP_KEY, PERCUSSION_CHANNEL, click_note, louder_velocity, stroke_velocity};
use timebase::{HostOrigin, HostTime, Moment, Position, Seconds};

use crate::Error;

/// How long a click sounds, at most; half the way to the next one of its key where that is shorter.
const NOTE: Seconds = Seconds::from_millis(30);

/// A thread that sleeps longer at once would not hear that it is to stop.
const NAP: Duration = Duration::from_millis(20);

/// Between the last note and its device being closed.
const AFTER: Seconds = Seconds::from_millis(50);

const NOTE_ON: u8 = 0x90 | PERCUSSION_CHANNEL;
const NOTE_OFF: u8 = 0x80 | PERCUSSION_CHANNEL;
const CONTROL: u8 = 0xB0 | PERCUSSION_CHANNEL;
/// The control change "all notes off" (MIDI 1.0, channel mode messages).
const ALL_NOTES_OFF: u8 = 123;

/// What is sent of a sequence, and how loud: as a factor of amplitude of its usual level, which becomes a velocity by
/// [`louder_velocity`]. What is 0 is not sent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClickSounds {
    /// The clicks: wood blocks of General MIDI's percussion, channel 10, as in the files that are written.
    pub click: f32,
    /// A hand clap on every written attack, with the strokes of flams, drags, ruffs and rolls.
    pub clap: f32,
}

/// A message and when it is to go out, from count 1 of bar 1.
pub type TimedMessage = (Moment, OutMessage);

/// The messages of a sequence in order of time, each note's end among them.
#[must_use]
pub fn click_messages(sequence: &Sequence, sounds: ClickSounds) -> Vec<TimedMessage> {
    let at = |place: Position| sequence.tempo().moment_at(place);
    let mut notes: Vec<(Moment, u8, u8)> = Vec::new();
    for cue in sequence.cues() {
        if let Some((key, velocity)) = click_note(&cue.cued) {
            notes.push((at(cue.at), key, louder_velocity(velocity, sounds.click)));
        }
    }
    if sounds.click <= 0.0 {
        notes.clear();
    }
    if sounds.clap > 0.0 {
        let strokes = struck(sequence.cues(), sequence.tempo());
        let loud = |db| louder_velocity(stroke_velocity(db), sounds.clap);
        notes.extend(strokes.iter().map(|stroke| (stroke.at, CLAP_KEY, loud(stroke.db))));
    }
    notes.sort_by_key(|(at, ..)| *at);
    let mut messages = Vec::with_capacity(2 * notes.len());
    let mut next: [Option<Moment>; 128] = [None; 128];
    for &(at, key, velocity) in notes.iter().rev() {
        let again = &mut next[usize::from(key)];
        let length = again.map_or(NOTE, |again| (again - at).divided_by(2).min(NOTE));
        *again = Some(at);
        messages.push((at + length, [NOTE_OFF, key, 0]));
        messages.push((at, [NOTE_ON, key, velocity]));
    }
    // What ends goes before what begins at the same moment.
    messages.sort_by_key(|&(at, [status, ..])| (at, status));
    messages
}

/// How late the thread was, and what became of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ClickReport {
    /// How many notes were begun.
    pub notes: usize,
    /// How long after its time each message was with the driver, in rising order. Where the outlet takes messages ahead of
    /// their time, how long after the time it wanted them: what matters there is [`ClickReport::missed`].
    pub lateness: Vec<Seconds>,
    /// How many messages came too late to an outlet that takes them ahead, and so went out late.
    pub missed: u64,
    /// Why the thread has no real-time priority, if it has none.
    pub not_real_time: Option<String>,
    /// Why it ended early, if it did.
    pub failed: Option<input::Error>,
}

impl ClickReport {
    /// The lateness that so many of a hundred messages do not pass; `None` where nothing was sent.
    #[must_use]
    pub fn percentile(&self, percent: usize) -> Option<Seconds> {
        let rank = (self.lateness.len() * percent).div_ceil(100).max(1);
        self.lateness.get(rank - 1).copied()
    }
}

/// A thread that sends messages at their times, on real-time priority where the system grants it.
///
/// Its clock is the computer's, the times it keeps are absolute, so what is late once does not make the next late. At the end, when it is
/// stopped and when it is dropped it ends every note that sounds and sends "all notes off".
#[derive(Debug)]
pub struct ClickOut {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<ClickReport>>,
}

impl ClickOut {
    /// Starts the thread. `zero` is when count 1 of bar 1 falls; `messages` are in order of time.
    ///
    /// # Errors
    /// If the system gives no thread.
    pub fn start(
        outlet: Box<dyn Outlet>,
        messages: Vec<TimedMessage>,
        zero: HostTime,
        origin: HostOrigin,
    ) -> Result<Self, Error> {
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let thread = std::thread::Builder::new()
            .name("midi click".to_owned())
            .spawn(move || Sender::new(outlet, origin, stopped).run(&messages, zero))
            .map_err(|_| Error::NoThread)?;
        Ok(Self { stop, thread: Some(thread) })
    }

    /// Asks it to end now.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Whether it has ended.
    #[must_use]
    pub fn is_finished(&self) -> bool {
        self.thread.as_ref().is_none_or(JoinHandle::is_finished)
    }

    /// Waits for its end.
    #[must_use]
    pub fn finish(mut self) -> ClickReport {
        // The thread's panic was told on standard error; there is nothing to add.
        self.thread.take().and_then(|thread| thread.join().ok()).unwrap_or_default()
    }
}

impl Drop for ClickOut {
    fn drop(&mut self) {
        self.stop();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

struct Sender {
    outlet: Box<dyn Outlet>,
    origin: HostOrigin,
    stop: Arc<AtomicBool>,
    sounding: [bool; 128],
    report: ClickReport,
}

impl Sender {
    fn new(outlet: Box<dyn Outlet>, origin: HostOrigin, stop: Arc<AtomicBool>) -> Self {
        Self { outlet, origin, stop, sounding: [false; 128], report: ClickReport::default() }
    }

    fn run(mut self, messages: &[TimedMessage], zero: HostTime) -> ClickReport {
        self.report.lateness.reserve_exact(messages.len());
        self.report.not_real_time = real_time().err();
        let mut last = self.origin.time(Instant::now());
        if let Err(error) = self.send_all(messages, zero, &mut last) {
            self.report.failed = Some(error);
        }
        // A device that has gone takes no end of a note either, and needs none.
        let soonest = self.origin.time(Instant::now()) + self.outlet.ahead();
        let _ = self.silence(last.max(soonest));
        self.report.missed = self.outlet.drain();
        self.report.lateness.sort_unstable();
        self.report
    }

    /// Real-time: no allocation, lock or I/O but the driver's own.
    fn send_all(
        &mut self,
        messages: &[TimedMessage],
        zero: HostTime,
        last: &mut HostTime,
    ) -> Result<(), input::Error> {
        let ahead = self.outlet.ahead();
        for &(at, message) in messages {
            let at = zero + at.since_zero();
            if !self.sleep_until(at - ahead) {
                return Ok(());
            }
            self.outlet.send(message, at)?;
            self.report.lateness.push(self.origin.time(Instant::now()) - (at - ahead));
            *last = at;
            let begins = message[0] == NOTE_ON;
            self.sounding[usize::from(message[1] & 0x7F)] = begins;
            self.report.notes += usize::from(begins);
        }
        self.sleep_until(*last + AFTER);
        Ok(())
    }

    /// Until `time`, and never in circles; `false` if it is to stop.
    fn sleep_until(&self, time: HostTime) -> bool {
        let until = self.origin.instant(time);
        loop {
            if self.stop.load(Ordering::Relaxed) {
                return false;
            }
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return true;
            }
            // The last nap ends on the time itself.
            std::thread::sleep(if left > 2 * NAP { NAP } else { left });
        }
    }

    fn silence(&mut self, at: HostTime) -> Result<(), input::Error> {
        for key in (0..128_u8).filter(|key| self.sounding[usize::from(*key)]) {
            self.outlet.send([NOTE_OFF, key, 0], at)?;
        }
        self.outlet.send([CONTROL, ALL_NOTES_OFF, 0], at)
    }
}

/// Gives this thread real-time priority; else says why it has none.
fn real_time() -> Result<(), String> {
    use thread_priority::{ThreadPriority, ThreadPriorityValue};
    let told = |error: thread_priority::Error| match error {
        thread_priority::Error::OS(number) => std::io::Error::from_raw_os_error(number).to_string(),
        other => format!("{other:?}"),
    };
    #[cfg(unix)]
    {
        use thread_priority::unix::{
            RealtimeThreadSchedulePolicy, ThreadSchedulePolicy, set_thread_priority_and_policy,
            thread_native_id,
        };
        // In the middle of the range, below what a sound server gives its own threads (60 and more, common practice).
        let priority =
            ThreadPriorityValue::try_from(50).map_or(ThreadPriority::Min, ThreadPriority::Crossplatform);
        let policy = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo);
        set_thread_priority_and_policy(thread_native_id(), priority, policy).map_err(told)
    }
    #[cfg(not(unix))]
    {
        thread_priority::set_current_thread_priority(ThreadPriority::Max).map_err(told)
    }
}

#[cfg(test)]
mod tests;
