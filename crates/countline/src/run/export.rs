//! `countline export`: a rhythm as a MusicXML file.

use exchange::musicxml;

use crate::failure::Failure;
use crate::flags::ExportFlags;
use crate::{output, rhythm_file};

pub(crate) fn run(flags: &ExportFlags) -> Result<(), Failure> {
    let ending = flags.out.extension().and_then(|ending| ending.to_str()).map(str::to_lowercase);
    let packed = match ending.as_deref() {
        Some("mxl") => true,
        Some("musicxml" | "xml") => false,
        _ => {
            return Err(Failure::Call(format!(
                "{} ends as no MusicXML file does: use .musicxml or .xml, or .mxl for a packed one",
                flags.out.display()
            )));
        }
    };
    let piece = rhythm_file::read_piece(&flags.file)?;
    let fault = |error| Failure::Job(format!("{}: {error}", flags.file.display()));
    let bytes = if packed {
        musicxml::write_mxl(&piece).map_err(fault)?
    } else {
        musicxml::write(&piece).map_err(fault)?.into_bytes()
    };
    take::write_beside(&flags.out, &bytes).map_err(Failure::job)?;
    output::note(&format!("Wrote {}", flags.out.display()));
    Ok(())
}
