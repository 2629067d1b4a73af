//! The rules as tables of cases, the source of each beside it: read in open teaching texts on notation, or
//! from memory.

use super::{counts, eighths, meter, of_house};
use crate::spelling::{House, ThreeFour};

/// Common practice, no source: two eighths fill a quarter, four quarters a whole; a dot adds half.
#[test]
fn plain_values_keep_one_symbol() {
    counts("4/4", "1/1", "1");
    counts("4/4", "1/2 1/2", "2 2");
    counts("4/4", "3/4 1/4", "2. 4");
    counts("4/4", "3/8 1/8 1/2", "4. 8 2");
    counts("4/4", "1/4 1/2 1/4", "4 2 4");
    counts("3/4", "3/4", "2.");
    counts("3/4", "1/4 1/2", "4 2");
    counts("3/4", "3/8 3/8", "4. 8 ~4");
    counts("2/4", "3/16 1/16 1/4", "[8. 16] 4");
    counts("6/8", "3/8 3/8", "4. 4.");
    counts("6/8", "3/4", "2.");
    counts("9/8", "3/4 3/8", "2. 4.");
    counts("12/8", "3/2", "1.");
    counts("2/2", "1/2 1/4 1/4", "2 4 4");
    counts("5/4", "5/4", "1 ~4");
    counts("7/8", "7/8", "2. ~8");
}

/// `1 3` in 4/4 is two notes, `1 _2 3` three: the hold asks for the tie to be written.
#[test]
fn a_written_hold_is_a_tie() {
    counts("4/4", "1/2 1/2", "2 2");
    counts("4/4", "1/4 _1/4 1/2", "4 ~4 2");
    counts("4/4", "_1/4 _1/4 1/2", "~4 ~4 2");
}

/// Read in open teaching texts: a value that crosses the middle of a 4/4 bar becomes two tied notes or two rests.
#[test]
fn the_middle_of_four_four_shows() {
    counts("4/4", "1/4 3/4", "4 4 ~2");
    counts("4/4", "3/8 1/4 3/8", "4. 8 [~8 8] ~4");
    counts("4/4", "5/8 3/8", "2 [~8 8] ~4");
    counts("4/4", "1/4 (1/2) 1/4", "4 (4) (4) 4");
    counts("2/2", "1/4 3/4", "4 4 ~2");
    counts("4/4 in 2", "1/4 3/4", "4 4 ~2");
    counts("2/2 in 4", "1/4 3/4", "4 4 ~2");
    counts("12/8", "3/8 9/8", "4. 4. ~2.");
}

/// From memory: eighth, quarter, eighth within half a bar; quarter, half, quarter; the same within a beat.
#[test]
fn common_syncopations_are_not_tied() {
    counts("4/4", "1/8 1/4 1/8 1/2", "8 4 8 2");
    counts("4/4", "1/2 1/8 1/4 1/8", "2 8 4 8");
    counts("2/4", "1/8 1/4 1/8", "8 4 8");
    counts("4/4", "1/4 1/8 1/4 1/8 1/4", "4 [8 8] [~8 8] 4");
    counts("2/2", "1/4 1/2 1/4", "4 2 4");
    counts("2/4", "1/16 1/8 1/16 1/4", "[16 8 16] 4");
    counts("2/4", "1/16 3/16 1/4", "[16 8.] 4");
    counts("2/2", "1/8 3/8 1/2", "8 4. 2");
    counts("3/4", "1/8 1/4 1/4 1/8", "[8 8] [~8 8] [~8 8]");
    counts("6/8", "1/16 1/8 3/16 3/8", "[16 16 ~16 16 ~8] 4.");
}

/// Read in open teaching texts: no half rest in 3/4; in 4/4 only on beats 1–2 or 3–4; rests show each
/// beat and fill to the half beat; a silent bar takes a whole rest in any meter.
#[test]
fn rests_show_the_beat() {
    for silent in ["4/4", "3/4", "2/4", "2/2", "6/8", "9/8", "12/8", "5/8", "3/8"] {
        counts(silent, &format!("({})", meter(silent).bar_length()), "(bar)");
    }
    counts("4/4", "1/2 (1/2)", "2 (2)");
    counts("4/4", "(1/2) 1/2", "(2) 2");
    counts("4/4", "1/4 (3/4)", "4 (4) (2)");
    counts("4/4", "(3/4) 1/4", "(2) (4) 4");
    counts("3/4", "1/4 (1/2)", "4 (4) (4)");
    counts("3/4", "(1/2) 1/4", "(4) (4) 4");
    counts("2/4", "(1/4) 1/4", "(4) 4");
    counts("2/2", "1/2 (1/2)", "2 (2)");
    counts("2/2", "1/4 (3/4)", "4 (4) (2)");
    counts("4/4", "1/8 (7/8)", "8 (8) (4) (2)");
    counts("2/4", "1/16 (7/16)", "16 (16) (8) (4)");
    counts("2/4", "(3/16) 1/16 1/4", "(8) (16) 16 4");
    counts("4/4", "(1/4) (1/4) 1/2", "(4) (4) 2");
}

/// Read in open teaching texts: a dotted quarter rest, or quarter and eighth by beat.
#[test]
fn rests_in_compound_meter() {
    counts("6/8", "3/8 (3/8)", "4. (4.)");
    counts("6/8", "1/8 (5/8)", "8 (4) (4.)");
    counts("6/8", "(1/4) 1/8 3/8", "(4) 8 4.");
    counts("6/8", "1/4 (1/8) 3/8", "4 (8) 4.");
    counts("6/8", "1/4 (1/2)", "4 (8) (4.)");
    counts("9/8", "3/8 (3/4)", "4. (4.) (4.)");
    counts("12/8", "(3/4) 3/4", "(4.) (4.) 2.");
    counts("6/8", "1/16 (5/16) 3/8", "16 (16) (4) 4.");
    counts("6/8", "3/16 (1/16) 1/8 3/8", "[8. (16) 8] 4.");
    counts("6/8 in 6", "1/8 (1/4) 3/8", "8 (8) (8) 4.");
    counts("3/8", "1/8 (1/4)", "8 (8) (8)");
    counts("3/8 in 1", "1/8 (1/4)", "8 (4)");
}

/// Common practice: a note across beats in three lasts whole beats, or is tied.
#[test]
fn notes_in_compound_meter() {
    counts("6/8", "1/2 1/4", "4. ~8 4");
    counts("6/8", "5/8 1/8", "4. ~4 8");
    counts("6/8", "1/8 1/4 3/8", "8 4 4.");
    counts("6/8", "1/4 1/4 1/4", "4 8 ~8 4");
    counts("9/8", "1/1 1/8", "2. ~4 8");
    counts("12/8", "1/1 1/2", "2. ~4 8 ~4.");
}

/// Read: 4/4 four eighths may share a beam in each half, never across the middle; 2/4 one beam; 3/4
/// pairs; sixteenths by beat. From memory: 6/8 in threes.
#[test]
fn beams_show_the_beat() {
    counts("4/4", &eighths(8), "[8 8 8 8] [8 8 8 8]");
    counts("2/4", &eighths(4), "[8 8 8 8]");
    counts("3/4", &eighths(6), "[8 8] [8 8] [8 8]");
    counts("3/4 in 1", &eighths(6), "[8 8 8 8 8 8]");
    counts("2/2", &eighths(8), "[8 8 8 8] [8 8 8 8]");
    counts("6/8", &eighths(6), "[8 8 8] [8 8 8]");
    counts("6/8 in 6", &eighths(6), "[8 8 8] [8 8 8]");
    counts("9/8", &eighths(9), "[8 8 8] [8 8 8] [8 8 8]");
    counts("12/8", &eighths(12), "[8 8 8] [8 8 8] [8 8 8] [8 8 8]");
    counts("3/8", &eighths(3), "[8 8 8]");
    counts("5/8", &eighths(5), "8 8 8 8 8");
    counts("5/4", &eighths(10), "[8 8] [8 8] [8 8] [8 8] [8 8]");
    counts("2/4", "1/8 1/8 1/16 1/16 1/8", "[8 8] [16 16 8]");
    counts("2/4", "1/16 1/16 1/16 1/16 1/16 1/16 1/8", "[16 16 16 16] [16 16 8]");
    counts("4/4", "1/4 1/8 1/8 1/8 1/8 1/4", "4 [8 8] [8 8] 4");
    counts("4/4", "3/8 1/8 1/8 3/8", "4. 8 [8 8] ~4");
    counts("4/4", "1/8 1/8 !1/8 1/8 1/2", "[8 8] [8 8] 2");
    counts("6/8", "1/8 !1/8 1/8 3/8", "8 [8 8] 4.");
    counts("2/4", "1/8 (1/8) 1/8 1/8", "8 (8) [8 8]");
    counts("2/4", "1/16 (1/16) 1/8 1/4", "[16 (16) 8] 4");
    counts("2/4", "(1/8) 1/8 1/8 (1/8)", "(8) 8 8 (8)");
    counts("4/4", "1/8 _1/8 1/8 1/8 1/2", "[8 ~8 8 8] 2");
}

/// Thirds and sixths of a beat in two: three in the time of two, six in the time of four.
#[test]
fn triplets_begin_and_end_with_the_beat() {
    counts("2/4", "1/12 1/12 1/12 1/4", "{3:2 [8 8 8]} 4");
    counts("2/4", "1/6 1/12 1/4", "{3:2 4 8} 4");
    counts("2/4", "1/12 1/6 1/4", "{3:2 8 4} 4");
    counts("2/4", "1/12 (1/12) 1/12 1/4", "{3:2 [8 (8) 8]} 4");
    counts("2/4", "1/12 (1/6) 1/4", "{3:2 8 (4)} 4");
    counts("2/4", "1/24 1/24 1/24 1/24 1/24 1/24 1/4", "{6:4 [16 16 16 16 16 16]} 4");
    counts("2/4", "1/24 1/24 1/24 1/8 1/4", "{3:2 [16 16 16} 8] 4");
    counts("2/4", "1/12 1/24 1/24 1/12 1/4", "{3:2 [8 16 16 8]} 4");
    counts("2/4", "1/24 1/24 1/6 1/4", "{3:2 [16 16] 4} 4");
    // A note that leaves the tuplet's beat is cut there; one that enters it too.
    counts("2/4", "1/12 5/12", "{3:2 8 4} ~4");
    counts("4/4", "1/3 1/12 1/12 1/2", "4 {3:2 [~8 8 8]} 2");
    counts("4/4", "1/12 1/12 1/3 1/2", "{3:2 [8 8 8]} ~4 2");
    counts("2/2", "1/6 1/6 1/6 1/2", "{3:2 4 4 4} 2");
    counts("3/4", "1/12 1/12 1/12 1/12 1/12 1/12 1/4", "{3:2 [8 8 8]} {3:2 [8 8 8]} 4");
    // A pickup of the last two notes of a triplet.
    counts("4/4", "1/12 1/12", "{3:2 [8 8]}");
}

/// Read in open teaching texts: 3/4 in pairs, six as an option.
#[test]
fn the_house_may_beam_six_in_three_four() {
    let six = House { three_four: ThreeFour::Six };
    of_house(six, "3/4", &eighths(6), "[8 8 8 8 8 8]");
    of_house(six, "3/4", "1/4 1/8 1/8 1/8 1/8", "4 [8 8] [8 8]");
    of_house(six, "3/4", "1/8 1/8 1/16 1/16 1/8 1/8 1/8", "[8 8] [16 16 8] [8 8]");
    of_house(six, "6/8", &eighths(6), "[8 8 8] [8 8 8]");
    of_house(six, "4/4", &eighths(8), "[8 8 8 8] [8 8 8 8]");
}

/// From memory: 5/8 and 7/8 as declared; and so any other declared grouping.
#[test]
fn beams_follow_declared_groups() {
    counts("5/8 2+3", &eighths(5), "[8 8] [8 8 8]");
    counts("5/8 3+2", &eighths(5), "[8 8 8] [8 8]");
    counts("7/8 2+2+3", &eighths(7), "[8 8] [8 8] [8 8 8]");
    counts("7/8 3+2+2", &eighths(7), "[8 8 8] [8 8] [8 8]");
    counts("7/8 4+3", &eighths(7), "[8 8 8 8] [8 8 8]");
    counts("8/8 3+3+2", &eighths(8), "[8 8 8] [8 8 8] [8 8]");
    counts("4/4 3+3+2", &eighths(8), "[8 8 8] [8 8 8] [8 8]");
    counts("4/4 2+2+2+2", &eighths(8), "[8 8] [8 8] [8 8] [8 8]");
    counts("4/4 2+2", &eighths(8), "[8 8 8 8] [8 8 8 8]");
    counts("9/8 2+2+2+3", &eighths(9), "[8 8] [8 8] [8 8] [8 8 8]");
    counts("6/8 2+2+2", &eighths(6), "[8 8] [8 8] [8 8]");
    counts("6/8 2+4", &eighths(6), "[8 8] [8 8 8 8]");
    counts("3/4 3+3", &eighths(6), "[8 8 8] [8 8 8]");
    counts("5/4 3+2", &eighths(10), "[8 8] [8 8] [8 8] [8 8 8 8]");
    counts("8/8 5+3", &eighths(8), "[8 8 8 8 8] [8 8 8]");
    counts("7/16 2+2+3", &["1/16"; 7].join(" "), "[16 16] [16 16] [16 16 16]");
    counts("7/8 2+2+3", "1/16 1/16 1/8 1/4 1/8 1/16 1/16 1/8", "[16 16 8] 4 [8 16 16 8]");
    counts("7/8 4+3", "1/16 1/16 1/8 1/8 1/8 3/8", "[16 16 8] [8 8] 4.");
}

/// From memory: splitting at the strongest boundary, which is where a declared group begins.
#[test]
fn notes_show_declared_groups() {
    counts("7/8 2+2+3", "1/4 1/4 3/8", "4 4 4.");
    counts("7/8 2+2+3", "7/8", "2 ~4.");
    counts("7/8 2+2+3", "1/2 3/8", "2 4.");
    counts("7/8 2+2+3", "3/8 1/8 3/8", "4 [~8 8] 4.");
    counts("7/8 3+2+2", "3/8 1/2", "4. 2");
    counts("7/8 3+2+2", "1/2 3/8", "4. [~8 8] ~4");
    counts("5/8 3+2", "5/8", "4. ~4");
    counts("5/8 2+3", "1/8 1/2", "[8 8] ~4.");
    counts("4/4 3+3+2", "3/8 3/8 1/4", "4. 4. 4");
    counts("4/4 3+3+2", "1/1", "1");
    counts("4/4 3+3+2", "1/2 1/2", "4. ~8 4 ~4");
    counts("4/4 3+3+2", "1/8 1/4 1/8 1/4 1/4", "8 4 8 4 4");
    counts("4/4 4+4", "1/4 3/4", "4 4 ~2");
    counts("7/8 2+2+3", "1/16 1/8 1/16 1/16 3/16 3/8", "[16 8 16] [16 8.] 4.");
    counts("9/8 2+2+2+3", "1/4 1/4 1/4 3/8", "4 4 4 4.");
    counts("5/4 3+2", "3/4 1/2", "2. 2");
    counts("5/4 3+2", "1/1 1/4", "2. ~4 4");
    counts("5/4 3+2", "5/4", "2. ~2");
}

/// Read in open teaching texts: rests show each beat. From memory: and each declared group.
#[test]
fn rests_show_declared_groups() {
    counts("7/8 2+2+3", "(1/2) 3/8", "(4) (4) 4.");
    counts("7/8 2+2+3", "1/4 (5/8)", "4 (4) (4.)");
    counts("7/8 2+2+3", "1/4 1/4 1/8 (1/4)", "4 4 8 (4)");
    counts("7/8 2+2+3", "1/4 1/4 (1/4) 1/8", "4 4 (4) 8");
    counts("7/8 3+2+2", "(1/8) 1/4 1/4 1/4", "(8) 4 4 4");
    counts("7/8 2+2+3", "(7/8)", "(bar)");
    counts("5/4 3+2", "(3/4) 1/2", "(4) (4) (4) 2");
    counts("5/4 3+2", "3/4 (1/2)", "2. (2)");
    counts("4/4 3+3+2", "3/8 (3/8) 1/4", "4. (4.) 4");
    counts("4/4 3+3+2", "(1/2) 1/2", "(4.) (8) 4 ~4");
}

/// From memory: equal notes that fill half a bar, or all of it, together stand in one tuplet.
#[test]
fn tuplets_may_fill_several_beats() {
    counts("4/4", "1/6 1/6 1/6 1/2", "{3:2 4 4 4} 2");
    counts("4/4", "1/2 1/6 (1/6) 1/6", "2 {3:2 4 (4) 4}");
    counts("4/4", "1/3 1/3 1/3", "{3:2 2 2 2}");
    counts("4/4", "1/12 1/12 1/6 1/6 1/2", "{3:2 [8 8] 4 4} 2");
    counts("4/4", "1/10 1/10 1/10 1/10 1/10 1/2", "{5:4 [8 8 8 8 8]} 2");
    counts("7/8 2+2+3", "1/12 1/12 1/12 1/4 3/8", "{3:2 [8 8 8]} 4 4.");
    // Not over beats that do not belong together.
    counts("4/4", "1/4 1/6 1/6 1/6 1/4", "4 {3:2 4 8} {3:2 ~8 4} 4");
}

/// The felt beat may be chosen; the bar is still divided and beamed as its meter is.
#[test]
fn felt_beats_may_be_chosen() {
    counts("2/2 in 4", "1/2 1/8 1/8 1/8 1/8", "2 [8 8 8 8]");
    counts("2/2 in 4", "1/16 3/16 1/4 1/2", "[16 8.] 4 2");
    counts("6/8 in 6", "3/8 1/8 1/8 1/8", "4. [8 8 8]");
    counts("6/8 in 6", "1/2 1/4", "4. ~8 4");
    counts("3/4 in 1", "1/4 (1/2)", "4 (4) (4)");
    counts("3/4 in 1", "3/4", "2.");
    counts("4/4 in 1", "1/4 3/4", "4 4 ~2");
}

/// Common practice, no source: values go down to the sixty-fourth.
#[test]
fn values_to_the_sixty_fourth() {
    counts("2/4", "1/32 1/32 1/16 1/64 1/64 1/32 1/16 1/4", "[32 32 16 64 64 32 16] 4");
    counts("2/4", "1/64 3/64 1/16 1/8 1/4", "[64 32. 16 8] 4");
    counts("2/4", "(1/64) 15/64 1/4", "(64) [32. ~16 ~8] 4");
    counts("2/4", "3/128 1/128 1/32 3/16 1/4", "[64. {2:1 64} 32 8.] 4");
}

/// Triplets of two beats are one where they are three quarters of it, some of them as eighths; a note over the beat that is a
/// part and a half is tied there, as any note over a boundary is (common practice, no source).
#[test]
fn triplets_show_the_beat() {
    counts("2/4", "1/6 1/6 1/6", "{3:2 4 4 4}");
    counts("2/4", "1/12 1/12 1/6 1/6", "{3:2 [8 8] 4 4}");
    counts("2/4", "1/12 1/12 1/4 1/12", "{3:2 [8 8 8]} {3:2 ~4 8}");
    counts("2/4", "1/6 1/4 1/12", "{3:2 4 8} {3:2 ~4 8}");
    counts("4/4", "1/12 1/12 1/4 1/12 1/4 1/4", "{3:2 [8 8 8]} {3:2 ~4 8} 4 4");
}
