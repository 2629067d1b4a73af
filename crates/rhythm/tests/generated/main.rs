//! Laws over generated rhythms of all kinds: what is written is read as the same, and the canonical form stands.

mod pieces;

use proptest::prelude::*;
use rhythm::text::{format, read_piece, write_piece};
use rhythm::{Bar, Piece};

use crate::pieces::piece;

/// The text and the first bar that is read as another.
fn told(piece: &Piece, reading: &rhythm::text::PieceReading, written: &str) -> String {
    let bars = |piece: &Piece| -> Vec<Bar> {
        piece.parts().iter().flat_map(|part| part.rhythm.bars().to_vec()).collect()
    };
    let read = reading.piece.as_ref().map(bars).unwrap_or_default();
    let other = bars(piece).into_iter().zip(read).find(|(a, b)| a != b);
    format!("{written}\n{:#?}\n{other:#?}", reading.diagnostics)
}

fn numbers(most: usize) -> impl Strategy<Value = Vec<u16>> {
    prop::collection::vec(any::<u16>(), 0..most)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_written_is_read_as_the_same(
        layout in numbers(60),
        own in prop::collection::vec(numbers(200), 1..4),
    ) {
        let piece = piece(&layout, &own);
        let written = write_piece(&piece);
        let reading = read_piece(&written);
        prop_assert!(reading.piece.as_ref() == Some(&piece), "{}", told(&piece, &reading, &written));
        // What is written is canonical.
        prop_assert_eq!(format(&written).text, Some(written));
    }

    /// Comments are kept wherever they stand, the rhythm stays, and the canonical form stands.
    #[test]
    fn formatting_keeps_every_comment(
        layout in numbers(60),
        own in prop::collection::vec(numbers(120), 1..3),
        places in prop::collection::vec((any::<prop::sample::Index>(), any::<bool>()), 0..6),
    ) {
        let piece = piece(&layout, &own);
        let mut lines: Vec<String> = write_piece(&piece).lines().map(str::to_owned).collect();
        let mut comments = Vec::new();
        for (number, (place, alone)) in places.iter().enumerate() {
            let comment = format!("# remark {number}");
            let line = place.index(lines.len());
            if *alone {
                lines.insert(line, comment.clone());
            } else if lines[line].starts_with("title") || lines[line].starts_with('#') {
                continue;
            } else {
                lines[line] = format!("{}   {comment}", lines[line]);
            }
            comments.push(comment);
        }
        let text = lines.join("\n");
        let formatted = format(&text);
        let Some(once) = formatted.text else {
            return Err(TestCaseError::fail(format!("{text}\n{:#?}", formatted.diagnostics)));
        };
        let reading = read_piece(&once);
        prop_assert!(reading.piece.as_ref() == Some(&piece), "{}", told(&piece, &reading, &once));
        for comment in &comments {
            prop_assert_eq!(once.matches(comment.as_str()).count(), 1, "{}\n{}", text, once);
        }
        prop_assert_eq!(format(&once).text, Some(once.clone()), "{}", text);
    }
}
