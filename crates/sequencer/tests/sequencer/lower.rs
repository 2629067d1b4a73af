//! Cues made sound: clicks at the exact frame, every syllable's perceptual centre on its beat.

use mixer::{Mixer, render_offline};
use proptest::prelude::*;
use rhythm::text;
use sequencer::levels::{CLICK, COUNT};
use sequencer::{Plan, Sequence, Sounding, lower, sequence};
use timebase::{Frame, Frames, SampleRate};
use voice::VoicePack;

fn sounding(text: &str, voice: &VoicePack) -> (Sequence, Sounding) {
    let rhythm = text::read(text).rhythm.expect("a rhythm");
    let sequence = sequence(&rhythm, &counting::count(&rhythm), &Plan::of(&rhythm));
    let sounding = lower(&sequence, voice).expect("sayable");
    (sequence, sounding)
}

const MIXED: &str = "tempo: quarter = 97\n| 1 e & a 2 & 3 (4) | 1 la li _2 & 3 4 & | _1 (2) & 3 |";

/// The frame of every click, reckoned from the tempo alone in whole numbers: n beats at 97 a minute are
/// 60 · 48000 · n / 97 frames, to the nearest.
#[test]
fn clicks_fall_on_the_exact_frame() {
    let voice = VoicePack::shipped("female").expect("shipped");
    let (_, sounding) = sounding(MIXED, &voice);
    let clicks: Vec<i64> =
        sounding.programme().events().iter().filter(|e| e.strip == CLICK).map(|e| e.at.index()).collect();
    let bar_one = sounding.bar_one().index();
    let expected: Vec<i64> =
        (-4..12).map(|beat| bar_one + (2 * 60 * 48_000 * beat + 97_i64).div_euclid(2 * 97)).collect();
    assert_eq!(clicks, expected);
    assert_eq!(bar_one, 12_000 + 118_763, "a quarter of a second, then four beats");
}

/// What is heard of every word, counted from its event, has its centre on the beat; no word runs into the next.
#[test]
fn every_centre_falls_on_its_beat_and_no_word_runs_into_the_next() {
    for name in ["female", "male"] {
        let voice = VoicePack::shipped(name).expect("shipped");
        for tempo in [40, 88, 132, 200] {
            let text = MIXED.replace("97", &tempo.to_string());
            let (sequence, sounding) = sounding(&text, &voice);
            let rate = sounding.rate();
            let beats: Vec<Frame> = sequence
                .cues()
                .iter()
                .filter(|cue| matches!(cue.cued, sequencer::Cued::Count { .. }))
                .map(|cue| sounding.bar_one() + (sequence.tempo().frame_at(cue.at, rate) - Frame::ZERO))
                .collect();
            let said: Vec<_> = sounding.programme().events().iter().filter(|e| e.strip == COUNT).collect();
            assert_eq!(
                said.len() + sounding.compromises().iter().filter(|c| c.fit.is_none()).count(),
                beats.len(),
                "every word is said or reported"
            );
            for event in &said {
                let sample = sounding.programme().bank().sample(event.sample).expect("held");
                let centre = voice
                    .recordings()
                    .filter(|(_, recording)| recording.sample().data() == sample.data())
                    .map(|(_, recording)| recording.centre())
                    .next()
                    .expect("a recording of the voice");
                assert!(beats.contains(&(event.at + (centre - event.from))), "{name} at {tempo}");
            }
            for pair in said.windows(2) {
                let whole = sounding.programme().bank().sample(pair[0].sample).expect("held").length();
                let length = pair[0].length.map_or(whole, |cut| cut.min(whole));
                assert!(pair[0].at + length <= pair[1].at, "{name} at {tempo}: two words at once");
            }
        }
    }
}

#[test]
fn at_a_walking_pace_every_word_is_said_whole() {
    for name in ["female", "male"] {
        let voice = VoicePack::shipped(name).expect("shipped");
        let (_, sounding) = sounding("tempo: quarter = 60\n| 1 & 2 & 3 & 4 & |", &voice);
        assert_eq!(sounding.compromises(), []);
    }
}

/// What is said: each word with the frame its centre falls on and the speed it is said at.
fn said(voice: &VoicePack, sounding: &Sounding) -> Vec<(String, i64, String)> {
    let events = sounding.programme().events().iter().filter(|e| e.strip == COUNT);
    events
        .map(|event| {
            let sample = sounding.programme().bank().sample(event.sample).expect("held");
            let of = |(_, r): &(_, &voice::Recording)| r.sample().data() == sample.data();
            let (_, recording) = voice.recordings().find(of).expect("a recording of the voice");
            let beat = (event.at + (recording.centre() - event.from) - sounding.bar_one()).count();
            (recording.syllable().to_owned(), beat, recording.speed().to_owned())
        })
        .collect()
}

/// Eighths at this tempo need a quicker voice than quarters, and each bar keeps to one speed.
#[test]
fn the_words_of_a_bar_are_said_at_one_speed() {
    for name in ["female", "male"] {
        let voice = VoicePack::shipped(name).expect("shipped");
        let (_, sounding) =
            sounding("tempo: quarter = 104\n| 1 2 3 4 | 1 2 & 3 & 4 | 1 & 2 & 3 & 4 & | 1 2 3 4 |", &voice);
        let mut speeds = vec![Vec::new(); 5];
        let bar = 4 * 48_000 * 60 / 104;
        for (_, beat, speed) in said(&voice, &sounding) {
            speeds[usize::try_from((beat + 10).div_euclid(bar) + 1).expect("from the count-in on")]
                .push(speed);
        }
        let order = ["slow", "normal", "quick"];
        let paces: Vec<usize> = speeds
            .into_iter()
            .map(|mut speeds| {
                speeds.dedup();
                assert_eq!(speeds.len(), 1, "{name}: {speeds:?}");
                order.iter().position(|speed| *speed == speeds[0]).expect("a speed")
            })
            .collect();
        assert!(paces[0] < paces[3] && paces[4] < paces[3], "{name}: {paces:?}");
        assert_eq!(sounding.compromises(), [], "{name}");
    }
}

/// A number with a long consonant begins late rather than that the count before it has no room: sixteenths are all said up to
/// this tempo, and what begins late begins where its sound crosses zero.
#[test]
fn sixteenths_are_counted_at_a_teaching_tempo() {
    for (name, bpm) in [("female", 116), ("male", 116)] {
        let voice = VoicePack::shipped(name).expect("shipped");
        let sixteenths = "1 e & a 2 e & a 3 e & a 4 e & a";
        let (_, sounding) =
            sounding(&format!("tempo: quarter = {bpm}\n| {sixteenths} | {sixteenths} |"), &voice);
        let silent: Vec<_> = sounding.compromises().iter().filter(|c| c.fit.is_none()).collect();
        assert!(silent.is_empty(), "{name}: {silent:?}");
        let said: Vec<_> = sounding.programme().events().iter().filter(|e| e.strip == COUNT).collect();
        for pair in said.windows(2) {
            let length = pair[0].length.expect("a length");
            assert!(pair[0].at + length <= pair[1].at, "{name}: two words at once");
        }
        let late: Vec<_> = said.iter().filter(|event| event.from > Frames::ZERO).collect();
        assert!(!late.is_empty(), "{name}: nothing begins late, so this shows nothing");
        for event in late {
            let data = sounding.programme().bank().sample(event.sample).expect("held").data();
            let first = usize::try_from(event.from.count()).expect("a frame");
            assert!((data[first - 1] <= 0.0) != (data[first] <= 0.0), "{name}: it begins within a swing");
        }
    }
}

/// Where sixteenths go by too fast for a word between the beats, the beats alone are said, evenly, and each word that
/// is not is reported; where they have room, all are.
#[test]
fn where_words_have_no_room_only_the_beats_are_said() {
    for name in ["female", "male"] {
        let voice = VoicePack::shipped(name).expect("shipped");
        let at = |bpm: u32| {
            let text = format!("tempo: quarter = {bpm}\n| 1 e & a 2 e & a 3 & 4 | 1 2 3 4 |");
            let (_, sounding) = sounding(&text, &voice);
            let words: Vec<String> = said(&voice, &sounding)
                .into_iter()
                .filter(|(_, beat, _)| *beat >= -10)
                .map(|(syllable, ..)| syllable)
                .collect();
            let silent = sounding.compromises().iter().filter(|c| c.fit.is_none()).count();
            (words.join(" "), silent)
        };
        let (all, none) = at(72);
        assert_eq!(none, 0, "{name}: {all}");
        assert_eq!(
            all.replace("and-weak", "and"),
            "one e and a two e and a three and four one two three four"
        );
        let (beats, silent) = at(170);
        assert_eq!(silent, 6, "{name}: {beats}");
        // The one & with an eighth's room stays.
        assert_eq!(beats.replace("and-weak", "and"), "one two three and four one two three four", "{name}");
    }
}

/// A count that is only thought, in parentheses, or silent, is not heard.
#[test]
fn what_is_not_said_aloud_is_not_spoken() {
    let rhythm = text::read("| 1 (2) 3 _4 |").rhythm.expect("a rhythm");
    let check = |system: &str, expected: &[&str]| {
        let system = counting::System::named(system).expect("shipped");
        let line = counting::count_in(&rhythm, &system, &counting::Settings::default());
        let sequence = sequence(&rhythm, &line, &Plan::of(&rhythm).with_count_in(0).expect("allowed"));
        let spoken = sequence.cues().iter().filter_map(|cue| match &cue.cued {
            sequencer::Cued::Count { say, .. } => Some(say.to_string()),
            _ => None,
        });
        assert_eq!(spoken.collect::<Vec<_>>(), expected, "{}", system.name());
    };
    check("numbers", &["1", "2", "3", "4"]);
    check("takadimi", &["ta", "ta"]);
    check("gordon", &["du", "du"]);
    check("kodaly", &["ta", "sh", "ta", "a"]);
}

#[test]
fn it_lasts_from_the_lead_in_to_the_ringing_out() {
    let voice = VoicePack::shipped("female").expect("shipped");
    let (_, sounding) = sounding("tempo: quarter = 120\n| 1 |", &voice);
    assert_eq!(sounding.programme().length(), Frames::new(12_000 + 96_000 + 96_000 + 48_000));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    /// The same to the bit, whatever the block sizes: 1, 64, 441, 512, 4096, and any mixture.
    #[test]
    fn blocks_of_any_size_render_alike(sizes in prop::collection::vec(1usize..5_000, 1..20)) {
        let voice = VoicePack::shipped("male").expect("shipped");
        let (_, sounding) = sounding("tempo: quarter = 160\n| 1 e & a 2 |", &voice);
        let mut whole = Vec::new();
        let mut mixer = Mixer::new(sounding.programme());
        render_offline::<()>(&mut mixer, |block| { whole.extend_from_slice(block); Ok(()) }).expect("no failure");
        for sizes in [vec![64], vec![441], vec![512], vec![4_096], sizes] {
            let mut mixer = Mixer::new(sounding.programme());
            let mut out = vec![0.0; whole.len()];
            let mut rest = out.as_mut_slice();
            for size in sizes.iter().cycle() {
                if rest.is_empty() { break; }
                let (block, later) = rest.split_at_mut((*size).min(rest.len()));
                mixer.render(block);
                rest = later;
            }
            prop_assert!(out.iter().zip(&whole).all(|(a, b)| a.to_bits() == b.to_bits()));
        }
    }
}

/// At another device's rate the click falls on that rate's nearest frame.
#[test]
fn other_rates_keep_their_places() {
    for hz in [8_000, 22_050, 44_100, 96_000, 192_000] {
        let rate = SampleRate::new(hz).expect("in range");
        let voice = VoicePack::shipped("female").and_then(|v| v.at_rate(rate)).expect("resampled");
        let (_, sounding) = sounding(MIXED, &voice);
        let clicks = sounding.programme().events().iter().filter(|e| e.strip == CLICK);
        for (beat, click) in (-4..).zip(clicks) {
            let expected = (2 * 60 * i64::from(hz) * beat + 97_i64).div_euclid(2 * 97);
            assert_eq!((click.at - sounding.bar_one()).count(), expected, "{hz} Hz, beat {beat}");
        }
    }
}
