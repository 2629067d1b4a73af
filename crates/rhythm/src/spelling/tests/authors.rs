//! What an author wrote stays as it was written.

use timebase::Span;

use super::{bar, counts, cut, holds_the_laws, lengths, meter};
use crate::spelling::spell;
use crate::{Form, Meter};

#[test]
fn lengths_keep_the_authors_values() {
    lengths("4/4", "1/8 1/2 3/8", "8 2 4.");
    lengths("4/4", "1/4 3/4", "4 2.");
    lengths("4/4", "7/8 1/8", "2.. 8");
    lengths("4/4", "(3/8) 1/8 (1/2)", "(4.) 8 (2)");
    lengths("4/4", "5/8 3/8", "2 ~8 4.");
    lengths("2/4", "1/6 1/6 1/6", "{3:2 4 4 4}");
    lengths("4/4", "1/6 1/6 1/6 1/6 1/6 1/6", "{3:2 4 4 4} {3:2 4 4 4}");
    lengths("2/4", "1/20 1/20 1/20 1/20 1/20 1/4", "{5:4 [16 16 16 16 16]} 4");
    lengths("6/8", "3/40 3/40 3/40 3/40 3/40 3/8", "{5:3 [8 8 8 8 8]} 4.");
    lengths("6/8", "3/16 3/16 3/8", "[8. 8.] 4.");
    lengths("5/16", "5/16", "4 ~16");
    lengths("7/8", "7/8", "2..");
    lengths("4/4", "(1/1)", "(bar)");
    lengths("4/4", "1/2 (1/4) (1/4)", "2 (4) (4)");
}

#[test]
fn lengths_beyond_the_page_are_still_exact() {
    let strange =
        ["1/128 127/128", "1/5 4/5", "1/67 66/67", "1/4099 4098/4099", "1/48 47/48", "1/7 1/5 23/35"];
    for form in [Form::Counts, Form::Lengths] {
        for lengths in strange {
            let bar = bar(Meter::COMMON, form, lengths);
            holds_the_laws(&bar, &spell(&bar));
        }
    }
    let bar = bar(Meter::COMMON, Form::Lengths, "1/1099511627775 1099511627774/1099511627775");
    assert_eq!(spell(&bar).iter().map(|note| note.length).sum::<Span>(), Span::WHOLE);
}

#[test]
fn authors_tuplets_are_kept() {
    lengths("4/4", "{3:2 1/4 1/4 1/4 } 1/2", "{3:2 4 4 4} 2");
    lengths("4/4", "{3:2 1/8 1/8 1/8 1/8 1/8 1/8 } 1/2", "{3:2 [8 8 8 8 8 8]} 2");
    lengths("4/4", "{6:4 1/8 1/8 1/8 1/8 1/8 1/8 } 1/2", "{6:4 [8 8 8 8 8 8]} 2");
    lengths("4/4", "1/8 {3:2 1/8 1/8 1/8 } 1/8 1/2", "8 {3:2 [8 8 8]} 8 2");
    lengths("2/4", "{3:2 1/16 1/16 1/16 } 1/8 1/4", "{3:2 [16 16 16} 8] 4");
    lengths("2/4", "{6:4 1/16 1/16 1/16 1/16 1/16 1/16 } 1/4", "{6:4 [16 16 16 16 16 16]} 4");
    lengths("2/4", "{3:2 1/16 1/16 1/16 1/16 1/16 1/16 } 1/4", "{3:2 [16 16 16 16 16 16]} 4");
    lengths("6/8", "{2:3 1/8 1/8 } 3/8", "{2:3 [8 8]} 4.");
    lengths("6/8", "{4:3 1/8 1/8 1/8 1/8 } 3/8", "{4:3 [8 8 8 8]} 4.");
    lengths("3/4", "{4:3 1/4 1/4 1/4 1/4 }", "{4:3 4 4 4 4}");
    lengths("4/4", "{5:4 1/4 1/4 1/4 1/4 1/4 }", "{5:4 4 4 4 4 4}");
    lengths("4/4", "{7:8 1/8 1/8 1/8 1/8 1/8 1/8 1/8 }", "{7:8 [8 8 8 8 8 8 8]}");
    lengths("4/4", "{13:8 1/8 1/4 1/8 3/8 (1/8) 1/2 1/8 }", "{13:8 8 4 8 4. (8) 2 8}");
    lengths("2/4", "{3:2 1/8 !1/8 1/8 } 1/4", "{3:2 8 [8 8]} 4");
    lengths("7/8 2+2+3", "{3:2 1/8 1/8 1/8 } 1/4 3/8", "{3:2 [8 8 8]} 4 4.");
    // Double dots stay inside a tuplet too.
    lengths("4/4", "{3:2 7/16 5/16 } 1/2", "{3:2 4.. 16 ~4} 2");
}

#[test]
fn tuplets_stand_one_in_another() {
    lengths("2/4", "{3:2 1/4 {3:2 1/8 1/8 1/8 } 1/4 }", "{3:2 4 {3:2 [8 8 8]} 4}");
    lengths("4/4", "{5:4 1/8 {3:2 1/16 1/16 1/16 } 1/8 1/8 1/8 } 1/2", "{5:4 [8 {3:2 16 16 16} 8 8 8]} 2");
    lengths("2/4", "{3:2 {5:4 1/16 1/16 1/16 1/16 1/16 } 1/4 (1/4) }", "{3:2 {5:4 [16 16 16 16 16]} 4 (4)}");
    let nested = cut(meter("2/4"), Form::Lengths, "{3:2 1/4 {3:2 1/8 1/8 1/8 } 1/4 }");
    let notes = spell(&nested);
    let (first, inner) = (notes[0].tuplet.expect("a tuplet"), notes[1].tuplet.expect("a tuplet"));
    assert_eq!((first.product(), inner.product()), ((3, 2), (9, 4)));
    assert_eq!((first.index, inner.index, inner.outer.map(|outer| outer.index)), (0, 1, Some(0)));
    assert!(inner.stands_in(0) && inner.stands_in(1) && !first.stands_in(1));
}

/// In a bar of counts the author's tuplets stand, and the values in them are chosen by the rules.
#[test]
fn rules_spell_inside_authors_tuplets() {
    counts("2/4", "{3:2 1/4 1/2 }", "{3:2 4 2}");
    counts("4/4", "{5:4 5/8 } 1/2", "{5:4 2 ~8} 2");
    counts("2/4", "{3:2 1/16 3/16 1/8 } 1/4", "{3:2 [16 16 ~8 8]} 4");
}

/// A whole rest stands for a full bar only.
#[test]
fn cut_bars_are_spelled_where_they_lie() {
    let check = |in_meter: &str, written: &str, expected: &str| {
        let bar = cut(meter(in_meter), Form::Counts, written);
        let notes = spell(&bar);
        assert_eq!(super::shown(&notes), expected, "{in_meter}: {written}");
        holds_the_laws(&bar, &notes);
    };
    check("4/4", "(3/4)", "(2) (4)");
    check("4/4", "1/8 1/8 1/8 1/8", "[8 8 8 8]");
    check("4/4", "1/4 .. 1/4 1/4 1/4", "4 4 4");
    check("4/4", "3/8 .. 5/8", "8 ~2");
    check("4/4", "3/4 .. 1/8 1/8", "[8 8]");
    check("4/4", "1/2 .. 1/8 1/8 1/8 1/8", "[8 8 8 8]");
    check("4/4", "1/8 .. 1/8 1/8 1/8", "8 [8 8]");
    check("6/8", "1/4 .. 1/8 3/8", "8 4.");
    check("6/8", "1/8 1/4", "8 4");
    check("7/8 2+2+3", "1/4 .. 1/4 3/8", "4 4.");
    // Two thirds of a beat: the triplet is begun, or was begun before.
    check("4/4", "1/4 1/12 1/12", "4 {3:2 [8 8]}");
    check("4/4", "1/12 .. 1/12 1/12 1/4", "{3:2 [8 8]} 4");
}
