use engrave::svg::{SvgOptions, write};

use crate::document::{Document, Page, Part, THEME};

/// CSS pixels in a point (CSS Values and Units, "Absolute lengths").
const PX_PER_PT: f64 = 96.0 / 72.0;

/// Every page as an SVG document of its own, with a title and all its words for someone who does not see it.
#[must_use]
pub fn svg(document: &Document) -> Vec<String> {
    let of = document.pages.len();
    let written = (1..).zip(&document.pages).map(|(number, page)| {
        let title = if of > 1 {
            format!("{}, page {number} of {of}", document.title)
        } else {
            document.title.clone()
        };
        let options = SvgOptions {
            scale: document.space_pt * PX_PER_PT,
            theme: THEME,
            title,
            description: description(page),
        };
        write(&page.scene(), &options)
    });
    written.collect()
}

/// What stands on a page, in the order in which it is read.
fn description(page: &Page) -> String {
    let mut text = String::new();
    for words in page.parts.iter().map(Part::words).filter(|words| !words.is_empty()) {
        if !text.is_empty() {
            text.push(' ');
        }
        text.push_str(&words);
        if !words.ends_with(['.', ':', '!', '?']) {
            text.push('.');
        }
    }
    text
}
