//! `countline format`: rhythm texts in their canonical form.

use std::path::Path;

use take::write_beside;

use crate::failure::Failure;
use crate::flags::FormatFlags;
use crate::{output, rhythm_file};

pub(crate) fn run(flags: &FormatFlags) -> Result<(), Failure> {
    let mut others = Vec::new();
    for file in &flags.files {
        let text = rhythm_file::text(file)?;
        let formatted = rhythm::text::format(&text);
        rhythm_file::tell(&formatted.diagnostics, &text, file);
        let formatted = formatted.text.ok_or(Failure::Told)?;
        if flags.check {
            if formatted != text {
                others.push(file.display().to_string());
            }
        } else if file == Path::new("-") {
            output::print(&formatted)?;
        } else if formatted != text {
            write_beside(file, formatted.as_bytes()).map_err(Failure::job)?;
            output::note(&format!("{} rewritten", file.display()));
        }
    }
    if others.is_empty() {
        return Ok(());
    }
    Err(Failure::Job(format!(
        "not in canonical form: {}. Rewrite with `countline format`",
        others.join(", ")
    )))
}
