//! `countline count`: the rhythm with its counting underneath.

use std::fmt::Write as _;

use counting::{Count, CountLine};
use rhythm::spelling::{Note, spell};
use rhythm::{Bar, Deed, Rhythm};
use timebase::Span;

use crate::failure::Failure;
use crate::flags::CountFlags;
use crate::{output, rhythm_file};

/// Columns of a line of bars.
const LINE_WIDTH: usize = 96;

pub(crate) fn run(flags: &CountFlags) -> Result<(), Failure> {
    let rhythm = rhythm_file::read(&flags.file, flags.part.as_deref())?;
    let line = counting::count(&rhythm);
    let text = if flags.json {
        take::json::text(&take::json::CountFile::of(&rhythm, &line))
    } else {
        readable(&rhythm, &line)
    };
    output::print(&text)
}

/// Every bar as a block of three rows, one under the other: what is written (in lengths), what the hands
/// do, what is said; as many blocks side by side as a line holds.
fn readable(rhythm: &Rhythm, line: &CountLine) -> String {
    let mut text = String::new();
    if let Some(title) = rhythm.title() {
        let _ = writeln!(text, "{title}");
    }
    let _ = writeln!(text, "{}, {}", rhythm.bars()[0].meter(), rhythm.tempo());
    let mut blocks: Vec<[String; 4]> = Vec::new();
    for (index, (bar, counted)) in rhythm.bars().iter().zip(line.bars()).enumerate() {
        let before = index.checked_sub(1).map(|before| &rhythm.bars()[before]);
        let mut head = if bar.is_pickup() { "pickup".to_owned() } else { format!("bar {}", bar.number()) };
        if before.is_some_and(|before| before.meter() != bar.meter()) {
            let _ = write!(head, ", {}", bar.meter());
        }
        if let Some(repeat) = rhythm.repeats().iter().find(|repeat| repeat.bars.start == index) {
            let last = rhythm.bars()[repeat.bars.end - 1].number();
            let _ = match repeat.times {
                2 => write!(head, ", to bar {last} twice"),
                times => write!(head, ", to bar {last} {times} times"),
            };
        }
        blocks.push(block(head, bar, counted.counts()));
    }
    let mut rest = blocks.as_slice();
    while !rest.is_empty() {
        let mut width = 0;
        let fits = rest
            .iter()
            .take_while(|block| {
                width += columns(&block[0]) + 3;
                width <= LINE_WIDTH
            })
            .count()
            .max(1);
        let (now, later) = rest.split_at(fits);
        text.push('\n');
        for row in 0..4 {
            let joined: String = now.iter().map(|block| format!("| {} ", block[row])).collect();
            let _ = writeln!(
                text,
                "{}",
                if later.is_empty() && row > 0 { joined + "|" } else { joined }.trim_end()
            );
        }
        rest = later;
    }
    text.push_str("\n● struck   ─ held   ○ silent\n");
    text
}

/// Head, values, hands and words of one bar, all equally wide.
fn block(head: String, bar: &Bar, counts: &[Count]) -> [String; 4] {
    let notes = spell(bar);
    let mut places: Vec<Span> = notes.iter().map(|note| note.at).chain(counts.iter().map(|c| c.at)).collect();
    places.sort_unstable();
    places.dedup();
    let mut rows = [String::new(), String::new(), String::new()];
    for at in places {
        let note = notes.iter().position(|note| note.at == at);
        let value = note.map_or_else(String::new, |index| value(&notes, index));
        let count = counts.iter().find(|count| count.at == at);
        let word = count.and_then(|count| count.say.as_ref()).map_or("", |word| word.as_str());
        let deed = count.map(|count| count.deed).or(note.map(|index| notes[index].deed));
        let (hands, said) = match deed {
            Some(Deed::Attack) => ("●", word.to_owned()),
            Some(Deed::Hold) if word.is_empty() => ("─", String::new()),
            Some(Deed::Hold) => ("─", format!("_{word}")),
            Some(Deed::Rest) if word.is_empty() => ("○", String::new()),
            Some(Deed::Rest) => ("○", format!("({word})")),
            None => ("", String::new()),
        };
        let cells = [value, hands.to_owned(), said];
        let width = cells.iter().map(|cell| columns(cell)).max().unwrap_or(0) + 1;
        for (row, cell) in rows.iter_mut().zip(cells) {
            row.push_str(&padded(&cell, width));
        }
    }
    let [values, hands, words] = rows.map(|row| row.trim_end().to_owned());
    let rows = [head, values, hands, words];
    let width = rows.iter().map(|row| columns(row)).max().unwrap_or(0);
    rows.map(|row| padded(&row, width))
}

/// A symbol in the words of rhythm text: `1/4`, `(1/8)`, `_1/8.`, `{3:2 1/8`.
fn value(notes: &[Note], index: usize) -> String {
    let note = &notes[index];
    let plain = note.value.span();
    let length =
        format!("{}/{}{}", plain.numerator(), plain.denominator(), ".".repeat(usize::from(note.dots)));
    let length = match note.deed {
        Deed::Attack => length,
        Deed::Hold => format!("_{length}"),
        Deed::Rest => format!("({length})"),
    };
    let same = |other: Option<&Note>| {
        other.and_then(|other| other.tuplet).map(|t| t.index) == note.tuplet.map(|t| t.index)
    };
    match note.tuplet {
        None => length,
        Some(tuplet) => {
            let first = index == 0 || !same(notes.get(index - 1));
            let last = !same(notes.get(index + 1));
            let open = if first { format!("{{{}:{} ", tuplet.actual, tuplet.normal) } else { String::new() };
            format!("{open}{length}{}", if last { "}" } else { "" })
        }
    }
}

fn columns(text: &str) -> usize {
    text.chars().count()
}

fn padded(text: &str, width: usize) -> String {
    let blanks = width.saturating_sub(columns(text));
    format!("{text}{}", " ".repeat(blanks))
}
