//! A drill plan played live: what is known of it, and what is told while it runs.

use std::sync::Arc;

use counting::System;
use judge::{Judgement, Verdict};
use sequencer::drill::{Drill, Outcome, RoundBar, RoundKind, SectionKind};
use timebase::{Moment, Tempo};

use crate::PlayerState;

/// A drill plan to be played live: round after round without a gap.
#[derive(Clone, Debug)]
pub struct Planned {
    /// What it is called.
    pub title: Option<String>,
    /// The plan and its rhythms.
    pub drill: Drill,
    /// The counting system in which its rhythms were counted.
    pub system: System,
    /// A round is good when at least so many of a hundred written attacks were struck on time, and no more than the rest of the
    /// hundred were struck beside. 1 to 100.
    pub good_percent: u8,
}

impl Planned {
    /// Nine of ten. Common practice, no source.
    pub const GOOD_PERCENT: u8 = 90;

    /// A plan counted by numbers, whose rounds are good at the usual share.
    #[must_use]
    pub fn new(title: Option<String>, drill: Drill) -> Self {
        Self { title, drill, system: System::numbers().clone(), good_percent: Self::GOOD_PERCENT }
    }
}

/// A stretch of a round, while it is heard: the call, a response, the beats between.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// The round's number, from 1.
    pub round: usize,
    /// What the round is for.
    pub kind: RoundKind,
    /// What the stretch is.
    pub section: SectionKind,
    /// Which rhythm of the plan, from 0.
    pub rhythm: usize,
    /// The written numbers of the round's first and last bar; a pickup is 0.
    pub bars: (u32, u32),
    /// The round's bars in the order they are played, once through ([`Round::played`](sequencer::drill::Round::played)).
    pub played: Arc<[RoundBar]>,
    /// The tempo of its rhythm's beginning in this round: what is written in the rhythm keeps its proportion to it.
    pub tempo: Tempo,
    /// The tempo at which the round is counted in and begins: another, where the rhythm changes its tempo before these bars.
    pub entry_tempo: Tempo,
    /// Whose turn it is, in the response of players who take turns.
    pub player: Option<String>,
    /// Whether the notation is to be hidden.
    pub is_hidden: bool,
    /// When it begins and ends, in the drill's own time.
    pub from: Moment,
    /// When it ends.
    pub to: Moment,
    /// Where count 1 of the rhythm's bar 1 would fall, in the drill's own time: what is heard at a moment stands as much later
    /// in the rhythm played at this tempo. Before something is heard, that of what comes next.
    pub bar_one: Moment,
}

/// A round whose responses are judged.
#[derive(Clone, Debug, PartialEq)]
pub struct RoundOver {
    /// Its number, from 1.
    pub round: usize,
    /// Which rhythm of the plan, from 0.
    pub rhythm: usize,
    /// The written numbers of its first and last bar; a pickup is 0.
    pub bars: (u32, u32),
    /// See [`Part::played`].
    pub played: Arc<[RoundBar]>,
    /// See [`Part::tempo`].
    pub tempo: Tempo,
    /// See [`Part::entry_tempo`].
    pub entry_tempo: Tempo,
    /// Its responses in order.
    pub answers: Vec<Answered>,
    /// What it became; `None` where nobody struck. Where the next round depends on it, this is what it depended on: what was known
    /// when that had to be made ready.
    pub outcome: Option<Outcome>,
}

/// A response that is judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Answered {
    /// Whose turn it was; everybody's without.
    pub player: Option<String>,
    /// Where count 1 of the rhythm's bar 1 would have fallen, in the drill's own time.
    pub bar_one: Moment,
    /// Everybody who was asked. Their times count from there.
    pub players: Arc<[PlayerState]>,
    /// Those who have struck in the drill at all, taken together.
    pub tally: Tally,
}

/// How many attacks were asked and what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Written attacks whose time has passed.
    pub asked: usize,
    /// Of these, struck within the tolerance,
    pub on_time: usize,
    /// early or late,
    pub off: usize,
    /// and not struck.
    pub missed: usize,
    /// What was struck that is not written.
    pub extra: usize,
}

impl Tally {
    /// Of one judgement.
    #[must_use]
    pub fn of(judgement: &Judgement) -> Self {
        let count = |verdict: fn(Verdict) -> bool| {
            judgement.attacks().iter().filter(|attack| verdict(attack.verdict())).count()
        };
        let on_time = count(|verdict| verdict == Verdict::OnTime);
        let off = count(|verdict| matches!(verdict, Verdict::Early | Verdict::Late));
        let missed = judgement.missed().count();
        let extra = count(|verdict| verdict == Verdict::Extra);
        Self { asked: on_time + off + missed, on_time, off, missed, extra }
    }

    /// Both together.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self {
            asked: self.asked + other.asked,
            on_time: self.on_time + other.on_time,
            off: self.off + other.off,
            missed: self.missed + other.missed,
            extra: self.extra + other.extra,
        }
    }

    /// What a round became in which so much was played; `None` where nothing was asked.
    #[must_use]
    pub fn outcome(self, good_percent: u8) -> Option<Outcome> {
        let percent = usize::from(good_percent);
        if self.asked == 0 {
            return None;
        }
        let is_struck = 100 * self.on_time >= percent * self.asked;
        let is_clean = 100 * self.extra <= 100_usize.saturating_sub(percent) * self.asked;
        Some(if is_struck && is_clean { Outcome::Good } else { Outcome::Bad })
    }
}

/// Whether somebody called `label` is asked in a response of `player`; `turns` are all who take turns, `labels` all who play.
///
/// Where the one whose turn it is has a pad of their own, only that counts. Else any pad serves that is nobody's own: few pads for
/// many pupils.
#[must_use]
pub fn is_asked(label: &str, player: Option<&str>, turns: &[String], labels: &[String]) -> bool {
    match player {
        None => true,
        Some(player) if labels.iter().any(|known| known == player) => label == player,
        Some(_) => !turns.iter().any(|turn| turn == label),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_round_is_good_by_its_share() {
        let check = |on_time, off, missed, extra, expected: Option<Outcome>| {
            let tally = Tally { asked: on_time + off + missed, on_time, off, missed, extra };
            assert_eq!(tally.outcome(Planned::GOOD_PERCENT), expected, "{tally:?}");
        };
        check(0, 0, 0, 3, None);
        check(9, 1, 0, 1, Some(Outcome::Good));
        check(9, 0, 1, 0, Some(Outcome::Good));
        check(9, 1, 0, 2, Some(Outcome::Bad));
        check(8, 1, 1, 0, Some(Outcome::Bad));
        check(4, 0, 0, 1, Some(Outcome::Bad));
    }

    #[test]
    fn a_turn_is_played_at_ones_own_pad_or_at_a_free_one() {
        let list = |labels: &str| labels.split(' ').map(str::to_owned).collect::<Vec<_>>();
        let turns = list("K1 K2 K3");
        let asked = |player, labels: &str| {
            let labels = list(labels);
            let asked = labels.iter().filter(|label| is_asked(label, player, &turns, &labels));
            asked.map(String::as_str).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(asked(None, "K1 K2 P1"), "K1 K2 P1");
        assert_eq!(asked(Some("K2"), "K1 K2 P1"), "K2");
        assert_eq!(asked(Some("K3"), "K1 K2 P1"), "P1");
        assert_eq!(asked(Some("K3"), "P1 P2"), "P1 P2");
    }
}
