//! The text that is measured.

/// Four bars of a beginner's book and two of a later one, over and over.
const BARS: [&str; 6] = [
    "1 2 & 3 (4)",
    "1 e & a 2 & 3 _4 &",
    "(1) & 2 & (3) & 4",
    "1 la li 2 & a 3 e & 4",
    "1/4. 1/8 1/8 1/4 1/8",
    "_1 2 & (3) 4 e & a",
];

/// So many bars of it.
pub(crate) fn text(bars: usize) -> String {
    let mut text = "title: Long Road\nmeter: 4/4\ntempo: quarter = 96\n\n".to_owned();
    for (index, bar) in BARS.iter().cycle().take(bars).enumerate() {
        text.push_str("| ");
        text.push_str(bar);
        text.push(' ');
        if index % 4 == 3 {
            text.push_str("|\n");
        }
    }
    text.push_str("|\n");
    text
}
