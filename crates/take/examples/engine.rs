//! Renders a rhythm so many times, counted by two voices, clicked, clapped and sounded as tones, in stereo and limited,
//! and writes it as a MIDI file, for `tests/engine` to set the engine beside a synthesizer that renders the same file.
//!
//! `engine OUT.mid TIMES`: prints how many seconds of sound one rendering is. `engine OUT.mid TIMES file`: renders what the
//! MIDI file holds alone, click and claps, in stereo and limited like all the rest.
#![expect(clippy::print_stdout, reason = "an example's answer")]

use std::collections::HashMap;
use std::error::Error;
use std::hint::black_box;

use mixer::{Mixer, Programme, SoundEvent, render_offline_stereo};
use sequencer::levels::{CLAP, CLICK, COUNT};
use sequencer::{Choice, ClickOn, Each, Levels, Plan, lower, sequence};
use voice::VoicePack;

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let (Some(out), Some(times)) = (words.next(), words.next()) else {
        return Err("engine OUT.mid TIMES [file]".into());
    };
    let as_the_file = words.next().is_some_and(|word| word == "file");
    // Ten minutes of sixteenths and triplets, a hold and a rest.
    let bar = "1 e & a 2 & 3 la li 4 _& a";
    let bars = format!("{bar} | _1 (2) & 3 & 4 & | 1 _2 & (3) 4");
    let text = format!("tempo: quarter = 120\n|: {bars} | {bars} :| 50 times");
    let rhythm = rhythm::text::read(&text).rhythm.ok_or("no rhythm")?;
    let plan = Plan::of(&rhythm).with_choice(Choice { click: ClickOn::Divisions, ..Choice::default() });
    let sequence = sequence(&rhythm, &counting::count(&rhythm), &plan);
    std::fs::write(out, take::midi::write_sequence(&sequence, None, Levels::default().muted)?)?;

    let first = lower(&sequence, &VoicePack::shipped("female")?)?;
    let second = lower(&sequence, &VoicePack::shipped("male")?)?;
    let programme = if as_the_file {
        let events = first.programme().events().iter().filter(|event| [CLICK, CLAP].contains(&event.strip));
        Programme::new(
            first.programme().bank().clone(),
            events.copied().collect(),
            first.programme().length(),
        )?
    } else {
        both(first.programme(), second.programme())?
    };
    let levels = Levels { muted: Each::default(), ..Levels::default() };
    for _ in 0..times.parse::<u32>()? {
        let mut mixer = levels.on(Mixer::new(&programme))?;
        render_offline_stereo(&mut mixer, |block| {
            // All of it is rendered; what somebody does with it is not the engine's time.
            black_box(block);
            Ok::<_, std::convert::Infallible>(())
        })?;
    }
    println!("{}", sequence.sounding_length().as_secs_f64());
    Ok(())
}

/// All of the first, and the counts of the second.
fn both(first: &Programme, second: &Programme) -> Result<Programme, mixer::Error> {
    let mut bank = first.bank().clone();
    let mut numbers = HashMap::new();
    let mut events = first.events().to_vec();
    for event in second.events().iter().filter(|event| event.strip == COUNT) {
        if let Some(sample) = second.bank().sample(event.sample) {
            let sample = *numbers.entry(event.sample).or_insert_with(|| bank.add(sample.clone()));
            events.push(SoundEvent { sample, ..*event });
        }
    }
    Programme::new(bank, events, first.length())
}
