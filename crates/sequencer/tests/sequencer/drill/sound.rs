//! Rounds made sound, one programme each, from one bank.

use mixer::{Mixer, Programme, SoundEvent, render_offline};
use sequencer::drill::{DrillPlan, Round};
use sequencer::levels::{CLICK, COUNT};
use sequencer::{Cued, Sounding, Sounds};
use timebase::{Frame, Frames};
use voice::VoicePack;

use super::{all_good, drill};

const TEXT: &str = "meter: 3/4\ntempo: quarter = 131\n3 & | 1 2 3 & | 1 & 2 3 | 1 2 |";

fn sounded(plan: DrillPlan, voice: &VoicePack) -> (Vec<Round>, Vec<Sounding>) {
    let drill = drill(plan, &[TEXT]);
    let (rounds, words) = (all_good(&drill), drill.words());
    let sounds = Sounds::of(voice, words.iter().map(|word| word.as_str()));
    let soundings = rounds.iter().map(|round| sounds.lower_round(round).expect("sayable")).collect();
    (rounds, soundings)
}

/// Where the events of a programme stand in the drill: frames from count 1 of the first round.
fn in_drill(sounding: &Sounding) -> impl Iterator<Item = (Frame, &SoundEvent)> {
    sounding.programme().events().iter().map(|event| (event.at - (sounding.bar_one() - Frame::ZERO), event))
}

#[test]
fn every_round_sounds_at_its_place_in_the_drill() {
    let voice = VoicePack::shipped("female").expect("shipped");
    let (rounds, soundings) = sounded(DrillPlan { bars: Some(1), times: 5, ..DrillPlan::default() }, &voice);
    for (round, sounding) in rounds.iter().zip(&soundings) {
        let clicks: Vec<Frame> =
            in_drill(sounding).filter(|(_, event)| event.strip == CLICK).map(|(at, _)| at).collect();
        let written = round.cues().iter().filter(|cue| matches!(cue.cued, Cued::Click { .. }));
        let rate = voice.rate();
        let expected: Vec<Frame> = written.map(|cue| round.tempo_map().frame_at(cue.at, rate)).collect();
        assert_eq!(clicks, expected, "round {}", round.number());
        assert!(std::ptr::eq(sounding.programme().bank(), soundings[0].programme().bank()), "one bank");
    }
}

#[test]
fn no_word_runs_into_the_next_rounds_first() {
    for name in voice::shipped_names() {
        let voice = VoicePack::shipped(name).expect("shipped");
        let plan = DrillPlan {
            bars: Some(1),
            heard: sequencer::drill::Heard { response: sequencer::drill::Audible::ALL, ..Default::default() },
            ..DrillPlan::default()
        };
        let (_, soundings) = sounded(plan, &voice);
        let mut reached = Frame::new(i64::MIN / 2);
        for sounding in &soundings {
            for (at, event) in in_drill(sounding).filter(|(_, event)| event.strip == COUNT) {
                assert!(at >= reached, "{name}: two words at once");
                let whole = sounding.programme().bank().sample(event.sample).expect("held").length();
                reached = at + event.length.map_or(whole, |cut| cut.min(whole));
            }
        }
    }
}

/// The rounds, each in its own programme and following the one before, sound as all of them in one.
#[test]
fn rounds_that_follow_one_another_sound_as_one() {
    let voice = VoicePack::shipped("male").expect("shipped");
    let plan = DrillPlan { bars: Some(2), times: 3, rest: 1, ..DrillPlan::default() };
    let (_, soundings) = sounded(plan, &voice);
    let first = soundings[0].bar_one();
    // Where each programme begins in the first one's frames.
    let begins: Vec<Frames> = soundings.iter().map(|sounding| first - sounding.bar_one()).collect();
    let events = soundings.iter().zip(&begins).flat_map(|(sounding, begins)| {
        sounding.programme().events().iter().map(|event| SoundEvent { at: event.at + *begins, ..*event })
    });
    let length = soundings[soundings.len() - 1].programme().length() + begins[begins.len() - 1];
    let one =
        Programme::new(soundings[0].programme().bank().clone(), events.collect(), length).expect("playable");
    let mut expected = Vec::new();
    render_offline::<()>(&mut Mixer::new(&one), |block| {
        expected.extend_from_slice(block);
        Ok(())
    })
    .expect("no failure");

    let mut mixer = Mixer::new(soundings[0].programme());
    let mut rest = soundings.iter().enumerate().skip(1);
    let mut out: Vec<f32> = Vec::new();
    loop {
        if !mixer.has_next()
            && let Some((index, next)) = rest.next()
        {
            let at = Frame::ZERO + (begins[index] - begins[index - 1]);
            mixer.follow(next.programme(), Frame::ZERO, at).expect("it may follow");
        }
        let frames = mixer.frames_until_next().unwrap_or(mixer.frames_left()).count();
        if frames == 0 && !mixer.has_next() {
            break;
        }
        let mut block = vec![0.0; usize::try_from(frames.clamp(1, 4_096)).expect("small")];
        mixer.render(&mut block);
        out.extend(block);
    }
    assert_eq!(out.len(), expected.len());
    let worst = out.iter().zip(&expected).map(|(a, b)| (a - b).abs()).fold(0.0_f32, f32::max);
    assert!(worst < 1e-5, "{worst}");
    assert!(expected.iter().fold(0.0_f32, |peak, frame| peak.max(frame.abs())) > 0.05, "something sounds");
}
