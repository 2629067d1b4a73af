use std::sync::OnceLock;

use kurbo::{Affine, BezPath, Rect, Shape};
use rhythm::spelling::Value;
use rhythm::{Accent, Loudness, Roll};
use skrifa::MetadataProvider;
use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};

use crate::font;

/// One em of a SMuFL font is four staff spaces (SMuFL specification, "Scaling factor").
const SPACES_PER_EM: f64 = 4.0;

macro_rules! glyphs {
    ($($(#[$doc:meta])* $name:ident = $smufl:literal $code:literal,)*) => {
        /// A symbol of the music font, by its place in the open SMuFL standard.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Glyph {
            $($(#[$doc])* $name,)*
        }

        impl Glyph {
            /// Every symbol in use.
            pub const ALL: &[Self] = &[$(Self::$name,)*];

            /// Its character in the music font.
            #[must_use]
            pub const fn character(self) -> char {
                match self { $(Self::$name => $code,)* }
            }

            /// Its canonical SMuFL name.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$name => $smufl,)* }
            }
        }
    };
}

glyphs! {
    /// Whole note.
    NoteWhole = "noteheadWhole" '\u{E0A2}',
    /// Head of a half note.
    NoteHalf = "noteheadHalf" '\u{E0A3}',
    /// Head of a quarter and shorter notes.
    NoteBlack = "noteheadBlack" '\u{E0A4}',
    /// Flag of an eighth.
    FlagEighth = "flag8thUp" '\u{E240}',
    /// Flags of a sixteenth.
    FlagSixteenth = "flag16thUp" '\u{E242}',
    /// Flags of a thirty-second.
    FlagThirtySecond = "flag32ndUp" '\u{E244}',
    /// Flags of a sixty-fourth.
    FlagSixtyFourth = "flag64thUp" '\u{E246}',
    /// Flag of an eighth whose stem goes down.
    FlagEighthDown = "flag8thDown" '\u{E241}',
    /// Flags of a sixteenth whose stem goes down.
    FlagSixteenthDown = "flag16thDown" '\u{E243}',
    /// Flags of a thirty-second whose stem goes down.
    FlagThirtySecondDown = "flag32ndDown" '\u{E245}',
    /// Flags of a sixty-fourth whose stem goes down.
    FlagSixtyFourthDown = "flag64thDown" '\u{E247}',
    /// Whole rest, and the rest of a full bar.
    RestWhole = "restWhole" '\u{E4E3}',
    /// Half rest.
    RestHalf = "restHalf" '\u{E4E4}',
    /// Quarter rest.
    RestQuarter = "restQuarter" '\u{E4E5}',
    /// Eighth rest.
    RestEighth = "rest8th" '\u{E4E6}',
    /// Sixteenth rest.
    RestSixteenth = "rest16th" '\u{E4E7}',
    /// Thirty-second rest.
    RestThirtySecond = "rest32nd" '\u{E4E8}',
    /// Sixty-fourth rest.
    RestSixtyFourth = "rest64th" '\u{E4E9}',
    /// Whole rest away from the staff's line, on a line of its own.
    RestWholeLedger = "restWholeLegerLine" '\u{E4F4}',
    /// Half rest away from the staff's line, on a line of its own.
    RestHalfLedger = "restHalfLegerLine" '\u{E4F5}',
    /// Clef of unpitched percussion.
    Clef = "unpitchedPercussionClef1" '\u{E069}',
    /// Dot behind a note or rest.
    Dot = "augmentationDot" '\u{E1E7}',
    /// Dot of a repeat bar line.
    RepeatDot = "repeatDot" '\u{E044}',
    /// The sign that a jump goes back to.
    Segno = "segno" '\u{E047}',
    /// The sign of a coda, and of where to leave for it.
    Coda = "coda" '\u{E048}',
    /// Digit of a meter.
    Meter0 = "timeSig0" '\u{E080}',
    /// Digit of a meter.
    Meter1 = "timeSig1" '\u{E081}',
    /// Digit of a meter.
    Meter2 = "timeSig2" '\u{E082}',
    /// Digit of a meter.
    Meter3 = "timeSig3" '\u{E083}',
    /// Digit of a meter.
    Meter4 = "timeSig4" '\u{E084}',
    /// Digit of a meter.
    Meter5 = "timeSig5" '\u{E085}',
    /// Digit of a meter.
    Meter6 = "timeSig6" '\u{E086}',
    /// Digit of a meter.
    Meter7 = "timeSig7" '\u{E087}',
    /// Digit of a meter.
    Meter8 = "timeSig8" '\u{E088}',
    /// Digit of a meter.
    Meter9 = "timeSig9" '\u{E089}',
    /// Digit of a tuplet.
    Tuplet0 = "tuplet0" '\u{E880}',
    /// Digit of a tuplet.
    Tuplet1 = "tuplet1" '\u{E881}',
    /// Digit of a tuplet.
    Tuplet2 = "tuplet2" '\u{E882}',
    /// Digit of a tuplet.
    Tuplet3 = "tuplet3" '\u{E883}',
    /// Digit of a tuplet.
    Tuplet4 = "tuplet4" '\u{E884}',
    /// Digit of a tuplet.
    Tuplet5 = "tuplet5" '\u{E885}',
    /// Digit of a tuplet.
    Tuplet6 = "tuplet6" '\u{E886}',
    /// Digit of a tuplet.
    Tuplet7 = "tuplet7" '\u{E887}',
    /// Digit of a tuplet.
    Tuplet8 = "tuplet8" '\u{E888}',
    /// Digit of a tuplet.
    Tuplet9 = "tuplet9" '\u{E889}',
    /// Between the two numbers of a tuplet's ratio.
    TupletColon = "tupletColon" '\u{E88A}',
    /// One slash of a measured roll through a stem.
    Tremolo1 = "tremolo1" '\u{E220}',
    /// Two slashes.
    Tremolo2 = "tremolo2" '\u{E221}',
    /// Three slashes.
    Tremolo3 = "tremolo3" '\u{E222}',
    /// Four slashes.
    Tremolo4 = "tremolo4" '\u{E223}',
    /// The z of a roll that is not measured.
    BuzzRoll = "buzzRoll" '\u{E22A}',
    /// A single grace note with a slash through its stem.
    GraceFlam = "graceNoteAcciaccaturaStemUp" '\u{E560}',
    /// The same with its stem down.
    GraceFlamDown = "graceNoteAcciaccaturaStemDown" '\u{E561}',
    /// An accent over a note.
    Accent = "articAccentAbove" '\u{E4A0}',
    /// A strong accent over a note.
    StrongAccent = "articMarcatoAbove" '\u{E4AC}',
    /// A strong accent under a note.
    StrongAccentBelow = "articMarcatoBelow" '\u{E4AD}',
    /// A fermata over a note or rest.
    Fermata = "fermataAbove" '\u{E4C0}',
    /// A fermata under a note or rest.
    FermataBelow = "fermataBelow" '\u{E4C1}',
    /// As soft as possible.
    Ppp = "dynamicPPP" '\u{E52A}',
    /// Very soft.
    Pp = "dynamicPP" '\u{E52B}',
    /// Soft.
    P = "dynamicPiano" '\u{E520}',
    /// Moderately soft.
    Mp = "dynamicMP" '\u{E52C}',
    /// Moderately loud.
    Mf = "dynamicMF" '\u{E52D}',
    /// Loud.
    F = "dynamicForte" '\u{E522}',
    /// Very loud.
    Ff = "dynamicFF" '\u{E52F}',
    /// As loud as possible.
    Fff = "dynamicFFF" '\u{E530}',
    /// The upper end of a bracket that joins parts.
    BracketTop = "bracketTop" '\u{E003}',
    /// The lower end of a bracket that joins parts.
    BracketBottom = "bracketBottom" '\u{E004}',
    /// Whole note of a tempo mark.
    TempoWhole = "metNoteWhole" '\u{ECA2}',
    /// Half note of a tempo mark.
    TempoHalf = "metNoteHalfUp" '\u{ECA3}',
    /// Quarter note of a tempo mark.
    TempoQuarter = "metNoteQuarterUp" '\u{ECA5}',
    /// Eighth note of a tempo mark.
    TempoEighth = "metNote8thUp" '\u{ECA7}',
    /// Sixteenth note of a tempo mark.
    TempoSixteenth = "metNote16thUp" '\u{ECA9}',
    /// Dot of a tempo mark.
    TempoDot = "metAugmentationDot" '\u{ECB7}',
}

/// Shape and size of a glyph, in staff spaces, y downwards.
struct Shaped {
    outline: BezPath,
    bounds: Rect,
    advance: f64,
}

impl Glyph {
    /// Its outline in staff spaces around its origin, y downwards.
    #[must_use]
    pub fn outline(self) -> &'static BezPath {
        &self.shaped().outline
    }

    /// The box around its outline, in staff spaces around its origin, y downwards.
    #[must_use]
    pub fn bounds(self) -> Rect {
        self.shaped().bounds
    }

    /// How far the next symbol stands from its origin, in staff spaces.
    #[must_use]
    pub fn advance(self) -> f64 {
        self.shaped().advance
    }

    /// The head of a note.
    #[must_use]
    pub fn head(value: Value) -> Self {
        match value {
            Value::Whole => Self::NoteWhole,
            Value::Half => Self::NoteHalf,
            _ => Self::NoteBlack,
        }
    }

    /// A rest.
    #[must_use]
    pub fn rest(value: Value) -> Self {
        match value {
            Value::Whole => Self::RestWhole,
            Value::Half => Self::RestHalf,
            Value::Quarter => Self::RestQuarter,
            Value::Eighth => Self::RestEighth,
            Value::Sixteenth => Self::RestSixteenth,
            Value::ThirtySecond => Self::RestThirtySecond,
            Value::SixtyFourth => Self::RestSixtyFourth,
        }
    }

    /// The flags of a single note, or `None` if it has none.
    #[must_use]
    pub fn flag(value: Value) -> Option<Self> {
        match value {
            Value::Whole | Value::Half | Value::Quarter => None,
            Value::Eighth => Some(Self::FlagEighth),
            Value::Sixteenth => Some(Self::FlagSixteenth),
            Value::ThirtySecond => Some(Self::FlagThirtySecond),
            Value::SixtyFourth => Some(Self::FlagSixtyFourth),
        }
    }

    /// A rest of one of two voices, which stands away from the staff's line.
    #[must_use]
    pub fn rest_apart(value: Value) -> Self {
        match value {
            Value::Whole => Self::RestWholeLedger,
            Value::Half => Self::RestHalfLedger,
            _ => Self::rest(value),
        }
    }

    /// The symbol that stands for this one under a voice whose stems go down; most are their own.
    #[must_use]
    pub fn below(self) -> Self {
        match self {
            Self::FlagEighth => Self::FlagEighthDown,
            Self::FlagSixteenth => Self::FlagSixteenthDown,
            Self::FlagThirtySecond => Self::FlagThirtySecondDown,
            Self::FlagSixtyFourth => Self::FlagSixtyFourthDown,
            Self::GraceFlam => Self::GraceFlamDown,
            Self::StrongAccent => Self::StrongAccentBelow,
            Self::Fermata => Self::FermataBelow,
            other => other,
        }
    }

    /// The sign of a roll: slashes through the stem, or a z on it. More than four slashes are four.
    #[must_use]
    pub fn roll(roll: Roll) -> Self {
        match roll {
            Roll::Measured(0 | 1) => Self::Tremolo1,
            Roll::Measured(2) => Self::Tremolo2,
            Roll::Measured(3) => Self::Tremolo3,
            Roll::Measured(_) => Self::Tremolo4,
            Roll::Unmeasured => Self::BuzzRoll,
        }
    }

    /// The sign of an accent.
    #[must_use]
    pub fn accent(accent: Accent) -> Self {
        match accent {
            Accent::Accent => Self::Accent,
            Accent::Strong => Self::StrongAccent,
        }
    }

    /// The letters of a loudness.
    #[must_use]
    pub fn loudness(loudness: Loudness) -> Self {
        match loudness {
            Loudness::Ppp => Self::Ppp,
            Loudness::Pp => Self::Pp,
            Loudness::P => Self::P,
            Loudness::Mp => Self::Mp,
            Loudness::Mf => Self::Mf,
            Loudness::F => Self::F,
            Loudness::Ff => Self::Ff,
            Loudness::Fff => Self::Fff,
        }
    }

    /// The digits of a number over or under the middle of a meter.
    #[must_use]
    pub fn meter_digits(number: u32) -> Vec<Self> {
        const DIGITS: [Glyph; 10] = [
            Glyph::Meter0,
            Glyph::Meter1,
            Glyph::Meter2,
            Glyph::Meter3,
            Glyph::Meter4,
            Glyph::Meter5,
            Glyph::Meter6,
            Glyph::Meter7,
            Glyph::Meter8,
            Glyph::Meter9,
        ];
        digits(number).map(|digit| DIGITS[digit]).collect()
    }

    /// The digits of a tuplet's number.
    #[must_use]
    pub fn tuplet_digits(number: u32) -> Vec<Self> {
        const DIGITS: [Glyph; 10] = [
            Glyph::Tuplet0,
            Glyph::Tuplet1,
            Glyph::Tuplet2,
            Glyph::Tuplet3,
            Glyph::Tuplet4,
            Glyph::Tuplet5,
            Glyph::Tuplet6,
            Glyph::Tuplet7,
            Glyph::Tuplet8,
            Glyph::Tuplet9,
        ];
        digits(number).map(|digit| DIGITS[digit]).collect()
    }

    fn shaped(self) -> &'static Shaped {
        static TABLE: OnceLock<Vec<Shaped>> = OnceLock::new();
        let table = TABLE.get_or_init(|| Self::ALL.iter().map(|glyph| shape(*glyph)).collect());
        &table[self as usize]
    }
}

/// The decimal digits from the left.
fn digits(number: u32) -> impl Iterator<Item = usize> {
    number.to_string().into_bytes().into_iter().map(|byte| usize::from(byte - b'0'))
}

fn shape(glyph: Glyph) -> Shaped {
    let font = font::font(font::MUSIC);
    let (size, location) = (Size::unscaled(), LocationRef::default());
    let id = font
        .charmap()
        .map(glyph.character())
        .expect("every symbol in use is in the font: a test draws them all");
    let mut pen = Pen(BezPath::new());
    let settings = DrawSettings::unhinted(size, location);
    if let Some(outline) = font.outline_glyphs().get(id) {
        outline.draw(settings, &mut pen).expect("every symbol in use has an outline: a test draws them all");
    }
    let mut outline = pen.0;
    let unit = SPACES_PER_EM / font::units_per_em(&font);
    outline.apply_affine(Affine::scale_non_uniform(unit, -unit));
    let metrics = font.glyph_metrics(size, location);
    let advance = metrics.advance_width(id).map_or(0.0, f64::from) * unit;
    Shaped { bounds: outline.bounding_box(), outline, advance }
}

struct Pen(BezPath);

impl OutlinePen for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.0.move_to((f64::from(x), f64::from(y)));
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.0.line_to((f64::from(x), f64::from(y)));
    }

    fn quad_to(&mut self, cx0: f32, cy0: f32, x: f32, y: f32) {
        self.0.quad_to((f64::from(cx0), f64::from(cy0)), (f64::from(x), f64::from(y)));
    }

    fn curve_to(&mut self, cx0: f32, cy0: f32, cx1: f32, cy1: f32, x: f32, y: f32) {
        self.0.curve_to(
            (f64::from(cx0), f64::from(cy0)),
            (f64::from(cx1), f64::from(cy1)),
            (f64::from(x), f64::from(y)),
        );
    }

    fn close(&mut self) {
        self.0.close_path();
    }
}

#[cfg(test)]
mod tests;
