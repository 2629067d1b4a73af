//! Alignment against what `mir_eval` 0.8.2 gives (`util.match_events`, `onset.f_measure`), and the traps that show
//! why the nearest note first is wrong.

use judge::{Gate, Settings, Verdict, judge, matching};
use rhythm::{AttackId, Deed};
use timebase::{Moment, Seconds, Span};

fn moments(seconds: &[f64]) -> Vec<Moment> {
    seconds.iter().map(|&s| Moment::ZERO + Seconds::from_secs_f64(s)).collect()
}

/// The pairs, and precision, recall and F of them.
fn check(written: &[f64], played: &[f64], window: f64, pairs: &[(usize, usize)], p_r_f: (f64, f64, f64)) {
    let window = Seconds::from_secs_f64(window);
    let (refs, ests) = (moments(written), moments(played));
    assert_eq!(matching(&refs, &ests, window), pairs, "matching {written:?} {played:?}");

    // The whole judge with this window as its gate says the same.
    let counts: Vec<_> = (0..).zip(&refs).map(|(n, &at)| count(n, at)).collect();
    let attacks: Vec<_> = ests.iter().map(|&at| judge::Played::new(at)).collect();
    let settings = Settings::default().with_gate(Gate::Fixed(window)).expect("in range");
    let judgement = judge(&counts, &attacks, &settings);
    let judged: Vec<_> = judgement
        .notes()
        .iter()
        .enumerate()
        .filter_map(|(n, note)| match note.fate {
            judge::Fate::Struck(attack) => Some((n, attack)),
            _ => None,
        })
        .collect();
    assert_eq!(judged, pairs, "judge {written:?} {played:?}");
    let extra = judgement.attacks().iter().filter(|attack| attack.verdict() == Verdict::Extra).count();
    assert_eq!(extra, played.len() - pairs.len());

    let matched = pairs.len() as f64;
    let (precision, recall) = (matched / played.len() as f64, matched / written.len() as f64);
    let f = 2.0 * precision * recall / (precision + recall);
    for (value, expected) in [(precision, p_r_f.0), (recall, p_r_f.1), (f, p_r_f.2)] {
        assert!((value - expected).abs() < 1e-9, "{value} instead of {expected}");
    }
}

fn count(place: i64, at: Moment) -> counting::TimedCount {
    let id = AttackId { bar: 1, pass: 1, at: Span::new(place, 64) };
    counting::TimedCount {
        id,
        at,
        say: None,
        deed: Deed::Attack,
        on_beat: false,
        beat: Span::QUARTER,
        marks: rhythm::Marks::NONE,
    }
}

/// mir_eval 0.8.2, computed.
#[test]
fn the_nearest_note_first_would_lose_one() {
    check(&[0.0, 0.06], &[0.04, 0.1], 0.05, &[(0, 0), (1, 1)], (1.0, 1.0, 1.0));
}

/// mir_eval 0.8.2, computed.
#[test]
fn two_strokes_between_two_close_notes() {
    check(&[1.0, 1.08], &[1.04, 1.05, 1.2], 0.05, &[(0, 0), (1, 1)], (2.0 / 3.0, 1.0, 0.8));
}

/// mir_eval 0.8.2, computed: 4 of 8 within 50 ms, 6 within 70. 1.05 against 1.0 lies on the edge of the window and
/// counts. Of 1.47 and 1.52 either makes four; 1.52 is the nearer.
#[test]
fn a_bar_of_eighths_at_two_windows() {
    let written = [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5];
    let played = [0.02, 0.449, 1.05, 1.47, 1.52, 2.2, 2.96, 3.551];
    check(&written, &played, 0.05, &[(0, 0), (2, 2), (3, 4), (6, 6)], (0.5, 0.5, 0.5));
    let six = [(0, 0), (1, 1), (2, 2), (3, 4), (6, 6), (7, 7)];
    check(&written, &played, 0.07, &six, (0.75, 0.75, 0.75));
}

/// mir_eval 0.8.2 `alignment`, computed: median 35 ms and mean 42.5 ms of the absolute distances, half of them within
/// 50 ms (4.0 exactly and 1.02; 1.95 lies on the edge, where that measure counts "less than"), all within 300 ms.
#[test]
fn distances_of_four_pairs() {
    let (written, played) = (moments(&[1.0, 2.0, 3.0, 4.0]), moments(&[1.02, 1.95, 3.1, 4.0]));
    let pairs = matching(&written, &played, Seconds::from_millis(300));
    let mut sizes: Vec<_> = pairs.iter().map(|&(w, p)| (played[p] - written[w]).abs()).collect();
    sizes.sort_unstable();
    assert_eq!(sizes.len(), 4);
    assert_eq!((sizes[1] + sizes[2]).divided_by(2), Seconds::from_millis(35));
    let sum = sizes.iter().fold(Seconds::ZERO, |sum, &size| sum + size);
    assert_eq!(sum.divided_by(4), Seconds::from_micros(42_500));
    assert_eq!(sizes.iter().filter(|&&size| size < Seconds::from_millis(50)).count(), 2);
}

/// In floating point .55 − .5 is more than .05. Here it is the edge of the window, which counts.
#[test]
fn the_edge_of_the_window_counts() {
    check(&[0.5], &[0.55], 0.05, &[(0, 0)], (1.0, 1.0, 1.0));
    check(&[0.5], &[0.45], 0.05, &[(0, 0)], (1.0, 1.0, 1.0));
    let past = matching(&moments(&[0.5]), &moments(&[0.550_000_001]), Seconds::from_millis(50));
    assert_eq!(past, []);
}
