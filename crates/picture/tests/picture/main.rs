//! Rows over an engraving: what stands where, and what it means.

mod judged;
mod pins;
mod playhead;
mod reference;

use engrave::{Engraving, Layout, engrave};
use picture::Row;
use rhythm::{AttackId, Rhythm};

fn read(text: &str) -> Rhythm {
    let reading = rhythm::text::read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}: {:?}", reading.diagnostics))
}

/// The page with room for these rows and a spread.
fn page(rhythm: &Rhythm, rows: &[Row]) -> Engraving {
    let layout = picture::layout(Layout::default(), rows, true);
    engrave(rhythm, &counting::count(rhythm), &layout).expect("a page")
}

/// The names of the written attacks in order.
fn attacks(rhythm: &Rhythm) -> Vec<AttackId> {
    let performance = rhythm.performance();
    let bars = performance.bars().iter().flat_map(|bar| {
        let events = rhythm.bars()[bar.index].events().iter();
        events.filter(|event| event.deed == rhythm::Deed::Attack).map(|event| bar.attack_id(event.at))
    });
    bars.collect()
}
