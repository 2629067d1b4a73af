//! How loud the sounds are at the usual levels, by a library that had no part in setting them (ITU-R BS.1770, EBU R 128).
//!
//! One channel is measured as such: two loudspeakers that both play it are 3 LU louder.

use ebur128::{EbuR128, Mode};
use mixer::{Mixer, render_offline};
use rhythm::text;
use sequencer::{Each, Levels, Plan, lower, sequence};
use voice::VoicePack;

/// From half a second on, so that only plain clicks are among them where the first is accented.
const TEXT: &str = "tempo: quarter = 60\nmeter: 4/4\n| 1 2 3 4 |";

/// The sound of `text` at these levels, from bar 1 on.
fn sound(text: &str, voice: &str, levels: Levels) -> Vec<f32> {
    let rhythm = text::read(text).rhythm.expect("a rhythm");
    let plan = Plan::of(&rhythm).with_count_in(0).expect("in range");
    let sequence = sequence(&rhythm, &counting::count(&rhythm), &plan);
    let sounding = lower(&sequence, &VoicePack::shipped(voice).expect("shipped")).expect("sayable");
    let mut mixer = levels.on(Mixer::new(sounding.programme())).expect("levels");
    let mut sound = Vec::new();
    render_offline::<()>(&mut mixer, |block| {
        sound.extend_from_slice(block);
        Ok(())
    })
    .expect("no failure");
    sound.split_off(usize::try_from(sounding.bar_one().index()).expect("positive"))
}

/// LUFS of the loudest 100 ms.
fn loudest(sound: &[f32]) -> f64 {
    let mut meter = EbuR128::new(1, 48_000, Mode::M).expect("a meter");
    sound.chunks(240).fold(f64::NEG_INFINITY, |loudest, part| {
        meter.add_frames_f32(part).expect("mono");
        loudest.max(meter.loudness_window(100).expect("shorter than the meter's window"))
    })
}

fn only(heard: fn(&mut Each<bool>) -> &mut bool) -> Levels {
    let mut muted = Each { click: true, count: true, clap: true, tone: true };
    *heard(&mut muted) = false;
    Levels { muted, ..Levels::default() }
}

#[track_caller]
fn check(what: &str, sound: &[f32], lufs: std::ops::RangeInclusive<f64>) {
    let loudest = loudest(sound);
    assert!(lufs.contains(&loudest), "{what}: {loudest:.1} LUFS, not in {lufs:?}");
}

#[test]
fn at_the_usual_levels_all_sounds_are_about_as_loud() {
    let clicks = sound(TEXT, "female", only(|muted| &mut muted.click));
    check("the plain click", &clicks[24_000..], -30.5..=-28.5);
    check("the accented click", &clicks[..24_000], -23.5..=-21.5);
    check("the clap", &sound(TEXT, "female", only(|muted| &mut muted.clap)), -30.5..=-28.5);
    check("the tone", &sound(TEXT, "female", only(|muted| &mut muted.tone)), -28.0..=-25.0);
    for voice in voice::shipped_names() {
        check(voice, &sound(TEXT, voice, only(|muted| &mut muted.count)), -27.5..=-26.5);
    }
}

/// Everything at once, at the usual levels: far enough below the ceiling that nothing is limited.
#[test]
fn it_starts_at_a_safe_level() {
    let text = "tempo: quarter = 120\nmeter: 4/4\n|: 1 e & a 2 & 3 la li 4 & | 1 _2 & (3) 4 :| 3 times";
    for (voice, tone) in [("female", false), ("male", false), ("female", true)] {
        let levels = Levels { muted: Each { tone: !tone, ..Each::default() }, ..Levels::default() };
        let sound = sound(text, voice, levels);
        let mut meter = EbuR128::new(1, 48_000, Mode::I | Mode::TRUE_PEAK).expect("a meter");
        meter.add_frames_f32(&sound).expect("mono");
        let true_peak = 20.0 * meter.true_peak(0).expect("a channel").log10();
        let loudness = meter.loudness_global().expect("long enough");
        assert!((-7.0..=-1.0).contains(&true_peak), "{voice}: {true_peak:.1} dBFS");
        assert!((-31.0..=-24.0).contains(&loudness), "{voice}: {loudness:.1} LUFS");
    }
}

/// A strong accent where the music is loudest sounds, and as much louder as `sounds.md` says: 9 dB, and 7 dB for the accent.
#[test]
fn the_loudest_that_can_be_written_sounds() {
    let claps = |marks: &str| {
        let levels = Levels { clap: 0.1, ..only(|muted| &mut muted.clap) };
        loudest(&sound(&format!("{TEXT}\n{marks}"), "female", levels))
    };
    let (plain, accented) = (claps(""), claps("accents: ^ . . .\ndynamics: fff"));
    assert!((accented - plain - 16.0).abs() < 0.5, "{plain:.1} and {accented:.1} LUFS");
    // One step louder still, behind a swell that nothing ends.
    let swelling = TEXT.to_owned() + " 1 |\ndynamics: | fff< | <";
    assert!(loudest(&sound(&swelling, "female", only(|muted| &mut muted.clap))) > plain);
}

/// A stroke of both hands is louder than that of either, and less so than an accent.
#[test]
fn both_hands_are_no_accent() {
    let clap = |marks: &str| {
        let text = format!("tempo: quarter = 60\nmeter: 4/4\n| 1 (2 3 4) |\n{marks}");
        loudest(&sound(&text, "female", only(|muted| &mut muted.clap)))
    };
    let [left, right, both] = ["L", "R", "B"].map(|hand| clap(&format!("sticking: | {hand} |")));
    let accented = clap("accents: | > |") - clap("");
    let louder = both - left.max(right);
    assert!(
        (0.0..=3.05).contains(&louder) && louder < accented - 0.5,
        "{left:.2} {right:.2} {both:.2}, {accented:.2}"
    );
}
