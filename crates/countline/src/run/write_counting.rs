//! `countline write --from-counting`: a rhythm made of its counting.

use std::path::Path;

use rhythm::{Meter, Rhythm};
use take::write_beside;

use crate::failure::Failure;
use crate::flags::WriteFlags;
use crate::{counting_file, output, rhythm_file};

/// Reads the counting at `path` (`-` is standard input) and writes its rhythm text to a file, or prints it.
pub(super) fn run(path: &Path, flags: &WriteFlags) -> Result<(), Failure> {
    let system = counting_file::chosen(&flags.counting)?;
    let meter = flags.meter.as_deref().map_or(Ok(Meter::COMMON), super::write::meter)?;
    let text = rhythm_file::text(path)?;
    let rhythm = counting::read_rhythm(&system, meter, &text).map_err(|errors| {
        rhythm_file::tell(&errors, &text, path);
        Failure::Told
    })?;
    let rhythm =
        Rhythm::new(flags.title.clone(), None, rhythm.bars().to_vec(), Vec::new()).map_err(Failure::job)?;
    let written = rhythm::text::write(&rhythm);
    match &flags.out {
        Some(out) => write_beside(out, written.as_bytes()).map_err(Failure::job),
        None => output::print(&written),
    }
}
