//! What all pages have in common.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use paper::{Date, PaperSize, Print};

/// How pages are printed.
#[derive(Clone, Copy, Debug, Args)]
pub(crate) struct PrintFlags {
    /// The paper
    #[arg(long, value_enum, default_value_t = SizeFlag::A4)]
    pub(crate) size: SizeFlag,
    /// Large print: text in 18 points and more, the music larger too
    #[arg(long)]
    pub(crate) large: bool,
}

/// The paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SizeFlag {
    /// 210 × 297 mm
    A4,
    /// 8.5 × 11 inches
    Letter,
}

impl PrintFlags {
    pub(crate) fn print(self) -> Print {
        let print = Print::new(match self.size {
            SizeFlag::A4 => PaperSize::A4,
            SizeFlag::Letter => PaperSize::Letter,
        });
        if self.large { print.large() } else { print }
    }
}

/// Where pages are written, and as what.
#[derive(Debug, Args)]
pub(crate) struct PagesFlags {
    #[command(flatten)]
    pub(crate) print: PrintFlags,
    /// Write SVG, a file a page, for the web; by default as OUT ends
    #[arg(long, conflicts_with = "pdf")]
    pub(crate) svg: bool,
    /// Write PDF; by default as OUT ends
    #[arg(long)]
    pub(crate) pdf: bool,
    /// The file to write: .pdf or .svg
    #[arg(long, short, value_name = "OUT")]
    pub(crate) out: PathBuf,
}

/// As what pages are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum PagesForm {
    Pdf,
    Svg,
}

impl PagesFlags {
    /// As what the pages are written.
    ///
    /// # Errors
    /// A sentence, if neither flag nor the file's ending says it, or they contradict each other.
    pub(crate) fn form(&self) -> Result<PagesForm, String> {
        let ends_in = |ending: &str| {
            self.out.extension().is_some_and(|extension| extension.eq_ignore_ascii_case(ending))
        };
        match (self.pdf || ends_in("pdf"), self.svg || ends_in("svg")) {
            (true, true) => Err(format!(
                "{} is asked for as {}: name the file so, or leave the flag out",
                self.out.display(),
                if self.svg { "SVG with --svg" } else { "PDF with --pdf" }
            )),
            (true, _) => Ok(PagesForm::Pdf),
            (_, true) => Ok(PagesForm::Svg),
            _ => Err(format!(
                "{} ends neither in .pdf nor in .svg: name it so, or add --pdf or --svg",
                self.out.display()
            )),
        }
    }
}

/// `out` with something put behind its name: `week-3.pdf` and `-key` make `week-3-key.pdf`.
pub(crate) fn beside(out: &Path, behind: &str) -> PathBuf {
    let mut name = out.file_stem().unwrap_or_default().to_owned();
    name.push(behind);
    if let Some(extension) = out.extension() {
        name.push(".");
        name.push(extension);
    }
    out.with_file_name(name)
}

/// A day as `2026-09-14`.
pub(crate) fn date(text: &str) -> Result<Date, String> {
    let wrong = || format!("\"{text}\" is no day of the calendar: write it as 2026-09-14");
    let day: jiff::civil::Date = text.parse().map_err(|_| wrong())?;
    let number = |number: i8| u8::try_from(number).map_err(|_| wrong());
    Ok(Date {
        year: u16::try_from(day.year()).map_err(|_| wrong())?,
        month: number(day.month())?,
        day: number(day.day())?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_key_stands_beside_its_sheet() {
        let check = |out: &str, expected: &str| {
            assert_eq!(beside(Path::new(out), "-key"), Path::new(expected));
        };
        check("week-3.pdf", "week-3-key.pdf");
        check("out/week.3.svg", "out/week.3-key.svg");
        check("week", "week-key");
    }

    #[test]
    fn a_day_is_one_of_the_calendar() {
        assert_eq!(date("2026-09-14").map(|date| date.to_string()), Ok("2026-09-14".to_owned()));
        for wrong in ["", "2026-02-30", "14.9.2026", "today", "-002026-09-14"] {
            assert!(date(wrong).expect_err(wrong).contains("2026-09-14"), "{wrong}");
        }
    }
}
