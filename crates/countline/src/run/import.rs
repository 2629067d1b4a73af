//! `countline import`: rhythm text of a MusicXML file.

use std::collections::HashSet;
use std::fmt::Write as _;
use std::io::Read as _;
use std::path::Path;

use exchange::limits::XML_BYTES;
use exchange::musicxml::{self, Choice, PartContents};
use rhythm::spelling::spell;
use rhythm::{Bar, Form, Marks, Part, Piece, Rhythm};

use crate::failure::Failure;
use crate::flags::ImportFlags;
use crate::output;

pub(crate) fn run(flags: &ImportFlags) -> Result<(), Failure> {
    let bytes = bytes(&flags.file)?;
    let fault = |error: exchange::Error| {
        let message = format!("{}: {error}", flags.file.display());
        match error {
            exchange::Error::NoPart { .. } | exchange::Error::NoVoice { .. } => Failure::Call(message),
            exchange::Error::Rhythm { source: rhythm::Error::Parts { .. }, .. } => {
                Failure::Job(format!("{message}; choose one part with --part (--list shows them)"))
            }
            _ => Failure::Job(message),
        }
    };
    if flags.list {
        return output::print(&listed(&musicxml::contents(&bytes).map_err(fault)?));
    }
    let choice = Choice { part: flags.part.clone(), voice: flags.voice.clone() };
    let read = musicxml::read(&bytes, &choice);
    let import = read.and_then(musicxml::Import::for_text).map_err(fault)?;
    let text =
        if flags.lengths { rhythm::text::write_piece(&import.piece) } else { in_counts(&import.piece) };
    if !import.unkept.is_empty() {
        output::note("Not kept, for rhythm text has no place for it:");
        for unkept in &import.unkept {
            output::note(&format!("  {unkept}"));
        }
    }
    match &flags.out {
        Some(path) => {
            take::write_beside(path, text.as_bytes()).map_err(Failure::job)?;
            let bars = import.piece.parts()[0].rhythm.bars().len();
            output::note(&format!(
                "{} bars of {} parts in {}",
                bars,
                import.piece.parts().len(),
                path.display()
            ));
            Ok(())
        }
        None => output::print(&text),
    }
}

/// The bytes of a file, as many as a MusicXML file may have and one more.
fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let most = u64::try_from(XML_BYTES.most).unwrap_or(u64::MAX);
    let mut bytes = Vec::new();
    let read = std::fs::File::open(path).and_then(|file| file.take(most + 1).read_to_end(&mut bytes));
    read.map_err(|error| Failure::file("read", path, &error))?;
    Ok(bytes)
}

fn listed(parts: &[PartContents]) -> String {
    let mut text = String::new();
    for part in parts {
        let name = if part.name.is_empty() { "(without a name)" } else { &part.name };
        // Writing to a string cannot fail.
        let _ = writeln!(text, "part {}: {name}, {} bars", part.number, part.bars);
        for voice in &part.voices {
            let _ = writeln!(text, "    voice {}: {} notes", voice.name, voice.notes);
        }
    }
    text
}

/// The piece as text, each bar in counts where they give the same notes, else in lengths.
fn in_counts(piece: &Piece) -> String {
    let counted = |bar: &Bar| bar_in_counts(bar).unwrap_or_else(|| bar.clone());
    // A bar that begins or ends inside its meter is told by its neighbours: where that fails all such bars keep their lengths.
    let full = |bar: &Bar| bar.length() == bar.meter().bar_length();
    let full_alone = |bar: &Bar| if full(bar) { counted(bar) } else { bar.clone() };
    let tries: [&dyn Fn(&Bar) -> Bar; 2] = [&counted, &full_alone];
    let found = tries.into_iter().find_map(|change| as_it_is_read(piece, with_bars(piece, change)?));
    found.unwrap_or_else(|| rhythm::text::write_piece(piece))
}

/// The text of a piece in counts, those of its bars in lengths again that would be read as other notes than `piece` has;
/// `None` where it cannot be read.
fn as_it_is_read(piece: &Piece, mut counted: Piece) -> Option<String> {
    loop {
        let text = rhythm::text::write_piece(&counted);
        let read = rhythm::text::read_piece(&text).piece?;
        let mut others = HashSet::new();
        let parts = piece.parts().iter().zip(counted.parts()).zip(read.parts());
        for (part, ((written, counted), read)) in parts.enumerate() {
            let bars = [&written.rhythm, &counted.rhythm, &read.rhythm].map(Rhythm::bars);
            if bars[0].len() != bars[2].len() {
                return None;
            }
            let other = |&index: &usize| {
                let [written, counted, read] = bars.map(|bars| &bars[index]);
                read != counted && !same_notes(read, written)
            };
            others.extend((0..bars[0].len()).filter(other).map(|index| (part, index)));
        }
        if others.is_empty() {
            return Some(text);
        }
        let mut place = (0, 0);
        let parts = piece.parts().iter().zip(counted.parts()).map(|(written, counted)| {
            let bars = written.rhythm.bars().iter().zip(counted.rhythm.bars());
            let bars = bars.map(|(written, counted)| {
                let bar = if others.contains(&place) { written } else { counted };
                place.1 += 1;
                bar.clone()
            });
            let made = remade(&written.rhythm, bars.collect());
            place = (place.0 + 1, 0);
            Some(Part { rhythm: made?, ..written.clone() })
        });
        let again = Piece::new(parts.collect::<Option<_>>()?).ok()?;
        // A bar in lengths is read as it is; were it not, there would be no end.
        if again == counted {
            return None;
        }
        counted = again;
    }
}

/// Whether two bars are the same on paper: counts name beats that a note goes over, which are no notes of their own.
fn same_notes(a: &Bar, b: &Bar) -> bool {
    let frame = |bar: &Bar| (bar.number(), bar.meter(), bar.start(), bar.end(), bar.dynamics(), bar.rest());
    let marks = |bar: &Bar| {
        let marked = bar.events().iter().filter(|event| event.marks != Marks::NONE);
        marked.map(|event| (event.at, event.marks)).collect::<Vec<_>>()
    };
    frame(a) == frame(b) && a.tempo_mark() == b.tempo_mark() && marks(a) == marks(b) && spell(a) == spell(b)
}

fn with_bars(piece: &Piece, change: &dyn Fn(&Bar) -> Bar) -> Option<Piece> {
    let parts = piece.parts().iter().map(|part| {
        let bars = part.rhythm.bars().iter().map(change).collect();
        Some(Part { rhythm: remade(&part.rhythm, bars)?, ..part.clone() })
    });
    Piece::new(parts.collect::<Option<_>>()?).ok()
}

fn remade(rhythm: &Rhythm, bars: Vec<Bar>) -> Option<Rhythm> {
    let title = rhythm.title().map(str::to_owned);
    let made = Rhythm::new(title, rhythm.written_tempo(), bars, rhythm.repeats().to_vec()).ok()?;
    match rhythm.jump() {
        Some(jump) => made.with_jump(jump).ok(),
        None => Some(made),
    }
}

/// The bar in counts, where every place in it has a word and its author wrote what the program would.
fn bar_in_counts(bar: &Bar) -> Option<Bar> {
    let has_words = bar.events().iter().all(|event| bar.meter().count_word(event.at).is_some());
    let broken = bar.events().iter().any(|event| event.beam_broken);
    if !has_words || broken {
        return None;
    }
    let made = Bar::cut(bar.number(), bar.meter(), Form::Counts, bar.events().to_vec()).ok()?;
    let made = made.with_dynamics(bar.dynamics()).with_tempo(bar.tempo_mark());
    let made = match bar.rest() {
        Some(rest) => made.with_rest(rest).ok()?,
        None => made,
    };
    (spell(bar) == spell(&made)).then_some(made)
}
