//! Prints what is read of MusicXML files as JSON, a file a line, for `tests/readers/musicxml.py` to compare; and whether what
//! is written of it as rhythm text is read again.
//!
//! Times are fractions of a whole note.

use std::fmt::Write;

use exchange::musicxml::{Choice, Import, contents, read};
use rhythm::{Deed, Rhythm};

fn main() {
    for path in std::env::args().skip(1) {
        let line = match std::fs::read(&path) {
            Ok(bytes) => {
                file(&bytes).unwrap_or_else(|error| format!("{{\"error\":{}}}", quoted(&error.to_string())))
            }
            Err(error) => format!("{{\"error\":{}}}", quoted(&error.to_string())),
        };
        #[expect(clippy::print_stdout, reason = "printing is what this program is for")]
        {
            println!("{line}");
        }
    }
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\"").replace(|c: char| c.is_control(), " "))
}

fn list<T>(items: impl IntoIterator<Item = T>, one: impl Fn(T) -> String) -> String {
    format!("[{}]", items.into_iter().map(one).collect::<Vec<_>>().join(","))
}

fn file(bytes: &[u8]) -> Result<String, exchange::Error> {
    let mut parts = Vec::new();
    for part in contents(bytes)? {
        let mut voices = Vec::new();
        for voice in &part.voices {
            let choice = Choice { part: Some(part.number.to_string()), voice: Some(voice.name.clone()) };
            let import = read(bytes, &choice)?;
            let unkept = list(&import.unkept, |unkept| {
                format!("[{},{}]", quoted(&unkept.what), list(&unkept.bars, u32::to_string))
            });
            let rhythm = rhythm(&import.piece.parts()[0].rhythm);
            voices.push(format!("{{\"voice\":{},\"unkept\":{unkept},{rhythm}}}", quoted(&voice.name)));
        }
        parts.push(format!("{{\"name\":{},\"voices\":[{}]}}", quoted(&part.name), voices.join(",")));
    }
    Ok(format!("{{\"parts\":[{}],\"text\":{}}}", parts.join(","), quoted(&as_text(bytes))))
}

/// What becomes of the whole piece as rhythm text: the same piece again, or one with ties added, or what hinders it.
fn as_text(bytes: &[u8]) -> String {
    let piece = match read(bytes, &Choice::default()).and_then(Import::for_text) {
        Ok(import) => import.piece,
        Err(error) => return format!("refused: {error}"),
    };
    let reading = rhythm::text::read_piece(&rhythm::text::write_piece(&piece));
    match (reading.piece, reading.diagnostics.first()) {
        (Some(again), _) if again == piece => "the same".to_owned(),
        (Some(_), _) => "spelled otherwise".to_owned(),
        (None, first) => format!("unreadable: {}", first.map_or("", |first| &first.message)),
    }
}

fn rhythm(rhythm: &Rhythm) -> String {
    let mut bars = Vec::new();
    for bar in rhythm.bars() {
        let events = list(bar.events(), |event| {
            let mut ratio = timebase::Ratio::new(1_i64, 1);
            for tuplet in bar.tuplets().iter().filter(|tuplet| tuplet.holds(event.at, event.end())) {
                ratio *= timebase::Ratio::new(i64::from(tuplet.actual), i64::from(tuplet.normal));
            }
            let deed = match event.deed {
                Deed::Attack => "attack",
                Deed::Hold => "hold",
                Deed::Rest => "rest",
            };
            let grace = event.marks.grace.strokes();
            format!("[\"{}\",\"{}\",\"{deed}\",{grace},\"{ratio}\"]", event.at, event.length)
        });
        let meter = bar.meter();
        bars.push(format!(
            "{{\"number\":{},\"meter\":\"{}/{}\",\"felt\":\"{}\",\"start\":\"{}\",\"end\":\"{}\",\"events\":{events}}}",
            bar.number(),
            meter.beats(),
            meter.unit(),
            meter.felt_beat(),
            bar.start(),
            bar.end()
        ));
    }
    let endings = list(rhythm.repeats().iter().flat_map(|repeat| &repeat.endings), |ending| {
        format!(
            "[{},{}]",
            list(&ending.passes, u32::to_string),
            list(ending.bars.clone(), |bar| bar.to_string())
        )
    });
    let order = list(rhythm.order(), |index| index.to_string());
    let mut text = format!("\"bars\":[{}],\"endings\":{endings},\"order\":{order}", bars.join(","));
    if let Some(jump) = rhythm.jump() {
        let _ = write!(text, ",\"jump\":[{},{}]", jump.after, jump.to);
    }
    text
}
