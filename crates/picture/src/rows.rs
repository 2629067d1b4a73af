use std::collections::HashMap;

use judge::{Attack, Fate, Judgement, Task, Together, Verdict};
use rhythm::AttackId;
use timebase::Seconds;

use crate::{Against, Mark, Row, Side, Spread, Timeline};

/// A player and what was judged of the player.
#[derive(Clone, Copy, Debug)]
pub struct Player<'a> {
    /// As it stands at the row's head.
    pub label: &'a str,
    /// What was judged.
    pub judgement: &'a Judgement,
}

/// A row for each player, the pins leaning against `against`.
#[must_use]
pub fn rows(players: &[Player<'_>], against: Against, timeline: &Timeline) -> Vec<Row> {
    let means = mean_offsets(players);
    players
        .iter()
        .map(|player| {
            let lean = |answer: &judge::Answer| match against {
                Against::OwnPulse => answer.lean,
                Against::Click => answer.offset,
                Against::Section => answer.offset - means.get(&answer.id).copied().unwrap_or_default(),
            };
            let keeps_pulse = player.judgement.task() == Task::Pulse;
            let beat = |at, lean_ms, beyond| {
                timeline.nearest(at).map(|(system, x)| Mark::Beat { system, x, lean_ms, beyond })
            };
            let mark = |attack: &Attack| match &attack.answer {
                Some(answer) if keeps_pulse => {
                    beat(answer.written, Some(lean(answer).as_millis_f64()), side(answer.verdict))
                }
                Some(answer) => Some(Mark::Pin {
                    id: answer.id,
                    lean_ms: lean(answer).as_millis_f64(),
                    beyond: side(answer.verdict),
                }),
                // A grace or a roll has no pin of its own.
                None if attack.ornament.is_some() => None,
                None => timeline.nearest(attack.played.at).map(|(system, x)| Mark::Extra { system, x }),
            };
            let played = player.judgement.attacks().iter().filter_map(mark);
            let missed = player.judgement.missed().filter_map(|note| {
                if keeps_pulse { beat(note.at, None, None) } else { Some(Mark::Missed { id: note.id }) }
            });
            Row {
                label: player.label.to_owned(),
                state: String::new(),
                bias_ms: player.judgement.sums().bias.map(Seconds::as_millis_f64),
                marks: played.chain(missed).collect(),
            }
        })
        .collect()
}

fn side(verdict: Verdict) -> Option<Side> {
    match verdict {
        Verdict::Early => Some(Side::Early),
        Verdict::Late => Some(Side::Late),
        Verdict::OnTime | Verdict::Extra | Verdict::Ornament => None,
    }
}

/// One row for all players together, so that no single one is shown: the mean of their pins at every
/// written attack, dashed where nobody struck. Against the section itself it would be upright throughout,
/// so it leans against the players' own pulses or the click.
#[must_use]
pub fn section_row(players: &[Player<'_>], against: Against) -> Row {
    let mut leans: HashMap<AttackId, Vec<f64>> = HashMap::new();
    for answer in answers(players) {
        let lean = if against == Against::Click { answer.offset } else { answer.lean };
        leans.entry(answer.id).or_default().push(lean.as_millis_f64());
    }
    let struck = leans.iter().map(|(&id, leans)| Mark::Pin { id, lean_ms: mean(leans), beyond: None });
    let missed = of_rhythm(players).next().into_iter().flat_map(|player| player.judgement.notes());
    let missed = missed.filter(|note| {
        let everyone = |fate: Fate| fate == Fate::Missed;
        let fates = of_rhythm(players).flat_map(|player| player.judgement.notes());
        fates.filter(|other| other.id == note.id).all(|other| everyone(other.fate))
    });
    let biases: Vec<f64> = of_rhythm(players)
        .filter_map(|player| player.judgement.sums().bias.map(Seconds::as_millis_f64))
        .collect();
    Row {
        label: "section".to_owned(),
        state: String::new(),
        bias_ms: (!biases.is_empty()).then(|| mean(&biases)),
        marks: struck.chain(missed.map(|note| Mark::Missed { id: note.id })).collect(),
    }
}

/// The spread at each written attack that two players or more struck.
#[must_use]
pub fn spreads(together: &[Together]) -> Vec<Spread> {
    let known = together.iter().filter_map(|place| Some((place.id, place.spread?)));
    known.map(|(id, spread)| Spread { id, ms: spread.as_millis_f64() }).collect()
}

/// Those who play the rhythm: who keeps the pulse beside them is none of the section.
fn of_rhythm<'a>(players: &'a [Player<'a>]) -> impl Iterator<Item = &'a Player<'a>> {
    players.iter().filter(|player| player.judgement.task() == Task::Rhythm)
}

fn answers<'a>(players: &'a [Player<'a>]) -> impl Iterator<Item = &'a judge::Answer> {
    of_rhythm(players)
        .flat_map(|player| player.judgement.attacks())
        .filter_map(|attack| attack.answer.as_ref())
}

fn mean_offsets(players: &[Player<'_>]) -> HashMap<AttackId, Seconds> {
    let mut offsets: HashMap<AttackId, Vec<f64>> = HashMap::new();
    for answer in answers(players) {
        offsets.entry(answer.id).or_default().push(answer.offset.as_millis_f64());
    }
    offsets.into_iter().map(|(id, offsets)| (id, Seconds::from_millis_f64(mean(&offsets)))).collect()
}

fn mean(numbers: &[f64]) -> f64 {
    numbers.iter().sum::<f64>() / numbers.len() as f64
}
