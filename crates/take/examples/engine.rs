//! Renders a rhythm so many times, in stereo and limited, and writes it as a MIDI file, for `tests/engine` to set the
//! engine beside a synthesizer that renders the same file.
//!
//! `engine OUT.mid TIMES`: prints how many seconds of sound one rendering is.
#![expect(clippy::print_stdout, reason = "an example's answer")]

use std::error::Error;

use mixer::{Mixer, render_offline_stereo};
use sequencer::{Choice, ClickOn, Each, Levels, Plan, lower, sequence};
use voice::VoicePack;

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let (Some(out), Some(times)) = (words.next(), words.next()) else {
        return Err("engine OUT.mid TIMES".into());
    };
    // Ten minutes of sixteenths and triplets, a hold and a rest.
    let bar = "1 e & a 2 & 3 la li 4 _& a";
    let bars = format!("{bar} | _1 (2) & 3 & 4 & | 1 _2 & (3) 4");
    let text = format!("tempo: quarter = 120\n|: {bars} | {bars} :| 50 times");
    let rhythm = rhythm::text::read(&text).rhythm.ok_or("no rhythm")?;
    let plan = Plan::of(&rhythm).with_choice(Choice { click: ClickOn::Divisions, ..Choice::default() });
    let sequence = sequence(&rhythm, &counting::count(&rhythm), &plan);
    std::fs::write(out, take::midi::write_sequence(&sequence, None)?)?;

    let sounding = lower(&sequence, &VoicePack::shipped("female")?)?;
    let levels = Levels { muted: Each::default(), ..Levels::default() };
    let mut loudest = 0.0_f32;
    for _ in 0..times.parse::<u32>()? {
        let mut mixer = levels.on(Mixer::new(sounding.programme()))?;
        render_offline_stereo(&mut mixer, |block| {
            loudest = block.iter().flatten().fold(loudest, |loudest, frame| loudest.max(frame.abs()));
            Ok::<_, std::convert::Infallible>(())
        })?;
    }
    println!("{} {loudest}", sequence.sounding_length().as_secs_f64());
    Ok(())
}
