use crate::Ink;

/// A colour of the screen: red, green, blue.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Colour {
    /// Red.
    pub red: u8,
    /// Green.
    pub green: u8,
    /// Blue.
    pub blue: u8,
}

impl Colour {
    const fn new(red: u8, green: u8, blue: u8) -> Self {
        Self { red, green, blue }
    }

    /// Relative luminance, 0 to 1, as WCAG 2.x defines it for sRGB.
    #[must_use]
    pub fn luminance(self) -> f64 {
        let linear = |channel: u8| {
            let value = f64::from(channel) / 255.0;
            if value <= 0.03928 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(self.red) + 0.7152 * linear(self.green) + 0.0722 * linear(self.blue)
    }

    /// The contrast ratio of WCAG 2.x, from 1 to 21, whichever of the two is the lighter.
    #[must_use]
    pub fn contrast(self, other: Self) -> f64 {
        let (a, b) = (self.luminance() + 0.05, other.luminance() + 0.05);
        a.max(b) / a.min(b)
    }
}

/// `#rrggbb`.
impl std::fmt::Display for Colour {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.red, self.green, self.blue)
    }
}

/// Which ink has which colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Theme {
    /// Of [`Ink::Main`].
    pub main: Colour,
    /// Of [`Ink::Soft`].
    pub soft: Colour,
    /// Of [`Ink::Faint`].
    pub faint: Colour,
    /// Of [`Ink::Column`].
    pub column: Colour,
    /// Of [`Ink::Early`].
    pub early: Colour,
    /// Of [`Ink::Late`].
    pub late: Colour,
    /// Of [`Ink::Extra`].
    pub extra: Colour,
    /// Of [`Ink::Spread`].
    pub spread: Colour,
    /// Of [`Ink::Paper`] and the page.
    pub paper: Colour,
}

impl Theme {
    /// Warm white paper and near-black ink. Early, late and extra are blue, vermilion and reddish purple of
    /// the set that Okabe and Ito chose to be told apart by colour-blind readers ("Color Universal
    /// Design", 2008); place and shape say the same without them.
    pub const WARM_WHITE: Self = Self {
        main: Colour::new(0x1a, 0x1a, 0x18),
        soft: Colour::new(0x66, 0x65, 0x60),
        faint: Colour::new(0xd5, 0xd2, 0xc8),
        column: Colour::new(0xee, 0xe8, 0xd6),
        early: Colour::new(0x00, 0x72, 0xb2),
        late: Colour::new(0xd5, 0x5e, 0x00),
        extra: Colour::new(0xcc, 0x79, 0xa7),
        spread: Colour::new(0x8c, 0x89, 0x7f),
        paper: Colour::new(0xfe, 0xfd, 0xfa),
    };

    /// The colour of an ink.
    #[must_use]
    pub const fn colour(&self, ink: Ink) -> Colour {
        match ink {
            Ink::Main => self.main,
            Ink::Soft => self.soft,
            Ink::Faint => self.faint,
            Ink::Column => self.column,
            Ink::Early => self.early,
            Ink::Late => self.late,
            Ink::Extra => self.extra,
            Ink::Spread => self.spread,
            Ink::Paper => self.paper,
        }
    }
}

impl Default for Theme {
    fn default() -> Self {
        Self::WARM_WHITE
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// WCAG 2.x: 4.5 for text (1.4.3), 3 for marks that carry meaning (1.4.11).
    #[test]
    fn what_carries_meaning_stands_out_from_the_paper() {
        let theme = Theme::default();
        let check = |ink: Ink, least: f64| {
            let contrast = theme.colour(ink).contrast(theme.paper);
            assert!(contrast >= least, "{ink:?} has a contrast of {contrast:.2}, less than {least}");
        };
        check(Ink::Main, 7.0);
        check(Ink::Soft, 4.5);
        check(Ink::Early, 3.0);
        check(Ink::Late, 3.0);
        check(Ink::Extra, 3.0);
        check(Ink::Spread, 3.0);
        assert!(theme.main.contrast(theme.column) > 7.0, "notes stay readable under the playhead");
        assert!(theme.soft.contrast(theme.column) > 4.5, "and so do the counts of rests");
    }
}
