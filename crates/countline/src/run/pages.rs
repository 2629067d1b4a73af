//! Pages written to files.

use std::path::Path;

use paper::Document;
use take::write_beside;

use crate::failure::Failure;
use crate::flags::paper::{PagesForm, beside};
use crate::output;

/// Writes a document to `out`: as PDF, or as SVG with a file a page where it has several.
pub(super) fn write(document: &Document, form: PagesForm, out: &Path) -> Result<(), Failure> {
    let pages = document.pages.len();
    match form {
        PagesForm::Pdf => {
            let bytes = paper::pdf(document).map_err(Failure::job)?;
            write_beside(out, &bytes).map_err(Failure::job)?;
            let count = if pages == 1 { "1 page".to_owned() } else { format!("{pages} pages") };
            output::print(&format!("wrote {} ({count})\n", out.display()))
        }
        PagesForm::Svg => {
            for (number, page) in (1..).zip(paper::svg(document)) {
                let out = if pages == 1 { out.to_owned() } else { beside(out, &format!("-{number}")) };
                write_beside(&out, page.as_bytes()).map_err(Failure::job)?;
                output::print(&format!("wrote {}\n", out.display()))?;
            }
            Ok(())
        }
    }
}
