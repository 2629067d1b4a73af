//! `countline spelling`: the note values of a rhythm beside those that the rules give, and why they differ.

use std::fmt::Write as _;

use rhythm::spelling::{House, Note, Remark, remarks, spell, spell_by_rules};
use rhythm::{Bar, Deed, Rhythm};

use crate::failure::Failure;
use crate::flags::SpellingFlags;
use crate::{output, rhythm_file};

pub(crate) fn run(flags: &SpellingFlags) -> Result<(), Failure> {
    if let Some(part) = &flags.part {
        let rhythm = rhythm_file::read(&flags.file, Some(part))?;
        return output::print(&readable(&rhythm, None));
    }
    let piece = rhythm_file::read_piece(&flags.file)?;
    let texts = piece.parts().iter().map(|part| readable(&part.rhythm, part.name.as_deref()));
    output::print(&texts.collect::<Vec<_>>().join("\n"))
}

/// Every bar in a line; where its spelling is unusual, the rules' own under it, and every remark with its place.
fn readable(rhythm: &Rhythm, part: Option<&str>) -> String {
    let mut text = String::new();
    let named: Vec<&str> = rhythm.title().into_iter().chain(part).collect();
    if !named.is_empty() {
        let _ = writeln!(text, "{}\n", named.join(", "));
    }
    let mut unusual = 0;
    let mut meter = None;
    for bar in rhythm.bars() {
        if meter != Some(bar.meter()) {
            meter = Some(bar.meter());
            let _ = writeln!(text, "{}", bar.meter());
        }
        let remarks = remarks(bar, House::default());
        let name = if bar.is_pickup() { "pickup".to_owned() } else { format!("bar {}", bar.number()) };
        let _ = writeln!(text, "{name:<8} {}", lengths(&spell(bar)));
        if remarks.is_empty() {
            continue;
        }
        unusual += 1;
        let _ = writeln!(text, "{:<8} {}", "  usual", lengths(&spell_by_rules(bar, House::default())));
        for remark in &remarks {
            let _ = writeln!(text, "  {}: {remark}", place(bar, remark));
            let _ = writeln!(text, "    {}", remark.oddity.rule());
        }
    }
    let bars = rhythm.bars().len();
    let _ = match (unusual, bars) {
        (0, _) => writeln!(text, "\nEvery bar is spelled as usual."),
        (1, _) => writeln!(text, "\n1 of {bars} bars is spelled otherwise than usual."),
        _ => writeln!(text, "\n{unusual} of {bars} bars are spelled otherwise than usual."),
    };
    text
}

/// The count at which a remark begins; its place in the bar where that has no count.
fn place(bar: &Bar, remark: &Remark) -> String {
    let count = bar.meter().count_word(remark.at);
    count.map_or_else(|| format!("at {} of a whole note", remark.at), |word| format!("count {word}"))
}

/// Symbols in the words of rhythm text: `1/4 (1/8) _1/8. {3:2 1/8 1/8 1/8}`; `(bar)` is a whole-bar rest.
fn lengths(notes: &[Note]) -> String {
    let mut words = Vec::with_capacity(notes.len());
    for (index, note) in notes.iter().enumerate() {
        let before = levels(index.checked_sub(1).and_then(|before| notes.get(before)));
        let (here, after) = (levels(Some(note)), levels(notes.get(index + 1)));
        let is_in = |level: &Level, levels: &[Level]| levels.iter().any(|other| other.index == level.index);
        let mut word = String::new();
        for level in here.iter().filter(|level| !is_in(level, &before)) {
            let _ = write!(word, "{{{}:{} ", level.actual, level.normal);
        }
        let plain = note.value.span();
        let dots = ".".repeat(usize::from(note.dots));
        let length = format!("{}/{}{dots}", plain.numerator(), plain.denominator());
        word += &match note.deed {
            _ if note.whole_bar => "(bar)".to_owned(),
            Deed::Attack => length,
            Deed::Hold => format!("_{length}"),
            Deed::Rest => format!("({length})"),
        };
        word.extend(here.iter().filter(|level| !is_in(level, &after)).map(|_| '}'));
        words.push(word);
    }
    words.join(" ")
}

/// A tuplet that a note stands in.
struct Level {
    index: usize,
    actual: u32,
    normal: u32,
}

/// The tuplets of a note, the outer first.
fn levels(note: Option<&Note>) -> Vec<Level> {
    let Some(tuplet) = note.and_then(|note| note.tuplet) else { return Vec::new() };
    let outer =
        tuplet.outer.map(|outer| Level { index: outer.index, actual: outer.actual, normal: outer.normal });
    let inner = Level { index: tuplet.index, actual: tuplet.actual, normal: tuplet.normal };
    outer.into_iter().chain([inner]).collect()
}
