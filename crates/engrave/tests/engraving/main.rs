//! Whole pages: nothing collides, everything is found again, and the reference pictures stay as they are.

mod any_rhythm;
mod collisions;
mod errors;
mod kinds;
mod places;
mod reference;
mod rules;
mod staves;

use counting::count;
use engrave::{Engraving, Layout, engrave};
use rhythm::Rhythm;

/// The rhythm of a text that is right.
fn read(text: &str) -> Rhythm {
    let reading = rhythm::text::read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}: {:?}", reading.diagnostics))
}

fn page(rhythm: &Rhythm, layout: &Layout) -> Engraving {
    engrave(rhythm, &count(rhythm), layout).expect("a page")
}
