//! The project's own source text, as the architecture rules look at it.

use std::path::{Path, PathBuf};

/// One Rust file of ours.
#[derive(Clone, Debug)]
pub struct Source {
    /// The path below the project's top folder, with `/` between folders.
    pub path: String,
    /// The file as it stands.
    pub text: String,
}

impl Source {
    /// The code alone: comments, strings and characters are blanked, line breaks stay.
    #[must_use]
    pub fn code(&self) -> String {
        code(&self.text)
    }

    /// The code that ships: [`Source::code`] without what stands under `#[cfg(test)]`.
    #[must_use]
    pub fn shipped(&self) -> String {
        without_tests(&self.code()).0
    }
}

/// Every Rust file below `folder`, in order of path.
///
/// # Panics
/// If a folder or a file cannot be read.
#[must_use]
pub fn all(root: &Path, folder: &str) -> Vec<Source> {
    let mut sources = Vec::new();
    let mut folders = vec![root.join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in
            std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()))
        {
            let path = entry.expect("a folder's entries can be read").path();
            if path.is_dir() {
                if path.file_name().is_none_or(|name| name != "target") {
                    folders.push(path);
                }
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                let text = std::fs::read_to_string(&path).expect("source is UTF-8");
                let below = path.strip_prefix(root).expect("found below the top folder");
                let path =
                    below.components().map(|c| c.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/");
                sources.push(Source { path, text });
            }
        }
    }
    sources.sort_by(|a, b| a.path.cmp(&b.path));
    sources
}

/// The sources a crate ships: those under its `src`, without the files that are modules of tests only.
///
/// # Panics
/// If a file cannot be read.
#[must_use]
pub fn shipped(root: &Path, name: &str) -> Vec<Source> {
    let sources = all(root, &format!("crates/{name}/src"));
    let mut tests_only: Vec<PathBuf> = Vec::new();
    for source in &sources {
        let path = Path::new(&source.path);
        let stem = path.file_stem().unwrap_or_default();
        let folder = path.parent().unwrap_or(Path::new(""));
        let inside = if stem == "lib" || stem == "main" || stem == "mod" {
            folder.to_owned()
        } else {
            folder.join(stem)
        };
        for module in without_tests(&source.code()).1 {
            tests_only.push(inside.join(format!("{module}.rs")));
            tests_only.push(inside.join(module));
        }
    }
    sources
        .into_iter()
        .filter(|source| !tests_only.iter().any(|path| Path::new(&source.path).starts_with(path)))
        .collect()
}

/// Blanks comments, strings and characters; everything else, line breaks too, stays in its place.
#[must_use]
pub fn code(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    while at < chars.len() {
        let end = skipped(&chars, at);
        if end == at {
            out.push(chars[at]);
            at += 1;
        } else {
            out.extend(chars[at..end].iter().map(|&c| if c == '\n' { '\n' } else { ' ' }));
            at = end;
        }
    }
    out
}

/// Where the comment, string or character that begins at `at` ends; `at` itself if none begins there.
fn skipped(chars: &[char], at: usize) -> usize {
    let starts = |at: usize, with: &str| with.chars().enumerate().all(|(i, c)| chars.get(at + i) == Some(&c));
    let until = |from: usize, found: &dyn Fn(usize) -> Option<usize>| {
        (from..chars.len()).find_map(found).unwrap_or(chars.len())
    };
    let in_word = at > 0 && (chars[at - 1].is_alphanumeric() || chars[at - 1] == '_');
    if starts(at, "//") {
        return until(at, &|i| (chars[i] == '\n').then_some(i));
    }
    if starts(at, "/*") {
        let (mut i, mut depth) = (at, 0);
        while i < chars.len() {
            if starts(i, "/*") {
                (i, depth) = (i + 2, depth + 1);
            } else if starts(i, "*/") {
                (i, depth) = (i + 2, depth - 1);
                if depth == 0 {
                    return i;
                }
            } else {
                i += 1;
            }
        }
        return chars.len();
    }
    if chars[at] == '"' {
        let mut i = at + 1;
        while i < chars.len() && chars[i] != '"' {
            i += if chars[i] == '\\' { 2 } else { 1 };
        }
        return (i + 1).min(chars.len());
    }
    if chars[at] == 'r' && (!in_word || matches!(chars[at - 1], 'b' | 'c')) {
        let hashes = chars[at + 1..].iter().take_while(|&&c| c == '#').count();
        if chars.get(at + 1 + hashes) == Some(&'"') {
            let close = format!("\"{}", "#".repeat(hashes));
            return until(at + 2 + hashes, &|i| starts(i, &close).then_some(i + 1 + hashes));
        }
    }
    if chars[at] == '\'' {
        // A character, and not the name of a lifetime.
        if chars.get(at + 1) == Some(&'\\') {
            return until(at + 3, &|i| (chars[i] == '\'').then_some(i + 1));
        }
        if chars.get(at + 2) == Some(&'\'') {
            return at + 3;
        }
    }
    at
}

/// Blanks every item under `#[cfg(test)]`; also the names of the modules among them that are files.
fn without_tests(code: &str) -> (String, Vec<String>) {
    const MARK: &str = "#[cfg(test)]";
    let mut text = code.to_owned();
    let mut modules = Vec::new();
    while let Some(start) = text.find(MARK) {
        let after = start + MARK.len();
        let mut depth = 0;
        let mut end = text.len();
        for (i, c) in text[after..].char_indices() {
            match c {
                '{' | '(' | '[' => depth += 1,
                '}' | ')' | ']' => depth -= 1,
                _ => {}
            }
            if depth == 0 && matches!(c, '}' | ';') {
                end = after + i + 1;
                break;
            }
        }
        let item = text[after..end].trim();
        if let Some(name) = item.strip_prefix("mod ").and_then(|rest| rest.strip_suffix(';')) {
            modules.push(name.trim().to_owned());
        }
        let blank: String = text[start..end].chars().map(|c| if c == '\n' { '\n' } else { ' ' }).collect();
        text.replace_range(start..end, &blank);
    }
    (text, modules)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_code_is_left() {
        let check = |text: &str, expected: &str| {
            let left = code(text);
            assert_eq!(left.split_whitespace().collect::<Vec<_>>().join(" "), expected, "{text}");
            assert_eq!(left.chars().count(), text.chars().count());
        };
        check("let a = 1; // Instant::now", "let a = 1;");
        check("a /* b /* c */ d */ e", "a e");
        check(r#"f("std::fs \" \\", 'x', '\'', b"y")"#, "f( , , , b )");
        check(r##"f(r#"std::fs " "#, r"z")"##, "f( , )");
        check("fn f<'a>(x: &'a str) {}", "fn f<'a>(x: &'a str) {}");
        check("/// Instant::now\nfn f() {}", "fn f() {}");
    }

    #[test]
    fn what_is_only_for_tests_is_left_out() {
        let check = |text: &str, expected: &str, modules: &[&str]| {
            let (left, found) = without_tests(text);
            assert_eq!(left.split_whitespace().collect::<Vec<_>>().join(" "), expected);
            assert_eq!(found, modules);
        };
        check("fn a() {} #[cfg(test)] mod tests { fn b() { {} } } fn c() {}", "fn a() {} fn c() {}", &[]);
        check("#[cfg(test)] mod laws; fn a() {}", "fn a() {}", &["laws"]);
        check("#[cfg(test)] use std::fs; fn a() {}", "fn a() {}", &[]);
    }
}
