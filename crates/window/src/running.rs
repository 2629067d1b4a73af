//! What the window knows of a drill: what the rig told, nothing more.

use std::path::PathBuf;
use std::sync::Arc;

use judge::Finding;
use live::{Event, Phase, PlayerState};
use take::Ended;

/// A drill that runs or has ended.
#[derive(Clone, Debug)]
pub(crate) struct Running {
    pub(crate) phase: Phase,
    pub(crate) players: Arc<[PlayerState]>,
    pub(crate) ended: Option<Ended>,
    pub(crate) take: Option<PathBuf>,
    /// How the sound was disturbed, the last time or in all.
    pub(crate) disturbed: Option<String>,
    /// What a person should know of, in order, each once.
    pub(crate) notices: Vec<String>,
}

impl Running {
    /// A drill that was just asked for.
    pub(crate) fn new() -> Self {
        Self {
            phase: Phase::CountIn,
            players: Arc::from([]),
            ended: None,
            take: None,
            disturbed: None,
            notices: Vec::new(),
        }
    }

    /// Whether it goes on.
    pub(crate) fn goes_on(&self) -> bool {
        self.ended.is_none()
    }

    /// Takes in what happened. Says whether the players' rows are others than before.
    pub(crate) fn heed(&mut self, event: Event) -> bool {
        match event {
            Event::Phase(phase) => self.phase = phase,
            // The screen's, where a plan is shown.
            Event::Part(_) | Event::Round(_) => {}
            // The judgement that follows holds the whole.
            Event::Struck { .. } => {}
            Event::Judged(players) => {
                self.players = players;
                return true;
            }
            Event::Disturbed { why } => {
                self.disturbed = Some(format!("Sound was disturbed ({why}); the take is marked there."));
            }
            Event::Notice(notice) => self.notice(sentence(&notice)),
            Event::Ended { ended, players, take, disturbances } => {
                self.ended = Some(ended);
                self.players = players;
                self.take = take;
                self.phase = Phase::Judged;
                if disturbances > 0 {
                    let times =
                        if disturbances == 1 { "once".to_owned() } else { format!("{disturbances} times") };
                    self.disturbed =
                        Some(format!("Sound was lost {times}: what is judged near there is unsure."));
                }
                return true;
            }
            // The window has keys of its own for what a pad may ask for.
            Event::Order(_) => {}
            Event::SoundBack { name, .. } => self.notice(format!("Sound plays again through {name}.")),
            Event::SoundGone { why } => {
                self.ended.get_or_insert(Ended::Stopped);
                self.notice(format!(
                    "The sound device has gone ({why}): plug it in or choose another under Devices."
                ));
            }
        }
        false
    }

    fn notice(&mut self, notice: String) {
        if !self.notices.contains(&notice) {
            self.notices.push(notice);
        }
    }

    /// How each player did, in a sentence: what was struck, missed and extra, and the sums where they are known.
    pub(crate) fn sums(&self) -> Vec<String> {
        self.players.iter().map(sums).collect()
    }

    /// The findings as sentences, the most useful first.
    ///
    /// With `names`, each begins with the player it is about; without, alike ones of several players are one
    /// sentence that says of how many.
    pub(crate) fn findings(&self, names: bool) -> Vec<String> {
        let of = |player: &PlayerState| -> Vec<String> {
            player.judgement.findings().iter().map(|finding| finding.says.clone()).collect()
        };
        match &*self.players {
            [] => Vec::new(),
            [player] => of(player).iter().map(|says| sentence(says)).collect(),
            players if names => players
                .iter()
                .flat_map(|player| {
                    of(player).into_iter().map(|says| format!("{}: {}", player.label, full(&says)))
                })
                .collect(),
            players => {
                let mut deeds: Vec<(&Finding, usize)> = Vec::new();
                for finding in players.iter().flat_map(|player| player.judgement.findings()) {
                    match deeds.iter_mut().find(|(other, _)| other.says == finding.says) {
                        Some((_, players)) => *players += 1,
                        None => deeds.push((finding, 1)),
                    }
                }
                // What is to be mended is said first, what many did before what one did, and else the most useful.
                deeds.sort_by_key(|&(finding, players)| {
                    (!finding.kind.is_mistake(), std::cmp::Reverse(players), finding.kind)
                });
                let all = players.len();
                deeds
                    .into_iter()
                    .map(|(finding, players)| sentence(&format!("{} ({players} of {all})", finding.says)))
                    .collect()
            }
        }
    }
}

fn sums(player: &PlayerState) -> String {
    let judgement = &player.judgement;
    let (sums, missed) = (judgement.sums(), judgement.missed().count());
    let extra = judgement.attacks().len().saturating_sub(sums.matched);
    let mut parts = vec![format!("{} struck, {missed} missed, {extra} extra", sums.matched)];
    if let Some(bias) = sums.bias {
        parts.push(format!("bias {} ms", signed(bias.as_millis_f64(), 0)));
    }
    if let Some(spread) = sums.spread {
        parts.push(format!("spread {:.0} ms", spread.as_millis_f64()));
    }
    if let Some(drift) = sums.drift {
        parts.push(format!("drift {} %", signed(drift.percent, 1)));
    }
    if !player.missing.is_empty() {
        parts.push(format!("{} not there", player.missing.join(" and ")));
    }
    format!("{}: {}.", player.label, parts.join(", "))
}

/// With its sign, no sign for nothing.
fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", value.abs());
    let sign = match text.bytes().any(|digit| matches!(digit, b'1'..=b'9')) {
        false => "",
        true if value < 0.0 => "−",
        true => "+",
    };
    format!("{sign}{text}")
}

/// A capital at the beginning and a full stop at the end.
pub(crate) fn sentence(says: &str) -> String {
    let mut letters = says.chars();
    letters
        .next()
        .map_or_else(String::new, |first| full(&format!("{}{}", first.to_uppercase(), letters.as_str())))
}

fn full(says: &str) -> String {
    if says.ends_with(['.', '!', '?', ':']) { says.to_owned() } else { format!("{says}.") }
}

/// A phase in a word or two.
pub(crate) fn phase_words(phase: Phase) -> &'static str {
    match phase {
        Phase::Ready => "ready",
        Phase::CountIn => "count-in",
        Phase::Playing => "playing",
        Phase::RingingOut => "last attacks",
        Phase::Judged => "over",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_begin_and_end() {
        assert_eq!(sentence("bar 1: the rest on 3 was struck"), "Bar 1: the rest on 3 was struck.");
        assert_eq!(sentence("plug it in!"), "Plug it in!");
        assert_eq!(sentence(""), "");
    }

    #[test]
    fn numbers_carry_their_sign() {
        let check = |value, decimals, expected: &str| assert_eq!(signed(value, decimals), expected);
        check(-4.2, 0, "−4");
        check(0.4, 1, "+0.4");
        check(-0.04, 1, "0.0");
    }

    #[test]
    fn the_same_notice_stands_once() {
        let mut running = Running::new();
        for _ in 0..3 {
            assert!(!running.heed(Event::Notice("pad 1 has gone".to_owned())));
        }
        assert_eq!(running.notices, ["Pad 1 has gone."]);
        for why in ["a dropout", "another dropout"] {
            running.heed(Event::Disturbed { why: why.to_owned() });
        }
        let disturbed = running.disturbed.as_deref();
        assert_eq!(disturbed, Some("Sound was disturbed (another dropout); the take is marked there."));
        running.heed(Event::SoundGone { why: "unplugged".to_owned() });
        assert!(!running.goes_on());
        assert_eq!(running.notices.len(), 2);
    }
}
