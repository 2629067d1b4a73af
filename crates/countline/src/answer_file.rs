//! Pupils' written counting from files: one answer a file, or a class in one.

use std::collections::HashMap;
use std::io::Read as _;
use std::path::Path;

use crate::failure::Failure;

/// Bytes of a file of answers, at most: a class of forty with a page each is a tenth of it.
const ANSWER_BYTES: u64 = 1 << 20;

/// Characters of a code, at most.
const CODE_CHARS: usize = 40;

/// Characters of a wrong line that are shown.
const SHOWN_CHARS: usize = 60;

/// What one pupil wrote.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Pupil {
    pub(crate) code: String,
    pub(crate) text: String,
}

/// Reads every pupil's answer from the files at `paths`; `-` is standard input. No two have the same code.
pub(crate) fn read(paths: &[impl AsRef<Path>]) -> Result<Vec<Pupil>, Failure> {
    let mut pupils: Vec<Pupil> = Vec::new();
    let mut known: HashMap<String, &Path> = HashMap::new();
    for path in paths {
        let path = path.as_ref();
        let stem = path.file_stem().map_or_else(|| "answer".into(), |stem| stem.to_string_lossy());
        let code = if path == Path::new("-") { "answer" } else { &stem };
        let pupils_here = pupils_of(&text(path)?, code).map_err(|Uncoded { number, line }| {
            Failure::Job(format!(
                "line {number} of {}, `{}`, seems to begin with a pupil's code but has none: write it as `K07: 1 2 & 3`, the \
                 code of letters and figures without a blank, then a colon; in a file of one answer write the counting alone",
                path.display(),
                line.chars().take(SHOWN_CHARS).collect::<String>()
            ))
        })?;
        for pupil in pupils_here {
            if let Some(first) = known.insert(pupil.code.clone(), path) {
                return Err(Failure::Job(format!(
                    "the code {} stands twice, in {} and in {}: give every pupil a code of their own, and one answer",
                    pupil.code,
                    first.display(),
                    path.display()
                )));
            }
            pupils.push(pupil);
        }
    }
    Ok(pupils)
}

fn text(path: &Path) -> Result<String, Failure> {
    let mut bytes = Vec::new();
    let read = if path == Path::new("-") {
        std::io::stdin().lock().take(ANSWER_BYTES + 1).read_to_end(&mut bytes)
    } else {
        std::fs::File::open(path).and_then(|file| file.take(ANSWER_BYTES + 1).read_to_end(&mut bytes))
    };
    read.map_err(|error| Failure::file("read", path, &error))?;
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > ANSWER_BYTES {
        return Err(Failure::Job(format!(
            "{} has more than {ANSWER_BYTES} bytes, the most that a file of answers may have: give one file a class, or one \
             a pupil",
            path.display()
        )));
    }
    String::from_utf8(bytes).map_err(|error| {
        Failure::Job(format!(
            "{} is not UTF-8 text: byte {} belongs to no character. Answers are plain text, such as `1 2 & 3 (4)`; save \
             the file as UTF-8",
            path.display(),
            error.utf8_error().valid_up_to()
        ))
    })
}

/// The answers in a text: a class where the first line begins with a code, `K07: 1 2 & 3`, else one answer, which has
/// the code `alone`. Lines that begin with `#` say nothing.
///
/// # Errors
/// The number of the line, and the line, that would be taken for more of the answer before it, or for a part of one answer,
/// but whose code only lacks its colon or is none.
fn pupils_of(text: &str, alone: &str) -> Result<Vec<Pupil>, Uncoded> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut lines = (1..)
        .zip(text.lines())
        .filter(|(_, line)| !line.trim_start().starts_with('#'))
        .skip_while(|(_, line)| line.trim().is_empty())
        .peekable();
    let is_class = lines.peek().is_some_and(|(_, line)| coded(line).is_some());
    let mut pupils: Vec<Pupil> = Vec::new();
    if !is_class {
        pupils.push(Pupil { code: alone.to_owned(), text: String::new() });
    }
    for (number, line) in lines {
        match (coded(line).filter(|_| is_class), pupils.last_mut()) {
            (Some((code, text)), _) => {
                pupils.push(Pupil { code: code.to_owned(), text: text.to_owned() });
            }
            (None, Some(last)) => {
                if is_uncoded(line) {
                    return Err(Uncoded { number, line: line.trim().to_owned() });
                }
                if is_class || !last.text.is_empty() {
                    last.text.push('\n');
                }
                last.text.push_str(line);
            }
            (None, None) => {}
        }
    }
    for pupil in &mut pupils {
        pupil.text.truncate(pupil.text.trim_end().len());
    }
    Ok(pupils)
}

/// A line that seems to begin with a code without being one.
#[derive(Debug, PartialEq, Eq)]
struct Uncoded {
    number: usize,
    line: String,
}

/// Whether a line begins as a code does, though it is none: with a letter and a figure in one word (`K3 1 2 & 3`), which no
/// counting has, or with anything before a colon that ends no repeat (`Ana M.: 1 2`).
fn is_uncoded(line: &str) -> bool {
    let first = line.split_whitespace().next().unwrap_or_default();
    let mixed = first.contains(|c: char| c.is_alphabetic()) && first.contains(|c: char| c.is_ascii_digit());
    let colon = line.match_indices(':').any(|(at, _)| {
        let (before, after) = (&line[..at], &line[at + 1..]);
        !before.ends_with('|') && !after.starts_with('|')
    });
    mixed && !counted(first) || colon
}

/// Whether a word is counting written close: `1&`, `2e&a`.
fn counted(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '(' | '|' | '_'))
}

/// The code at the head of a line, and what follows it. `:|` is the end of a repeat and no code's colon.
fn coded(line: &str) -> Option<(&str, &str)> {
    let (code, text) = line.split_once(':')?;
    let code = code.trim();
    let is_code = code.starts_with(|c: char| c.is_alphanumeric())
        && code.chars().all(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | '.'))
        && code.chars().count() <= CODE_CHARS;
    (is_code && !text.starts_with('|')).then(|| (code, text.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: &[(&str, &str)]) {
        let pupils = pupils_of(text, "K01").expect("codes");
        let found: Vec<_> = pupils.iter().map(|pupil| (pupil.code.as_str(), pupil.text.as_str())).collect();
        assert_eq!(found, expected, "{text:?}");
    }

    #[test]
    fn one_answer_or_a_class() {
        check("1 2 & 3 (4)\n| 1 2 |", &[("K01", "1 2 & 3 (4)\n| 1 2 |")]);
        check("", &[("K01", "")]);
        check("|: 1 2 :|\n", &[("K01", "|: 1 2 :|")]);
        check("1 2:|", &[("K01", "1 2:|")]);
        check("K07: 1 2\nK11 :3 4\r\n", &[("K07", "1 2"), ("K11", "3 4")]);
        check("# class 5b\n\nK07: 1 2 |\n  3 4\n\nK11:\n", &[("K07", "1 2 |\n  3 4"), ("K11", "")]);
        check("07: 1 2", &[("07", "1 2")]);
    }

    #[test]
    fn a_line_whose_code_is_none_is_not_taken_for_more_of_the_one_before() {
        let wrong = |text: &str, number: usize| {
            let error = pupils_of(text, "K01").expect_err("no code");
            assert_eq!(error.number, number, "{text:?}");
        };
        wrong("K1: 1 2\nK2: 1 2 3\nK3 1 2 & 3", 3);
        wrong("K1: 1 2\n\nK3; 1 2 & 3", 3);
        wrong("K1: 1 2\nAna M.: 1 2 & 3", 2);
        wrong("Ana M.: 1 2 & 3\nBen: 1 2", 1);
        wrong("K1 1 2 3\nK2 1 2 3", 1);
        check("K1: 1 2 |\n1& 2 |: (3) 4 :| 1e&a", &[("K1", "1 2 |\n1& 2 |: (3) 4 :| 1e&a")]);
        check("ta ti-ti\nta-di", &[("K01", "ta ti-ti\nta-di")]);
    }
}
