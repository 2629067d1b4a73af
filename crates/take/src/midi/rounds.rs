use midly::{Format, Header, MetaMessage, Timing};
use sequencer::Each;
use sequencer::drill::Round;
use timebase::{Moment, Position, Span};

use super::BAR_ONE;
use super::sequence::{Grid, Signatures, Ticks, heard, places, ticks_per_quarter};
use super::tempo::{Stray, tempo_events_after};
use super::track::{Track, write};
use crate::Error;

/// A round of a drill, and what a file says of it beside its sounds.
#[derive(Clone, Debug)]
pub struct MidiRound<'a> {
    /// The round. Each begins where the one before it ends.
    pub round: &'a Round,
    /// What stands at which moments of the drill, in any order.
    pub marks: Vec<(Moment, String)>,
}

/// The rounds of a drill plan as one Standard MIDI file of format 1, as they sound.
///
/// The file begins where the first round does. It has the tracks of [`write_sequence`](super::write_sequence): the title, each round's tempo,
/// the meters of its bars, those of the count-in and the breaths among them ([`Round::bar_lines`]), and its marks; `click`; `rhythm`, what is clapped; `counts`, what is said, as lyrics; `tone`; each without
/// what is `left_out`, and silent where the plan has it silent. Tempo and ticks are as exact as there, over all rounds together.
/// [`BAR_ONE`] stands where count 1 of the first round falls, if that begins with bar 1.
///
/// # Errors
/// As [`write_sequence`](super::write_sequence).
pub fn write_rounds(
    rounds: &[MidiRound<'_>],
    title: Option<&str>,
    left_out: Each<bool>,
) -> Result<Vec<u8>, Error> {
    let ticks = ticks_per_quarter(rounds.iter().flat_map(all_places));
    let file = Grid { start: Position::ZERO, offset: 0, ticks_per_quarter: ticks };
    let grids = grids(rounds, file);
    let mut conductor = title.map_or_else(Track::default, Track::named);
    let mut stray = Stray::default();
    let mut tempo = None;
    let mut signatures = Signatures::default();
    for (MidiRound { round, .. }, grid) in rounds.iter().zip(&grids) {
        let events =
            tempo_events_after(&mut stray, round.tempo_map(), round.start(), round.end(), grid.length())?;
        for (at, micros) in events {
            // The first tempo holds from the beginning on, also for what leads into the first round.
            let tick = if tempo.is_none() { 0 } else { grid.tick(at) };
            if tempo.replace(micros) != Some(micros) {
                conductor.meta(tick, MetaMessage::Tempo(micros));
            }
        }
        for (at, signature) in signatures.of(round.bar_lines(), round.end()) {
            conductor.meta(grid.tick(at), signature);
        }
    }
    let lain: Vec<Ticks<'_>> = lain(rounds, &grids).collect();
    for (MidiRound { marks, .. }, ticks) in rounds.iter().zip(&lain) {
        for (at, label) in marks {
            conductor.meta(ticks.at_moment(*at)?, MetaMessage::Marker(label.as_bytes()));
        }
    }
    let begins_with_bar_one = |round: &MidiRound<'_>| {
        round.round.played().iter().any(|bar| bar.at == Position::ZERO && bar.number == 1)
    };
    if let Some(first) = grids.first().filter(|_| rounds.first().is_some_and(begins_with_bar_one)) {
        conductor.meta(first.tick(Position::ZERO), MetaMessage::Marker(BAR_ONE.as_bytes()));
    }
    let stretches =
        rounds.iter().zip(lain).map(|(MidiRound { round, .. }, ticks)| (round.cues(), round.end(), ticks));
    let mut tracks = vec![conductor];
    tracks.extend(heard(stretches, left_out));
    let end = rounds.last().zip(grids.last()).map_or(0, |(last, grid)| grid.tick(last.round.end()));
    write(Header::new(Format::Parallel, Timing::Metrical(file.division())), tracks.into_iter().map(Ok), end)
}

/// Everything in a round that must fall on a tick, from its beginning on.
fn all_places(round: &MidiRound<'_>) -> impl Iterator<Item = Span> {
    let round = round.round;
    let tempi = round.tempo_map().changes().map(|change| change.at);
    let ends = [Position::ZERO, round.end(), round.sounds_from()];
    let bars = round.bar_lines().iter().map(|(at, _)| *at);
    places(round.cues()).chain(tempi).chain(bars).chain(ends).map(|at| at - round.start())
}

/// Where the rounds lie in the file, each where the one before it ends.
fn grids(rounds: &[MidiRound<'_>], file: Grid) -> Vec<Grid> {
    // What leads into the first round sounds before it begins.
    let lead =
        rounds.first().map_or(Span::ZERO, |MidiRound { round, .. }| round.start() - round.sounds_from());
    let mut offset = file.ticks(lead);
    let grid = |MidiRound { round, .. }: &MidiRound<'_>| {
        let grid = Grid { start: round.start(), offset, ..file };
        offset = grid.tick(round.end());
        grid
    };
    rounds.iter().map(grid).collect()
}

/// What falls on which tick of each round. Its pickup may sound in the room that the last bar of the round before has left, at its
/// own tempo, while the file still has the other's: then it stands where it sounds.
fn lain<'a>(rounds: &'a [MidiRound<'_>], grids: &[Grid]) -> impl Iterator<Item = Ticks<'a>> {
    let tempi = rounds.iter().map(|MidiRound { round, .. }| round.tempo_map());
    let mut before = None;
    tempi.zip(grids.iter().copied()).map(move |(tempo, grid)| {
        let ticks = Ticks { grid, tempo, before };
        before = Some((tempo, grid));
        ticks
    })
}
