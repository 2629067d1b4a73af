//! What became of a drill plan's rounds, as a person reads it and for other programs.

use std::fmt::Write as _;
use std::sync::Arc;

use judge::Judgement;
use live::Tally;
use sequencer::drill::{Outcome, RoundBar, bars_named};
use take::json::{DrillJudgeFile, JudgeFile, JudgedResponseForm, JudgedRoundForm};
use timebase::{Moment, Seconds, Tempo};

use super::report::told;

/// A round as it was heard.
pub(super) struct Heard {
    pub(super) number: usize,
    pub(super) rhythm: usize,
    pub(super) title: Option<String>,
    /// In the order they were played.
    pub(super) played: Vec<RoundBar>,
    /// Of the rhythm's beginning, and that at which the round began.
    pub(super) tempo: Tempo,
    pub(super) entry_tempo: Tempo,
    pub(super) good: Option<bool>,
    pub(super) answers: Vec<Answer>,
}

/// A response as it was heard.
pub(super) struct Answer {
    /// Whose turn it was.
    pub(super) player: Option<String>,
    /// Where count 1 of the rhythm's bar 1 would have fallen, as times are to be told.
    pub(super) bar_one: Moment,
    pub(super) players: Vec<(String, Arc<Judgement>)>,
}

/// `quarter = 92, Nine Doorsteps, bars 5-6`: the tempo at which a round begins, and the bars that it plays.
pub(super) fn what(entry_tempo: Tempo, title: Option<&str>, rhythm: usize, played: &[RoundBar]) -> String {
    let title = title.map_or_else(|| format!("rhythm {}", rhythm + 1), str::to_owned);
    format!("{entry_tempo}, {title}, {}", bars_named(played))
}

/// `9 of 10 on time, 1 missed`: what there was none of is not told.
pub(super) fn tally(tally: Tally) -> String {
    let mut text = format!("{} of {} on time", tally.on_time, tally.asked);
    for (count, what) in [(tally.off, "early or late"), (tally.missed, "missed"), (tally.extra, "extra")] {
        if count > 0 {
            let _ = write!(text, ", {count} {what}");
        }
    }
    text
}

/// What a round became, in a word.
pub(super) const fn became(good: Option<bool>) -> &'static str {
    match good {
        Some(true) => "good",
        Some(false) => "once more",
        None => "nothing heard",
    }
}

pub(super) fn is_good(outcome: Option<Outcome>) -> Option<bool> {
    outcome.map(|outcome| outcome == Outcome::Good)
}

/// All rounds, `most` findings of each player in each, and at the end everybody's sums.
pub(super) fn report(title: Option<&str>, rounds: &[Heard], most: usize) -> String {
    let struck = |label: &str| {
        let all = rounds.iter().flat_map(|round| &round.answers).flat_map(|answer| &answer.players);
        { all }.any(|(other, judgement)| other == label && !judgement.attacks().is_empty())
    };
    let mut text = title.map_or_else(String::new, |title| format!("{title}\n"));
    let mut sums: Vec<(&str, usize, Tally)> = Vec::new();
    for round in rounds {
        let head = what(round.entry_tempo, round.title.as_deref(), round.rhythm, &round.played);
        if round.answers.is_empty() {
            let _ = writeln!(text, "round {}: {head}: heard only", round.number);
            continue;
        }
        let _ = writeln!(text, "round {}: {head}: {}", round.number, became(round.good));
        for (label, judgement) in round.answers.iter().flat_map(|answer| &answer.players) {
            if !struck(label) {
                continue;
            }
            let of_round = Tally::of(judgement);
            let _ = writeln!(text, "  {label}: {}", tally(of_round));
            for finding in told(judgement, most).0 {
                let _ = writeln!(text, "    {finding}");
            }
            match sums.iter_mut().find(|(other, ..)| other == label) {
                Some((_, responses, sum)) => (*responses, *sum) = (*responses + 1, sum.and(of_round)),
                None => sums.push((label, 1, of_round)),
            }
        }
    }
    if !sums.is_empty() {
        text.push_str("\nall together\n");
    }
    for (label, responses, sum) in sums {
        let times = if responses == 1 { "1 response".to_owned() } else { format!("{responses} responses") };
        let _ = writeln!(text, "  {label}: {}, in {times}", tally(sum));
    }
    text
}

/// The same for other programs; `resolution` is what the stamps are worth.
pub(super) fn form(title: Option<&str>, rounds: &[Heard], resolution: Seconds) -> DrillJudgeFile {
    let rounds = rounds.iter().map(|round| {
        let responses = round.answers.iter().map(|answer| {
            let judged = answer.players.iter().map(|(label, judgement)| (label.as_str(), &**judgement));
            let judgement = JudgeFile::at_resolution(judged, answer.bar_one, resolution);
            JudgedResponseForm { player: answer.player.clone(), judgement }
        });
        let responses = responses.collect();
        JudgedRoundForm::of(
            round.number,
            round.rhythm,
            &round.played,
            (round.tempo, round.entry_tempo),
            round.good,
            responses,
        )
    });
    DrillJudgeFile::of(title, rounds.collect())
}
