//! Cues at their places.
//!
//! A count-in of full bars, and before a pickup a full bar and then the counts up to the entry; a clap on the
//! start of every note that is not tied from before: common practice, no source.

use rhythm::text;
use sequencer::{Cued, Plan, Sequence, sequence};
use timebase::{Moment, SampleRate, Seconds};

fn sequenced(text: &str, count_in: u32) -> Sequence {
    let reading = text::read(text);
    let rhythm = reading.rhythm.unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
    let plan = Plan::of(&rhythm).with_count_in(count_in).expect("in range");
    sequence(&rhythm, &counting::count(&rhythm), &plan)
}

/// The places of the clicks (`>` accented), words and claps of `text`, in order.
#[track_caller]
fn check(text: &str, count_in: u32, clicks: &str, said: &str, claps: &str) {
    let sequence = sequenced(text, count_in);
    let mut found = [Vec::new(), Vec::new(), Vec::new()];
    for cue in sequence.cues() {
        match &cue.cued {
            Cued::Click { accented, .. } => {
                found[0].push(format!("{}{}", if *accented { ">" } else { "" }, cue.at));
            }
            Cued::Division => found[0].push(format!("({})", cue.at)),
            Cued::Count { say, slot, .. } => found[1].push(format!("{say}@{}+{slot}", cue.at)),
            Cued::Clap { length, .. } => found[2].push(format!("{}+{length}", cue.at)),
            Cued::Tone { length, .. } => found[2].push(format!("~{}+{length}", cue.at)),
        }
    }
    assert_eq!(found.map(|words| words.join(" ")), [clicks, said, claps].map(str::to_owned), "{text}");
}

#[test]
fn clicks_on_the_beats_words_on_the_counts_claps_on_the_attacks() {
    check("meter: 2/4\n| 1 & (2) |", 0, ">0 1/4", "1@0+1/8 &@1/8+1/8 2@1/4+1/4", "0+1/8 1/8+1/8");
    check(
        "meter: 2/4\n| 1 2 | _1 (2) |",
        0,
        ">0 1/4 >1/2 3/4",
        "1@0+1/4 2@1/4+1/4 1@1/2+1/4 2@3/4+1/4",
        "0+1/4 1/4+1/2",
    );
    check("meter: 6/8\n| 1 li 2 |", 0, ">0 3/8", "1@0+1/4 li@1/4+1/8 2@3/8+3/8", "0+1/4 1/4+1/8 3/8+3/8");
}

/// The loudness of each clap in tenths of a decibel: a level holds until the next, a swell reaches it.
#[test]
fn claps_follow_the_loudness_of_their_bars() {
    let check = |bars: &str, dynamics: &str, expected: &[i32]| {
        let text = format!("meter: 4/4\n{bars}\ndynamics: {dynamics}\n");
        let sequence = sequenced(&text, 0);
        let louder = sequence.cues().iter().filter_map(|cue| match cue.cued {
            Cued::Clap { louder, .. } => Some(louder),
            _ => None,
        });
        assert_eq!(louder.collect::<Vec<_>>(), expected, "{text}");
    };
    check("| 1 3 | 1 | 1 |", "| p | f | . |", &[-60, -60, 30, 30]);
    check("| 1 2 3 4 | 1 3 |", "| p< | f |", &[-60, -42, -15, 3, 30, 30]);
    // Beside which nothing else is written: a step up by the end.
    check("| 1 3 | 1 3 |", "| < | . |", &[0, 6, 15, 21]);
    check("| 1 | 1 |", "| . | pp |", &[0, -90]);
    // Never further than one step past the loudest and the softest that are written.
    check("| 1 | 1 | 1 | 1 |", "| ff< | < | < | < |", &[60, 90, 120, 120]);
    check("| 1 | 1 | 1 | 1 |", "| pp> | > | > | > |", &[-90, -120, -150, -150]);
}

#[test]
fn a_count_in_is_full_bars() {
    check("meter: 2/4\n| 1 |", 1, ">-1/2 -1/4 >0 1/4", "1@-1/2+1/4 2@-1/4+1/4 1@0+1/4 2@1/4+1/4", "0+1/2");
}

#[test]
fn before_a_pickup_the_counts_up_to_it_are_added() {
    // The last bar is the pickup's complement, unless it is written longer.
    check("meter: 3/4\n3 | 1 |", 0, "-1/4 >0 1/4", "3@-1/4+1/4 1@0+1/4 2@1/4+1/4", "-1/4+1/4 0+1/2");
    check(
        "meter: 3/4\n3 | 3/4 |",
        1,
        ">-3/2 -5/4 -1 >-3/4 -1/2 -1/4 >0 1/4 1/2",
        "1@-3/2+1/4 2@-5/4+1/4 3@-1+1/4 1@-3/4+1/4 2@-1/2+1/4 3@-1/4+1/4 1@0+1/4 2@1/4+1/4 3@1/2+1/4",
        "-1/4+1/4 0+3/4",
    );
    check("meter: 2/4\n& | 1/2 |", 0, ">0 1/4", "&@-1/8+1/8 1@0+1/4 2@1/4+1/4", "-1/8+1/8 0+1/2");
    check(
        "meter: 2/4\n& | 1/2 |",
        1,
        ">-1 -3/4 >-1/2 -1/4 >0 1/4",
        "1@-1+1/4 2@-3/4+1/4 1@-1/2+1/4 2@-1/4+1/8 &@-1/8+1/8 1@0+1/4 2@1/4+1/4",
        "-1/8+1/8 0+1/2",
    );
}

#[test]
fn a_repeat_is_played_out() {
    check(
        "meter: 1/4\n|: 1 :| 3 times",
        0,
        ">0 >1/4 >1/2",
        "1@0+1/4 1@1/4+1/4 1@1/2+1/4",
        "0+1/4 1/4+1/4 1/2+1/4",
    );
    let passes: Vec<u32> =
        sequenced("meter: 1/4\n|: 1 :| 3 times", 0).counts().iter().map(|c| c.id.pass).collect();
    assert_eq!(passes, [1, 2, 3]);
}

#[test]
fn bar_one_begins_after_the_lead_in_and_the_count_in() {
    let sequence = sequenced("meter: 4/4\ntempo: quarter = 120\n| 1 |", 1);
    assert_eq!(sequence.before_bar_one(), Seconds::from_millis(250 + 2_000));
    assert_eq!(sequence.sounding_length(), Seconds::from_millis(250 + 4_000 + 1_000));
    let start = sequence.tempo().frame_at(sequence.start(), SampleRate::HZ_48000);
    assert_eq!(start.index(), -96_000);
    assert_eq!(sequence.counts()[0].at, Moment::ZERO);
}

#[test]
fn plans_outside_their_limits_are_refused() {
    let rhythm = text::read("| 1 |").rhythm.expect("a rhythm");
    let error = Plan::of(&rhythm).with_count_in(9).expect_err("too many").to_string();
    assert_eq!(error, "9 is not a number of bars counted in: it goes from 0 to 8");
    assert!(Plan::of(&rhythm).with_bpm(19.into()).is_err());
}
