use std::ops::Range;

use super::read::{Placed, PlacedBar, read_all};
use super::write::{Comments, write_with_comments};
use super::{Diagnostic, aligned, header};

/// What formatting a text gave.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Formatted {
    /// The text in canonical form; `None` exactly when a diagnostic is an error.
    pub text: Option<String>,
    /// What reading the text gave besides, as in [`Reading`](super::Reading).
    pub diagnostics: Vec<Diagnostic>,
}

/// Rewrites a rhythm text in canonical form: what [`write_piece`](super::write_piece) would write, with the comments
/// kept. The canonical form of a canonical text is itself.
///
/// A comment on a line of its own stays before the bar, or the part, that it stood before; one at the end of a line of
/// bars stays behind the bar that it stood behind, and ends the line there too.
#[must_use]
pub fn format(text: &str) -> Formatted {
    let (parts, diagnostics) = read_all(text);
    let Some((piece, streams)) = parts else { return Formatted { text: None, diagnostics } };
    let mut comments = Gathered {
        text,
        top: Vec::new(),
        parts: vec![Comments::default(); streams.len()],
        waiting: Vec::new(),
    };
    comments.gather(&streams);
    let mut formatted: String = comments.top.iter().map(|comment| format!("{comment}\n")).collect();
    formatted += &write_with_comments(&piece, &comments.parts);
    Formatted { text: Some(formatted), diagnostics }
}

/// The comments of a text, part by part.
struct Gathered<'t> {
    text: &'t str,
    /// Above the head.
    top: Vec<String>,
    parts: Vec<Comments>,
    /// On lines of their own, before what comes next.
    waiting: Vec<String>,
}

impl Gathered<'_> {
    fn gather(&mut self, parts: &[Placed]) {
        let text = self.text;
        let header_end = header::read(text, &mut Vec::new()).end;
        let (mut at, mut part, mut named) = (0, 0, false);
        for line in text.split_inclusive('\n') {
            let span = at..at + line.len();
            at = span.end;
            let bare = line.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}');
            if bare.starts_with('#') {
                self.waiting.push(bare.to_owned());
                continue;
            }
            if bare.is_empty() {
                continue;
            }
            let labelled = header::key_and_value(line, span.start)
                .map(|(key, value)| (text[key].to_ascii_lowercase(), value));
            match labelled {
                Some((name, value)) if span.start < header_end => {
                    self.top.append(&mut self.waiting);
                    if name != "title" {
                        self.top.extend(comment_in(&text[value]));
                    }
                }
                Some((name, value)) if name == "part" => {
                    let own = header::without_comment(&text[value.clone()]).to_owned();
                    let same = |placed: &Placed| {
                        placed.name.as_deref().is_some_and(|name| name.eq_ignore_ascii_case(&own))
                    };
                    let next = parts.iter().position(same).unwrap_or(part);
                    self.waiting.extend(comment_in(&text[value]));
                    if next != part || !named {
                        (part, named) = (next, true);
                        let begun = parts[part].bars.first().is_some_and(|bar| bar.begins < span.start);
                        if !begun {
                            let waiting = std::mem::take(&mut self.waiting);
                            self.parts[part].head.extend(waiting);
                        }
                    }
                }
                Some((name, value)) if name == "line" || aligned::Kind::of(&name).is_some() => {
                    self.waiting.extend(comment_in(&text[value]));
                }
                _ => self.line_of_bars(line, &span, part, &parts[part].bars),
            }
        }
        let waiting = std::mem::take(&mut self.waiting);
        if let Some(last) = self.parts.last_mut() {
            last.end.extend(waiting);
        }
    }

    /// A line of bars: what waits stands before its first bar, and a comment at its end behind its last.
    fn line_of_bars(&mut self, line: &str, span: &Range<usize>, part: usize, bars: &[PlacedBar]) {
        let comments = &mut self.parts[part];
        let next = bars.partition_point(|bar| bar.begins < span.start);
        if !self.waiting.is_empty() {
            let waiting = std::mem::take(&mut self.waiting);
            if next == 0 {
                comments.head.extend(waiting);
            } else if next < bars.len() {
                comments.before.entry(next).or_default().extend(waiting);
            } else {
                comments.end.extend(waiting);
            }
        }
        let Some(comment) = comment_in(line) else { return };
        let reached = bars.partition_point(|bar| bar.begins < span.end);
        // Bars of rest written as one are spoken of by the first.
        let bar = (0..reached).rev().find(|&index| !bars[index].rests_on);
        match bar {
            Some(bar) => {
                let behind = comments.behind.entry(bar).or_default();
                if !behind.is_empty() {
                    behind.push(' ');
                }
                behind.push_str(&comment);
            }
            None => self.waiting.push(comment),
        }
    }
}

/// The comment in a line, from its `#` on. Brackets may hold a `#` of their own.
fn comment_in(line: &str) -> Option<String> {
    let mut at = 0;
    while let Some(offset) = line[at..].find(['#', '[']) {
        at += offset;
        if line[at..].starts_with('#') {
            return Some(line[at..].trim_end().to_owned());
        }
        at += line[at..].find(']').map_or(1, |end| end + 1);
    }
    None
}
