//! A JACK client that hears the click and strikes for a whole section, at frames that are known.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use jack::{
    AsyncClient, AudioIn, Client, ClientOptions, Control, MidiOut, ProcessHandler, ProcessScope, RawMidi,
};
use rtrb::{Consumer, Producer, RingBuffer};

/// Samples louder than this are a sound, and this many frames after one nothing is heard.
const THRESHOLD: f32 = 0.005;
const DEAF: i64 = 9_600;

/// From the first click that is heard to the first stroke: the rest of a bar of count-in, and a beat.
const LEAD: i64 = 120_000;

/// How the section strikes.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub(crate) count: u64,
    pub(crate) a_second: u64,
    /// Strokes of each player.
    pub(crate) strokes: u64,
    /// The frame of the first stroke, from the client's first cycle on; `None`: some beats after the first click.
    pub(crate) first: Option<i64>,
}

/// The frame of a player's stroke, from the section's first stroke on.
fn after_first(plan: &Plan, player: u64, stroke: u64) -> i64 {
    let every = 48_000u64.checked_div(plan.a_second).unwrap_or(31_847);
    // Everybody a little after the one before, so that every place of a block is struck.
    i64::try_from(stroke * every + player * 37 + (stroke * stroke) % 89).unwrap_or(i64::MAX)
}

pub(crate) struct Players {
    client: AsyncClient<(), Body>,
    pub(crate) plan: Plan,
    pub(crate) latency: i64,
    heard_queue: Consumer<i64>,
    struck_queue: Consumer<(i64, u64)>,
    pub(crate) heard: Vec<i64>,
    pub(crate) struck: Vec<(i64, u64)>,
    skipped: Arc<AtomicU64>,
}

impl Players {
    pub(crate) fn start(plan: Plan) -> Self {
        let (client, _) =
            Client::new("section", ClientOptions::NO_START_SERVER).expect("a JACK server answers");
        let speaker = client.port_by_name("system:playback_1").expect("the server has an output");
        let latency = i64::from(speaker.get_latency_range(jack::LatencyType::Playback).1);
        let ear = client.register_port("ear", AudioIn::default()).expect("a port");
        let ports = ["a", "b"].map(|name| client.register_port(name, MidiOut::default()).expect("a port"));
        let (to_heard, heard_queue) = RingBuffer::new(65_536);
        let (to_struck, struck_queue) = RingBuffer::new(65_536);
        let skipped = Arc::new(AtomicU64::new(0));
        let body = Body {
            ear,
            ports,
            next: vec![0; usize::try_from(plan.count).expect("few")],
            due: Vec::with_capacity(1_024),
            plan: plan.clone(),
            latency,
            next_cycle: None,
            first: None,
            deaf_until: 0,
            heard: to_heard,
            struck: to_struck,
            skipped: Arc::clone(&skipped),
        };
        let client = client.activate_async((), body).expect("the server takes it in");
        Self {
            client,
            plan,
            latency,
            heard_queue,
            struck_queue,
            heard: Vec::new(),
            struck: Vec::new(),
            skipped,
        }
    }

    pub(crate) fn client(&self) -> &Client {
        self.client.as_client()
    }

    pub(crate) fn fetch(&mut self) {
        while let Ok(heard) = self.heard_queue.pop() {
            self.heard.push(heard);
        }
        while let Ok(struck) = self.struck_queue.pop() {
            self.struck.push(struck);
        }
    }

    /// The frame of a player's stroke, where the section began with the first click heard at this frame.
    pub(crate) fn frame(&self, player: u64, stroke: u64, first_heard: i64) -> i64 {
        first_heard + self.latency + LEAD + after_first(&self.plan, player, stroke)
    }

    pub(crate) fn skipped(&self) -> u64 {
        self.skipped.load(Ordering::Relaxed)
    }
}

/// What JACK calls once a cycle. It must not hold the server up, so it does not allocate.
struct Body {
    ear: jack::Port<AudioIn>,
    ports: [jack::Port<MidiOut>; 2],
    plan: Plan,
    latency: i64,
    next_cycle: Option<i64>,
    /// The frame of the section's first stroke, once it is known.
    first: Option<i64>,
    deaf_until: i64,
    next: Vec<u64>,
    /// Place in the cycle, port, status byte, stroke.
    due: Vec<(u32, usize, u8, u64)>,
    heard: Producer<i64>,
    struck: Producer<(i64, u64)>,
    skipped: Arc<AtomicU64>,
}

impl ProcessHandler for Body {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let frames = i64::from(scope.n_frames());
        // JACK's counter wraps after a day.
        let begins = i64::from(scope.last_frame_time());
        match self.next_cycle {
            Some(expected) if expected != begins => {
                self.skipped.fetch_add(begins.abs_diff(expected), Ordering::Relaxed);
            }
            Some(_) => {}
            None => self.first = self.plan.first.map(|first| begins + first),
        }
        self.next_cycle = Some(begins + frames);
        for (frame, sample) in (begins..).zip(self.ear.as_slice(scope)) {
            if sample.abs() > THRESHOLD && frame >= self.deaf_until {
                self.deaf_until = frame + DEAF;
                self.heard.push(frame).ok();
                self.first.get_or_insert(frame + self.latency + LEAD);
            }
        }
        self.strike(begins, frames);
        let [a, b] = &mut self.ports;
        let mut writers = [a.writer(scope), b.writer(scope)];
        for &(time, port, channel, _) in &self.due {
            writers[port].write(&RawMidi { time, bytes: &[0x90 | channel, 38, 100] }).ok();
        }
        Control::Continue
    }
}

impl Body {
    /// Gathers the strokes of this cycle, in order.
    fn strike(&mut self, begins: i64, frames: i64) {
        self.due.clear();
        let Some(first) = self.first else { return };
        for (player, next) in (0u64..).zip(self.next.iter_mut()) {
            while *next < self.plan.strokes && self.due.len() < self.due.capacity() {
                let at = first + after_first(&self.plan, player, *next);
                if at >= begins + frames {
                    break;
                }
                // One that lay in a skipped cycle goes out at once; the skip is told.
                let time = u32::try_from((at - begins).max(0)).unwrap_or(0);
                let (port, channel) = (usize::from(player >= 16), u8::try_from(player % 16).unwrap_or(0));
                self.due.push((time, port, channel, *next));
                self.struck.push((at.max(begins), player)).ok();
                *next += 1;
            }
        }
        self.due.sort_unstable();
    }
}
