use std::collections::BTreeSet;

use timebase::Span;

use crate::{Bar, Deed, Error, Event, Form, Rhythm};

/// All that is struck in parts that are played together, as one rhythm: a place is struck where any part strikes, held
/// where any sounds on, and silent where all are. Its bars, meters, tempos and repeats are those of the first.
///
/// It is there to be counted: marks are left away, and of tuplets those that one part wrote.
///
/// # Errors
/// If the parts do not belong to one piece.
///
/// # Panics
/// Never for the parts of a [`Piece`](crate::Piece), of which there is one at least.
pub fn together(parts: &[&Rhythm]) -> Result<Rhythm, Error> {
    let first = parts.first().expect("a piece has a part");
    let mut bars = Vec::with_capacity(first.bars().len());
    for index in 0..first.bars().len() {
        let own: Vec<&Bar> = parts.iter().filter_map(|part| part.bars().get(index)).collect();
        bars.push(bar(&own)?);
    }
    let title = first.title().map(str::to_owned);
    let made = Rhythm::new(title, first.written_tempo(), bars, first.repeats().to_vec())?;
    match first.jump() {
        Some(jump) => made.with_jump(jump),
        None => Ok(made),
    }
}

/// The same bar of every part as one.
fn bar(parts: &[&Bar]) -> Result<Bar, Error> {
    let first = parts[0];
    let places: BTreeSet<Span> = parts.iter().flat_map(|bar| bar.events()).map(|event| event.at).collect();
    let mut events: Vec<Event> = Vec::with_capacity(places.len());
    let ends = places.iter().skip(1).copied().chain([first.end()]);
    for (&at, end) in places.iter().zip(ends) {
        let deed = deed(parts, at);
        match events.last_mut() {
            // What goes on in one part while another stops is one sound, and one silence where all are silent.
            Some(before) if deed == Deed::Hold || (deed, before.deed) == (Deed::Rest, Deed::Rest) => {
                before.length = end - before.at;
            }
            _ => events.push(Event::new(at, end - at, deed)),
        }
    }
    let mut bar =
        Bar::cut(first.number(), first.meter(), Form::Counts, events)?.with_tempo(first.tempo_mark());
    let tuplets = parts.iter().filter(|part| !part.tuplets().is_empty());
    if let Some(kept) =
        tuplets.into_iter().find_map(|part| bar.clone().with_tuplets(part.tuplets().to_vec()).ok())
    {
        bar = kept;
    }
    match first.rest() {
        Some(rest) if parts.iter().all(|part| part.rest() == Some(rest)) => bar.with_rest(rest),
        _ => Ok(bar),
    }
}

/// What is done at a place where something begins in one part at least.
fn deed(parts: &[&Bar], at: Span) -> Deed {
    let events = || parts.iter().filter_map(|bar| bar.event_at(at));
    if events().any(|event| event.at == at && event.deed == Deed::Attack) {
        Deed::Attack
    } else if events().any(|event| event.deed != Deed::Rest) {
        Deed::Hold
    } else {
        Deed::Rest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(upper: &str, lower: &str, expected: &str) {
        let read = |text: &str| crate::text::read(text).rhythm.unwrap_or_else(|| panic!("{text}"));
        let both = together(&[&read(upper), &read(lower)]).expect("one piece");
        let told = |rhythm: &Rhythm| {
            let events = rhythm.bars().iter().flat_map(|bar| bar.events());
            events.map(|event| (event.at, event.length, event.deed)).collect::<Vec<_>>()
        };
        assert_eq!(told(&both), told(&read(expected)), "{upper} and {lower}");
        assert_eq!(both.repeats(), read(expected).repeats());
    }

    #[test]
    fn a_count_is_struck_where_any_part_strikes() {
        check("| 1 & 2 & |", "meter: 4/4\n| 1 (2) 3 (4) |", "| 1 & 2 & 3 |");
        check("| (1) 2 (3) 4 |", "| 1 (2) 3 (4) |", "| 1 2 3 4 |");
        check("| 1 (3) | (1) |", "| (1 2) | (1) |", "| 1 (3) | (1) |");
        // A hold over the bar line goes on, whatever the other part does.
        check("| 1 | _1 (3) |", "| (1) | (1) 2 |", "| 1 | _1 2 |");
        check("| 1 | _1 (3) |", "| (1) | (1) |", "| 1 | _1 (3) |");
        check("|: 1 2 :| 1 |", "|: (1) 2 & :| 1 |", "|: 1 2 & :| 1 |");
    }
}
