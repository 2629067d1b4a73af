use counting::{Settings, System, count_in};
use engrave::PrintSize;

use crate::document::{Document, Role};
use crate::exercise::{Exercise, Shown, blocks};
use crate::flow::{Block, pages};
use crate::lines::{SMALL, Type, paragraph};
use crate::sheet::{Answers, heading, said};
use crate::values_chart::section;
use crate::{Error, Print};

/// What the chart shows, each with its rhythm as it is typed. The counts of a rhythm text only say where things begin;
/// what stands under them on the chart is said by the system that is shown.
const SHOWN: [(&str, &str); 9] = [
    ("Beats", "| 1 2 3 4 | 1 _2 3 _4 | 1 _2 _3 _4 | 1 (2) 3 (4) |"),
    ("Two in a beat", "| 1 & 2 & 3 & 4 & | 1 (&) 2 (&) (3) & (4) & | 1 _2 & 3 _4 & |"),
    ("Four in a beat", "| 1 e & a 2 e & a 3 e & a 4 e & a |"),
    ("Eighths and sixteenths", "| 1 & a 2 & a 3 e & 4 e & | 1 a 2 a 3 e 4 e | 1 e a 2 e a (3) e & a (4) & |"),
    ("Three in a beat that divides in two", "| 1 la li 2 la li 3 la li 4 la li | 1 li 2 la (3) la li 4 |"),
    ("Beats that divide in three", "meter: 6/8\n| 1 la li 2 la li | 1 li 2 li | 1 2 la li | (1) li 2 (li) |"),
    ("Six in a beat", "meter: 6/8\n| 1 ta la ta li ta 2 la li | 1 _la ta li 2 |"),
    ("Half notes as beats", "meter: 2/2\n| 1 2 | 1 & 2 & | 1 e & a 2 e & a |"),
    ("Unequal beats", "meter: 7/8 2+2+3\n| 1 2 3 4 5 6 7 | 1 3 5 | [5/8 3+2] 1 2 3 4 5 | 1 4 |"),
];

/// The counting chart of a system, in its chosen variants: common rhythms engraved, with what it says under them, and
/// where the system was read. The counts are those of [`counting::count_in`].
///
/// # Errors
/// If it is printed so large that a part of it is higher than a page.
pub fn counting_chart(system: &System, print: Print) -> Result<Document, Error> {
    let chart = laid_out(system, print)?;
    // A tenth smaller is hardly seen, and spares a page for a few lines; large print stays as large as it is.
    let smaller = print.smaller().filter(|_| print.print_size() == PrintSize::Usual && chart.pages.len() > 1);
    match smaller.map(|print| laid_out(system, print)) {
        Some(Ok(smaller)) if smaller.pages.len() < chart.pages.len() => Ok(smaller),
        _ => Ok(chart),
    }
}

fn laid_out(system: &System, print: Print) -> Result<Document, Error> {
    let title = format!("Counting chart: {}", system.title());
    let mut blocks = vec![heading(&title, print)];
    let variants: Vec<&str> = system.chosen().collect();
    if !variants.is_empty() {
        blocks.push(said(&format!("Variants: {}.", variants.join(", ")), print));
    }
    blocks.extend(system.about().map(|about| said(about, print)));
    blocks.push(said("Bold is struck; light with a line under it is held; in parentheses is silent.", print));
    for (name, text) in SHOWN {
        blocks.push(section(name, print));
        blocks.extend(shown(name, text, system, print)?);
    }
    if let Some(source) = system.source() {
        let words = format!("Source: {source}");
        blocks.push(
            paragraph(&words, Role::Text, Type::soft(print.em(SMALL)), print.edge(), print.measure())
                .after(2.0),
        );
    }
    Ok(Document {
        title,
        description: "Common rhythms with what is said under them.".to_owned(),
        space_pt: print.space_pt(),
        date: None,
        pages: pages(blocks, print, "")?,
    })
}

fn shown(name: &str, text: &str, system: &System, print: Print) -> Result<Vec<Block>, Error> {
    let wrong = || Error::Chart { text: text.to_owned() };
    let rhythm = rhythm::text::read(text).rhythm.ok_or_else(wrong)?;
    let counting = count_in(&rhythm, system, &Settings::default());
    let exercise = Exercise::new(name, &rhythm, &counting);
    blocks(&exercise, "", Shown { print, answers: Answers::Key, tempo: false, lines: false })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_system_has_its_chart() {
        for system in System::shipped() {
            let chart = counting_chart(system, Print::default()).unwrap_or_else(|error| panic!("{error}"));
            let words: String =
                chart.pages.iter().flat_map(|page| &page.parts).map(crate::Part::words).collect();
            assert!(words.contains(system.title()), "{}", system.name());
            // Each line of the chart is told in the words of the system.
            for (_, text) in SHOWN {
                let rhythm = rhythm::text::read(text).rhythm.expect("the chart's rhythms are right");
                let line = count_in(&rhythm, system, &Settings::default());
                let first = line.bars()[0].counts()[0].say.as_ref();
                assert!(first.is_none_or(|word| words.contains(word.as_str())), "{text}");
            }
        }
    }
}
