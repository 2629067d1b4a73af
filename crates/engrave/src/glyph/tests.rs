use super::*;

#[test]
fn every_symbol_in_use_has_an_outline() {
    for glyph in Glyph::ALL {
        assert!(!glyph.outline().is_empty() && glyph.advance() > 0.0, "{}", glyph.name());
    }
}

/// Bounding boxes in staff spaces, left, low, right, high: of the first nine as the font's published metadata has them
/// (`glyphBBoxes`), of the others as fontTools reads the outlines of Bravura 1.392.
const BOXES: [(Glyph, [f64; 4]); 44] = [
    (Glyph::NoteBlack, [0.0, -0.5, 1.18, 0.5]),
    (Glyph::NoteWhole, [0.0, -0.5, 1.688, 0.5]),
    (Glyph::RestQuarter, [0.004, -1.5, 1.08, 1.492]),
    (Glyph::Clef, [0.0, -1.0, 1.528, 1.0]),
    (Glyph::Meter4, [0.08, -1.0, 1.8, 1.004]),
    (Glyph::FlagEighth, [0.0, -3.2408, 1.056, 0.0352]),
    (Glyph::Accent, [0.0, 0.004, 1.356, 0.98]),
    (Glyph::StrongAccent, [-0.004, -0.004, 0.94, 1.012]),
    (Glyph::Dot, [0.0, -0.2, 0.4, 0.2]),
    (Glyph::NoteHalf, [0.0, -0.5, 1.18, 0.5]),
    (Glyph::FlagSixteenth, [0.0, -3.252, 1.116, 0.008]),
    (Glyph::FlagThirtySecond, [0.0, -3.248, 1.044, 0.596]),
    (Glyph::FlagSixtyFourth, [0.0, -3.248, 1.044, 1.388]),
    (Glyph::RestWhole, [0.0, -0.54, 1.128, 0.036]),
    (Glyph::RestHalf, [0.0, -0.008, 1.128, 0.568]),
    (Glyph::RestEighth, [0.0, -1.004, 0.988, 0.696]),
    (Glyph::RestSixteenth, [0.0, -2.0, 1.28, 0.716]),
    (Glyph::RestThirtySecond, [0.0, -2.0, 1.452, 1.704]),
    (Glyph::RestSixtyFourth, [0.0, -3.012, 1.692, 1.72]),
    (Glyph::Segno, [0.016, -0.108, 2.2, 3.036]),
    (Glyph::Coda, [-0.016, -0.632, 3.82, 3.592]),
    (Glyph::RepeatDot, [0.0, -0.2, 0.4, 0.2]),
    (Glyph::Tuplet3, [0.04, -0.032, 1.224, 1.5]),
    (Glyph::Tremolo1, [-0.6, -0.372, 0.6, 0.376]),
    (Glyph::Tremolo2, [-0.604, -0.748, 0.596, 0.748]),
    (Glyph::Tremolo3, [-0.6, -1.12, 0.6, 1.112]),
    (Glyph::Tremolo4, [-0.6, -1.48, 0.6, 1.496]),
    (Glyph::BuzzRoll, [-0.62, -0.464, 0.624, 0.464]),
    (Glyph::GraceFlam, [0.0, -0.332, 1.428, 2.096]),
    (Glyph::Fermata, [0.012, -0.012, 2.42, 1.316]),
    (Glyph::Ppp, [-0.368, -0.568, 4.292, 1.096]),
    (Glyph::Pp, [-0.328, -0.568, 2.912, 1.096]),
    (Glyph::P, [-0.356, -0.568, 1.464, 1.096]),
    (Glyph::Mp, [-0.08, -0.568, 3.3, 1.096]),
    (Glyph::Mf, [-0.08, -0.66, 3.272, 1.724]),
    (Glyph::F, [-0.564, -0.608, 1.456, 1.776]),
    (Glyph::Ff, [-0.54, -0.608, 2.44, 1.776]),
    (Glyph::Fff, [-0.62, -0.608, 3.32, 1.776]),
    (Glyph::BracketTop, [0.0, 0.0, 1.876, 1.18]),
    (Glyph::BracketBottom, [0.0, -1.18, 1.876, 0.0]),
    (Glyph::TempoWhole, [0.0, -0.5, 1.836, 0.592]),
    (Glyph::TempoQuarter, [0.0, -0.564, 1.328, 2.752]),
    (Glyph::TempoEighth, [0.0, -0.564, 2.132, 2.784]),
    (Glyph::TempoDot, [0.0, -0.2, 0.4, 0.2]),
];

#[test]
fn sizes_are_those_of_the_font() {
    for (glyph, [left, low, right, high]) in BOXES {
        let (bounds, expected) = (glyph.bounds(), Rect::new(left, -high, right, -low));
        for (is, should) in [
            (bounds.x0, expected.x0),
            (bounds.y0, expected.y0),
            (bounds.x1, expected.x1),
            (bounds.y1, expected.y1),
        ] {
            assert!((is - should).abs() < 0.005, "{}: {bounds:?} is not {expected:?}", glyph.name());
        }
    }
}

/// Names and code points of the SMuFL standard (from memory; that the outlines are the right ones is seen in the pictures).
#[test]
fn characters_are_those_of_the_standard() {
    let check = |glyph: Glyph, name: &str, code: u32| {
        assert_eq!((glyph.name(), u32::from(glyph.character())), (name, code));
    };
    check(Glyph::NoteBlack, "noteheadBlack", 0xE0A4);
    check(Glyph::Tremolo1, "tremolo1", 0xE220);
    check(Glyph::BuzzRoll, "buzzRoll", 0xE22A);
    check(Glyph::FlagEighth, "flag8thUp", 0xE240);
    check(Glyph::Accent, "articAccentAbove", 0xE4A0);
    check(Glyph::StrongAccent, "articMarcatoAbove", 0xE4AC);
    check(Glyph::Fermata, "fermataAbove", 0xE4C0);
    check(Glyph::RestQuarter, "restQuarter", 0xE4E5);
    check(Glyph::P, "dynamicPiano", 0xE520);
    check(Glyph::F, "dynamicForte", 0xE522);
    check(Glyph::Ppp, "dynamicPPP", 0xE52A);
    check(Glyph::Fff, "dynamicFFF", 0xE530);
    check(Glyph::GraceFlam, "graceNoteAcciaccaturaStemUp", 0xE560);
}
