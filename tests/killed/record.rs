//! Records a take until it is killed, and says on standard output how much it has handed over.
//!
//! ```text
//! record_until_killed FOLDER PACE
//! ```
//!
//! `PACE` is `real` (as fast as the sound lasts) or `full` (as fast as the machine can). After each hundredth of a second
//! of sound it prints a line: frames, strokes of player 1, strokes of player 2. When the sound fails it says so in
//! a line and goes on with strokes.

use std::io::{Write as _, stdout};
use std::path::Path;
use std::time::{Duration, Instant};

use take::{Header, PlayerNote, Recorder, Role, SoundNote, Stroke};
use timebase::{Frame, Moment, SampleRate, Seconds, Span, Tempo};

const RATE: SampleRate = SampleRate::HZ_48000;
const BLOCK: i64 = 480;
/// Ten minutes: long enough to be killed in.
const BLOCKS: i64 = 60_000;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let [_, folder, pace] = arguments.as_slice() else { panic!("call: record_until_killed FOLDER PACE") };
    let mut recorder = Recorder::begin(Path::new(folder), header()).expect("the recording begins");
    let (mut sounding, mut strokes) = (true, [0_i64; 2]);
    let began = Instant::now();
    for block in 0..BLOCKS {
        let frames = block * BLOCK..(block + 1) * BLOCK;
        // Player 1 strikes every 125 ms, player 2 every 250.
        for (player, every) in [(0, 125), (1, 250)] {
            let at = Moment::ZERO + Seconds::from_millis(strokes[player] * every);
            if at < Frame::new(frames.end).moment(RATE) {
                let stroke =
                    Stroke { at, note: 39, velocity: 100, released: None, origin: None, role: Role::Attack };
                recorder.stroke(player, stroke).expect("a stroke is kept");
                strokes[player] += 1;
            }
        }
        if sounding {
            let channel = |step| frames.clone().map(|frame| sample(frame, step)).collect::<Vec<_>>();
            if let Err(error) = recorder.audio(&channel(7_919), &channel(104_729)) {
                say(&format!("sound failed: {error}"));
                sounding = false;
            }
        }
        say(&format!("{} {} {}", frames.end, strokes[0], strokes[1]));
        if pace == "real" {
            let due = Duration::from_millis(10) * u32::try_from(block + 1).expect("few blocks");
            std::thread::sleep(due.saturating_sub(began.elapsed()));
        }
    }
    panic!("nobody killed the recording");
}

/// A value of 16 bits for each frame, another in each channel.
fn sample(frame: i64, step: i64) -> f32 {
    let value = i16::try_from(frame * step % 60_000 - 30_000).expect("within 16 bits");
    f32::from(value) / 32_768.0
}

fn say(line: &str) {
    let mut out = stdout();
    writeln!(out, "{line}").and_then(|()| out.flush()).expect("somebody listens");
}

fn header() -> Header {
    Header {
        title: Some("Until it is killed".to_owned()),
        rhythm: "meter: 4/4\n\n| 1 2 3 4 |\n".to_owned(),
        tempo: Tempo::new(Span::QUARTER, 120.into()).expect("a tempo"),
        count_in_bars: 1,
        recorded_at: "2025-03-01T10:15:00+01:00".to_owned(),
        bar_one: Moment::ZERO + Seconds::from_millis(2_250),
        clicks: Vec::new(),
        players: vec![PlayerNote::new("K07", "pad"), PlayerNote::new("K11", "space bar")],
        sound: SoundNote::new(RATE),
        drill: None,
    }
}
