//! Fitting a word to its slot: every way out, in its order.

use std::sync::LazyLock;

use proptest::prelude::*;
use timebase::{Frame, Frames, Seconds};
use voice::{Fit, Fitted, VoicePack, shipped_names};

fn pack(name: &str) -> VoicePack {
    VoicePack::shipped(name).expect(name)
}

fn fit(pack: &VoicePack, word: &str, slot_ms: i64) -> Option<Fitted> {
    pack.fit(word, Seconds::from_millis(slot_ms)).expect("a word of the pack")
}

#[test]
fn the_slowest_that_fits_is_taken() {
    let pack = pack("female");
    let check = |word: &str, slot_ms: i64, syllable: &str, speed: &str, expected: Fit| {
        let fitted = fit(&pack, word, slot_ms).unwrap_or_else(|| panic!("{word} in {slot_ms} ms"));
        let recording = pack.recording(fitted.recording);
        assert_eq!(
            (recording.syllable(), recording.speed(), fitted.fit),
            (syllable, speed, expected),
            "{slot_ms} ms"
        );
    };
    // Lengths by speed: "one" 374, 286 and 215 ms; "&" 393, 263 and 150 ms; its weak form 195, 157 and 120 ms.
    check("1", 1_000, "one", "slow", Fit::Whole);
    check("1", 375, "one", "slow", Fit::Whole);
    check("1", 374, "one", "normal", Fit::Whole);
    check("1", 286, "one", "quick", Fit::Whole);
    check("1", 215, "one", "quick", Fit::Cut);
    check("&", 500, "and", "slow", Fit::Whole);
    check("&", 140, "and-weak", "quick", Fit::Weaker);
}

#[test]
fn what_cannot_be_said_whole_is_said_shorter_then_cut_then_left_out() {
    let pack = pack("male");
    let and = |slot_ms| fit(&pack, "&", slot_ms);
    let fits: Vec<Option<Fit>> =
        (60..160).rev().map(|slot_ms| and(slot_ms).map(|fitted| fitted.fit)).collect();
    let mut order = fits.clone();
    order.dedup();
    // The weak form lasts 126 ms.
    assert_eq!(order, [Some(Fit::Whole), Some(Fit::Weaker), Some(Fit::Cut), Some(Fit::WeakerCut), None]);
    assert_eq!(and(90), None);
    assert_eq!(fit(&pack, "7", 125), None);
}

#[test]
fn knowing_when_the_next_word_begins_fits_more() {
    let pack = pack("female");
    // At quarter = 120 a sixteenth lasts 125 ms. "4" has a long consonant, so only its own lead hides the room it has.
    let slot = Seconds::from_millis(125);
    assert_eq!(pack.fit("4", slot), Ok(None));
    let e = pack.fit("e", slot).expect("a word").expect("it fits");
    let four = pack.fit_before("4", slot, e.centre).expect("a word").expect("it fits before a short lead");
    assert_eq!(four.fit, Fit::Cut);
    assert_eq!(four.after_beat() + e.centre, Frames::of(slot, pack.rate()));
    // The other way round, "e" before "2" has to end before the t of "2" begins.
    let two = pack.fit("2", Seconds::from_millis(500)).expect("a word").expect("it fits");
    let last = pack.fit_before("e", slot, two.centre).expect("a word");
    assert!(last.is_none_or(|e| e.after_beat() + two.centre <= Frames::of(slot, pack.rate())));
}

#[test]
fn a_word_unknown_is_an_error_and_not_silence() {
    let error = pack("male").fit("thirteen", Seconds::from_millis(500)).expect_err("unknown").to_string();
    assert!(error.starts_with("the voice \"male\" cannot say \"thirteen\": it says & 1 10"), "{error}");
}

#[test]
fn the_centre_falls_on_the_beat() {
    let pack = pack("female");
    let mut bank = mixer::Bank::new(pack.rate());
    let fitted = fit(&pack, "1", 200).expect("it fits");
    let id = bank.add(pack.recording(fitted.recording).sample().clone());
    let event = fitted.event(Frame::new(10_000), id, mixer::StripId::new(2));
    assert_eq!(event.at + pack.recording(fitted.recording).centre(), Frame::new(10_000));
    assert_eq!(
        (event.length, event.fade),
        (Some(fitted.length), Frames::of(Seconds::from_millis(15), pack.rate()))
    );
    assert!(mixer::Programme::new(bank, vec![event], Frames::ZERO).is_ok());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever the word and the slot: what is chosen ends before the next begins, keeps what it must, and a longer
    /// slot never makes it worse.
    #[test]
    fn what_is_fitted_fits(slot_ms in 0i64..900, more in 0i64..200, lead_ms in 0i64..120) {
        static PACKS: LazyLock<Vec<VoicePack>> = LazyLock::new(|| shipped_names().map(pack).collect());
        for pack in PACKS.iter() {
            let lead = Frames::of(Seconds::from_millis(lead_ms), pack.rate());
            for word in pack.words() {
                let slot = Seconds::from_millis(slot_ms);
                let fitted = pack.fit_before(word, slot, lead).expect("a word of the pack");
                let longer = pack.fit_before(word, slot + Seconds::from_millis(more), lead).expect("a word");
                if let Some(fitted) = fitted {
                    let whole = pack.recording(fitted.recording).length();
                    prop_assert!(fitted.after_beat() + lead <= Frames::of(slot, pack.rate()));
                    prop_assert!(fitted.length <= whole && fitted.fade <= fitted.length);
                    let is_cut = matches!(fitted.fit, Fit::Cut | Fit::WeakerCut);
                    prop_assert_eq!(is_cut, fitted.fade > Frames::ZERO);
                    prop_assert!(!is_cut || fitted.after_beat() >= Frames::of(Seconds::from_millis(85), pack.rate()));
                    prop_assert!(longer.is_some_and(|longer| longer.fit <= fitted.fit), "{} in {} ms", word, slot_ms);
                }
            }
        }
    }
}
