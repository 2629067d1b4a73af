//! `countline check-counts`: pupils' written counting, held against the key.

use std::fmt::Write as _;
use std::path::Path;

use counting::answers::{
    Answer, CheckedCount, Compare, MisunderstandingKind, Settings, Verdict, WrittenCount, check_with,
};
use rhythm::{Deed, Rhythm};
use take::json::{self, AnswersFile};
use take::write_beside;

use crate::answer_file::{self, Pupil};
use crate::failure::Failure;
use crate::flags::CheckCountsFlags;
use crate::{counting_file, output, rhythm_file};

/// Columns of a line of bars, and of a table.
const LINE_WIDTH: usize = 96;

/// What is said of one answer unless all is asked for.
const FINDINGS: usize = 3;

/// Codes listed beside a misunderstanding.
const CODES: usize = 12;

pub(crate) fn run(flags: &CheckCountsFlags) -> Result<(), Failure> {
    let stdin = Path::new("-");
    let from_stdin = flags.answers.iter().chain([&flags.file]).filter(|path| *path == stdin).count();
    if from_stdin > 1 {
        return Err(Failure::Call(
            "`-` is given more than once, but standard input can be read only once: give the rhythm or the answers as files"
                .to_owned(),
        ));
    }
    let system = counting_file::chosen(&flags.counting)?;
    let rhythm = rhythm_file::read(&flags.file, flags.part.as_deref())?;
    let pupils = answer_file::read(&flags.answers)?;
    let key = counting::count_in(&rhythm, &system, &counting::Settings::default());
    let compare = if flags.words_only { Compare::Words } else { Compare::WordsAndDeeds };
    let settings = Settings { compare };
    let checked: Vec<(Pupil, Answer)> = pupils
        .into_iter()
        .map(|pupil| {
            let answer = check_with(&key, &rhythm, &pupil.text, &settings);
            (pupil, answer)
        })
        .collect();
    if let Some(path) = &flags.table {
        write_beside(path, csv(&checked).as_bytes()).map_err(Failure::job)?;
    }
    if flags.json {
        let answers =
            checked.iter().map(|(pupil, answer)| (pupil.code.as_str(), pupil.text.as_str(), answer));
        return output::print(&json::text(&AnswersFile::of(&rhythm, system.name(), answers)));
    }
    let mut text = String::new();
    if let Some(title) = rhythm.title() {
        let _ = writeln!(text, "{title}");
    }
    let _ = writeln!(text, "{}, counting system {}\n", rhythm.bars()[0].meter(), system.name());
    for (pupil, answer) in &checked {
        text.push_str(&one(&rhythm, &pupil.code, answer));
        text.push('\n');
    }
    if checked.len() > 1 {
        text.push_str(&class(&checked));
    }
    text.push_str(LEGEND);
    output::print(&text)
}

const LEGEND: &str = "above: the key   below: what is written   \
    · missing   × another word   ~ struck, held and silent mixed up   > out of place   + nothing begins there\n";

const SHARE: &str =
    "share: the right counts, of all counts of the key and all words where nothing begins\n\n";

/// One answer under its key, and what to say of it.
fn one(rhythm: &Rhythm, code: &str, answer: &Answer) -> String {
    let mut text = format!("{code}: {} of {} right", answer.right(), answer.of());
    if answer.extra() > 0 {
        let _ = write!(text, ", {} where nothing begins", answer.extra());
    }
    text.push('\n');
    let blocks: Vec<[String; 4]> = answer
        .counts()
        .chunk_by(|a, b| a.bar == b.bar)
        .map(|counts| {
            let number = rhythm.bars().get(counts[0].bar).map_or(0, rhythm::Bar::number);
            block(if number == 0 { "pickup".to_owned() } else { format!("bar {number}") }, counts)
        })
        .collect();
    text.push_str(&side_by_side(&blocks));
    let found = answer.misunderstandings();
    for misunderstanding in found.iter().take(FINDINGS) {
        let mut letters = misunderstanding.says.chars();
        let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
        let _ = writeln!(text, "  {first}{}.", letters.as_str());
    }
    if found.len() > FINDINGS {
        let _ = writeln!(text, "  ({} more: see --json)", found.len() - FINDINGS);
    }
    text
}

/// Head, key, what is written, and marks of one bar, all equally wide.
fn block(head: String, counts: &[CheckedCount]) -> [String; 4] {
    let mut rows = [String::new(), String::new(), String::new()];
    for count in counts {
        let key = count.key.as_ref().map_or_else(String::new, |key| marked(key.say.as_str(), key.deed));
        let written = count.written.as_ref().map_or_else(String::new, WrittenCount::shown);
        let mark = match count.verdict {
            Verdict::Right => "",
            Verdict::Missing => "·",
            Verdict::WrongWord => "×",
            Verdict::WrongDeed => "~",
            Verdict::WrongPlace => ">",
            Verdict::NothingBegins => "+",
        };
        let cells = [key, written, mark.to_owned()];
        let width = cells.iter().map(|cell| cell.chars().count()).max().unwrap_or(0) + 1;
        for (row, cell) in rows.iter_mut().zip(cells) {
            let blanks = width.saturating_sub(cell.chars().count());
            let _ = write!(row, "{cell}{}", " ".repeat(blanks));
        }
    }
    let [key, written, marks] = rows.map(|row| row.trim_end().to_owned());
    [head, key, written, marks]
}

/// As many bars side by side as a line holds.
fn side_by_side(blocks: &[[String; 4]]) -> String {
    let width = |block: &[String; 4]| block.iter().map(|row| row.chars().count()).max().unwrap_or(0);
    let mut text = String::new();
    let mut rest = blocks;
    while !rest.is_empty() {
        let mut used = 0;
        let fits = rest.iter().take_while(|block| {
            used += width(block) + 3;
            used <= LINE_WIDTH
        });
        let (now, later) = rest.split_at(fits.count().max(1));
        for row in 0..4 {
            let mut line = String::new();
            for block in now {
                let blanks = width(block).saturating_sub(block[row].chars().count());
                let _ = write!(line, "| {}{} ", block[row], " ".repeat(blanks));
            }
            let _ = writeln!(text, "  {}", line.trim_end());
        }
        text.push('\n');
        rest = later;
    }
    text
}

fn marked(word: &str, deed: Deed) -> String {
    match deed {
        Deed::Attack => word.to_owned(),
        Deed::Hold => format!("_{word}"),
        Deed::Rest => format!("({word})"),
    }
}

/// A table of the class, and what was misunderstood, the commonest first.
fn class(checked: &[(Pupil, Answer)]) -> String {
    let mut text = String::new();
    let bars = checked.first().map_or(&[][..], |(_, answer)| answer.bars());
    let codes = checked.iter().map(|(pupil, _)| pupil.code.chars().count()).max().unwrap_or(0).max(4);
    let cell = |answer: &Answer, bar: usize| {
        let bar = answer.bars()[bar];
        match (bar.of, bar.extra) {
            (0, 0) => String::new(),
            (of, 0) => format!("{}/{of}", bar.right),
            (of, extra) => format!("{}/{of}+{extra}", bar.right),
        }
    };
    let widths: Vec<usize> = (0..bars.len())
        .map(|bar| checked.iter().map(|(_, answer)| cell(answer, bar).len()).max().unwrap_or(0).max(6) + 2)
        .collect();
    let mut first = 0;
    while first < bars.len() {
        let mut width = codes + 24;
        let fits = widths[first..].iter().take_while(|cell| {
            width += **cell;
            width <= LINE_WIDTH
        });
        let behind = first + fits.count().max(1);
        let last = behind == bars.len();
        let _ = write!(text, "{:codes$}", "code");
        for (bar, width) in bars[first..behind].iter().zip(&widths[first..]) {
            let head = if bar.number == 0 { "pickup".to_owned() } else { format!("bar {}", bar.number) };
            let _ = write!(text, "{head:>width$}");
        }
        text.push_str(if last { "      right  share\n" } else { "\n" });
        for (pupil, answer) in checked {
            let blanks = codes.saturating_sub(pupil.code.chars().count());
            let _ = write!(text, "{}{}", pupil.code, " ".repeat(blanks));
            for (bar, width) in (first..behind).zip(&widths[first..]) {
                let _ = write!(text, "{:>width$}", cell(answer, bar));
            }
            if last {
                let sum = format!("{}/{}", answer.right(), answer.of());
                let _ = write!(text, "{sum:>11}{:>5} %", answer.percent().unwrap_or(0));
            }
            text.push('\n');
        }
        text.push('\n');
        first = behind;
    }
    text.push_str(SHARE);
    for (kind, codes) in common(checked) {
        let listed: Vec<&str> = codes.iter().take(CODES).copied().collect();
        let more = if codes.len() > CODES { ", …" } else { "" };
        let _ = writeln!(
            text,
            "{} of {} {} ({}{more})",
            codes.len(),
            checked.len(),
            kind.title(),
            listed.join(", ")
        );
    }
    text.push('\n');
    text
}

/// Every misunderstanding with the codes of those who have it, the commonest first.
fn common(checked: &[(Pupil, Answer)]) -> Vec<(MisunderstandingKind, Vec<&str>)> {
    let having = |kind: MisunderstandingKind| {
        let has = move |answer: &Answer| answer.misunderstandings().iter().any(|found| found.kind == kind);
        checked.iter().filter(move |(_, answer)| has(answer)).map(|(pupil, _)| pupil.code.as_str()).collect()
    };
    let mut kinds: Vec<(MisunderstandingKind, Vec<&str>)> =
        MisunderstandingKind::ALL.into_iter().map(|kind| (kind, having(kind))).collect();
    kinds.retain(|(_, codes)| !codes.is_empty());
    kinds.sort_by_key(|(_, codes)| usize::MAX - codes.len());
    kinds
}

/// The table of the class as comma-separated values (RFC 4180): a line a pupil, shares in percent as
/// [`Answer::percent`] has them.
fn csv(checked: &[(Pupil, Answer)]) -> String {
    let bars = checked.first().map_or(&[][..], |(_, answer)| answer.bars());
    let mut lines = vec![Vec::from(["code".to_owned()])];
    // The halves of a bar that was cut have one number: they are told apart by letters.
    let mut part = 0_u8;
    let mut before = None;
    for bar in bars {
        part = if before == Some(bar.number) { part.saturating_add(1) } else { 0 };
        before = Some(bar.number);
        let letter = if part == 0 { String::new() } else { char::from(b'a' + part.min(25)).to_string() };
        lines[0].push(match bar.number {
            0 => "pickup_percent".to_owned(),
            number => format!("bar_{number}{letter}_percent"),
        });
    }
    lines[0].extend(["right", "of", "extra", "right_percent", "misunderstandings"].map(str::to_owned));
    for (pupil, answer) in checked {
        let share = |percent: Option<usize>| percent.map_or_else(String::new, |percent| percent.to_string());
        let mut line = vec![pupil.code.clone()];
        line.extend(answer.bars().iter().map(|bar| share(bar.percent())));
        line.extend([answer.right(), answer.of(), answer.extra()].map(|many| many.to_string()));
        line.push(share(answer.percent()));
        let kinds: Vec<&str> = answer.misunderstandings().iter().map(|found| found.kind.name()).collect();
        line.push(kinds.join(" "));
        lines.push(line);
    }
    let line = |fields: &Vec<String>| {
        fields.iter().map(|field| quoted(field)).collect::<Vec<_>>().join(",") + "\r\n"
    };
    lines.iter().map(line).collect()
}

/// A field of a table. What a spreadsheet would take for a formula is made text.
fn quoted(field: &str) -> String {
    let formula = field.starts_with(['=', '+', '-', '@']);
    let field = if formula { format!("'{field}") } else { field.to_owned() };
    if field.contains([',', '"', '\n', '\r']) { format!("\"{}\"", field.replace('"', "\"\"")) } else { field }
}
