//! What is known of a player beside the strokes: when nobody could be heard, what is played on, what is to be struck.

use std::ops::Range;

use counting::TimedCount;
use judge::{
    Fate, FindingKind, Judgement, Live, Played, Presence, Releases, Section, Settings, Task, judge,
    judge_so_far, judge_within,
};
use proptest::prelude::*;
use rhythm::Deed;
use timebase::{Moment, Seconds};

use crate::pattern::{counts, played, struck, written_ms};

fn at(ms: i64) -> Moment {
    Moment::ZERO + Seconds::from_millis(ms)
}

fn within(counts: &[TimedCount], take: &[Played], absent: &[Range<i64>]) -> Judgement {
    let absent = absent.iter().map(|range| at(range.start)..at(range.end)).collect();
    judge_within(counts, take, &Presence { until: None, absent }, &Settings::default())
}

fn says(judgement: &Judgement) -> Vec<&str> {
    judgement.findings().iter().map(|finding| finding.says.as_str()).collect()
}

fn is_unheard(take: &Played, absent: &Range<i64>) -> bool {
    at(absent.start) <= take.at && take.at < at(absent.end)
}

/// Quarters at 120, a cable pulled for some of them: no pause, no bar left out, nothing missed.
#[test]
fn nothing_is_made_of_the_time_a_player_could_not_be_heard() {
    let counts = counts(&["xxxx"; 4], 120);
    let mut take = struck(&counts, &[4.0, -6.0, 3.0]);
    let absent = 2_900..5_100;
    take.retain(|played| !is_unheard(played, &absent));
    assert_eq!(take.len(), 11);
    let judgement = within(&counts, &take, std::slice::from_ref(&absent));
    assert_eq!(says(&judgement), ["not heard from bar 2, 3 to bar 3, 3: nothing is asked there"]);
    let count = |fate: fn(Fate) -> bool| judgement.notes().iter().filter(|note| fate(note.fate)).count();
    assert_eq!(count(|fate| matches!(fate, Fate::Struck(_))), 11);
    assert_eq!(count(|fate| fate == Fate::Pending), 5);
    // Without that knowledge it is the pupil's.
    assert!(
        judge(&counts, &take, &Settings::default())
            .findings()
            .iter()
            .any(|finding| finding.kind.is_mistake())
    );
}

#[test]
fn a_mistake_beside_an_absence_is_told() {
    let counts = counts(&["xxxx"; 4], 120);
    let absent = 2_900..5_100;
    let mut take = struck(&counts, &[4.0, -6.0, 3.0]);
    take.retain(|played| !is_unheard(played, &absent));
    take.remove(8);
    let judgement = within(&counts, &take, std::slice::from_ref(&absent));
    assert_eq!(
        says(&judgement),
        ["not heard from bar 2, 3 to bar 3, 3: nothing is asked there", "bar 4: the attack on 2 was missed"]
    );
}

#[test]
fn who_was_never_there_is_not_judged() {
    let counts = counts(&["xx.x"; 2], 120);
    let judgement = within(&counts, &[], std::slice::from_ref(&(-10_000..100_000)));
    assert_eq!(says(&judgement), ["not there: nothing is judged"]);
    assert_eq!(judgement.missed().count(), 0);
    assert_eq!(says(&within(&counts, &[], &[])), ["nothing was struck: 6 attacks missed"]);
}

/// Whoever goes and comes back while it is judged stroke by stroke is judged so in the end.
#[test]
fn an_absence_is_known_as_soon_as_it_begins() {
    let counts = counts(&["xxxx"; 8], 120);
    let take = struck(&counts, &[0.0, 7.0]);
    let (gone, back) = (at(2_900), at(5_100));
    let mut live = Live::new(counts.clone().into(), Settings::default());
    let far = at(1_000_000);
    for played in take.iter().filter(|played| !(gone..back).contains(&played.at)) {
        live.strike(*played);
        let now = played.at + Seconds::from_millis(1);
        let absent = if now < gone { Vec::new() } else { std::iter::once(gone..back).collect() };
        live.went_unheard(absent);
        assert_eq!(live.provisional(now).missed().count(), 0, "{now:?}");
        if (at(2_400)..gone).contains(&now) {
            live.went_unheard(std::iter::once(gone..far).collect());
            assert_eq!(live.provisional(at(4_900)).missed().count(), 0);
            assert_eq!(live.revised(at(4_900)).missed().count(), 0);
        }
    }
    let whole = live.whole();
    assert_eq!(says(&whole), ["not heard from bar 2, 3 to bar 3, 3: nothing is asked there"]);
}

#[test]
fn keys_that_are_said_to_be_keys_are_judged_however_short_they_are_held() {
    let counts = counts(&["xxxx"; 2], 120);
    let held = |ms| {
        let take = struck(&counts, &[0.0]);
        take.into_iter()
            .map(|played| played.with_release(played.at + Seconds::from_millis(ms)))
            .collect::<Vec<_>>()
    };
    let kinds = |take: &[Played], releases| {
        let judgement = judge(&counts, take, &Settings::default().with_releases(releases));
        judgement.findings().iter().map(|finding| finding.kind).collect::<Vec<_>>()
    };
    assert_eq!(kinds(&held(60), Releases::OfKeys), [FindingKind::ReleasedEarly]);
    assert_eq!(kinds(&held(60), Releases::Unknown), [FindingKind::GoodTake]);
    assert_eq!(kinds(&held(450), Releases::OfKeys), [FindingKind::GoodTake]);
}

/// Under rests, held notes and eighths alike, who keeps the pulse strikes every beat and nothing else.
#[test]
fn a_pulse_is_held_against_the_beats() {
    let counts = counts(&["x-x-x-x-", "xxxxx-x-", "x-x-..x-", "x-x-x---"], 120);
    let pulse = Settings::default().with_task(Task::Pulse);
    let beats = |but: Option<usize>| {
        let beats = counts.iter().filter(|count| count.on_beat).enumerate();
        beats
            .filter(|(index, _)| Some(*index) != but)
            .map(|(_, count)| Played::new(count.at))
            .collect::<Vec<_>>()
    };
    let kept = judge(&counts, &beats(None), &pulse);
    assert_eq!(
        says(&kept),
        ["the pulse was kept: all 16 beats were struck and nothing else, 16 of them on time, spread 0 ms"]
    );
    assert_eq!(kept.task(), Task::Pulse);
    assert_eq!(says(&judge(&counts, &beats(Some(10)), &pulse)), ["bar 3: the attack on 3 was missed"]);
    let hands: Vec<Played> = played(written_ms(&counts));
    assert!(judge(&counts, &hands, &pulse).findings().iter().any(|finding| finding.kind.is_mistake()));
    // Live it is the same, and no rest that is struck.
    let mut live = Live::new(counts.clone().into(), pulse);
    for stroke in beats(None) {
        live.strike(stroke);
        let now = stroke.at + Seconds::from_millis(1);
        assert!(live.provisional(now).attacks().iter().all(|attack| attack.answer.is_some()));
    }
    assert_eq!(live.whole(), kept);
}

/// Who keeps the pulse plays another part: the section is those who play the rhythm.
#[test]
fn who_keeps_the_pulse_is_none_of_the_section() {
    let counts = counts(&["xxxxx-x-", "x-x-..x-"].repeat(4), 120);
    let take = |off| judge(&counts, &struck(&counts, &[off]), &Settings::default());
    let beats: Vec<Played> = counts
        .iter()
        .filter(|count| count.on_beat)
        .map(|count| Played::new(count.at + Seconds::from_millis(90)))
        .collect();
    let pulse = judge(&counts, &beats, &Settings::default().with_task(Task::Pulse));
    let (one, other) = (take(-10.0), take(10.0));
    let with = Section::of(&[&one, &pulse, &other]);
    let without = Section::of(&[&one, &other]);
    assert_eq!(with.with_each_other, without.with_each_other);
    assert_eq!(with.together, without.together);
    assert_eq!((with.members.len(), with.members[1].attacks), (3, 0));
}

proptest! {
    /// Nothing that lies in an absence is ever missed, and an absence behind all that was heard is as if nothing more were known.
    #[test]
    fn nothing_unheard_is_missed(
        kept in prop::collection::vec(any::<bool>(), 32),
        from in 0i64..16_000,
        length in 1i64..8_000,
    ) {
        let counts = counts(&["xxxx"; 8], 120);
        let absent = from..from + length;
        let take: Vec<Played> = struck(&counts, &[5.0, -9.0, 2.0]).into_iter().zip(kept)
            .filter(|(played, kept)| *kept && !is_unheard(played, &absent))
            .map(|(played, _)| played).collect();
        let judgement = within(&counts, &take, std::slice::from_ref(&absent));
        // Without a move a note lies where it is written.
        let moved = judgement.attacks().iter().filter_map(|attack| attack.answer).any(|answer| answer.shift != Seconds::ZERO);
        let plain = judgement.findings().iter().all(|finding| finding.kind == FindingKind::NotThere || finding.kind == FindingKind::AttackMissed);
        if !moved && plain {
            prop_assert!(judgement.missed().all(|note| note.at < at(absent.start) || at(absent.end) <= note.at));
        }
        let attacks = counts.iter().filter(|count| count.deed == Deed::Attack).count();
        prop_assert_eq!(judgement.notes().len(), attacks);
    }
}

#[test]
fn up_to_a_moment_is_as_before() {
    let counts = counts(&["xxxx"; 2], 120);
    let take = struck(&counts[..5], &[3.0]);
    let presence = Presence { until: Some(at(2_100)), absent: Vec::new() };
    let settings = Settings::default();
    assert_eq!(
        judge_within(&counts, &take, &presence, &settings),
        judge_so_far(&counts, &take, at(2_100), &settings)
    );
}
