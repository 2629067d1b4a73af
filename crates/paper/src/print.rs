use engrave::PrintSize;

use crate::Error;
use crate::limits::SPACE_PT_LEAST;

/// Points in a millimetre.
const PT_PER_MM: f64 = 72.0 / 25.4;

/// The sheet of paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum PaperSize {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 × 11 inches.
    Letter,
}

impl PaperSize {
    /// Width and height in points.
    #[must_use]
    pub fn points(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0 * PT_PER_MM, 297.0 * PT_PER_MM),
            Self::Letter => (612.0, 792.0),
        }
    }
}

/// How pages are printed: on what, and how large.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Print {
    size: PaperSize,
    space_pt: f64,
    print_size: PrintSize,
    /// How much larger text is set beside the staff space than in the usual print.
    text: f64,
}

impl Default for Print {
    /// A4 in the usual size.
    fn default() -> Self {
        Self::new(PaperSize::A4)
    }
}

impl Print {
    /// One staff space in points: five lines would be 7 mm high, as in most printed methods (common practice, no source).
    const SPACE_PT: f64 = 5.0;
    /// The same in large print, where all text is larger beside the notes too: counts are then set in 22 points, text in
    /// 18, which is where large print begins (common practice, no source), and no sign of the music in less than 13.
    const LARGE_SPACE_PT: f64 = 8.0;
    /// How much larger text is set in large print, beside the larger staff space.
    const LARGE_TEXT: f64 = 1.15;
    /// From count to count where they are written by hand, in millimetres: `1 e & a` as children write it, a letter of
    /// 4 mm and a gap; in large print a letter of 6 mm (common practice, no source).
    const WRITING_MM: f64 = 5.5;
    /// The same in large print.
    const LARGE_WRITING_MM: f64 = 7.5;
    /// What is kept free at every edge, in points: 14 mm, more than any printer needs.
    const EDGE_PT: f64 = 40.0;

    /// Pages of this size in the usual print.
    #[must_use]
    pub const fn new(size: PaperSize) -> Self {
        Self { size, space_pt: Self::SPACE_PT, print_size: PrintSize::Usual, text: 1.0 }
    }

    /// The same in large print.
    #[must_use]
    pub const fn large(self) -> Self {
        Self { space_pt: Self::LARGE_SPACE_PT, print_size: PrintSize::Large, text: Self::LARGE_TEXT, ..self }
    }

    /// The same printed smaller by a tenth, or `None` where it would be too small to read.
    #[must_use]
    pub fn smaller(self) -> Option<Self> {
        let space_pt = self.space_pt * 0.9;
        (space_pt >= SPACE_PT_LEAST).then_some(Self { space_pt, ..self })
    }

    /// The sheet of paper.
    #[must_use]
    pub const fn size(self) -> PaperSize {
        self.size
    }

    /// A staff space in points.
    #[must_use]
    pub const fn space_pt(self) -> f64 {
        self.space_pt
    }

    /// How large the text of the music is beside its notes.
    #[must_use]
    pub const fn print_size(self) -> PrintSize {
        self.print_size
    }

    /// An em of text that is set so large in the usual print.
    pub(crate) fn em(self, usual: f64) -> f64 {
        usual * self.text
    }

    /// From count to count where they are written by hand, in staff spaces.
    pub(crate) fn writing_step(self) -> f64 {
        let mm = match self.print_size {
            PrintSize::Usual => Self::WRITING_MM,
            PrintSize::Large => Self::LARGE_WRITING_MM,
        };
        mm * PT_PER_MM / self.space_pt
    }

    /// The whole page in staff spaces: its width and height.
    pub(crate) fn page(self) -> (f64, f64) {
        let (width, height) = self.size.points();
        (width / self.space_pt, height / self.space_pt)
    }

    /// What is kept free at every edge, in staff spaces.
    pub(crate) fn edge(self) -> f64 {
        Self::EDGE_PT / self.space_pt
    }

    /// The width between the edges, in staff spaces.
    pub(crate) fn measure(self) -> f64 {
        self.page().0 - 2.0 * self.edge()
    }

    /// `too_high` tried at ever smaller prints until it fits.
    pub(crate) fn fitting<T>(self, mut page: impl FnMut(Self) -> Result<T, Error>) -> Result<T, Error> {
        let mut print = self;
        loop {
            match page(print) {
                Err(too_high @ Error::TooHigh { .. }) => print = print.smaller().ok_or(too_high)?,
                done => return done,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_is_as_large_as_its_paper() {
        let check = |size: PaperSize, width_mm: f64, height_mm: f64| {
            for print in [Print::new(size), Print::new(size).large()] {
                let mm = |spaces: f64| spaces * print.space_pt() * 25.4 / 72.0;
                let (width, height) = print.page();
                assert!((mm(width) - width_mm).abs() < 0.01 && (mm(height) - height_mm).abs() < 0.01);
            }
        };
        check(PaperSize::A4, 210.0, 297.0);
        check(PaperSize::Letter, 215.9, 279.4);
    }

    #[test]
    fn print_grows_no_smaller_than_can_be_read() {
        let mut print = Print::default();
        while let Some(smaller) = print.smaller() {
            assert!(smaller.space_pt() < print.space_pt());
            print = smaller;
        }
        assert!(print.space_pt() < 2.3);
        let never: Result<(), Error> =
            Print::default().fitting(|_| Err(Error::TooHigh { what: "a tower".to_owned() }));
        assert!(never.expect_err("too high").to_string().contains("a tower"));
    }
}
