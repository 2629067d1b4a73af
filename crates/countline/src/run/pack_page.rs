//! The page of a pack: plain HTML without scripts, that a screen reader reads in order and any browser opens from a
//! folder.

use std::fmt::{self, Write as _};

use engrave::svg::Escaped;
use timebase::Tempo;

/// What the page shows.
pub(super) struct Page<'a> {
    pub(super) title: &'a str,
    /// How it is counted, in a sentence.
    pub(super) counted: &'a str,
    /// The documents: file and what it is.
    pub(super) sheets: &'a [(&'static str, String)],
    pub(super) exercises: &'a [Shown],
}

/// One exercise of the page.
pub(super) struct Shown {
    pub(super) title: String,
    pub(super) tempo: Tempo,
    /// The file of its picture without counts.
    pub(super) picture: String,
    /// Its notes in words.
    pub(super) notes: String,
    /// The file of its picture with counts, and the counting in words.
    pub(super) key: Option<(String, String)>,
    pub(super) models: Vec<Model>,
}

/// One sounding model.
pub(super) struct Model {
    pub(super) file: String,
    /// The name of the part that sounds, where the exercise has several.
    pub(super) part: Option<String>,
    pub(super) tempo: Tempo,
    /// Whether a voice counts in it.
    pub(super) is_counted: bool,
}

/// Dark on light, wide enough for a bar, nothing that moves.
const STYLE: &str = "body{font-family:sans-serif;line-height:1.5;max-width:50rem;margin:0 auto;padding:1rem;color:#111;\
background:#fff}img{max-width:100%;height:auto}audio{width:100%;max-width:30rem;display:block}section{border-top:1px \
solid #767676;margin-top:2rem}summary{cursor:pointer}a{color:#00467a}";

impl Page<'_> {
    pub(super) fn html(&self) -> String {
        let mut html = String::with_capacity(4096 + 2048 * self.exercises.len());
        self.compose(&mut html).expect("writing to a String does not fail");
        html
    }

    fn compose(&self, out: &mut String) -> fmt::Result {
        let title = Escaped(if self.title.is_empty() { "Rhythms" } else { self.title });
        writeln!(out, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">")?;
        writeln!(out, "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">")?;
        writeln!(out, "<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>")?;
        writeln!(out, "<h1>{title}</h1>")?;
        writeln!(
            out,
            "<p>Listen to a rhythm while you read it, the slowest first. Then count it aloud, clap it, and write the counting \
             under the notes. One bar is counted or clicked before each begins.</p>"
        )?;
        writeln!(out, "<p>{}</p>", Escaped(self.counted))?;
        writeln!(out, "<p>Listen at a moderate level, and stop when something hurts.</p>")?;
        writeln!(out, "<h2>To print</h2>\n<ul>")?;
        for (file, what) in self.sheets {
            writeln!(out, "<li><a href=\"{file}\">{}</a></li>", Escaped(what))?;
        }
        writeln!(out, "</ul>\n<h2>To hear</h2>")?;
        for (number, exercise) in (1..).zip(self.exercises) {
            exercise.compose(out, number)?;
        }
        writeln!(out, "</main>\n</body>\n</html>")
    }
}

impl Shown {
    fn compose(&self, out: &mut String, number: usize) -> fmt::Result {
        let title = Escaped(&self.title);
        writeln!(out, "<section aria-labelledby=\"exercise-{number}\">")?;
        writeln!(out, "<h3 id=\"exercise-{number}\">{number}. {title}</h3>")?;
        writeln!(out, "<p>Written tempo: {}.</p>", Escaped(&self.tempo.to_string()))?;
        writeln!(out, "<p><img src=\"{}\" alt=\"{}\"></p>", self.picture, Escaped(&self.notes))?;
        for (index, model) in (1..).zip(&self.models) {
            let id = format!("model-{number}-{index}");
            let part = model.part.as_ref().map_or_else(String::new, |part| format!("{part}, "));
            let tempo = format!("{part}{}", model.tempo);
            let sounds =
                if model.is_counted { "counted, clapped and clicked" } else { "clapped and clicked" };
            writeln!(out, "<p id=\"{id}\">{}, {sounds}:</p>", Escaped(&capital(&tempo)))?;
            writeln!(
                out,
                "<audio controls preload=\"metadata\" aria-label=\"{title}, {}\" src=\"{file}\"><a href=\"{file}\">{}</a></audio>",
                Escaped(&tempo),
                Escaped(&tempo),
                file = model.file
            )?;
        }
        if let Some((file, counting)) = &self.key {
            writeln!(out, "<details>\n<summary>The counting of {title}</summary>")?;
            writeln!(out, "<p><img src=\"{file}\" alt=\"{}\"></p>\n</details>", Escaped(counting))?;
        }
        writeln!(out, "</section>")
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string()).unwrap_or_default();
    first + letters.as_str()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_a_title_becomes_markup() {
        let sheets = [("sheet.pdf", "Sheet".to_owned())];
        let tempo = Tempo::new(timebase::Span::QUARTER, 80.into()).expect("a tempo");
        let exercises = [Shown {
            title: "<b onclick='x'>\"&\"</b>".to_owned(),
            tempo,
            picture: "01.svg".to_owned(),
            notes: "Bar 1: \"quarter\".".to_owned(),
            key: None,
            models: vec![Model { file: "01-80.wav".to_owned(), part: None, tempo, is_counted: true }],
        }];
        let html =
            Page { title: "</title>", counted: "Counted.", sheets: &sheets, exercises: &exercises }.html();
        assert!(!html.contains("<b ") && !html.contains("<title></title>"), "{html}");
        assert!(html.contains("&lt;b onclick='x'&gt;&quot;&amp;&quot;&lt;/b&gt;"));
    }
}
