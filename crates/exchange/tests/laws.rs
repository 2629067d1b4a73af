//! What is written as MusicXML is read as the same, over generated rhythms of all kinds.

#[path = "../../rhythm/tests/generated/pieces.rs"]
mod generated;

use exchange::musicxml::{Choice, read, write, write_mxl};
use generated::piece;
use proptest::prelude::*;
use rhythm::spelling::{Note, spell};
use rhythm::{Bar, Deed, Event, Form, Marks, Part, Piece, Rhythm, TempoMark, Tuplet};

/// A piece as a page shows it: every bar in the symbols it is spelled with. MusicXML holds symbols, not events.
///
/// `None` where tuplets stand so fine in one another that a page shows each note with a ratio of its own.
fn as_spelled(piece: &Piece) -> Option<Piece> {
    let mut tempo = piece.parts()[0].rhythm.written_tempo();
    let first_mark = piece.parts()[0].rhythm.bars()[0].tempo_mark();
    let moved = match (tempo, first_mark) {
        // At the head of a piece without a tempo, a tempo over the first bar is the piece's.
        (None, Some(TempoMark::Beats(first))) => {
            tempo = Some(first);
            true
        }
        _ => false,
    };
    let part = |part: &Part| {
        let rhythm = &part.rhythm;
        let bars = rhythm.bars().iter().enumerate().map(|(index, bar)| {
            let spelled = spelled(bar)?;
            Some(if index == 0 && moved { spelled.with_tempo(None) } else { spelled })
        });
        let bars = bars.collect::<Option<Vec<Bar>>>()?;
        let title = rhythm.title().map(str::to_owned);
        let made = Rhythm::new(title, tempo, bars, rhythm.repeats().to_vec()).expect("the same rhythm");
        let rhythm = match rhythm.jump() {
            Some(jump) => made.with_jump(jump).expect("the same jump"),
            None => made,
        };
        Some(Part { rhythm, ..part.clone() })
    };
    let parts = piece.parts().iter().map(part).collect::<Option<Vec<Part>>>()?;
    Some(Piece::new(parts).expect("the same parts"))
}

fn spelled(bar: &Bar) -> Option<Bar> {
    let notes = spell(bar);
    let own = |note: &Note| bar.events().iter().find(|event| event.at == note.at);
    let event = |note: &Note| {
        let marks = own(note).map_or(Marks::NONE, |event| event.marks);
        Event::new(note.at, note.length, note.deed).with_marks(marks)
    };
    let mut events: Vec<Event> = notes.iter().map(event).collect();
    // Every tuplet is as long as the notes that stand in it.
    let mut tuplets: Vec<(usize, Tuplet)> = Vec::new();
    let mut stand = |index: usize, actual: u32, normal: u32, note: &Note| match tuplets
        .iter_mut()
        .find(|(known, _)| *known == index)
    {
        Some((_, tuplet)) => tuplet.length = note.at + note.length - tuplet.at,
        None => tuplets.push((index, Tuplet { at: note.at, length: note.length, actual, normal })),
    };
    for note in &notes {
        let Some(tuplet) = &note.tuplet else { continue };
        if let Some(outer) = tuplet.outer {
            stand(outer.index, outer.actual, outer.normal, note);
        }
        stand(tuplet.index, tuplet.actual, tuplet.normal, note);
    }
    let tuplets = tuplets.into_iter().map(|(_, tuplet)| tuplet).collect::<Vec<_>>();
    // A broken beam shows where two notes would else stand under one.
    let remade = |events: Vec<Event>| {
        let made = Bar::cut(bar.number(), bar.meter(), Form::Lengths, events).expect("the same events");
        let made = made.with_tuplets(tuplets.clone()).ok()?;
        let made = made.with_dynamics(bar.dynamics()).with_tempo(bar.tempo_mark());
        Some(bar.rest().map_or(made.clone(), |rest| made.with_rest(rest).expect("bars of rest")))
    };
    let usual = spell(&remade(events.clone())?);
    let flagged = |note: &Note| note.deed != Deed::Rest && note.value.flags() > 0;
    let mut before: Option<usize> = None;
    for place in 0..notes.len() {
        if !flagged(&notes[place]) {
            continue;
        }
        if let Some(before) = before {
            let joined =
                |notes: &[Note]| notes[before].beam.is_some() && notes[before].beam == notes[place].beam;
            events[place].beam_broken = joined(&usual) && !joined(&notes);
        }
        before = Some(place);
    }
    remade(events)
}

fn numbers(most: usize) -> impl Strategy<Value = Vec<u16>> {
    prop::collection::vec(any::<u16>(), 0..most)
}

/// The first bar that is read as another.
fn told(piece: &Piece, read: &Piece, file: &str) -> String {
    let bars = |piece: &Piece| -> Vec<Bar> {
        piece.parts().iter().flat_map(|part| part.rhythm.bars().to_vec()).collect()
    };
    let other = bars(piece).into_iter().zip(bars(read)).find(|(a, b)| a != b);
    format!("{file}\n{other:#?}")
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_written_is_read_as_the_same(
        layout in numbers(60),
        own in prop::collection::vec(numbers(200), 1..4),
    ) {
        let piece = piece(&layout, &own);
        let file = write(&piece).expect("it can be written");
        let import = read(file.as_bytes(), &Choice::default()).expect("it can be read");
        let Some(expected) = as_spelled(&piece) else { return Ok(()) };
        prop_assert!(import.piece == expected, "{}", told(&expected, &import.piece, &file));
        prop_assert_eq!(import.unkept, Vec::new());
        // What was read is written as the same file, and packed it is the same.
        prop_assert_eq!(write(&import.piece).expect("it can be written"), file);
        let packed = write_mxl(&piece).expect("it can be packed");
        prop_assert_eq!(read(&packed, &Choice::default()).expect("it can be unpacked").piece, import.piece);
    }
}
