use onset::{Settings, strokes, strokes_beside};
use proptest::prelude::*;
use timebase::{SampleRate, Seconds};

/// Anything a file may hold.
fn sample() -> impl Strategy<Value = f32> {
    prop_oneof![6 => -1.0_f32..1.0, 2 => Just(0.0_f32), 1 => any::<f32>(), 1 => Just(f32::NAN), 1 => Just(f32::MAX)]
}

/// Pieces of anything, each once or many times over: silence, constants, tones and noise.
fn recording() -> impl Strategy<Value = Vec<f32>> {
    let piece = (prop::collection::vec(sample(), 1..40), 1_usize..200);
    prop::collection::vec(piece, 0..12)
        .prop_map(|pieces| pieces.into_iter().flat_map(|(piece, times)| piece.repeat(times)).collect())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_recording_is_searched_and_its_strokes_stand_in_order(
        recording in recording(),
        played in recording(),
        hz in 8_000_u32..=192_000,
        retrigger_ms in 5_i64..=200,
    ) {
        let rate = SampleRate::new(hz).expect("in range");
        let retrigger = Seconds::from_millis(retrigger_ms);
        let settings = Settings::default().with_retrigger(retrigger).expect("in range");
        let alone = strokes(&recording, rate, &settings).expect("short");
        let beside = strokes_beside(&recording, &played, rate, &settings).expect("short");
        for found in [alone, beside] {
            for stroke in &found {
                let at = usize::try_from(stroke.at.index()).expect("not before the recording");
                prop_assert!(at < recording.len());
                prop_assert!(stroke.peak_dbfs.is_finite());
            }
            for pair in found.windows(2) {
                let apart = pair[1].at.moment(rate) - pair[0].at.moment(rate);
                // A frame's rounding to either side.
                prop_assert!(apart >= retrigger - Seconds::from_micros(130), "{apart:?}");
            }
        }
    }

    #[test]
    fn a_softer_recording_has_the_same_strokes(gain in 0.02_f32..1.0, recording in recording()) {
        let rate = SampleRate::HZ_48000;
        let whole: Vec<f32> = recording.iter().map(|s| if s.is_finite() { s.clamp(-1.0, 1.0) } else { 0.0 }).collect();
        let softer: Vec<f32> = whole.iter().map(|sample| sample * gain).collect();
        let count = |sound: &[f32]| strokes(sound, rate, &Settings::default()).expect("short").len();
        // Where rounding decides a single candidate may come or go.
        prop_assert!(count(&whole).abs_diff(count(&softer)) <= 1);
    }
}
