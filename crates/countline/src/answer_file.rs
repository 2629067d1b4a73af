//! Pupils' written counting from files: one answer a file, or a class in one.

use std::collections::HashMap;
use std::io::Read as _;
use std::path::Path;

use crate::failure::Failure;

/// Bytes of a file of answers, at most: a class of forty with a page each is a tenth of it.
const ANSWER_BYTES: u64 = 1 << 20;

/// Characters of a code, at most.
const CODE_CHARS: usize = 40;

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
        for pupil in pupils_of(&text(path)?, code) {
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
fn pupils_of(text: &str, alone: &str) -> Vec<Pupil> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut lines = text.lines().filter(|line| !line.trim_start().starts_with('#')).peekable();
    while lines.next_if(|line| line.trim().is_empty()).is_some() {}
    if lines.peek().is_none_or(|line| coded(line).is_none()) {
        let text = lines.collect::<Vec<_>>().join("\n");
        return vec![Pupil { code: alone.to_owned(), text }];
    }
    let mut pupils: Vec<Pupil> = Vec::new();
    for line in lines {
        match (coded(line), pupils.last_mut()) {
            (Some((code, text)), _) => {
                pupils.push(Pupil { code: code.to_owned(), text: text.to_owned() });
            }
            (None, Some(last)) => {
                last.text.push('\n');
                last.text.push_str(line);
            }
            (None, None) => {}
        }
    }
    for pupil in &mut pupils {
        pupil.text.truncate(pupil.text.trim_end().len());
    }
    pupils
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
        let pupils = pupils_of(text, "K01");
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
}
