//! `countline count`: the rhythm with its counting underneath.

use std::fmt::Write as _;

use counting::{Count, CountLine, CountedBar, Foot, Settings, System, Voicing};
use rhythm::spelling::{Note, spell};
use rhythm::{Bar, Deed, Rhythm, Until};
use timebase::Span;

use crate::failure::Failure;
use crate::flags::{self, CountFlags};
use crate::{counting_file, output, rhythm_file};

/// Columns of a line of bars.
const LINE_WIDTH: usize = 96;

pub(crate) fn run(flags: &CountFlags) -> Result<(), Failure> {
    let system = counting_file::chosen(&flags.system)?;
    let settings = settings(flags);
    if flags.json || flags.part.is_some() {
        let rhythm = rhythm_file::read(&flags.file, flags.part.as_deref())?;
        let line = counting::count_in(&rhythm, &system, &settings);
        return output::print(&if flags.json {
            take::json::text(&take::json::CountFile::of(&rhythm, &line))
        } else {
            readable(&rhythm, &line, None)
        });
    }
    let piece = rhythm_file::read_piece(&flags.file)?;
    let texts = piece.parts().iter().map(|part| {
        let line = counting::count_in(&part.rhythm, &system, &settings);
        readable(&part.rhythm, &line, part.name.as_deref())
    });
    output::print(&texts.collect::<Vec<_>>().join("\n"))
}

/// How the flags ask it to be counted.
fn settings(flags: &CountFlags) -> Settings {
    Settings {
        say: flags.say.into(),
        feet: flags.feet,
        holds: flags.holds.map(Into::into),
        rests: flags.rests.map(Into::into),
    }
}

impl From<flags::Voicing> for Voicing {
    fn from(choice: flags::Voicing) -> Self {
        match choice {
            flags::Voicing::Said => Self::Said,
            flags::Voicing::Softer => Self::Softer,
            flags::Voicing::Parentheses => Self::Parentheses,
            flags::Voicing::Silent => Self::Silent,
        }
    }
}

impl From<flags::Say> for counting::Say {
    fn from(choice: flags::Say) -> Self {
        match choice {
            flags::Say::Beats => Self::Beats,
            flags::Say::Divisions => Self::Divisions,
            flags::Say::Attacks => Self::Attacks,
        }
    }
}

/// Every bar as a block of rows, one under the other: what is written (in lengths), what the hands do, what is
/// said, what the foot does if that is wanted; as many blocks side by side as a line holds.
fn readable(rhythm: &Rhythm, line: &CountLine, part: Option<&str>) -> String {
    let mut text = String::new();
    let named: Vec<&str> = rhythm.title().into_iter().chain(part).collect();
    if !named.is_empty() {
        let _ = writeln!(text, "{}", named.join(", "));
    }
    let _ = writeln!(text, "{}, {}", rhythm.bars()[0].meter(), rhythm.tempo());
    if line.system() != System::numbers() {
        let variants: String = line.system().chosen().map(|variant| format!(", {variant}")).collect();
        let _ = writeln!(text, "{}{variants}", line.system().title());
    }
    let Settings { feet, holds, rests, .. } = line.settings();
    // The rows show what is held and silent; how it is to be said stands over them where it is not the system's own way.
    for (what, voicing) in [("holds", holds), ("rests", rests)] {
        if let Some(voicing) = voicing {
            let _ = writeln!(text, "{what}: {}", in_words(voicing));
        }
    }
    let bars = rhythm.bars().iter().zip(line.bars()).enumerate();
    let mut blocks =
        bars.map(|(index, (bar, counted))| block(head(rhythm, index), bar, counted, feet)).peekable();
    let wide = |block: &Vec<String>| columns(&block[0]) + 3;
    while let Some(first) = blocks.next() {
        let mut width = wide(&first);
        let mut beside = vec![first];
        while let Some(block) = blocks.next_if(|block| width + wide(block) <= LINE_WIDTH) {
            width += wide(&block);
            beside.push(block);
        }
        text.push('\n');
        for row in 0..beside[0].len() {
            for block in &beside {
                text.push_str("| ");
                text.push_str(&block[row]);
                text.push(' ');
            }
            if blocks.peek().is_none() && row > 0 {
                text.push('|');
            }
            text.truncate(text.trim_end().len());
            text.push('\n');
        }
    }
    let foot = if feet { "   ↓ foot down   ↑ foot up" } else { "" };
    let _ = writeln!(text, "\n● struck   ─ held   ○ silent{foot}");
    text
}

/// How a hold or a rest is said.
fn in_words(voicing: Voicing) -> &'static str {
    match voicing {
        Voicing::Said => "said aloud",
        Voicing::Softer => "said softer",
        Voicing::Parentheses => "thought, in parentheses",
        Voicing::Silent => "neither said nor written",
    }
}

/// What stands over bar `index`: its number, what changes there, and where it is played again.
fn head(rhythm: &Rhythm, index: usize) -> String {
    let bars = rhythm.bars();
    let bar = &bars[index];
    let mut head = if bar.is_pickup() { "pickup".to_owned() } else { format!("bar {}", bar.number()) };
    if !bar.is_pickup() && bar.start().is_positive() {
        head.push_str(" goes on");
    }
    if let Some(before) = index.checked_sub(1)
        && bars[before].meter() != bar.meter()
    {
        let _ = write!(head, ", {}", bar.meter());
    }
    if let Some(mark) = bar.tempo_mark() {
        let _ = write!(head, ", {mark}");
    }
    if let Some(repeat) = rhythm.repeat_of(index) {
        if repeat.bars.start == index {
            let last = bars[repeat.bars.end - 1].number();
            let _ = match repeat.times {
                2 => write!(head, ", to bar {last} twice"),
                times => write!(head, ", to bar {last} {times} times"),
            };
        }
        for ending in repeat.endings.iter().filter(|ending| ending.bars.start == index) {
            let passes: Vec<String> = ending.passes.iter().map(|pass| format!("{pass}.")).collect();
            let _ = write!(head, ", {} ending", passes.join(" "));
        }
    }
    if let Some(jump) = rhythm.jump() {
        if jump.from_sign && jump.to == index {
            head.push_str(", segno");
        }
        let (fine, leave, coda) = match jump.until {
            Until::End => (None, None, None),
            Until::Fine(fine) => (Some(fine), None, None),
            Until::Coda { leave, coda } => (None, Some(leave), Some(coda)),
        };
        let signs = [(coda, "coda"), (leave, "to coda"), (fine, "fine")];
        for (_, sign) in signs.iter().filter(|(place, _)| *place == Some(index)) {
            let _ = write!(head, ", {sign}");
        }
        if jump.after == index {
            let from = if jump.from_sign { "D.S." } else { "D.C." };
            let _ = write!(head, ", {from}");
        }
    }
    head
}

/// Head, values, hands and words of one bar, and its foot, all equally wide.
fn block(head: String, bar: &Bar, counted: &CountedBar, feet: bool) -> Vec<String> {
    let notes = spell(bar);
    let (counts, steps) = (counted.counts(), counted.feet());
    let mut places: Vec<Span> = notes.iter().map(|note| note.at).collect();
    places.extend(counts.iter().map(|count| count.at));
    places.extend(steps.iter().map(|step| step.at));
    places.sort_unstable();
    places.dedup();
    let mut rows = vec![String::new(); if feet { 4 } else { 3 }];
    for at in places {
        let note = notes.binary_search_by_key(&at, |note| note.at).ok();
        let value = note.map_or_else(String::new, |index| value(&notes, index));
        let count = counts.binary_search_by_key(&at, |count| count.at).ok().map(|index| &counts[index]);
        let deed = count.map(|count| count.deed).or(note.map(|index| notes[index].deed));
        let hands = match deed {
            Some(Deed::Attack) => "●",
            Some(Deed::Hold) => "─",
            Some(Deed::Rest) => "○",
            None => "",
        };
        let step = steps.binary_search_by_key(&at, |step| step.at).ok();
        let foot = match step.map(|index| steps[index].foot) {
            Some(Foot::Down) => "↓",
            Some(Foot::Up) => "↑",
            None => "",
        };
        let said = count.map_or_else(String::new, said);
        let cells = [value.as_str(), hands, said.as_str(), foot];
        let width = cells.iter().map(|cell| columns(cell)).max().unwrap_or(0) + 1;
        for (row, cell) in rows.iter_mut().zip(cells) {
            row.push_str(cell);
            pad(row, width - columns(cell));
        }
    }
    rows.insert(0, head);
    rows.iter_mut().for_each(|row| row.truncate(row.trim_end().len()));
    let widths: Vec<usize> = rows.iter().map(|row| columns(row)).collect();
    let width = widths.iter().copied().max().unwrap_or(0);
    rows.iter_mut().zip(widths).for_each(|(row, own)| pad(row, width - own));
    rows
}

/// The word of a count: held with `_` before it, in parentheses where it is silent or only thought.
fn said(count: &Count) -> String {
    let Some(word) = &count.say else { return String::new() };
    match (count.deed, count.voicing) {
        (Deed::Attack, _) => word.to_string(),
        (Deed::Rest, _) | (Deed::Hold, Voicing::Parentheses) => format!("({word})"),
        (Deed::Hold, _) => format!("_{word}"),
    }
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

fn pad(text: &mut String, blanks: usize) {
    text.extend(std::iter::repeat_n(' ', blanks));
}
