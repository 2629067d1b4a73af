//! The whole engine without devices: what a section strikes, the rounds of drill plans, devices that come and go, a microphone, and what the driver
//! calls. Time passes as fast as it can be reckoned.

#[path = "../../../mixer/tests/allocations/mod.rs"]
mod allocations;
mod hot_plug;
mod pads;
mod real_time;
mod recording;
mod rounds;
mod section;
mod stored;

use std::path::Path;

use live::offline::Offline;
use live::{Drill, Event, PlayerState};
use take::Take;
use timebase::{Moment, Seconds};

/// Quarters at 120 after one bar of count-in: half a second a beat, so many bars.
fn quarters(bars: u32) -> Drill {
    let played = if bars == 1 { "| 1 2 3 4 |".to_owned() } else { format!("|: 1 2 3 4 :| {bars} times") };
    drill(&format!("meter: 4/4\ntempo: quarter = 120\n{played}\n"))
}

fn drill(text: &str) -> Drill {
    let read = rhythm::text::read(text);
    let rhythm = read.rhythm.unwrap_or_else(|| panic!("{:?}", read.diagnostics));
    let plan = sequencer::Plan::of(&rhythm);
    Drill::new(rhythm, plan)
}

fn kept(mut drill: Drill, take: &Path) -> Drill {
    drill.take = Some(take.to_owned());
    drill
}

fn ms(ms: i64) -> Seconds {
    Seconds::from_millis(ms)
}

fn at(ms: i64) -> Moment {
    Moment::ZERO + Seconds::from_millis(ms)
}

/// Somebody who strikes a pad at these moments of the drill, in order.
struct Hands {
    pad: &'static str,
    strokes: Vec<(Moment, [u8; 3])>,
    next: usize,
}

impl Hands {
    fn new(pad: &'static str, strokes: impl IntoIterator<Item = (Moment, [u8; 3])>) -> Self {
        Self { pad, strokes: strokes.into_iter().collect(), next: 0 }
    }

    /// Strikes `message` at every one of these moments.
    fn even(pad: &'static str, moments: impl IntoIterator<Item = Moment>, message: [u8; 3]) -> Self {
        Self::new(pad, moments.into_iter().map(|at| (at, message)))
    }

    fn strike(&mut self, engine: &mut Offline) {
        let Some(now) = engine.drill_now() else { return };
        while let Some(&(at, message)) = self.strokes.get(self.next).filter(|(at, _)| *at <= now) {
            let stamp = engine.now() - (now - at);
            engine.send_at(self.pad, &message, stamp);
            self.next += 1;
        }
    }
}

/// Lets so much time pass while hands strike.
fn play(engine: &mut Offline, length: Seconds, hands: &mut [Hands]) {
    let until = engine.now() + length;
    while engine.now() < until {
        engine.pass(ms(1));
        hands.iter_mut().for_each(|hands| hands.strike(engine));
    }
}

/// Everything that was told, and the end if there was one.
struct Told {
    notices: Vec<String>,
    others: Vec<Event>,
    end: Option<(take::Ended, Vec<PlayerState>, usize)>,
}

fn told(engine: &Offline) -> Told {
    let mut told = Told { notices: Vec::new(), others: Vec::new(), end: None };
    for event in engine.events().try_iter() {
        match event {
            // Every test plugs its pads in before it begins.
            Event::Notice(notice) if notice.contains("was plugged in") => {}
            Event::Notice(notice) => told.notices.push(notice),
            Event::Ended { ended, players, disturbances, .. } => {
                told.end = Some((ended, players.to_vec(), disturbances));
            }
            other => told.others.push(other),
        }
    }
    told
}

fn offsets_ms(player: &PlayerState) -> Vec<f64> {
    let matched = player.judgement.attacks().iter().filter_map(|attack| attack.answer);
    matched.map(|answer| answer.offset.as_millis_f64()).collect()
}

fn opened(take: &Path) -> Take {
    Take::open(take).unwrap_or_else(|error| panic!("{error}"))
}
