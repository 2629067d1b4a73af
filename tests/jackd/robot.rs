use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use jack::{
    AsyncClient, AudioIn, Client, ClientOptions, Control, MidiOut, ProcessHandler, ProcessScope, RawMidi,
};
use rtrb::{Consumer, Producer, RingBuffer};

/// How a [`Robot`] plays.
#[derive(Clone, Debug, PartialEq)]
pub struct RobotPlan {
    /// Its name on the server.
    pub name: String,
    /// Samples louder than this are a click.
    pub threshold: f32,
    /// Frames for which it hears nothing after a click.
    pub deaf: u64,
    /// Frames from one click to the next: what it goes by to be early. 0 where it is never early.
    pub click_every: u64,
    /// Frames after the click (before it, if negative) at which it strikes, one after the other, round and round.
    pub strikes: Vec<i64>,
    /// Frames, counted on the server's clock from the robot's first cycle, at which it strikes on its second port,
    /// whatever it hears. Rising.
    pub stimulus: Vec<u64>,
}

/// A click that the robot heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heard {
    /// The server's frame at which it came in.
    pub frame: u64,
}

/// A stroke that the robot made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Struck {
    /// The server's frame at which it went out.
    pub frame: u64,
    /// Which of the plan's strikes, or which frame of its stimulus.
    pub number: usize,
    /// Whether it belongs to the stimulus.
    pub of_stimulus: bool,
}

/// A player made of a JACK client: one audio input `ear`, two MIDI outputs `pad` and `stimulus`.
///
/// It strikes when a player would who stands at the loudspeaker: what comes in at its ear is there only after the
/// server's playback latency, which it reads from the server and adds. A program that mixes up the signs
/// of its latencies is found out by it; the stimulus, which shares the frame counter with the stamps, would not find that.
pub struct Robot {
    client: AsyncClient<(), Body>,
    heard: Consumer<Heard>,
    struck: Consumer<Struck>,
    skipped: Arc<AtomicU64>,
}

impl Robot {
    /// Joins the server that JACK_DEFAULT_SERVER names.
    ///
    /// # Panics
    /// If there is no server.
    #[must_use]
    pub fn start(plan: RobotPlan) -> Self {
        let (client, _) =
            Client::new(&plan.name, ClientOptions::NO_START_SERVER).expect("a JACK server answers");
        let speaker = client.port_by_name("system:playback_1").expect("the server has an output");
        let latency = u64::from(speaker.get_latency_range(jack::LatencyType::Playback).1);
        let ear = client.register_port("ear", AudioIn::default()).expect("a port");
        let pad = client.register_port("pad", MidiOut::default()).expect("a port");
        let stimulus = client.register_port("stimulus", MidiOut::default()).expect("a port");
        let (to_heard, heard) = RingBuffer::new(65_536);
        let (to_struck, struck) = RingBuffer::new(65_536);
        let skipped = Arc::new(AtomicU64::new(0));
        let body = Body {
            ear,
            pad,
            stimulus,
            plan,
            latency,
            next_cycle: None,
            first_cycle: 0,
            deaf_until: 0,
            clicks: 0,
            due: Vec::with_capacity(64),
            next_stimulus: 0,
            heard: to_heard,
            struck: to_struck,
            skipped: Arc::clone(&skipped),
        };
        let client = client.activate_async((), body).expect("the server takes it in");
        Self { client, heard, struck, skipped }
    }

    /// Its client, for wiring.
    #[must_use]
    pub fn client(&self) -> &Client {
        self.client.as_client()
    }

    /// The next click it heard.
    pub fn next_heard(&mut self) -> Option<Heard> {
        self.heard.pop().ok()
    }

    /// The next stroke it made.
    pub fn next_struck(&mut self) -> Option<Struck> {
        self.struck.pop().ok()
    }

    /// Frames that the server left out: not 0 after a dropout.
    #[must_use]
    pub fn skipped(&self) -> u64 {
        self.skipped.load(Ordering::Relaxed)
    }
}

impl fmt::Debug for Robot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Robot").field("skipped", &self.skipped()).finish_non_exhaustive()
    }
}

/// What JACK calls once a cycle. It must not hold the server up, so it does not allocate.
struct Body {
    ear: jack::Port<AudioIn>,
    pad: jack::Port<MidiOut>,
    stimulus: jack::Port<MidiOut>,
    plan: RobotPlan,
    latency: u64,
    next_cycle: Option<u64>,
    first_cycle: u64,
    deaf_until: u64,
    clicks: usize,
    /// Strokes to come, with their number in the plan.
    due: Vec<(u64, usize)>,
    next_stimulus: usize,
    heard: Producer<Heard>,
    struck: Producer<Struck>,
    skipped: Arc<AtomicU64>,
}

impl ProcessHandler for Body {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let frames = u64::from(scope.n_frames());
        // JACK's counter wraps after a day; a test does not last so long.
        let begins = u64::from(scope.last_frame_time());
        match self.next_cycle {
            Some(expected) if expected != begins => {
                self.skipped.fetch_add(begins.abs_diff(expected), Ordering::Relaxed);
            }
            Some(_) => {}
            None => self.first_cycle = begins,
        }
        self.next_cycle = Some(begins + frames);
        let ends = begins + frames;
        for (frame, sample) in (begins..).zip(self.ear.as_slice(scope)) {
            if sample.abs() > self.plan.threshold && frame >= self.deaf_until {
                self.deaf_until = frame + self.plan.deaf;
                self.heard.push(Heard { frame }).ok();
                let number = self.clicks % self.plan.strikes.len().max(1);
                if let Some(&strike) = self.plan.strikes.get(number) {
                    let early_by = if strike < 0 { self.plan.click_every } else { 0 };
                    let at = (frame + self.latency + early_by).saturating_add_signed(strike);
                    self.due.push((at, number));
                }
                self.clicks += 1;
            }
        }
        let mut pad = self.pad.writer(scope);
        self.due.sort_unstable();
        while let Some(&(at, number)) = self.due.first().filter(|(at, _)| *at < ends) {
            self.due.remove(0);
            // One that lay in a skipped cycle goes out at once; the skip is told.
            let at = at.max(begins);
            if strike(&mut pad, at - begins, 38) {
                self.struck.push(Struck { frame: at, number, of_stimulus: false }).ok();
            }
        }
        let mut stimulus = self.stimulus.writer(scope);
        while let Some(&after) = self.plan.stimulus.get(self.next_stimulus) {
            let at = (self.first_cycle + after).max(begins);
            if at >= ends {
                break;
            }
            // Eight pads by turns: no single one strikes faster than hands could.
            let number = self.next_stimulus;
            let note = 40 + u8::try_from(number % 8).unwrap_or(0);
            if strike(&mut stimulus, at - begins, note) {
                self.struck.push(Struck { frame: at, number, of_stimulus: true }).ok();
            }
            self.next_stimulus += 1;
        }
        Control::Continue
    }
}

fn strike(port: &mut jack::MidiWriter<'_>, into: u64, note: u8) -> bool {
    let time = u32::try_from(into).unwrap_or(u32::MAX);
    port.write(&RawMidi { time, bytes: &[0x99, note, 100] }).is_ok()
}
