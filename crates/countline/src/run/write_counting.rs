//! `countline write --from-counting`: a rhythm made of its counting.

use std::path::Path;

use rhythm::{Meter, Rhythm};
use take::write_beside;

use crate::failure::Failure;
use crate::flags::CountingFlags;
use crate::{counting_file, output, rhythm_file};

/// Reads the counting at `path` (`-` is standard input) and writes its rhythm text to `out`, or prints it.
pub(crate) fn run(
    path: &Path,
    counting: &CountingFlags,
    meter: Option<&str>,
    title: Option<&str>,
    out: Option<&Path>,
) -> Result<(), Failure> {
    let system = counting_file::chosen(counting)?;
    let meter = meter.map_or(Ok(Meter::COMMON), self::meter)?;
    let text = rhythm_file::text(path)?;
    let rhythm = counting::read_rhythm(&system, meter, &text).map_err(|errors| {
        rhythm_file::tell(&errors, &text, path);
        Failure::Told
    })?;
    let title = title.map(str::to_owned);
    let rhythm = Rhythm::new(title, None, rhythm.bars().to_vec(), Vec::new()).map_err(Failure::job)?;
    let written = rhythm::text::write(&rhythm);
    match out {
        Some(out) => write_beside(out, written.as_bytes()).map_err(Failure::job),
        None => output::print(&written),
    }
}

/// A meter as it is written in rhythm text.
fn meter(text: &str) -> Result<Meter, Failure> {
    let reading = rhythm::text::read(&format!("meter: {text}\n| (1) |"));
    match reading.rhythm.filter(|_| !text.contains(['\n', '#'])) {
        Some(rhythm) => Ok(rhythm.bars()[0].meter()),
        None => {
            let why = reading.diagnostics.first().map_or_else(
                || "a meter is written 4/4, 6/8, `6/8 in 6`".to_owned(),
                |diagnostic| format!("{}; {}", diagnostic.message, diagnostic.help),
            );
            Err(Failure::Call(format!("\"{text}\" is not a meter: {why}")))
        }
    }
}
