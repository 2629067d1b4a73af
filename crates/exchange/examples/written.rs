//! Writes generated rhythms of all kinds as MusicXML files into a folder, for `tests/readers/musicxml_valid.py`.
//!
//!     written FOLDER HOW-MANY

#[path = "../../rhythm/tests/generated/pieces.rs"]
mod generated;

use std::path::Path;

fn main() {
    let mut arguments = std::env::args().skip(1);
    let folder = arguments.next().expect("FOLDER HOW-MANY");
    let many: u32 = arguments.next().and_then(|many| many.parse().ok()).expect("FOLDER HOW-MANY");
    // The generator of Numerical Recipes: any numbers do, as long as they are the same every time.
    let mut state: u32 = 1;
    let mut numbers = |many: usize| -> Vec<u16> {
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            u16::try_from(state >> 16).unwrap_or(0)
        };
        (0..many).map(|_| next()).collect()
    };
    for number in 0..many {
        let layout = numbers(60);
        let own = [numbers(200), numbers(200)];
        let parts = 1 + usize::from(layout[0] % 2);
        let file = exchange::musicxml::write(&generated::piece(&layout, &own[..parts])).expect("a file");
        std::fs::write(Path::new(&folder).join(format!("{number}.musicxml")), file)
            .expect("it can be written");
    }
}
