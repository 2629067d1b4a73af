use std::fmt::Write as _;

use timebase::{Ratio, Span};

use crate::{Bar, Deed, Division, Event, Form, Rhythm, division};

/// Writes a rhythm as rhythm text: the head, then four bars a line. What was read is written so that it is
/// read as the same rhythm again; a `%` is written out.
///
/// A bar in counts that has a place without a word is written in lengths.
#[must_use]
pub fn write(rhythm: &Rhythm) -> String {
    let mut text = String::new();
    if let Some(title) = rhythm.title() {
        line(&mut text, &format!("title: {title}"));
    }
    let mut meter = rhythm.bars()[0].meter();
    line(&mut text, &format!("meter: {meter}"));
    if let Some(tempo) = rhythm.written_tempo() {
        line(&mut text, &format!("tempo: {tempo}"));
    }
    text.push('\n');

    let bars = rhythm.bars();
    let mut in_line = 0;
    for (index, bar) in bars.iter().enumerate() {
        let begins = rhythm.repeats().iter().any(|repeat| repeat.bars.start == index);
        let ended = index.checked_sub(1).and_then(|before| {
            rhythm.repeats().iter().find(|repeat| repeat.bars.end == before + 1).map(|repeat| repeat.times)
        });
        if let Some(times) = ended {
            let _ = write!(text, ":| {times} times ");
            if begins {
                text.push_str("|: ");
            }
        } else if begins {
            text.push_str("|: ");
        } else if !bar.is_pickup() {
            text.push_str("| ");
        }
        if in_line == 4 {
            // The bar line ends this line and is written again at the head of the next.
            text.truncate(text.trim_end().len());
            text.push('\n');
            if ended.is_none() && !begins {
                text.push_str("| ");
            }
            in_line = 0;
        }
        if bar.meter() != meter {
            meter = bar.meter();
            let _ = write!(text, "[{meter}] ");
        }
        text.push_str(&bar_text(bar));
        text.push(' ');
        in_line += usize::from(!bar.is_pickup());
    }
    match rhythm.repeats().last().filter(|repeat| repeat.bars.end == bars.len()) {
        Some(repeat) => {
            let _ = write!(text, ":| {} times", repeat.times);
        }
        None => text.push('|'),
    }
    text.push('\n');
    text
}

fn line(text: &mut String, content: &str) {
    text.push_str(content);
    text.push('\n');
}

fn bar_text(bar: &Bar) -> String {
    let counts = match bar.form() {
        Form::Counts => in_counts(bar),
        Form::Lengths => None,
    };
    counts.unwrap_or_else(|| in_lengths(bar))
}

/// The bar in counts, or `None` where a place has no word.
fn in_counts(bar: &Bar) -> Option<String> {
    let meter = bar.meter();
    let mut words = Vec::new();
    // A pickup that begins between the beats belongs to the last beat without naming it.
    let mut named = Named { number: bar.is_pickup().then(|| meter.felt_beats()), part: None };
    for (index, event) in bar.events().iter().enumerate() {
        let (number, part) = meter.beat_of(event.at);
        let beat = bar.beat_division(number);
        let word = division::word_at(beat, part)?;
        let before = index.checked_sub(1).map(|before| &bar.events()[before]);
        for step in named.steps_to(number, part, beat) {
            step_written(&mut words, before, &step)?;
        }
        let count = if word.is_empty() { number.to_string() } else { word.to_owned() };
        words.push(match event.deed {
            Deed::Attack => count,
            Deed::Hold => format!("_{count}"),
            Deed::Rest => format!("({count})"),
        });
        named.number = Some(number);
        named.part = Some(part);
    }
    Some(words.join(" "))
}

/// Writes a count that only names the place behind it: held in a sound, inside the parentheses of a silence.
fn step_written(words: &mut Vec<String>, before: Option<&Event>, step: &str) -> Option<()> {
    match before?.deed {
        Deed::Attack | Deed::Hold => words.push(format!("_{step}")),
        Deed::Rest => {
            let silence = words.last_mut()?;
            let open = silence.strip_suffix(')')?.to_owned();
            *silence = format!("{open} {step})");
        }
    }
    Some(())
}

/// The beat and the part of it named last.
struct Named {
    number: Option<u32>,
    part: Option<Ratio<i64>>,
}

impl Named {
    /// The counts to be written first, so that the next word is read as `part` of beat `number`.
    fn steps_to(&self, number: u32, part: Ratio<i64>, beat: Division) -> Vec<String> {
        let zero = Ratio::from_integer(0);
        if part == zero {
            return Vec::new();
        }
        let mut steps = Vec::new();
        let same_beat = self.number == Some(number);
        if !same_beat {
            steps.push(number.to_string());
        }
        let last = if same_beat { self.part.unwrap_or(zero) } else { zero };
        // `ta` is read by the word before it: behind `la` it is the half, behind `li` the last sixth.
        let halves_are_ta = beat == Division::Three;
        let needed = if part == Ratio::new(5, 6) {
            Some((Ratio::new(2, 3), "li"))
        } else if part == Ratio::new(1, 2) && halves_are_ta {
            Some((Ratio::new(1, 3), "la"))
        } else {
            None
        };
        if let Some((at, word)) = needed.filter(|(at, _)| *at != last) {
            debug_assert!(at < part);
            steps.push(word.to_owned());
        }
        steps
    }
}

/// The bar in lengths: each event by itself, thirds of a beat gathered in triplets.
fn in_lengths(bar: &Bar) -> String {
    let mut words: Vec<String> = Vec::new();
    let mut tuplet: Option<Span> = None;
    for event in bar.events() {
        let third = event.length.denominator() % 3 == 0 || event.at.denominator() % 3 == 0;
        if event.beam_broken {
            words.push(",".to_owned());
        }
        if third && tuplet.is_none() {
            words.push("{3:2".to_owned());
            tuplet = Some(event.at);
        }
        let written = if tuplet.is_some() { event.length.scaled(Ratio::new(3, 2)) } else { event.length };
        let length = if written == Span::WHOLE { "1/1".to_owned() } else { fraction(written) };
        words.push(match event.deed {
            Deed::Attack => length,
            Deed::Hold => format!("_{length}"),
            Deed::Rest => format!("({length})"),
        });
        if tuplet.is_some_and(|start| (event.end() - start).denominator() % 3 != 0) {
            words.push("}".to_owned());
            tuplet = None;
        }
    }
    if tuplet.is_some() {
        words.push("}".to_owned());
    }
    words.join(" ")
}

/// A length with its lower number, and with a dot where that is how it is drawn.
fn fraction(length: Span) -> String {
    let (numerator, denominator) = (length.numerator(), length.denominator());
    match numerator {
        // 3/8 is a dotted quarter; below a 64th only the dot can say it.
        3 if denominator >= 2 => format!("1/{}.", denominator / 2),
        7 if denominator >= 4 => format!("1/{}..", denominator / 4),
        _ => format!("{numerator}/{denominator}"),
    }
}
