//! The whole program, called as a user calls it.

#[path = "cli/calls.rs"]
mod calls;
#[path = "cli/check_counts.rs"]
mod check_counts;
#[path = "cli/count.rs"]
mod count;
#[path = "cli/drill.rs"]
mod drill;
#[path = "cli/drill_take.rs"]
mod drill_take;
#[path = "cli/format.rs"]
mod format;
#[path = "cli/judging.rs"]
mod judging;
#[path = "cli/overwriting.rs"]
mod overwriting;
#[path = "cli/pages.rs"]
mod pages;
#[path = "cli/picture.rs"]
mod picture;
#[path = "cli/recordings.rs"]
mod recordings;
#[path = "cli/rubric.rs"]
mod rubric;
#[path = "cli/section.rs"]
mod section;
#[path = "cli/sound.rs"]
mod sound;
#[path = "cli/sound_files.rs"]
mod sound_files;
#[path = "cli/spelling.rs"]
mod spelling;
#[path = "cli/voice.rs"]
mod voice;
#[path = "cli/write.rs"]
mod write;

/// The demo's rhythms, from easy to hard.
const RHYTHMS: [&str; 6] = [
    "1-nine-doorsteps",
    "2-lamp-on-the-landing",
    "3-over-the-stile",
    "4-pebbles-downhill",
    "5-geese-in-galoshes",
    "6-kettle-on-the-boil",
];

/// The rhythm that both takes of the demo play.
const TAKEN: &str = "2-lamp-on-the-landing";

fn rhythm(name: &str) -> String {
    format!("demo-data/rhythms/{name}.rhythm")
}

fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap_or_else(|error| panic!("no JSON: {error}\n{text}"))
}

/// An exact fraction of whole notes, as the JSON writes it, in quarters.
fn quarters(at: &serde_json::Value) -> f64 {
    let text = at.as_str().unwrap_or_else(|| panic!("a fraction is a string: {at}"));
    let (numerator, denominator) = text.split_once('/').unwrap_or((text, "1"));
    let number = |text: &str| text.parse::<f64>().unwrap_or_else(|_| panic!("no fraction: {at}"));
    4.0 * number(numerator) / number(denominator)
}
