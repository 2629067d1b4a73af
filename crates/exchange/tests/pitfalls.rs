//! One small file for each thing that makes MusicXML hard to read, and what it must be read as.
//!
//! The standard that is meant: MusicXML 4.0, W3C Music Notation Community Group. All music here is made for the tests.

use exchange::musicxml::{Choice, Import, read, write_mxl};
use rhythm::{Bar, Deed, Grace, Roll, TempoMark, Until};

/// One part with these bars; the first says that a quarter has 12 divisions.
fn score(bars: &str) -> String {
    format!(
        "<?xml version=\"1.0\"?>\n<score-partwise><part-list><score-part id=\"P1\"><part-name>Snare</part-name>\
         </score-part></part-list><part id=\"P1\">{bars}</part></score-partwise>"
    )
}

const FOUR: &str =
    "<attributes><divisions>12</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
const THREE: &str =
    "<attributes><divisions>12</divisions><time><beats>3</beats><beat-type>4</beat-type></time></attributes>";

/// A struck note of so many twelfths of a quarter, with what else stands in it.
fn note(duration: u32, more: &str) -> String {
    let early = if more.starts_with("<tie") || more.starts_with("<voice") || more.starts_with("<type") {
        (more.to_owned(), String::new())
    } else {
        (String::new(), more.to_owned())
    };
    format!("<note><unpitched/><duration>{duration}</duration>{}{}</note>", early.0, early.1)
}

fn joined(pieces: &[&str]) -> String {
    pieces.concat()
}

fn rest(duration: u32) -> String {
    format!("<note><rest/><duration>{duration}</duration></note>")
}

fn bar(number: &str, inside: &str) -> String {
    format!("<measure number=\"{number}\">{inside}</measure>")
}

/// `4/4: 1/4 _1/8 (1/8)`: struck, held, silent; a tuplet in braces with its ratio; where a bar begins late or ends early, that too.
fn shown(bar: &Bar) -> String {
    let mut text = format!("{}={}:", bar.number(), bar.meter());
    if bar.start().is_positive() {
        text += &format!(" from {}", bar.start());
    }
    for event in bar.events() {
        for tuplet in bar.tuplets().iter().filter(|tuplet| tuplet.at == event.at) {
            text += &format!(" {{{}:{}", tuplet.actual, tuplet.normal);
        }
        text += &match event.deed {
            Deed::Attack => format!(" {}", event.length),
            Deed::Hold => format!(" _{}", event.length),
            Deed::Rest => format!(" ({})", event.length),
        };
        for _ in bar.tuplets().iter().filter(|tuplet| tuplet.end() == event.end()) {
            text += " }";
        }
    }
    if bar.end() < bar.meter().bar_length() {
        text += &format!(" to {}", bar.end());
    }
    text
}

fn bars(import: &Import) -> Vec<String> {
    import.piece.parts()[0].rhythm.bars().iter().map(shown).collect()
}

fn unkept(import: &Import) -> Vec<String> {
    import.unkept.iter().map(ToString::to_string).collect()
}

fn import(file: &str) -> Import {
    read(file.as_bytes(), &Choice::default()).unwrap_or_else(|error| panic!("{error}\n{file}"))
}

/// That these bars are read so, and that so much is listed as not kept.
fn check(measures: &str, expected: &[&str], lost: &[&str]) -> Import {
    let import = import(&score(measures));
    assert_eq!(bars(&import), expected, "{measures}");
    assert_eq!(unkept(&import), lost, "{measures}");
    import
}

#[test]
fn plain_bars() {
    let notes = [note(12, ""), note(6, ""), note(6, ""), rest(24)].concat();
    check(&bar("1", &(FOUR.to_owned() + &notes)), &["1=4/4: 1/4 1/8 1/8 (1/2)"], &[]);
}

#[test]
fn divisions_change_inside_a_part_and_inside_a_bar() {
    let other = "<attributes><divisions>2</divisions></attributes>";
    let first = FOUR.to_owned() + &note(24, "") + other + &note(2, "") + &note(2, "");
    let second = note(8, "");
    check(&(bar("1", &first) + &bar("2", &second)), &["1=4/4: 1/2 1/4 1/4", "2=4/4: 1"], &[]);
}

#[test]
fn divisions_may_be_decimal() {
    let inside = "<attributes><divisions>0.5</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
    check(&bar("1", &(inside.to_owned() + &note(1, "") + &note(1, ""))), &["1=4/4: 1/2 1/2"], &[]);
}

/// Divisions of ten cannot hold a third of a quarter: 3, 3 and 4 are meant as three thirds.
#[test]
fn durations_rounded_by_coarse_divisions_are_exact_again() {
    let attributes = "<attributes><divisions>10</divisions><time><beats>2</beats><beat-type>4</beat-type></time></attributes>";
    let third = |duration: u32, voice: u32| {
        format!(
            "<note><unpitched/><duration>{duration}</duration><voice>{voice}</voice><type>eighth</type>\
             <time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification></note>"
        )
    };
    let first = [third(3, 1), third(3, 1), third(4, 1)].concat();
    let quarter = "<note><unpitched/><duration>10</duration><voice>1</voice></note>";
    // A second voice begins on the second third, behind a backup in rounded durations.
    let second = "<backup><duration>17</duration></backup>".to_owned() + &third(3, 2) + &third(4, 2);
    let file = score(&bar("1", &(attributes.to_owned() + &first + quarter + &second)));
    assert_eq!(bars(&import(&file)), ["1=2/4: {3:2 1/12 1/12 1/12 } 1/4"]);
    let choice = Choice { part: None, voice: Some("2".to_owned()) };
    let second = read(file.as_bytes(), &choice).expect("the second voice");
    assert_eq!(bars(&second)[0], "1=2/4: {3:2 (1/12) 1/12 1/12 } (1/4)");
}

#[test]
fn a_chord_is_one_attack_even_behind_a_direction() {
    let direction = "<direction><direction-type><words>loud</words></direction-type></direction>";
    let chord = "<note><chord/><unpitched/><duration>24</duration></note>";
    let inside = FOUR.to_owned() + &note(24, "") + direction + chord + &note(24, "");
    check(&bar("1", &inside), &["1=4/4: 1/2 1/2"], &[]);
}

#[test]
fn a_chord_is_held_only_if_all_its_notes_are_tied() {
    let tied = "<note><unpitched/><duration>24</duration><tie type=\"stop\"/></note>";
    let chord = |tie: &str| format!("<note><chord/><unpitched/><duration>24</duration>{tie}</note>");
    let stop = "<tie type=\"stop\"/>";
    let begin = FOUR.to_owned() + &note(24, "<tie type=\"start\"/>");
    check(&bar("1", &(begin.clone() + tied + &chord(stop))), &["1=4/4: 1/2 _1/2"], &[]);
    check(&bar("1", &(begin + tied + &chord(""))), &["1=4/4: 1/2 1/2"], &[]);
}

/// `tied` is the picture of a tie; `tie` is the tie.
#[test]
fn ties_are_those_that_sound() {
    let drawn = note(24, "<notations><tied type=\"stop\"/></notations>");
    check(&bar("1", &(FOUR.to_owned() + &note(24, "") + &drawn)), &["1=4/4: 1/2 1/2"], &[]);
    let from_silence = FOUR.to_owned() + &rest(24) + &note(24, "<tie type=\"stop\"/>");
    let lost = ["a tie from silence or from another voice (read as a note struck anew): bar 1"];
    check(&bar("1", &from_silence), &["1=4/4: (1/2) 1/2"], &lost);
}

#[test]
fn grace_notes_have_no_duration_and_lead_to_the_next_attack() {
    let grace = "<note><grace/><unpitched/><type>eighth</type></note>";
    let inside = FOUR.to_owned() + grace + &note(24, "") + grace + grace + &note(24, "");
    // The last two stand before a bar line and lead over it.
    let first = bar("1", &(inside + grace));
    let second = bar("2", &(grace.to_owned() + &note(48, "")));
    let import = check(&(first + &second), &["1=4/4: 1/2 1/2", "2=4/4: 1"], &[]);
    let marks: Vec<Grace> = import.piece.parts()[0]
        .rhythm
        .bars()
        .iter()
        .flat_map(|bar| bar.events())
        .map(|e| e.marks.grace)
        .collect();
    assert_eq!(marks, [Grace::Flam, Grace::Drag, Grace::Drag]);
    let four = FOUR.to_owned() + &grace.repeat(4) + &note(48, "");
    check(&bar("1", &four), &["1=4/4: 1"], &["more than three grace notes (read as three): bar 1"]);
    let before_rest = FOUR.to_owned() + grace + &rest(48);
    check(&bar("1", &before_rest), &["1=4/4: (1)"], &["grace notes that lead to no struck note: bar 1"]);
}

/// Many programs give a bar's rest the length of a whole note in any meter.
#[test]
fn a_rest_of_a_bar_fills_its_bar() {
    let whole = "<note><rest measure=\"yes\"/><duration>48</duration></note>";
    check(&bar("1", &(THREE.to_owned() + whole)), &["1=3/4: (3/4)"], &[]);
    check(&bar("1", THREE), &["1=3/4: (3/4)"], &[]);
}

#[test]
fn bars_of_rest_written_as_one() {
    let style = "<attributes><measure-style><multiple-rest>2</multiple-rest></measure-style></attributes>";
    let whole = "<note><rest measure=\"yes\"/><duration>36</duration></note>";
    let first = bar("1", &(THREE.to_owned() + style + whole));
    let import = check(&(first + &bar("2", whole)), &["1=3/4: (3/4)", "2=3/4: (3/4)"], &[]);
    let numbers: Vec<_> = import.piece.parts()[0]
        .rhythm
        .bars()
        .iter()
        .map(|bar| bar.rest().map(|rest| (rest.index, rest.of)))
        .collect();
    assert_eq!(numbers, [Some((1, 2)), Some((2, 2))]);
}

#[test]
fn beats_may_be_a_sum() {
    let meter = |time: &str| format!("<attributes><divisions>12</divisions><time>{time}</time></attributes>");
    let sum = meter("<beats>3+2</beats><beat-type>8</beat-type>") + &note(18, "") + &note(12, "");
    check(&bar("1", &sum), &["1=5/8 3+2: 3/8 1/4"], &[]);
    let two = meter("<beats>2</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>");
    check(&bar("1", &(two + &note(24, "") + &note(18, ""))), &["1=7/8 4+3: 1/2 3/8"], &[]);
    let also = meter(
        "<beats>4</beats><beat-type>4</beat-type><interchangeable><beats>3+3+2</beats><beat-type>8</beat-type></interchangeable>",
    );
    check(&bar("1", &(also + &note(48, ""))), &["1=4/4 3+3+2: 1"], &[]);
    let long = meter("<beats>36</beats><beat-type>4</beat-type>");
    check(
        &bar("1", &(long + &note(432, ""))),
        &["1=18/2: 3/2 _3/2 _3/2 _3/2 _3/2 _3/2"],
        &["the meter 36/4 (read as 18/2): bar 1"],
    );
}

#[test]
fn bar_numbers_need_not_be_numbers() {
    let lost = ["the printed numbers of bars (the bar printed A is numbered here): bar 1"];
    check(&bar("A", &(FOUR.to_owned() + &note(48, ""))), &["1=4/4: 1"], &lost);
}

#[test]
fn pickups_and_bars_that_a_repeat_cuts() {
    let repeat = "<barline location=\"right\"><repeat direction=\"backward\"/></barline>";
    let measures = [
        format!("<measure number=\"0\" implicit=\"yes\">{FOUR}{}</measure>", note(12, "")),
        bar("1", &note(48, "")),
        bar("2", &(note(36, "") + repeat)),
        format!("<measure number=\"X1\" implicit=\"yes\">{}</measure>", note(12, "")),
        bar("3", &note(36, "")),
    ];
    let expected =
        ["0=4/4: from 3/4 1/4", "1=4/4: 1", "2=4/4: 3/4 to 3/4", "2=4/4: from 3/4 1/4", "3=4/4: 3/4 to 3/4"];
    let import = check(&measures.concat(), &expected, &[]);
    assert_eq!(import.piece.parts()[0].rhythm.repeats(), [rhythm::Repeat::new(0..3, 2)]);
}

#[test]
fn a_bar_longer_than_its_meter_is_a_longer_bar() {
    let lost = ["a bar of 5/4 in 4/4 (read as a bar of 5/4): bar 1"];
    check(&bar("1", &(FOUR.to_owned() + &note(24, "") + &note(36, ""))), &["1=5/4: 1/2 3/4"], &lost);
}

#[test]
fn a_bar_without_a_meter_lasts_as_long_as_its_notes() {
    let free = "<attributes><divisions>12</divisions><time><senza-misura/></time></attributes>";
    let lost = ["a bar without a meter (read as one of its own length): bar 1"];
    check(&bar("1", &(free.to_owned() + &note(24, "") + &note(36, ""))), &["1=5/4: 1/2 3/4"], &lost);
}

/// What is written of an import as rhythm text, which is read as the same again, and what was not kept.
fn as_text(measures: &str) -> (String, Vec<String>) {
    let import = import(&score(measures)).for_text().expect("it has words");
    let text = rhythm::text::write_piece(&import.piece);
    let again = rhythm::text::read_piece(&text);
    assert_eq!(again.piece.as_ref(), Some(&import.piece), "{text}\n{:?}", again.diagnostics);
    (text.lines().last().expect("a line of bars").to_owned(), unkept(&import))
}

#[test]
fn a_pickup_inside_a_repeat_is_written_as_text() {
    let forward = "<barline location=\"left\"><repeat direction=\"forward\"/></barline>";
    let backward = "<barline location=\"right\"><repeat direction=\"backward\"/></barline>";
    let measures = [
        format!("<measure number=\"0\" implicit=\"yes\">{FOUR}{forward}{}</measure>", note(12, "")),
        bar("1", &note(48, "")),
        bar("2", &(note(36, "") + backward)),
    ];
    assert_eq!(as_text(&measures.concat()), ("|: 1/4 | 1/1 | 1/2. :|".to_owned(), Vec::new()));
}

/// 59/2688 of a whole note has no word, and what is held from its bar is struck: said, and nothing else of the piece is lost.
#[test]
fn a_bar_without_words_is_silent_in_text() {
    let fine = "<attributes><divisions>672</divisions></attributes>";
    let tied = "<tie type=\"start\"/>";
    let measures = [
        bar("1", &(FOUR.to_owned() + &note(48, ""))),
        bar("2", &(fine.to_owned() + &note(59, "") + &note(2629, tied))),
        bar("3", &note(2688, "<tie type=\"stop\"/>")),
    ];
    let lost = [
        "lengths that rhythm text has no words for (the bar is silent): bar 2",
        "a tie from a silent bar (read as a note struck anew): bar 3",
    ];
    let (text, unkept) = as_text(&measures.concat());
    assert_eq!((text.as_str(), unkept), ("| 1/1 | (1) | 1/1 |", lost.map(str::to_owned).to_vec()));
}

/// Each length is fine enough by itself; together they divide the bar in 1,517,760. Found by fuzzing.
#[test]
fn lengths_that_divide_a_bar_too_finely_together_are_silent() {
    let member = |duration: u32, value: &str, (actual, normal): (u32, u32)| {
        note(
            duration,
            &format!(
                "<type>{value}</type><time-modification><actual-notes>{actual}</actual-notes>\
             <normal-notes>{normal}</normal-notes></time-modification>"
            ),
        )
    };
    let measures = bar(
        "1",
        &[
            "<attributes><divisions>45</divisions><time><beats>2</beats><beat-type>4</beat-type></time></attributes>"
                .to_owned(),
            member(15, "eighth", (3, 2)),
            member(2, "16th", (31, 8)),
            member(6, "16th", (15, 8)),
            member(5, "16th", (15, 8)),
            member(6, "16th", (16, 8)),
            member(6, "16th", (17, 8)),
            note(45, ""),
        ]
        .concat(),
    );
    let import = import(&score(&measures));
    assert!(unkept(&import).iter().any(|said| said.contains("too finely together")), "{:?}", import.unkept);
    let file = exchange::musicxml::write(&import.piece).expect("it can be written");
    let again = self::import(&file);
    let is_silent = |import: &Import| {
        import.piece.parts()[0].rhythm.bars()[0].events().iter().all(|event| event.deed == Deed::Rest)
    };
    assert!(is_silent(&import) && is_silent(&again), "{file}");
}

/// MusicXML has no gradual change of tempo: it is written in words, and these words are read.
#[test]
fn a_gradual_tempo_in_words_is_read_again() {
    let text = "tempo: quarter = 120\n| 1 | [quarter = 60 over 2 bars] 1 | 1 | [eighth = 200 over 1 bar] 1 |";
    let piece = rhythm::text::read_piece(text).piece.expect("a rhythm");
    let file = exchange::musicxml::write(&piece).expect("it can be written");
    let again = self::import(&file);
    let marks = |piece: &rhythm::Piece| -> Vec<_> {
        piece.parts()[0].rhythm.bars().iter().map(rhythm::Bar::tempo_mark).collect()
    };
    assert_eq!((marks(&again.piece), again.unkept.len()), (marks(&piece), 0), "{file}");
    // Words that promise more bars than there are.
    let wrong = self::import(&file.replace("over 2 bars", "over 3 bars"));
    assert_eq!(marks(&wrong.piece)[1], None);
    assert!(unkept(&wrong)[0].contains("quarter = 60 over 3 bars"), "{:?}", wrong.unkept);
}

/// Three parts of one name and one without are four parts in rhythm text, too.
#[test]
fn parts_of_one_name_stay_apart() {
    let names = ["Drum #1", "Drum #1", "", "drum no. 1"];
    let list: String = (1..)
        .zip(names)
        .map(|(number, name)| {
            format!("<score-part id=\"P{number}\"><part-name>{name}</part-name></score-part>")
        })
        .collect();
    let parts: String = (1..=names.len())
        .map(|number| {
            format!("<part id=\"P{number}\">{}</part>", bar("1", &(FOUR.to_owned() + &note(48, ""))))
        })
        .collect();
    let import = import(&format!("<score-partwise><part-list>{list}</part-list>{parts}</score-partwise>"));
    let found: Vec<_> = import.piece.parts().iter().filter_map(|part| part.name.as_deref()).collect();
    assert_eq!(found, ["Drum no. 1", "Drum no. 1 2", "part 3", "drum no. 1 3"]);
    let text = rhythm::text::write_piece(&import.piece);
    assert_eq!(rhythm::text::read_piece(&text).piece, Some(import.piece), "{text}");
}

#[test]
fn tuplets_by_brackets_and_without() {
    let in_tuplet = |duration: u32, ratio: (u32, u32), notations: &str| {
        format!(
            "<note><unpitched/><duration>{duration}</duration><time-modification><actual-notes>{}</actual-notes>\
             <normal-notes>{}</normal-notes></time-modification><notations>{notations}</notations></note>",
            ratio.0, ratio.1
        )
    };
    let plain = in_tuplet(4, (3, 2), "");
    let inside = THREE.to_owned() + &plain.repeat(6) + &rest(12);
    check(&bar("1", &inside), &["1=3/4: {3:2 1/12 1/12 1/12 } {3:2 1/12 1/12 1/12 } (1/4)"], &[]);
    // A triplet of sixteenths on the middle third of a triplet of eighths, 180 divisions a quarter.
    let attributes = "<attributes><divisions>180</divisions><time><beats>1</beats><beat-type>4</beat-type></time></attributes>";
    let start = |number: u32| {
        format!(
            "<tuplet type=\"start\" number=\"{number}\"><tuplet-actual><tuplet-number>3</tuplet-number></tuplet-actual>\
             <tuplet-normal><tuplet-number>2</tuplet-number></tuplet-normal></tuplet>"
        )
    };
    let stop = |number: u32| format!("<tuplet type=\"stop\" number=\"{number}\"/>");
    let inside = [
        attributes.to_owned(),
        in_tuplet(60, (3, 2), &start(1)),
        in_tuplet(20, (9, 4), &start(2)),
        in_tuplet(20, (9, 4), ""),
        in_tuplet(20, (9, 4), &stop(2)),
        in_tuplet(60, (3, 2), &stop(1)),
    ];
    check(&bar("1", &inside.concat()), &["1=1/4: {3:2 1/12 {3:2 1/36 1/36 1/36 } 1/12 }"], &[]);
}

#[test]
fn voices_by_backup_and_forward() {
    let voice = |duration: u32, voice: &str| note(duration, &format!("<voice>{voice}</voice>"));
    let inside = [
        FOUR.to_owned(),
        voice(24, "1"),
        voice(24, "1"),
        "<backup><duration>48</duration></backup>".to_owned(),
        "<forward><duration>12</duration></forward>".to_owned(),
        voice(12, "2"),
        "<forward><duration>12</duration></forward>".to_owned(),
        voice(12, "2"),
    ];
    let file = score(&bar("1", &inside.concat()));
    let first = import(&file);
    assert_eq!(bars(&first), ["1=4/4: 1/2 1/2"]);
    assert_eq!(unkept(&first), ["voice 2 of \"Snare\" (choose it to read it): bar 1"]);
    let choice = Choice { part: Some("snare".to_owned()), voice: Some("2".to_owned()) };
    let second = read(file.as_bytes(), &choice).expect("the second voice");
    assert_eq!(bars(&second), ["1=4/4: (1/4) 1/4 (1/4) 1/4"]);
    let none = Choice { part: None, voice: Some("3".to_owned()) };
    let error = read(file.as_bytes(), &none).expect_err("no such voice").to_string();
    assert_eq!(error, "part 1 has no voice \"3\": it has 1, 2");
    let none = Choice { part: Some("Bass".to_owned()), voice: None };
    let error = read(file.as_bytes(), &none).expect_err("no such part").to_string();
    assert_eq!(error, "there is no part \"Bass\": the file has 1 \"Snare\"");
}

#[test]
fn one_voice_on_two_staves_is_a_line_on_each() {
    let on = |duration: u32, staff: u32| {
        format!(
            "<note><unpitched/><duration>{duration}</duration><voice>1</voice><staff>{staff}</staff></note>"
        )
    };
    let inside =
        FOUR.to_owned() + &on(24, 1) + &on(24, 1) + "<backup><duration>48</duration></backup>" + &on(48, 2);
    let file = score(&bar("1", &inside));
    let choice = Choice { part: None, voice: Some("1 on staff 2".to_owned()) };
    assert_eq!(bars(&read(file.as_bytes(), &choice).expect("the second staff")), ["1=4/4: 1"]);
    assert_eq!(bars(&import(&file)), ["1=4/4: 1/2 1/2"]);
}

#[test]
fn hidden_rests_are_rests() {
    let hidden = "<note print-object=\"no\"><rest/><duration>24</duration></note>";
    check(&bar("1", &(FOUR.to_owned() + hidden + &note(24, ""))), &["1=4/4: (1/2) 1/2"], &[]);
}

#[test]
fn a_length_without_one_symbol_is_tied_notes() {
    check(&bar("1", &(FOUR.to_owned() + &note(30, "") + &note(18, ""))), &["1=4/4: 1/2 _1/8 3/8"], &[]);
}

#[test]
fn endings_repeats_and_jumps() {
    let barline = |side: &str, inside: &str| format!("<barline location=\"{side}\">{inside}</barline>");
    let ending = |number: &str, kind: &str| format!("<ending number=\"{number}\" type=\"{kind}\"/>");
    let words =
        |text: &str| format!("<direction><direction-type><words>{text}</words></direction-type></direction>");
    let whole = note(48, "");
    let back = "<repeat direction=\"backward\"/>";
    let measures = [
        bar(
            "1",
            &joined(&[FOUR, &barline("left", "<repeat direction=\"forward\"/>"), &whole, &words("Fine")]),
        ),
        bar(
            "2",
            &joined(&[
                &barline("left", &ending("1, 2", "start")),
                &whole,
                &barline("right", &(ending("1, 2", "stop") + back)),
            ]),
        ),
        bar(
            "3",
            &joined(&[
                &barline("left", &ending("3", "start")),
                &whole,
                &barline("right", &ending("3", "discontinue")),
            ]),
        ),
        bar("4", &joined(&[&whole, &words("D.C. al Fine")])),
    ];
    let import = check(&measures.concat(), &["1=4/4: 1", "2=4/4: 1", "3=4/4: 1", "4=4/4: 1"], &[]);
    let rhythm = &import.piece.parts()[0].rhythm;
    assert_eq!(rhythm.order(), [0, 1, 0, 1, 0, 2, 3, 0]);
    assert_eq!(rhythm.jump().map(|jump| jump.until), Some(Until::Fine(0)));
    // A first ending without a second: what follows is the second.
    let lone = [
        bar("1", &(FOUR.to_owned() + &whole)),
        bar(
            "2",
            &joined(&[
                &barline("left", &ending("1", "start")),
                &whole,
                &barline("right", &(ending("1", "stop") + back)),
            ]),
        ),
        bar("3", &whole),
    ];
    let import = check(&lone.concat(), &["1=4/4: 1", "2=4/4: 1", "3=4/4: 1"], &[]);
    assert_eq!(import.piece.parts()[0].rhythm.order(), [0, 1, 0, 2]);
    // One for every time through, with nothing behind it, is no ending: rhythm text has only endings that differ.
    let only = [
        bar("1", &(FOUR.to_owned() + &whole)),
        bar(
            "2",
            &joined(&[
                &barline("left", &ending("1, 2", "start")),
                &whole,
                &barline("right", &(ending("1, 2", "stop") + back)),
            ]),
        ),
    ];
    let import = check(&only.concat(), &["1=4/4: 1", "2=4/4: 1"], &[]);
    let rhythm = &import.piece.parts()[0].rhythm;
    assert_eq!((rhythm.order(), rhythm.repeats()[0].endings.len()), (vec![0, 1, 0, 1], 0));
    assert_eq!(rhythm::text::read(&rhythm::text::write(rhythm)).rhythm.as_ref(), Some(rhythm));
    // The repeat sign may stand behind the bracket: where the last bar of the first ending is cut in two.
    let cut = [
        bar("1", &(FOUR.to_owned() + &whole)),
        bar(
            "2",
            &joined(&[
                &barline("left", &ending("1", "start")),
                &note(36, ""),
                &barline("right", &ending("1", "stop")),
            ]),
        ),
        bar("3", &(note(12, "") + &barline("right", back))),
        bar(
            "4",
            &joined(&[
                &barline("left", &ending("2", "start")),
                &whole,
                &barline("right", &ending("2", "discontinue")),
            ]),
        ),
    ];
    let import = check(
        &cut.concat(),
        &["1=4/4: 1", "2=4/4: 3/4 to 3/4", "2=4/4: from 3/4 1/4", "3=4/4: 1"],
        &["the printed numbers of bars (the bar printed 3 is numbered here): bar 2"],
    );
    assert_eq!(import.piece.parts()[0].rhythm.order(), [0, 1, 2, 0, 3]);
    // The last ending may be the first bar of the next passage.
    let both = [
        bar("1", &(FOUR.to_owned() + &whole)),
        bar(
            "2",
            &joined(&[
                &barline("left", &ending("1", "start")),
                &whole,
                &barline("right", &(ending("1", "stop") + back)),
            ]),
        ),
        bar(
            "3",
            &joined(&[
                &barline("left", &(ending("2", "start") + "<repeat direction=\"forward\"/>")),
                &whole,
                &barline("right", &ending("2", "discontinue")),
            ]),
        ),
        bar("4", &(whole.clone() + &barline("right", back))),
    ];
    let lost = ["a repeat that begins with an ending of the one before (read from the bar behind it): bar 3"];
    let import = check(&both.concat(), &["1=4/4: 1", "2=4/4: 1", "3=4/4: 1", "4=4/4: 1"], &lost);
    assert_eq!(import.piece.parts()[0].rhythm.order(), [0, 1, 0, 2, 3, 3]);
    // A tie that leads over a repeat sign from silence cannot be held when the passage is played again.
    let held = [
        bar("1", &(FOUR.to_owned() + &note(48, "<tie type=\"start\"/>"))),
        bar(
            "2",
            &(barline("left", "<repeat direction=\"forward\"/>")
                + &note(24, "<tie type=\"stop\"/>")
                + &rest(24)
                + &barline("right", back)),
        ),
    ];
    let lost =
        ["a tie that leads from silence when its bar is played again (read as a note struck anew): bar 2"];
    check(&held.concat(), &["1=4/4: 1", "2=4/4: 1/2 (1/2)"], &lost);
}

#[test]
fn tempos_by_mark_by_equation_and_by_sound() {
    let metronome = |inside: &str| {
        format!(
            "<direction><direction-type><metronome>{inside}</metronome></direction-type><sound tempo=\"90\"/></direction>"
        )
    };
    let quarter = "<beat-unit>quarter</beat-unit>";
    let whole = note(48, "");
    let measures = [
        bar("1", &(FOUR.to_owned() + &metronome(&format!("{quarter}<per-minute>88</per-minute>")) + &whole)),
        bar("2", &(metronome(&format!("{quarter}{quarter}<beat-unit-dot/>")) + &whole)),
        bar("3", &("<sound tempo=\"60.5\"/>".to_owned() + &whole)),
        bar("4", &(note(24, "") + "<sound tempo=\"72\"/>" + &note(24, ""))),
        bar("5", &whole),
    ];
    let lost = ["the tempo quarter = 72 at 1/2 in the bar (read at the beginning of the next): bar 4"];
    let expected = ["1=4/4: 1", "2=4/4: 1", "3=4/4: 1", "4=4/4: 1/2 1/2", "5=4/4: 1"];
    let import = check(&measures.concat(), &expected, &lost);
    let rhythm = &import.piece.parts()[0].rhythm;
    assert_eq!(rhythm.written_tempo().map(|tempo| tempo.to_string()), Some("quarter = 88".to_owned()));
    let marks: Vec<Option<String>> =
        rhythm.bars().iter().map(|bar| bar.tempo_mark().as_ref().map(TempoMark::to_string)).collect();
    let said = |text: &str| Some(text.to_owned());
    assert_eq!(
        marks,
        [None, said("quarter = dotted quarter"), said("quarter = 60.5"), None, said("quarter = 72")]
    );
}

#[test]
fn marks_on_notes() {
    let notations = "<notations><ornaments><tremolo>2</tremolo><trill-mark/></ornaments><technical><fingering>L</fingering></technical>\
                     <articulations><accent/><staccato/></articulations><fermata/></notations>";
    let import = check(
        &bar("1", &(FOUR.to_owned() + &note(48, notations))),
        &["1=4/4: 1"],
        &["a trill: bar 1", "staccato: bar 1"],
    );
    let marks = import.piece.parts()[0].rhythm.bars()[0].events()[0].marks;
    assert_eq!(marks.roll, Some(Roll::Measured(2)));
    assert_eq!(marks.sticking, Some(rhythm::Sticking::Left));
    assert_eq!(marks.accent, Some(rhythm::Accent::Accent));
    assert!(marks.fermata);
}

#[test]
fn scores_by_bars() {
    let whole = note(48, "");
    let part = |inside: &str| format!("<part id=\"P1\">{inside}</part><part id=\"P2\">{inside}</part>");
    let file = format!(
        "<score-timewise><part-list><score-part id=\"P1\"><part-name>High</part-name></score-part>\
         <score-part id=\"P2\"><part-name>Low</part-name></score-part></part-list>\
         <measure number=\"1\">{}</measure><measure number=\"2\">{}</measure></score-timewise>",
        part(&(FOUR.to_owned() + &whole)),
        part(&whole)
    );
    let import = import(&file);
    assert_eq!(bars(&import), ["1=4/4: 1", "2=4/4: 1"]);
    let names: Vec<_> = import.piece.parts().iter().map(|part| part.name.as_deref()).collect();
    assert_eq!(names, [Some("High"), Some("Low")]);
}

#[test]
fn a_doctype_is_allowed_and_entities_of_xml_are_read() {
    let file = score(&bar("1", &(FOUR.to_owned() + &note(48, "")))).replace("Snare", "S&amp;&#x4e;are");
    let doctype = "<!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \"partwise.dtd\"><score-partwise>";
    let import = import(&file.replacen("<score-partwise>", doctype, 1));
    assert_eq!(import.piece.parts()[0].name.as_deref(), Some("S&Nare"));
}

#[test]
fn files_in_other_encodings_and_packed() {
    let file = score(&bar("1", &(FOUR.to_owned() + &note(48, ""))));
    let plain = import(&file);
    let wide: Vec<u8> =
        [0xFF, 0xFE].into_iter().chain(file.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    assert_eq!(read(&wide, &Choice::default()).as_ref(), Ok(&plain));
    let packed = write_mxl(&plain.piece).expect("packed");
    assert_eq!(read(&packed, &Choice::default()).expect("unpacked").piece, plain.piece);
}

/// Two parts that share a line are two voices of one part, the second written behind a `backup`, and read as the two parts.
#[test]
fn hands_and_feet_are_two_voices() {
    let text = "part: hands\n| 1 & 2 (3) & 4 | _1 3 |\naccents: | > | |\ndynamics: | p | f |\n\
        part: feet\nline: hands\n| 1 (2) 3 & 4 | (1) 3 |\nstrokes: | flam | |\ndynamics: | mf< | |\n";
    let piece = rhythm::text::read_piece(text).piece.expect("two parts");
    let file = exchange::musicxml::write(&piece).expect("it can be written");
    assert_eq!(file.matches("<part id=").count(), 1);
    assert_eq!(file.matches("<backup>").count(), 2);
    for said in [
        "<voice>1</voice>",
        "<voice>2</voice>",
        "<stem>up</stem>",
        "<stem>down</stem>",
        "feet</instrument-name>",
    ] {
        assert!(file.contains(said), "{said}");
    }
    let import = read(file.as_bytes(), &Choice::default()).expect("it can be read");
    assert_eq!(import.unkept, Vec::new());
    let told = |piece: &rhythm::Piece| -> Vec<_> {
        let parts = piece.parts().iter().map(|part| {
            let bars = part.rhythm.bars().iter();
            let deeds =
                bars.clone().flat_map(|bar| bar.events()).map(|event| (event.at, event.deed, event.marks));
            let loud: Vec<_> = bars.map(rhythm::Bar::dynamics).collect();
            (part.name.clone(), part.shares_line, deeds.collect::<Vec<_>>(), loud)
        });
        parts.collect()
    };
    assert_eq!(told(&import.piece), told(&piece));
    // One voice may still be chosen.
    let choice = Choice { voice: Some("2".to_owned()), ..Choice::default() };
    let feet = read(file.as_bytes(), &choice).expect("it can be read").piece;
    assert_eq!(feet.parts().len(), 1);
}
