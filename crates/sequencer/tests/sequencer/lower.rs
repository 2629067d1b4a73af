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
    for name in voice::shipped_names() {
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
                assert!(beats.contains(&(event.at + centre)), "{name} at {tempo}");
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
    for name in voice::shipped_names() {
        let voice = VoicePack::shipped(name).expect("shipped");
        let (_, sounding) = sounding("tempo: quarter = 60\n| 1 & 2 & 3 & 4 & |", &voice);
        assert_eq!(sounding.compromises(), []);
    }
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

    /// At another device's rate the click falls on that rate's nearest frame.
    #[test]
    fn other_rates_keep_their_places(hz in prop::sample::select(vec![44_100u32, 96_000])) {
        let rate = SampleRate::new(hz).expect("in range");
        let voice = VoicePack::shipped("female").and_then(|v| v.at_rate(rate)).expect("resampled");
        let (_, sounding) = sounding(MIXED, &voice);
        let clicks = sounding.programme().events().iter().filter(|e| e.strip == CLICK);
        for (beat, click) in (-4..).zip(clicks) {
            let expected = (2 * 60 * i64::from(hz) * beat + 97_i64).div_euclid(2 * 97);
            prop_assert_eq!((click.at - sounding.bar_one()).count(), expected);
        }
    }
}
