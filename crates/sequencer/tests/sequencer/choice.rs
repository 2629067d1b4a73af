//! The choice of what sounds: where it clicks, what is said and how, words for the entry, strokes and tones.
//!
//! Where a felt beat divides (in two, in three in compound meters), that count 1 is accented, and that a flam's grace
//! stroke comes before its note are common practice, no source. How loud and how far before are choices of the crate's,
//! named in its limits.

use mixer::{SoundEvent, StripId};
use rhythm::text;
use sequencer::levels::{CLAP, CLICK, COUNT, TONE};
use sequencer::{
    Aside, Choice, ClickOn, CountOn, Cued, Entry, Levels, Plan, Sequence, Sounding, Speech, lower, sequence,
};
use voice::VoicePack;

fn sequenced(text: &str, count_in: u32, sounds: Choice) -> Sequence {
    let reading = text::read(text);
    let rhythm = reading.rhythm.unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
    let plan = Plan::of(&rhythm).with_count_in(count_in).expect("in range").with_choice(sounds);
    sequence(&rhythm, &counting::count(&rhythm), &plan)
}

/// The clicks of `text`: `>` on count 1, `^` where a group begins, `( )` between the beats.
#[track_caller]
fn check_clicks(text: &str, on: ClickOn, expected: &str) {
    let sequence = sequenced(text, 0, Choice { click: on, ..Choice::default() });
    let told = sequence.cues().iter().filter_map(|cue| match cue.cued {
        Cued::Click { accented: true, .. } => Some(format!(">{}", cue.at)),
        Cued::Click { group: true, .. } => Some(format!("^{}", cue.at)),
        Cued::Click { .. } => Some(cue.at.to_string()),
        Cued::Division => Some(format!("({})", cue.at)),
        Cued::Count { .. } | Cued::Clap { .. } | Cued::Tone { .. } => None,
    });
    assert_eq!(told.collect::<Vec<_>>().join(" "), expected, "{text}, {on:?}");
}

#[test]
fn it_clicks_where_it_is_wanted() {
    check_clicks("meter: 4/4\n| 1 |", ClickOn::Beats, ">0 1/4 1/2 3/4");
    check_clicks("meter: 4/4\n| 1 |", ClickOn::Divisions, ">0 (1/8) 1/4 (3/8) 1/2 (5/8) 3/4 (7/8)");
    check_clicks("meter: 4/4\n| 1 | 1 |", ClickOn::Downbeats, ">0 >1");
    check_clicks("meter: 4/4\n| 1 |", ClickOn::Groups, ">0 1/4 1/2 3/4");
    check_clicks("meter: 6/8\n| 1 |", ClickOn::Beats, ">0 3/8");
    check_clicks("meter: 6/8\n| 1 |", ClickOn::Divisions, ">0 (1/8) (1/4) 3/8 (1/2) (5/8)");
    check_clicks("meter: 6/8 in 6\n| 1 |", ClickOn::Beats, ">0 1/8 1/4 3/8 1/2 5/8");
    check_clicks("meter: 2/2\n| 1 |", ClickOn::Divisions, ">0 (1/4) 1/2 (3/4)");
    check_clicks("meter: 2/2 in 4\n| 1 |", ClickOn::Beats, ">0 1/4 1/2 3/4");
    check_clicks(
        "meter: 2/4\n| 1 | [6/8] 1 |",
        ClickOn::Divisions,
        ">0 (1/8) 1/4 (3/8) >1/2 (5/8) (3/4) 7/8 (1) (9/8)",
    );
    // A pickup of one beat, whose complement the last bar is.
    check_clicks("meter: 3/4\n3 | 1 |", ClickOn::Divisions, "-1/4 (-1/8) >0 (1/8) 1/4 (3/8)");
}

#[test]
fn groups_of_unequal_meters_are_accented() {
    check_clicks("meter: 7/8 2+2+3\n| 1 |", ClickOn::Beats, ">0 1/8 ^1/4 3/8 ^1/2 5/8 3/4");
    check_clicks("meter: 7/8 2+2+3\n| 1 |", ClickOn::Groups, ">0 ^1/4 ^1/2");
    check_clicks("meter: 5/4 3+2\n| 1 |", ClickOn::Beats, ">0 1/4 1/2 ^3/4 1");
    check_clicks("meter: 9/8 2+2+2+3\n| 1 |", ClickOn::Groups, ">0 ^1/4 ^1/2 ^3/4");
    // A group that begins between beats is no accent of a beat, but a click where groups are clicked.
    check_clicks("meter: 4/4 3+3+2\n| 1 |", ClickOn::Beats, ">0 1/4 1/2 3/4");
    check_clicks("meter: 4/4 3+3+2\n| 1 |", ClickOn::Groups, ">0 ^3/8 ^3/4");
}

#[test]
fn a_take_knows_the_beats_whatever_is_clicked() {
    for click in [ClickOn::Beats, ClickOn::Divisions, ClickOn::Downbeats, ClickOn::Groups] {
        let sequence = sequenced("meter: 2/4\n| 1 2 |", 1, Choice { click, ..Choice::default() });
        let beats: Vec<String> =
            sequence.beats().iter().map(|(at, one)| format!("{at}{}", if *one { ">" } else { "" })).collect();
        assert_eq!(beats, ["-1/2>", "-1/4", "0>", "1/4"], "{click:?}");
    }
}

/// What is said of `text`: `~` softer, `?` whispered, `+` and the room it has.
#[track_caller]
fn check_said(text: &str, count_in: u32, sounds: Choice, expected: &str) {
    let sequence = sequenced(text, count_in, sounds);
    let told = sequence.cues().iter().filter_map(|cue| match &cue.cued {
        Cued::Count { say, speech, slot, .. } => {
            let how = match speech {
                Speech::Aloud => "",
                Speech::Softer => "~",
                Speech::Whispered => "?",
            };
            Some(format!("{how}{say}+{slot}"))
        }
        _ => None,
    });
    assert_eq!(told.collect::<Vec<_>>().join(" "), expected, "{text}, {sounds:?}");
}

#[test]
fn counts_are_said_as_they_are_wanted() {
    let text = "meter: 4/4\n| 1 & _2 (3) 4 & |";
    let all = Choice::default();
    // The numbers system says holds and softens rests.
    check_said(text, 0, all, "1+1/8 &+1/8 2+1/4 ~3+1/4 4+1/8 &+1/8");
    check_said(text, 0, Choice { count: CountOn::Beats, ..all }, "1+1/4 2+1/4 ~3+1/4 4+1/4");
    check_said(text, 0, Choice { count: CountOn::Attacks, ..all }, "1+1/8 &+5/8 4+1/8 &+1/8");
    let asides = |holds, rests| Choice { holds, rests, ..all };
    check_said(text, 0, asides(Aside::Softer, Aside::Whispered), "1+1/8 &+1/8 ~2+1/4 ?3+1/4 4+1/8 &+1/8");
    check_said(text, 0, asides(Aside::Silent, Aside::Silent), "1+1/8 &+5/8 4+1/8 &+1/8");
    check_said(text, 0, asides(Aside::Silent, Aside::Aloud), "1+1/8 &+3/8 3+1/4 4+1/8 &+1/8");
}

#[test]
fn the_entry_is_called_on_the_last_two_beats() {
    let ready = |text, count_in, expected| {
        let sounds = Choice { entry: Entry::ReadyPlay, rests: Aside::Silent, ..Choice::default() };
        check_said(text, count_in, sounds, expected);
    };
    ready("meter: 4/4\n| 1 |", 1, "1+1/4 2+1/4 ready+1/4 play+1/4 1+1/4 2+1/4 3+1/4 4+1/4");
    ready("meter: 3/4\n| 3/4 |", 1, "1+1/4 ready+1/4 play+1/4 1+1/4 2+1/4 3+1/4");
    ready("meter: 2/4\n| 1/2 |", 2, "1+1/4 2+1/4 ready+1/4 play+1/4 1+1/4 2+1/4");
    ready("meter: 6/8\n| 6/8 |", 1, "ready+3/8 play+3/8 1+3/8 2+3/8");
    ready("meter: 6/8\n| 6/8 |", 2, "1+3/8 2+3/8 ready+3/8 play+3/8 1+3/8 2+3/8");
    // Up to the entry before a pickup, on the beat and off it.
    ready("meter: 3/4\n3 | 3/4 |", 1, "1+1/4 2+1/4 3+1/4 ready+1/4 play+1/4 3+1/4 1+1/4 2+1/4 3+1/4");
    ready("meter: 2/4\n& | 1/2 |", 1, "1+1/4 2+1/4 ready+1/4 play+1/8 &+1/8 1+1/4 2+1/4");
    ready("meter: 2/4\n| 1/2 |", 0, "1+1/4 2+1/4");
}

fn sounded(text: &str, sounds: Choice) -> (Sequence, Sounding) {
    let sequence = sequenced(text, 0, sounds);
    let voice = VoicePack::shipped("female").expect("shipped");
    let sounding = lower(&sequence, &voice).expect("sayable");
    (sequence, sounding)
}

fn events(sounding: &Sounding, strip: StripId) -> Vec<SoundEvent> {
    sounding.programme().events().iter().filter(|event| event.strip == strip).copied().collect()
}

/// Where the events of a strip begin, in ms from bar 1, and their gains in dB.
fn places(sounding: &Sounding, strip: StripId) -> Vec<(i64, i64)> {
    let told = |event: SoundEvent| {
        let frames = (event.at - sounding.bar_one()).count() as f64;
        #[expect(clippy::cast_possible_truncation, reason = "milliseconds and decibels, for reading")]
        let (ms, db) = ((frames / 48.0).round() as i64, (20.0 * event.gain.log10()).round() as i64);
        (ms, db)
    };
    events(sounding, strip).into_iter().map(told).collect()
}

#[test]
fn a_voice_without_the_words_for_the_entry_says_so() {
    let voice = VoicePack::shipped("male").expect("shipped");
    for entry in [Entry::ReadyGo, Entry::ReadyPlay] {
        let sequence = sequenced("| 1 |", 1, Choice { entry, ..Choice::default() });
        let missing = entry.words().into_iter().flatten().find(|word| !voice.says(word));
        match (lower(&sequence, &voice), missing) {
            (Ok(_), None) => {}
            (Err(error), Some(word)) => assert_eq!(
                error.to_string(),
                format!(
                    "the voice male has no recording of \"{word}\" for the count-in: count in with numbers, or record the word"
                )
            ),
            (lowered, missing) => panic!("{missing:?} is missing: {lowered:?}"),
        }
    }
}

#[test]
fn clicks_differ_by_pitch_and_level() {
    let text = "tempo: eighth = 120\nmeter: 7/8 2+2+3\n| 1 |";
    let (_, sounding) = sounded(text, Choice::default());
    assert_eq!(
        places(&sounding, CLICK),
        [(0, 0), (500, 0), (1_000, -4), (1_500, 0), (2_000, -4), (2_500, 0), (3_000, 0)]
    );
    let clicks = events(&sounding, CLICK);
    assert!(clicks[0].sample == clicks[2].sample && clicks[0].sample != clicks[1].sample);
    let divided = Choice { click: ClickOn::Divisions, ..Choice::default() };
    let (_, sounding) = sounded("tempo: quarter = 120\nmeter: 1/4\n| 1 |", divided);
    assert_eq!(places(&sounding, CLICK), [(0, 0), (250, -6)]);
}

#[test]
fn accents_flams_rolls_and_hands_are_heard() {
    let text =
        "tempo: quarter = 120\nmeter: 4/4\n| 1 2 & 3 4 |\naccents: | . > . ^ . |\nsticking: | R L R B . |";
    let (_, sounding) = sounded(text, Choice::default());
    // Both hands are two claps, each 3 dB softer.
    assert_eq!(places(&sounding, CLAP), [(0, 0), (500, 4), (750, 0), (1_000, 4), (1_000, 4), (1_500, 0)]);
    let hands: Vec<_> = events(&sounding, CLAP).iter().map(|event| event.sample).collect();
    assert!(hands[0] == hands[2] && hands[0] != hands[1], "right, left, right");
    assert!(hands[3] == hands[1] && hands[4] == hands[0], "both");
    assert!(hands[5] == sounding.clap() && hands[0] != hands[5], "no hand written");

    let text = "tempo: quarter = 120\nmeter: 4/4\n| 1 2 3 4 |\nstrokes: | flam ruff // z |";
    let (_, sounding) = sounded(text, Choice::default());
    let claps = places(&sounding, CLAP);
    let before: Vec<_> = claps.iter().filter(|(ms, _)| *ms < 1_000).copied().collect();
    assert_eq!(before, [(-40, -6), (0, 0), (380, -6), (420, -6), (460, -6), (500, 0)]);
    let sixteenths: Vec<_> = claps.iter().filter(|(ms, _)| (1_000..1_500).contains(ms)).copied().collect();
    assert_eq!(sixteenths, [(1_000, 0), (1_125, -4), (1_250, -4), (1_375, -4)]);
    let buzz: Vec<_> = claps.iter().filter(|(ms, _)| *ms >= 1_500).copied().collect();
    assert_eq!(buzz.len(), 9, "every 55 ms for half a second: {buzz:?}");
}

#[test]
fn grace_strokes_stay_behind_the_note_before() {
    let text = "tempo: quarter = 300\nmeter: 1/4\n| 1/16 1/16 1/16 1/16 |\nstrokes: | . ruff . . |";
    let (_, sounding) = sounded(text, Choice::default());
    let claps: Vec<i64> =
        events(&sounding, CLAP).iter().map(|event| (event.at - sounding.bar_one()).count()).collect();
    // 2,400 frames between the notes, so the three lie within the last 1,200.
    assert_eq!(claps, [0, 1_200, 1_600, 2_000, 2_400, 4_800, 7_200]);
}

#[test]
fn a_tone_is_held_over_ties_and_bar_lines_and_cut_where_the_rest_is() {
    let text = "tempo: quarter = 60\nmeter: 4/4\n| 1 _2 3 & _4 | _1 (2) 3 _4 |";
    let (_, sounding) = sounded(text, Choice::default());
    let tones: Vec<(i64, i64)> = events(&sounding, TONE)
        .iter()
        .map(|event| ((event.at - sounding.bar_one()).count(), event.length.expect("it ends").count()))
        .collect();
    assert_eq!(tones, [(0, 96_000), (96_000, 24_000), (120_000, 120_000), (288_000, 96_000)]);
    assert!(events(&sounding, TONE).iter().all(|event| event.fade.count() == 1_440), "30 ms");
}

/// Rendered and looked at: the tone is there at once, sinks into silence before the rest, and makes no step.
#[test]
fn the_tone_is_heard_as_long_as_its_note() {
    let text = "tempo: quarter = 60\nmeter: 3/4\n| 1 _2 (3) |";
    let (_, sounding) = sounded(text, Choice::default());
    let muted = sequencer::Each { click: true, count: true, clap: true, tone: false };
    let levels = Levels { muted, ..Levels::default() };
    let mut mixer = levels.on(mixer::Mixer::new(sounding.programme())).expect("levels");
    let mut sound = Vec::new();
    mixer::render_offline::<()>(&mut mixer, |block| {
        sound.extend_from_slice(block);
        Ok(())
    })
    .expect("no failure");
    let bar_one = usize::try_from(sounding.bar_one().index()).expect("positive");
    let peak = |from: usize, to: usize| {
        sound[bar_one + from..bar_one + to].iter().fold(0.0_f32, |peak, frame| peak.max(frame.abs()))
    };
    assert!(sound[..bar_one].iter().all(|frame| *frame == 0.0));
    let held = peak(60_000, 70_000);
    assert!(held > 0.05 && peak(0, 480) > held, "{held}");
    assert!((peak(90_000, 94_000) - held).abs() < 0.01 * held, "it does not fade while it is held");
    assert!(peak(95_900, 96_000) < 0.1 * held);
    assert!(sound[bar_one + 96_000..].iter().all(|frame| *frame == 0.0), "cut where the rest is");
    // Computed: 440 Hz and its partials step by 0.168 of their peak a frame, and are struck 1.6 times as high.
    let step = sound.windows(2).fold(0.0_f32, |step, pair| step.max((pair[1] - pair[0]).abs()));
    assert!(step < 0.27 * held, "{step} of {held}");
}

#[test]
fn softer_and_whispered_counts_are_eight_decibels_below() {
    let whispered = Choice { rests: Aside::Whispered, ..Choice::default() };
    let text = "tempo: quarter = 60\nmeter: 4/4\n| 1 (2) 3 (4) |";
    for sounds in [Choice::default(), whispered] {
        let (_, sounding) = sounded(text, sounds);
        let gains: Vec<i64> = places(&sounding, COUNT).iter().map(|(_, db)| *db).collect();
        assert_eq!(gains, [0, -8, 0, -8], "{sounds:?}");
    }
    let [(_, said), (_, breath)] = [Choice::default(), whispered].map(|sounds| sounded(text, sounds));
    let two = |sounding: &Sounding| {
        let event = events(sounding, COUNT)[1];
        (event.at, sounding.programme().bank().sample(event.sample).expect("held").data().to_vec())
    };
    let ((at, voiced), (breath_at, breathed)) = (two(&said), two(&breath));
    assert_eq!((at, voiced.len()), (breath_at, breathed.len()), "the centre stays where it is");
    assert!(voiced != breathed);
}
