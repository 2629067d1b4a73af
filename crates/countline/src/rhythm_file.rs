//! Rhythm text from a file, and what is wrong with it, pointed at.

use std::ops::Range;
use std::path::Path;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use rhythm::limits::TEXT_BYTES;
use rhythm::text::{Diagnostic, Severity};
use rhythm::{Part, Piece, Rhythm};

use crate::failure::Failure;
use crate::output;

/// Reads the rhythm text at `path` (`-` is standard input): its one part, or the part of this name or number. Errors
/// and hints are printed with their place; hints do not stand in the way.
pub(crate) fn read(path: &Path, part: Option<&str>) -> Result<Rhythm, Failure> {
    let piece = read_piece(path)?;
    chosen(&piece, path, part, &|| "--part".to_owned()).cloned()
}

/// The rhythm of the one part of a piece, or of the part of this name or number; `named` says where to name one.
pub(crate) fn chosen<'a>(
    piece: &'a Piece,
    path: &Path,
    part: Option<&str>,
    named: &dyn Fn() -> String,
) -> Result<&'a Rhythm, Failure> {
    match part {
        Some(name) => self::part(piece, path, name).map(|part| &part.rhythm),
        None if piece.parts().len() > 1 => Err(Failure::Call(format!(
            "{} has {} parts: choose one with {}, by its name or number: {}",
            path.display(),
            piece.parts().len(),
            named(),
            names(piece)
        ))),
        None => Ok(&piece.parts()[0].rhythm),
    }
}

/// The part of a piece by its name or number.
pub(crate) fn part<'a>(piece: &'a Piece, path: &Path, name: &str) -> Result<&'a Part, Failure> {
    piece.part(name).ok_or_else(|| {
        let path = path.display();
        Failure::Call(format!("{path} has no part \"{name}\"; its parts are {}", names(piece)))
    })
}

/// Reads all parts of the rhythm text at `path`, as [`read`] does.
pub(crate) fn read_piece(path: &Path) -> Result<Piece, Failure> {
    let text = text(path)?;
    let reading = rhythm::text::read_piece(&text);
    tell(&reading.diagnostics, &text, path);
    reading.piece.ok_or(Failure::Told)
}

/// Prints what is to be said about a text, each with its place.
pub(crate) fn tell(diagnostics: &[Diagnostic], text: &str, path: &Path) {
    for diagnostic in diagnostics {
        output::note(&rendered(diagnostic, text, &path.display().to_string(), output::is_watched()));
    }
}

/// The parts of a piece as a person may choose them.
fn names(piece: &Piece) -> String {
    let named = |(number, part): (usize, &Part)| match &part.name {
        Some(name) => format!("{number} ({name})"),
        None => number.to_string(),
    };
    (1..).zip(piece.parts()).map(named).collect::<Vec<_>>().join(", ")
}

pub(crate) fn text(path: &Path) -> Result<String, Failure> {
    let most = u64::try_from(TEXT_BYTES.most).unwrap_or(u64::MAX);
    let mut bytes = Vec::new();
    let read = if path == Path::new("-") {
        use std::io::Read as _;
        std::io::stdin().lock().take(most + 1).read_to_end(&mut bytes)
    } else {
        use std::io::Read as _;
        std::fs::File::open(path).and_then(|file| file.take(most + 1).read_to_end(&mut bytes))
    };
    read.map_err(|error| Failure::file("read", path, &error))?;
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        Failure::Job(format!(
            "{} is not UTF-8 text: byte {at} belongs to no character. A rhythm is a plain text file; \
             save it as UTF-8, and give MIDI files to `countline judge` as the take",
            path.display()
        ))
    })
}

/// A diagnostic with the line it points at.
pub(crate) fn rendered(diagnostic: &Diagnostic, text: &str, path: &str, coloured: bool) -> String {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Hint => Level::NOTE.with_name("hint"),
    };
    let span = diagnostic.span.start..end_of_shown(text, &diagnostic.span);
    let (shown, line) = around(text, &span);
    let span = span.start - shown.start..span.end - shown.start;
    let snippet = Snippet::source(&text[shown])
        .line_start(line)
        .path(path)
        .annotation(AnnotationKind::Primary.span(span));
    let report = [level
        .primary_title(&diagnostic.message)
        .element(snippet)
        .element(Level::HELP.message(&diagnostic.help))];
    let renderer = if coloured { Renderer::styled() } else { Renderer::plain() };
    renderer.render(&report).to_string()
}

/// Bytes behind a span that are enough to show its line.
const BEHIND: usize = 1_000;

/// The lines that a span stands in, not much further than its end, and the number of the first: all that is needed of a
/// text, which may be large.
fn around(text: &str, span: &Range<usize>) -> (Range<usize>, usize) {
    // At the end of a text its last line is shown, not the empty one behind it.
    let last = text.strip_suffix('\n').map_or(text.len(), str::len);
    let start = text[..span.start.min(last)].rfind('\n').map_or(0, |at| at + 1);
    let rest = &text[span.end..text.ceil_char_boundary(span.end + BEHIND)];
    // With its end, which may be two characters.
    let end = rest.find('\n').map_or(span.end + rest.len(), |at| span.end + at + 1);
    (start..end, text[..start].matches('\n').count() + 1)
}

/// Characters of a line that are underlined at most; a word of a whole page is not printed.
const UNDERLINED: usize = 80;

/// Where what is shown of a span ends.
fn end_of_shown(text: &str, span: &Range<usize>) -> usize {
    let shown = text.get(span.clone()).and_then(|span| span.char_indices().nth(UNDERLINED));
    shown.map_or(span.end, |(end, _)| span.start + end)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Only its own line is shown, with its number in the whole text, whatever ends the lines.
    #[test]
    fn a_mistake_is_shown_in_its_line() {
        for end in ["\n", "\r\n"] {
            let text = ["meter: 4/4", "| 1 2 3 4 |", "| 1 2 5 |", "| 1 |", ""].join(end);
            let reading = rhythm::text::read_piece(&text);
            let shown = rendered(&reading.diagnostics[0], &text, "a.rhythm", false);
            assert!(shown.contains("a.rhythm:3:7"), "{shown}");
            let lines: Vec<&str> = shown.lines().filter(|line| line.contains("| |")).collect();
            assert_eq!(lines, ["3 | | 1 2 5 |"], "{shown}");
        }
    }
}
