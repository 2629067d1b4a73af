use rhythm::Deed;
use sequencer::drill::{Drill, Round, RoundBar, RoundKind, SectionKind};
use serde::Serialize;
use timebase::Moment;

use super::VERSION;
use super::form::shown_ms;

/// What `drill --json` prints: a drill round by round, if its rounds become what was said.
///
/// Times are milliseconds from the beginning of the first round.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DrillFile {
    version: u32,
    title: Option<String>,
    rhythms: Vec<DrilledForm>,
    shortest_ms: f64,
    longest_ms: f64,
    length_ms: f64,
    rounds: Vec<RoundForm>,
}

/// A rhythm of a drill.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DrilledForm {
    title: Option<String>,
}

/// One round.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RoundForm {
    round: usize,
    kind: &'static str,
    /// From 1.
    rhythm: usize,
    bars: [u32; 2],
    /// Every bar in the order it is played.
    played: Vec<PlayedForm>,
    tempo: String,
    starts_ms: f64,
    ends_ms: f64,
    sections: Vec<StretchForm>,
}

/// A bar of a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct PlayedForm {
    bar: u32,
    pass: u32,
}

/// A stretch of a round.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StretchForm {
    kind: &'static str,
    from_ms: f64,
    to_ms: f64,
    hidden: bool,
    /// Who answers; only in a response of players who take turns.
    #[serde(skip_serializing_if = "Option::is_none")]
    player: Option<String>,
    /// Where players are asked to strike; only in a response.
    #[serde(skip_serializing_if = "Option::is_none")]
    attacks: Option<Vec<AskedForm>>,
}

/// A stroke that is asked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AskedForm {
    bar: u32,
    pass: u32,
    at: String,
    ms: f64,
}

impl DrillFile {
    /// The form of `drill` whose rounds, laid out, are these.
    #[must_use]
    pub fn of(title: Option<&str>, drill: &Drill, rounds: &[Round]) -> Self {
        let zero = rounds.first().map_or(Moment::ZERO, Round::starts);
        let end = rounds.last().map_or(zero, Round::ends);
        let (least, most) = drill.bounds();
        let rhythms = drill.rhythms().iter();
        let players = &drill.plan().turns.players;
        Self {
            version: VERSION,
            title: title.map(str::to_owned),
            rhythms: rhythms
                .map(|material| DrilledForm { title: material.rhythm().title().map(str::to_owned) })
                .collect(),
            shortest_ms: shown_ms(least),
            longest_ms: shown_ms(most),
            length_ms: shown_ms(end - zero),
            rounds: rounds.iter().map(|round| RoundForm::of(round, zero, players)).collect(),
        }
    }
}

impl PlayedForm {
    pub(super) fn of(bar: &RoundBar) -> Self {
        Self { bar: bar.number, pass: bar.pass }
    }
}

impl RoundForm {
    fn of(round: &Round, zero: Moment, players: &[String]) -> Self {
        let ms = |moment: Moment| shown_ms(moment - zero);
        let at = |place| ms(round.tempo_map().moment_at(place));
        let sections = round.sections().iter().map(|section| {
            let response = match section.kind {
                SectionKind::Response(number) => round.responses().get(number),
                _ => None,
            };
            StretchForm {
                kind: kind(section.kind),
                from_ms: at(section.from),
                to_ms: at(section.to),
                hidden: section.is_hidden,
                player: response.and_then(|response| players.get(response.player()?)).cloned(),
                attacks: response.map(|response| {
                    let attacks = response.counts().iter().filter(|count| count.deed == Deed::Attack);
                    let asked = attacks.map(|count| AskedForm {
                        bar: count.id.bar,
                        pass: count.id.pass,
                        at: count.id.at.to_string(),
                        ms: ms(count.at),
                    });
                    asked.collect()
                }),
            }
        });
        Self {
            round: round.number(),
            kind: match round.kind() {
                RoundKind::Model => "model",
                RoundKind::Hard => "hard",
                RoundKind::Phrase => "phrase",
            },
            rhythm: round.rhythm() + 1,
            bars: [round.bars().0, round.bars().1],
            played: round.played().iter().map(PlayedForm::of).collect(),
            tempo: round.entry_tempo().to_string(),
            starts_ms: ms(round.starts()),
            ends_ms: ms(round.ends()),
            sections: sections.collect(),
        }
    }
}

fn kind(kind: SectionKind) -> &'static str {
    match kind {
        SectionKind::Rest => "rest",
        SectionKind::CountIn => "count-in",
        SectionKind::Model => "model",
        SectionKind::Call => "call",
        SectionKind::Breath => "breath",
        SectionKind::Response(_) => "response",
    }
}
