//! `countline import`: rhythm text of a MusicXML file.

use std::fmt::Write as _;
use std::io::Read as _;
use std::path::Path;

use exchange::limits::XML_BYTES;
use exchange::musicxml::{self, Choice, PartContents};
use rhythm::spelling::{House, spell, spell_by_rules};
use rhythm::{Bar, Form, Part, Piece, Rhythm};

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
            std::fs::write(path, text).map_err(|error| Failure::file("write", path, &error))?;
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
    let counted = |part: &Part| -> Option<Part> {
        let rhythm = &part.rhythm;
        let bars = rhythm.bars().iter().map(bar_in_counts).collect();
        let title = rhythm.title().map(str::to_owned);
        let made = Rhythm::new(title, rhythm.written_tempo(), bars, rhythm.repeats().to_vec()).ok()?;
        let rhythm = match rhythm.jump() {
            Some(jump) => made.with_jump(jump).ok()?,
            None => made,
        };
        Some(Part { rhythm, ..part.clone() })
    };
    let parts: Option<Vec<Part>> = piece.parts().iter().map(counted).collect();
    let counted = parts.and_then(|parts| Piece::new(parts).ok());
    let same = counted.filter(|counted| {
        let text = rhythm::text::write_piece(counted);
        rhythm::text::read_piece(&text).piece.as_ref() == Some(counted)
    });
    rhythm::text::write_piece(same.as_ref().unwrap_or(piece))
}

fn bar_in_counts(bar: &Bar) -> Bar {
    let has_words = bar.events().iter().all(|event| bar.meter().count_word(event.at).is_some());
    let as_usual = bar.tuplets().is_empty() && !bar.events().iter().any(|event| event.beam_broken);
    let full = bar.length() == bar.meter().bar_length();
    if !(has_words && as_usual && full && spell(bar) == spell_by_rules(bar, House::default())) {
        return bar.clone();
    }
    let made = Bar::new(bar.number(), bar.meter(), Form::Counts, bar.events().to_vec());
    let dressed = made.map(|made| made.with_dynamics(bar.dynamics()).with_tempo(bar.tempo_mark()));
    let rested = dressed.and_then(|made| match bar.rest() {
        Some(rest) => made.with_rest(rest),
        None => Ok(made),
    });
    rested.unwrap_or_else(|_| bar.clone())
}
