//! Prints which written and played onsets belong together, for `tests/readers/alignment.py`.
//!
//!     align --window MS < CASES
//!
//! A case is two lines: the written onsets and the played ones, each rising, blanks between them, in whole microseconds.
//! A written onset may bear its place, `BAR:PLACE:BEAT:MICROSECONDS`: place in the bar and length of the felt beat
//! in sixty-fourths of a whole note. Without places all lie in one bar, a quarter apart, none on a felt beat.
//!
//! For each case three lines of pairs, `WRITTEN-PLAYED`, indices from 0: by `matching` with the window, by `judge` with the
//! window as its fixed gate, and by `judge` as it is set when nobody sets it.

use std::io::{BufRead, stdin};

use counting::TimedCount;
use judge::{Fate, Gate, Played, Settings, TempoOf, judge, matching};
use rhythm::{AttackId, Deed, Marks};
use timebase::{Moment, Seconds, Span};

#[expect(clippy::print_stdout, reason = "printing is what this program is for")]
fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let window = match &arguments[..] {
        [flag, ms] if flag == "--window" => Seconds::from_millis(number(ms)),
        _ => panic!("usage: align --window MS < CASES"),
    };
    let lines: Vec<String> = stdin().lock().lines().map(|line| line.expect("text")).collect();
    assert!(lines.len().is_multiple_of(2), "{} lines: a case is two of them", lines.len());
    for case in lines.chunks_exact(2) {
        let counts: Vec<TimedCount> = (0..).zip(case[0].split_whitespace()).map(count).collect();
        let written: Vec<Moment> = counts.iter().map(|count| count.at).collect();
        let played: Vec<Moment> = case[1].split_whitespace().map(moment).collect();
        println!("{}", words(&matching(&written, &played, window)));
        let fixed = Settings::default().with_gate(Gate::Fixed(window)).expect("a window that a gate can be");
        println!("{}", words(&judged(&counts, &played, &fixed)));
        // Nobody heard a click.
        let free = Settings::default().with_tempo_of(TempoOf::Player);
        println!("{}", words(&judged(&counts, &played, &free)));
    }
}

fn judged(counts: &[TimedCount], played: &[Moment], settings: &Settings) -> Vec<(usize, usize)> {
    let played: Vec<Played> = played.iter().map(|&at| Played::new(at)).collect();
    let judgement = judge(counts, &played, settings);
    let pair = |(note, fate)| match fate {
        Fate::Struck(attack) => Some((note, judgement.attacks()[attack].index)),
        Fate::Missed | Fate::Pending => None,
    };
    judgement.notes().iter().map(|note| note.fate).enumerate().filter_map(pair).collect()
}

fn count((n, word): (i64, &str)) -> TimedCount {
    let parts: Vec<&str> = word.split(':').collect();
    let (bar, place, beat, at) = match parts[..] {
        [at] => (1, 16 * n + 1, 16, at),
        [bar, place, beat, at] => (number(bar), number(place), number(beat), at),
        _ => panic!("{word} is no written onset: MICROSECONDS or BAR:PLACE:BEAT:MICROSECONDS"),
    };
    let bar = u32::try_from(bar).unwrap_or_else(|_| panic!("{word}: bar {bar} is below 0"));
    assert!(beat > 0, "{word}: a felt beat has a length");
    TimedCount {
        id: AttackId { bar, pass: 1, at: Span::new(place, 64) },
        at: moment(at),
        say: None,
        deed: Deed::Attack,
        on_beat: place % beat == 0,
        beat: Span::new(beat, 64),
        marks: Marks::NONE,
    }
}

fn moment(word: &str) -> Moment {
    Moment::ZERO + Seconds::from_micros(number(word))
}

fn number(word: &str) -> i64 {
    word.parse().unwrap_or_else(|_| panic!("{word} is no whole number"))
}

fn words(pairs: &[(usize, usize)]) -> String {
    pairs.iter().map(|(written, played)| format!("{written}-{played}")).collect::<Vec<_>>().join(" ")
}
