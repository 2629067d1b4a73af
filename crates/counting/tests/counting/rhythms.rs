//! Rhythms made of lengths, and count lines made readable.

use counting::{Count, CountLine, Settings, System, Voicing, count_in};
use rhythm::{Bar, Deed, Event, Form, Meter, Rhythm};
use timebase::Span;

/// A meter: `7/8 2+2+3`, with ` by group` behind it where it is counted so, or ` in 6`.
#[track_caller]
pub(crate) fn meter(text: &str) -> Meter {
    let mut words = text.split(' ');
    let (beats, unit) = words.next().and_then(|meter| meter.split_once('/')).expect("a meter");
    let number = |text: &str| text.parse::<u32>().expect("a number");
    let mut meter = Meter::new(number(beats), number(unit)).expect("a meter");
    while let Some(word) = words.next() {
        meter = match word {
            "in" => meter.felt_in(number(words.next().expect("a number of beats"))).expect("a felt beat"),
            "by" => {
                assert_eq!(words.next(), Some("group"));
                meter.counted_by_group().expect("a grouped meter")
            }
            groups => meter.grouped(&groups.split('+').map(number).collect::<Vec<_>>()).expect("groups"),
        };
    }
    meter
}

/// The events of a bar in lengths: `1/4 (1/8) _1/8`, from `at` on. `3*1/12` is three of them.
#[track_caller]
pub(crate) fn events(at: Span, text: &str) -> Vec<Event> {
    let mut events = Vec::new();
    let mut at = at;
    for word in text.split_whitespace() {
        let (times, word) =
            word.split_once('*').map_or((1, word), |(n, word)| (n.parse().expect("a number"), word));
        let length: Span = word.trim_matches(|c| "(_)".contains(c)).parse().expect("a length");
        let deed = match word.as_bytes()[0] {
            b'(' => Deed::Rest,
            b'_' => Deed::Hold,
            _ => Deed::Attack,
        };
        for _ in 0..times {
            events.push(Event::new(at, length, deed));
            at += length;
        }
    }
    events
}

/// Bars of lengths in one meter, a `|` between them, from bar 1.
#[track_caller]
pub(crate) fn rhythm(in_meter: &str, bars: &str) -> Rhythm {
    let meter = meter(in_meter);
    let bars = (1..).zip(bars.split('|')).map(|(number, text)| {
        Bar::new(number, meter, Form::Lengths, events(Span::ZERO, text)).expect("a full bar")
    });
    of_bars(bars.collect())
}

#[track_caller]
pub(crate) fn of_bars(bars: Vec<Bar>) -> Rhythm {
    Rhythm::new(None, None, bars, Vec::new()).expect("a rhythm")
}

/// A system and its variants: `numbers`, `kodaly tam-ti ti-ri`.
#[track_caller]
pub(crate) fn system(names: &str) -> System {
    let mut names = names.split(' ');
    let system = System::named(names.next().expect("a name")).expect("a shipped system");
    names.fold(system, |system, variant| system.with_variant(variant).expect("a variant"))
}

/// One count: the word as it is struck, `_` before it where it is held, in parentheses where it is silent; `·` where
/// there is no word; the softer one is followed by `,`, one that is only thought stands in `<>`.
pub(crate) fn shown(count: &Count) -> String {
    let word = count.say.as_ref().map_or("·", |word| word.as_str());
    let word = match count.deed {
        Deed::Attack => word.to_owned(),
        Deed::Hold => format!("_{word}"),
        Deed::Rest => format!("({word})"),
    };
    match count.voicing {
        Voicing::Said | Voicing::Silent => word,
        Voicing::Softer => format!("{word},"),
        Voicing::Parentheses => format!("<{word}>"),
    }
}

/// The words alone, struck, held and silent told apart; a bar line between the bars.
pub(crate) fn words(line: &CountLine) -> String {
    let bars = line.bars().iter().map(|bar| {
        let counts = bar.counts().iter().map(|count| {
            let word = count.say.as_ref().map_or("·", |word| word.as_str());
            match count.deed {
                Deed::Attack => word.to_owned(),
                Deed::Hold => format!("_{word}"),
                Deed::Rest => format!("({word})"),
            }
        });
        counts.collect::<Vec<_>>().join(" ")
    });
    bars.collect::<Vec<_>>().join(" | ")
}

/// Checks what `names` says for `bars` of lengths in `meter`.
#[track_caller]
pub(crate) fn check(names: &str, meter: &str, bars: &str, expected: &str) {
    let line = count_in(&rhythm(meter, bars), &system(names), &Settings::default());
    assert_eq!(words(&line), expected, "{names}, {meter}: {bars}");
}
