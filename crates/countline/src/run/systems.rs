//! `countline systems`

use std::fmt::Write as _;

use counting::System;

use crate::failure::Failure;
use crate::flags::SystemsFlags;
use crate::{counting_file, output};

/// Columns of a line of words.
const LINE_WIDTH: usize = 96;

pub(crate) fn run(flags: &SystemsFlags) -> Result<(), Failure> {
    let text = match &flags.counting {
        Some(name) => shown(&counting_file::system(name)?),
        None => {
            let all: Vec<String> = System::shipped().iter().map(shown).collect();
            format!(
                "{}\nChoose one with `countline count FILE --counting NAME`, its variants with `--variant NAME`.\n",
                all.join("\n")
            )
        }
    };
    output::print(&text)
}

/// A system, where it comes from, and its variants.
fn shown(system: &System) -> String {
    let mut text = format!("{}: {}\n", system.name(), system.title());
    paragraph(&mut text, 2, system.about().unwrap_or_default());
    if let Some(source) = system.source() {
        paragraph(&mut text, 2, &format!("Source: {source}"));
    }
    for variant in system.variants() {
        let about = variant.about.unwrap_or_default();
        let source = variant.source.map_or_else(String::new, |source| format!(" ({source})"));
        let _ = writeln!(text, "  --variant {}", variant.name);
        paragraph(&mut text, 6, &format!("{about}{source}"));
    }
    text
}

/// Words in lines, all indented.
fn paragraph(text: &mut String, indent: usize, words: &str) {
    let mut width = 0;
    for word in words.split_whitespace() {
        let columns = word.chars().count();
        if width == 0 || width + 1 + columns > LINE_WIDTH {
            if width > 0 {
                text.push('\n');
            }
            text.push_str(&" ".repeat(indent));
            width = indent;
        } else {
            text.push(' ');
            width += 1;
        }
        text.push_str(word);
        width += columns;
    }
    if width > 0 {
        text.push('\n');
    }
}
