//! Everything a rhythm text can say beyond plain bars.

use rhythm::text::{Place, Severity, read, read_piece, write_piece};
use rhythm::{
    Accent, Bar, BarsOfRest, Deed, Dynamics, Grace, Jump, Loudness, Marks, Piece, Rhythm, Roll, Sticking,
    Swell, TempoMark, Until,
};
use timebase::{Span, Tempo};

/// Reads a text of one part, and holds that it is written and read again as the same.
#[track_caller]
fn rhythm(text: &str) -> Rhythm {
    let piece = piece(text);
    assert_eq!(piece.parts().len(), 1, "{text}");
    piece.parts()[0].rhythm.clone()
}

#[track_caller]
fn piece(text: &str) -> Piece {
    let reading = read_piece(text);
    let piece = reading.piece.unwrap_or_else(|| panic!("{text}\n{:#?}", reading.diagnostics));
    let written = write_piece(&piece);
    let again = read_piece(&written);
    assert_eq!(again.piece.as_ref(), Some(&piece), "{text}\nwritten:\n{written}\n{:#?}", again.diagnostics);
    piece
}

#[track_caller]
fn check_error(text: &str, line: usize, column: usize, words: &[&str]) {
    let reading = read_piece(text);
    assert_eq!(reading.piece, None, "{text} was read");
    let error = reading.diagnostics.iter().find(|d| d.severity == Severity::Error).expect("an error");
    let said = format!("{}\n{}", error.message, error.help);
    for word in words {
        assert!(said.contains(word), "{text}: {word:?} is missing in\n{said}");
    }
    let place = Place::of(text, error.span.start);
    assert_eq!((place.line, place.column), (line, column), "{text}: {said}");
}

/// The bars as they are played, each as `number.pass`.
#[track_caller]
fn check_order(text: &str, order: &str) {
    let rhythm = rhythm(text);
    let bars: Vec<String> =
        rhythm.performance().bars().iter().map(|bar| format!("{}.{}", bar.number, bar.pass)).collect();
    assert_eq!(bars.join(" "), order, "{text}");
}

fn places(bar: &Bar) -> String {
    let places: Vec<String> =
        bar.events().iter().map(|event| format!("{}+{}", event.at, event.length)).collect();
    places.join(" ")
}

/// Five in the time of four fill a quarter with sixteenths of a fifth of it each: the meaning of the ratio.
#[test]
fn tuplets_of_any_ratio_nested_once() {
    let check = |text: &str, expected: &str| assert_eq!(places(&rhythm(text).bars()[0]), expected, "{text}");
    check(
        "meter: 2/4\n| {5:4 1/16 1/16 1/16 1/16 1/16} 1/4 |",
        "0+1/20 1/20+1/20 1/10+1/20 3/20+1/20 1/5+1/20 1/4+1/4",
    );
    check("| {3:2 1/4 1/4 1/4} 1/2 |", "0+1/6 1/6+1/6 1/3+1/6 1/2+1/2");
    check("meter: 2/4\n| {3:2 1/4 1/8} 1/4 |", "0+1/6 1/6+1/12 1/4+1/4");
    check("meter: 6/8\n| {2:3 1/8 1/8} 1/4. |", "0+3/16 3/16+3/16 3/8+3/8");
    check("meter: 6/8\n| {4:3 1/8 1/8 (1/8) 1/8} 1/4. |", "0+3/32 3/32+3/32 3/16+3/32 9/32+3/32 3/8+3/8");
    check(
        "meter: 2/4\n| {7:4 1/16 1/16 1/16 1/16 1/16 1/16 1/16} 1/4 |",
        "0+1/28 1/28+1/28 1/14+1/28 3/28+1/28 1/7+1/28 5/28+1/28 3/14+1/28 1/4+1/4",
    );
    check("meter: 2/4\n| {3:2 1/4 {3:2 1/8 1/8 1/8} 1/4} |", "0+1/6 1/6+1/18 2/9+1/18 5/18+1/18 1/3+1/6");
    let nested = rhythm("meter: 2/4\n| {3:2 1/4 {3:2 1/8 1/8 1/8} 1/4} |");
    let ratios: Vec<_> =
        nested.bars()[0].tuplets().iter().map(|t| (t.at, t.length, t.actual, t.normal)).collect();
    assert_eq!(ratios, [(Span::ZERO, Span::HALF, 3, 2), (Span::new(1, 6), Span::new(1, 6), 3, 2)]);
}

#[test]
fn wrong_tuplets_are_told() {
    check_error("meter: 2/4\n| {3:2 1/8 1/8} 1/4 |", 2, 3, &["holds 1/4", "3 equal notes"]);
    check_error("meter: 2/4\n| {3 1/8 1/8 1/8} 1/4 |", 2, 3, &["how many", "{5:4"]);
    check_error("meter: 2/4\n| {0:2 1/8} 1/4 |", 2, 3, &["0:2 is no tuplet", "1 to 64"]);
    check_error("meter: 2/4\n| {3:2 1/8 1/8 1/8 1/4 |", 2, 3, &["not closed"]);
    check_error("| {3:2 {3:2 {3:2 1/8 1/8 1/8} 1/8 1/8} 1/8 1/8} |", 1, 13, &["tuplet of a tuplet"]);
    check_error("| ({3:2 1/8 1/8 1/8}) |", 1, 4, &["inside a rest"]);
}

#[test]
fn marks_stand_in_lines_under_their_bars() {
    let text = "\
          | 1 2 & 3 (4) | 1 2 3 4 |
sticking: | R R L B     | RL.R |
accents:    > . . ^       | . >
strokes:  | flam drag ruff z | /// flam+/ |
dynamics: | mf<         | f
";
    let rhythm = rhythm(text);
    let marks: Vec<Vec<Marks>> =
        rhythm.bars().iter().map(|bar| bar.events().iter().map(|event| event.marks).collect()).collect();
    let none = Marks::NONE;
    let (right, left) = (Some(Sticking::Right), Some(Sticking::Left));
    assert_eq!(
        marks[0],
        [
            Marks { sticking: right, accent: Some(Accent::Accent), grace: Grace::Flam, ..none },
            Marks { sticking: right, grace: Grace::Drag, ..none },
            Marks { sticking: left, grace: Grace::Ruff, ..none },
            Marks {
                sticking: Some(Sticking::Both),
                accent: Some(Accent::Strong),
                roll: Some(Roll::Unmeasured),
                ..none
            },
            none,
        ]
    );
    assert_eq!(
        marks[1],
        [
            Marks { sticking: right, roll: Some(Roll::Measured(3)), ..none },
            Marks {
                sticking: left,
                accent: Some(Accent::Accent),
                grace: Grace::Flam,
                roll: Some(Roll::Measured(1)),
                ..none
            },
            none,
            Marks { sticking: right, ..none },
        ]
    );
    let dynamics: Vec<Dynamics> = rhythm.bars().iter().map(Bar::dynamics).collect();
    assert_eq!(
        dynamics,
        [
            Dynamics { level: Some(Loudness::Mf), swell: Some(Swell::Crescendo) },
            Dynamics { level: Some(Loudness::F), swell: None },
        ]
    );
}

#[test]
fn marks_stand_under_the_line_above_them_only() {
    let rhythm = rhythm("| 1 2 |\n| 3/4 1/4 | % |\nsticking: R L | L R\n\n| 1 |\naccents: ^\n");
    let hands: Vec<_> = rhythm.bars().iter().map(|bar| bar.events()[0].marks.sticking).collect();
    assert_eq!(hands, [None, Some(Sticking::Right), Some(Sticking::Left), None]);
    assert_eq!(rhythm.bars()[3].events()[0].marks.accent, Some(Accent::Strong));
    // A bar written as `%` has the marks of the bar before, unless it has its own.
    let rhythm = self::rhythm("| 1 3 | % |\nsticking: R L\n");
    assert_eq!(rhythm.bars()[0].events(), rhythm.bars()[1].events());
    // A pickup has no bar line before it.
    let rhythm = self::rhythm("(3) 4 & | 1 2 3 4 |\nsticking: R L | R . R L\n");
    assert_eq!(rhythm.bars()[0].events()[1].marks.sticking, Some(Sticking::Right));
    let rhythm = self::rhythm("4 & | 1 2 3 4 |\nsticking:  | R . R L\n");
    assert_eq!(rhythm.bars()[1].events()[0].marks.sticking, Some(Sticking::Right));
}

#[test]
fn wrong_marks_are_told() {
    check_error("| 1 2 |\nsticking: R L R\n", 2, 15, &["3 signs", "2 attacks"]);
    check_error("| 1 2 |\nsticking: R X\n", 2, 13, &["`X`", "`R`, `L` or `B`"]);
    check_error("| 1 2 |\naccents: > | >\n", 2, 13, &["marks 2 bars, but 1 begin"]);
    check_error("| 1 2 |\nstrokes: paradiddle\n", 2, 10, &["`paradiddle`", "flam"]);
    check_error("| 1 2 |\ndynamics: loud\n", 2, 11, &["`loud`", "`ppp` to `fff`"]);
    check_error("sticking: R\n| 1 2 |\n", 1, 1, &["under no line of bars"]);
}

#[test]
fn a_fermata_stands_behind_its_count() {
    let fermatas = |text: &str| -> Vec<bool> {
        rhythm(text).bars()[0].events().iter().map(|event| event.marks.fermata).collect()
    };
    assert_eq!(fermatas("| 1 2 fermata (3) 4 |"), [false, true, false, false]);
    assert_eq!(fermatas("| 1 (3) fermata |"), [false, true]);
    assert_eq!(fermatas("| 1 (3 fermata) 4 |"), [false, true, false]);
    assert_eq!(fermatas("| 1/2 fermata (1/2) fermata |"), [true, true]);
    check_error("| fermata 1 |", 1, 3, &["no count"]);
    check_error("| 1 (2 3 fermata) |", 1, 10, &["no count that begins something"]);
}

/// Common practice, no source: an ending is played in the passes it names; after a jump back no passage is repeated,
/// and the last ending is played.
#[test]
fn endings_and_jumps_are_played_out() {
    check_order("|: 1 | [1.] 1 2 :| [2.] 1 |", "1.1 2.1 1.2 3.1");
    check_order("|: 1 | [1.] 1 2 :| [2.] 1 || 1 |", "1.1 2.1 1.2 3.1 4.1");
    check_order("| 1 |: 2/2 | [1. 2.] 1 :| [3.] 1 | 1 || 1 |", "1.1 2.1 3.1 2.2 3.2 2.3 4.1 5.1 6.1");
    check_order("| 1 | [1.] 1 :| [2.] 1 |: 1 :| 1 |", "1.1 2.1 1.2 3.1 4.1 4.2 5.1");
    check_order("4 | 1 | 1 | [1.] 1 :| [2.] 1 |", "0.1 1.1 2.1 3.1 1.2 2.2 4.1");
    check_order("| 1 | 1 [fine] | 1 [D.C. al fine] |", "1.1 2.1 3.1 1.2 2.2");
    check_order("| 1 | [segno] 1 [fine] | 1 [D.S.] |", "1.1 2.1 3.1 2.2");
    check_order("| 1 | 1 [D.C.] | 1 |", "1.1 2.1 1.2 2.2 3.1");
    check_order("| 1 | [segno] 1 [to coda] | 1 [D.S. al coda] | [coda] 1 | 1 |", "1.1 2.1 3.1 2.2 4.1 5.1");
    check_order("|: 1 :| 1 [fine] | 1 [dc al fine] |", "1.1 1.2 2.1 3.1 1.3 2.2");
    check_order("|: 1 | [1.] 1 :| [2.] 1 [fine] || 1 [Da Capo al Fine] |", "1.1 2.1 1.2 3.1 4.1 1.3 3.2");
    let jump = rhythm("| 1 | [sign] 1 [fine] | 1 [D.S.] |").jump();
    assert_eq!(jump, Some(Jump { after: 2, to: 1, from_sign: true, until: Until::Fine(1) }));
}

/// Common practice, no source: songs are repeated with their pickup. The sign stands before it then.
#[test]
fn a_passage_may_begin_with_the_pickup() {
    check_order("|: 4 & | 1 | 1 2 3 :|", "0.1 1.1 2.1 0.2 1.2 2.2");
    check_order("|: 1/4 | 1 | 1/2. :|", "0.1 1.1 2.1 0.2 1.2 2.2");
    check_order("|: 1/4 | 1 | [1.] [lasts 3/4] 1/2. :| [2.] 1/2. |", "0.1 1.1 2.1 0.2 1.2 3.1");
    check_order("4 |: 1 | 1 2 3 :|", "0.1 1.1 2.1 1.2 2.2");
    check_order("meter: 7/8 2+2+3 by group\n|: [from 1/2] 1 2 3 | 1 1 1 :|", "0.1 1.1 0.2 1.2");
    check_order("meter: 7/8 2+2+3 by group\n|: 1 1 1 | 1 1 1 :|", "1.1 2.1 1.2 2.2");
    let marked = rhythm("         |: 4 & | 1 2 3 :|\nsticking: | R L | R L R\n");
    let hands = |bar: usize| marked.bars()[bar].events()[0].marks.sticking;
    assert_eq!((hands(0), hands(1)), (Some(Sticking::Right), Some(Sticking::Right)));
    // Behind a plain bar line a bar is full.
    check_error("| 4 | 1 2 3 |", 1, 3, &["begins at `4`", "begins at count 1"]);
    check_error("| 1/4 | 1 |", 1, 3, &["3/4 of a whole note too early"]);
}

#[test]
fn wrong_endings_and_jumps_are_told() {
    check_error("|: 1 | [1.] 1 :| 1 |", 1, 8, &["no ending is marked for time 2"]);
    check_error("|: 1 | [1.] 1 :| [3.] 1 |", 1, 8, &["time 2"]);
    check_error("|: 1 | [1.] 1 | [2.] 1 |", 1, 1, &["not closed"]);
    check_error("|: 1 | [1.] 1 :| 3 times [2.] 1 |", 1, 8, &["time 3"]);
    check_error("| 1 | [2. 1.] 1 |", 1, 8, &["`[2. 1.]` is not an ending", "rising"]);
    check_error("| 1 [D.S.] |", 1, 5, &["sign that is not there", "[segno]"]);
    check_error("| 1 | [segno] 1 |", 1, 7, &["nothing jumps back"]);
    check_error("| 1 [D.C. al coda] |", 1, 5, &["do not fit", "[to coda]"]);
    check_error("| 1 [D.C.] | 1 [D.C.] |", 1, 16, &["second jump"]);
    check_error("| [fine] 1 |", 1, 3, &["beginning of a bar"]);
    check_error("| 1 [3/4] |", 1, 5, &["end of a bar"]);
    check_error("| 1 [fine] 2 |", 1, 5, &["inside a bar"]);
    check_error("| [allegro] 1 |", 1, 4, &["`[allegro]` is no direction", "[quarter = 120]"]);
    check_error("| [coda] 1 [to coda] | 1 [D.C.] |", 1, 26, &["cannot be played"]);
}

#[test]
fn the_tempo_changes_and_an_equality_says_what_stays() {
    let tempos =
        |text: &str| -> Vec<String> { rhythm(text).tempos().map(|tempo| tempo.to_string()).collect() };
    let q = "tempo: quarter = 120\n";
    assert_eq!(
        tempos(&format!("{q}| 1 | [quarter = 60] 1 | 1 |")),
        ["quarter = 120", "quarter = 60", "quarter = 60"]
    );
    // The eighth stays: the dotted quarter of 6/8 is two thirds as fast as the quarter was.
    assert_eq!(
        tempos(&format!("{q}| 1 | [6/8] [eighth = eighth] 1 |")),
        ["quarter = 120", "dotted quarter = 80"]
    );
    // The beat stays: a quarter lasts as long as a dotted quarter now.
    assert_eq!(
        tempos(&format!("{q}| 1 | [6/8] [quarter = dotted quarter] 1 |")),
        ["quarter = 120", "dotted quarter = 120"]
    );
    assert_eq!(
        rhythm(&format!("{q}| 1 | [half = quarter] 1 |")).bars()[1].tempo_mark(),
        Some(TempoMark::Equal { before: Span::HALF, after: Span::QUARTER })
    );
    assert_eq!(tempos(&format!("{q}| 1 | [half = quarter] 1 |")), ["quarter = 120", "quarter = 60"]);
    check_error("tempo: quarter = 20\n| 1 | [whole = sixteenth] 1 |", 2, 27, &["20 to 300"]);
}

/// A minute has 60,000 ms: at 120 a quarter lasts 500 ms, at 60 it lasts 1000.
#[test]
fn changes_of_tempo_keep_their_proportion() {
    let rhythm = rhythm("tempo: quarter = 120\n|: 1 | [quarter = 60] 1 :|");
    let performance = rhythm.performance();
    let seconds = |bpm: u32| -> Vec<f64> {
        let tempo = Tempo::new(Span::QUARTER, bpm.into()).expect("a tempo");
        let map = rhythm.tempo_map(&performance, tempo);
        performance.bars().iter().map(|bar| map.moment_at(bar.start).since_zero().as_secs_f64()).collect()
    };
    assert_eq!(seconds(120), [0.0, 2.0, 6.0, 8.0]);
    assert_eq!(seconds(240), [0.0, 1.0, 3.0, 4.0]);
}

/// From 120 to 60 over two bars of four beats: at 90 in the mean they last 16/3 s. Half the way in beats the tempo is
/// √((120² + 60²) / 2), for it changes evenly in time.
#[test]
fn a_tempo_changes_gradually() {
    let gradual = rhythm("tempo: quarter = 120\n| 1 | [quarter = 60 over 2 bars] 1 | 1 | 1 |");
    let tempos: Vec<String> = gradual.tempos().map(|tempo| tempo.to_string()).collect();
    assert_eq!(tempos, ["quarter = 120", "quarter = 120", "quarter = 94.868", "quarter = 60"]);
    let tempo = Tempo::new(Span::QUARTER, 60.into()).expect("a tempo");
    let mark = TempoMark::Gradual { tempo, bars: 2 };
    assert_eq!(gradual.bars()[1].tempo_mark(), Some(mark));
    assert_eq!(mark.to_string(), "quarter = 60 over 2 bars");
    let seconds = |rhythm: &Rhythm, bpm: u32| -> Vec<f64> {
        let performance = rhythm.performance();
        let map = rhythm.tempo_map(&performance, Tempo::new(Span::QUARTER, bpm.into()).expect("a tempo"));
        performance.bars().iter().map(|bar| map.moment_at(bar.start).since_zero().as_secs_f64()).collect()
    };
    let near = |found: f64, expected: f64| assert!((found - expected).abs() < 1e-8, "{found} {expected}");
    let found = seconds(&gradual, 120);
    near(found[1], 2.0);
    near(found[3], 2.0 + 16.0 / 3.0);
    // Twice as fast, everything takes half as long.
    near(seconds(&gradual, 240)[3], 1.0 + 8.0 / 3.0);

    // Played again, each time through takes its own tempo along, also where an ending is left out: bars 2 and 3 are
    // bars of the change, bar 4 comes after it.
    let again = rhythm("tempo: quarter = 120\n|: 1 | [quarter = 60 over 2 bars] [1.] 1 :| [2.] 1 || 1 |");
    let found = seconds(&again, 120);
    let middle = 120.0 * (0.625_f64).sqrt();
    // 4 beats from 120 to the middle, then from the middle to 60.
    let (first, second) = (480.0 / (120.0 + middle), 480.0 / (middle + 60.0));
    near(found[2], 2.0 + first);
    near(found[4], 4.0 + first + second);

    check_error("| [quarter = 60 over 2 bars] 1 |", 1, 30, &["never gets there", "fewer bars"]);
    check_error("| [quarter = 60 over 2 bars] 1 | [quarter = 90] 1 |", 1, 30, &["another tempo begins"]);
    check_error("| [quarter = 60 over 0 bars] 1 |", 1, 4, &["`0` is not a number", "over 1 to 200 bars"]);
    check_error("| [quarter = 6 over 2 bars] 1 | 1 |", 1, 4, &["6 is not a tempo"]);
}

#[test]
fn units_are_grouped_and_counted_through_the_bar_or_by_group() {
    let seven = rhythm("meter: 7/8 2+2+3\n| 1 2 3 (4) 5 & 6 7 |");
    let meter = seven.bars()[0].meter();
    assert_eq!(meter.groups(), [2, 2, 3]);
    assert_eq!(meter.felt_beats(), 7);
    let spans: Vec<_> = meter.group_spans().map(|(at, length)| format!("{at}+{length}")).collect();
    assert_eq!(spans, ["0+1/4", "1/4+1/4", "1/2+3/8"]);
    let through = rhythm("meter: 7/8 2+2+3\n| 1 3 4 5 7 |");
    let by_group = rhythm("meter: 7/8 2+2+3 by group\n| 1 1 2 1 3 |");
    assert_eq!(places(&through.bars()[0]), places(&by_group.bars()[0]));
    // The 1 of a group that nothing begins at is named, and is no tie.
    let held = rhythm("meter: 7/8 2+2+3 by group\n| 1 2 _1 2 (1) 2 & |");
    assert_eq!(places(&held.bars()[0]), "0+1/8 1/8+1/4 3/8+1/8 1/2+1/8 5/8+1/16 11/16+3/16");
    assert_eq!(rhythm("| [4/4 3+3+2] 1 2 & 4 |").bars()[0].meter().group_unit(), Span::EIGHTH);
    assert_eq!(rhythm("meter: 9/8 2+2+2+3\n| 1 2 9 |").bars()[0].meter().felt_beats(), 9);
    assert_eq!(rhythm("meter: 9/8 3+3+3\n| 1 2 3 |").bars()[0].meter().felt_beats(), 3);
    check_error("meter: 7/8 2+2+2\n| 1 |", 1, 8, &["cannot be grouped 2+2+2", "add up"]);
    check_error("meter: 7/8 by group\n| 1 |", 1, 8, &["by group"]);
    check_error("meter: 7/8 2+2+3 by group\n| 1 2 3 |", 2, 7, &["no count 3", "1 2 1 2 1 2 3"]);
    check_error("meter: 7/8 2+2+3 by group\n| 1 1 1 1 |", 2, 9, &["3 groups"]);
}

#[test]
fn bars_of_rest_are_written_as_one() {
    let rhythm = rhythm("| 1 2 | (3 bars) | [3/4] (2 bars) | 1 |");
    let rests: Vec<_> = rhythm.bars().iter().map(Bar::rest).collect();
    let rest = |index, of| Some(BarsOfRest { index, of });
    assert_eq!(rests, [None, rest(1, 3), rest(2, 3), rest(3, 3), rest(1, 2), rest(2, 2), None]);
    assert!(rhythm.bars()[1].events().iter().all(|event| event.deed == Deed::Rest));
    check_error("| (1 bars) |", 1, 3, &["rest of 1 bars", "2 to 200", "`(1)`"]);
    check_error("| (999 bars) |", 1, 3, &["2 to 200"]);
}

#[test]
fn a_bar_may_be_cut_in_two() {
    let rhythm = rhythm("|: 1 2 3 4 | [lasts 1/2] 1 2 :| [from 1/2] 3 4 | 1 |");
    let bars: Vec<_> = rhythm.bars().iter().map(|bar| (bar.number(), bar.start(), bar.end())).collect();
    assert_eq!(
        bars,
        [
            (1, Span::ZERO, Span::WHOLE),
            (2, Span::ZERO, Span::HALF),
            (2, Span::HALF, Span::WHOLE),
            (3, Span::ZERO, Span::WHOLE),
        ]
    );
    self::rhythm("| [lasts 3/8] 1/8 1/4 | [from 3/8] 1/8 1/2 |");
    self::rhythm("| [lasts 3/8] 1 2 | [from 3/8] & 3 |");
    // The last bar is longer than the complement of the pickup, and ends where no count has a word.
    self::rhythm("4 | 1 | [6/8] [lasts 71/96] (1) |");
    check_error("| [from 1/2] 3 |", 1, 14, &["begins late", "[lasts 1/2]"]);
    check_error("| [lasts 1/2] 1 3 |", 1, 17, &["behind the end"]);
    check_error("| [lasts 1/2] 1 | [from 1/2] 4 |", 1, 30, &["said to begin at 1/2", "`3`"]);
    check_error("| [lasts 3/2] 1 |", 1, 3, &["reach 3/2"]);
    check_error("| [lasts x] 1 |", 1, 4, &["`x` is not a length"]);
}

#[test]
fn parts_are_named_and_may_be_written_by_turns() {
    let text = "title: Porch Light\n\npart: snare\n| 1 2 |\npart: bass drum\n| 1 (3) |\npart: Snare\n| 3/4 1/4 |\npart: bass drum\n| (1) |\n";
    let piece = piece(text);
    let names: Vec<_> = piece.parts().iter().map(|part| part.name.as_deref().unwrap_or_default()).collect();
    assert_eq!(names, ["snare", "bass drum"]);
    assert_eq!(piece.parts()[0].rhythm.bars().len(), 2);
    assert_eq!(piece.part("BASS DRUM"), piece.part("2"));
    assert_eq!(piece.part("cymbals"), None);
    // One rhythm is wanted: the parts are named.
    let reading = read(text);
    assert_eq!(reading.rhythm, None);
    assert!(reading.diagnostics[0].help.contains("snare, bass drum"), "{:?}", reading.diagnostics);
    check_error(
        "part: a\n| 1 |\npart: b\n| 1 | 1 |\n",
        3,
        7,
        &["part b", "it has 2 bars, the first 1", "same number of bars"],
    );
    check_error("part: a\n| 1 |\npart: b\n| [3/4] 1 |\n", 3, 7, &["part b", "meter"]);
    check_error("part:\n| 1 |\n", 1, 6, &["no name", "part: snare drum"]);
}

/// Two parts on one line: hands and feet.
#[test]
fn two_parts_may_share_a_line() {
    let text = "part: hands\n| 1 & 2 & 3 & 4 & |\npart: feet # the pedal\nline: hands\n| 1 (2) 3 (4) |\n";
    let piece = self::piece(text);
    let shared: Vec<bool> = piece.parts().iter().map(|part| part.shares_line).collect();
    assert_eq!(shared, [false, true]);
    let formatted = rhythm::text::format(text).text.expect("it is right");
    assert!(formatted.contains("part: feet\nline: hands\n"), "{formatted}");
    // By its number too, and where the part goes on after others.
    assert_eq!(read_piece(&text.replace("line: hands", "line: 1")).piece, Some(piece));
    let by_turns = "part: a\n| 1 |\npart: b\nline: A\n| 1 |\npart: a\n| 1 |\npart: b\n| 1 |\n";
    assert!(self::piece(by_turns).parts()[1].shares_line);
    check_error("part: a\nline: b\n| 1 |\npart: b\n| 1 |\n", 2, 7, &["first part", "line: hands"]);
    check_error("part: a\n| 1 |\npart: b\n| 1 |\npart: c\nline: a\n| 1 |\n", 6, 7, &["`a`", "which is b"]);
    let three = "part: a\n| 1 |\npart: b\nline: a\n| 1 |\npart: c\nline: b\n| 1 |\n";
    check_error(three, 7, 7, &["`b`", "holds two parts"]);
    check_error("part: a\n| 1 |\npart: b\nline: a\nline: a\n| 1 |\n", 5, 1, &["a second time"]);
    check_error("part: a\n| 1 |\npart: b\nline:\n| 1 |\n", 4, 6, &["which is a"]);
    check_error("line: a\n| 1 |\n", 1, 7, &["first part"]);
}
