//! Staves in words, for someone who does not see the page.

use counting::CountLine;
use engrave::{Engraving, Staff};
use rhythm::spelling::{Around, bar_words, bars_in_words, with_marks};
use rhythm::{Bar, Deed, Rhythm};

/// How the count line is called that several parts share.
const SHARED: &str = "Counting";

/// Staves that are played together in words, one after the other by their names: every bar with its counts where
/// `counted` and the staff has any, else with its notes, and what stands on and around them.
///
/// `4/4. Bar 1: quarter, quarter rest, half with accent.`, `4/4. Bar 1: 1, rest 2, 3 with accent, hold 4.`
#[must_use]
pub fn staves_in_words(staves: &[Staff<'_>], counted: bool) -> String {
    let lines = lines(staves, counted).into_iter();
    lines.map(|line| line.named(line.bars.iter().map(String::as_str))).collect::<Vec<_>>().join(" ")
}

/// The same system by system.
pub(crate) fn systems_in_words(engraving: &Engraving, staves: &[Staff<'_>], counted: bool) -> Vec<String> {
    let lines = lines(staves, counted);
    let of_system = |bars: Vec<usize>| {
        let of_line = |line: &Line<'_>| line.named(bars.iter().map(|&index| line.bars[index].as_str()));
        lines.iter().map(of_line).collect::<Vec<_>>().join(" ")
    };
    bars_of(engraving, staves[0].rhythm).into_iter().map(of_system).collect()
}

/// What is told of a staff, or of the counts that several share.
struct Line<'a> {
    name: Option<&'a str>,
    bars: Vec<String>,
}

impl Line<'_> {
    fn named<'b>(&self, bars: impl Iterator<Item = &'b str>) -> String {
        let name = self.name.map(|name| format!("{name}."));
        name.into_iter().chain(bars.map(str::to_owned)).collect::<Vec<_>>().join(" ")
    }
}

fn lines<'a>(staves: &[Staff<'a>], counted: bool) -> Vec<Line<'a>> {
    // A count line of all parts stands under the last: its notes are told as those of the others, then the counts.
    let shared = staves.len() > 1 && staves.iter().any(|staff| staff.countings.is_empty());
    let mut lines = Vec::new();
    for (number, staff) in staves.iter().enumerate() {
        let around = if number == 0 { Around::All } else { Around::OwnLoudness };
        let name = staff.name.filter(|_| staves.len() > 1);
        let bars = staff.rhythm.bars();
        let counting = staff.countings.first().filter(|_| counted);
        if counting.is_none() || shared {
            let notes = bars_in_words(staff.rhythm, around, |index| bar_words(&bars[index]));
            lines.push(Line { name, bars: notes });
        }
        if let Some(counting) = counting {
            let (name, around) = if shared { (Some(SHARED), Around::OwnLoudness) } else { (name, around) };
            let of_bar = |index: usize| counts(&bars[index], counting, index, shared);
            lines.push(Line { name, bars: bars_in_words(staff.rhythm, around, of_bar) });
        }
    }
    lines
}

/// The counting of a bar in words: `1, 2 right hand, rest 3, hold 4`. What stands on the notes of one part is not told
/// with the counts of all.
fn counts(bar: &Bar, counting: &CountLine, index: usize, shared: bool) -> String {
    let said = counting.bars()[index].counts().iter().filter_map(|count| {
        let word = count.say.as_ref()?;
        let word = match count.deed {
            Deed::Attack => word.to_string(),
            Deed::Hold => format!("hold {word}"),
            Deed::Rest => format!("rest {word}"),
        };
        let event = bar.event_at(count.at).filter(|event| event.at == count.at && !shared);
        Some(with_marks(&word, event.map_or_else(Default::default, |event| event.marks)))
    });
    said.collect::<Vec<_>>().join(", ")
}

/// Which written bars stand in each system, by their index, in order.
fn bars_of(engraving: &Engraving, rhythm: &Rhythm) -> Vec<Vec<usize>> {
    let mut bars: Vec<Vec<usize>> = vec![Vec::new(); engraving.systems().len()];
    // Both are the bars of the performance in order of time.
    for (played, passage) in rhythm.performance().bars().iter().zip(engraving.passages()) {
        if let Some(system) = bars.get_mut(passage.system) {
            system.push(played.index);
        }
    }
    for system in &mut bars {
        system.sort_unstable();
        system.dedup();
    }
    bars
}
