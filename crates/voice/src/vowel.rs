use timebase::{SampleRate, Seconds};

use crate::centre::Envelope;
use crate::filter::Order;
use crate::nuclei::Nuclei;

/// Where in a recording the vowel lies that is heard on the beat; times from the recording's beginning.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Vowel {
    /// Its beginning.
    pub begin: Seconds,
    /// Its end.
    pub end: Seconds,
    /// Where its syllable begins: later than 0 if another syllable stands before it.
    pub syllable: Seconds,
}

/// Which of a word's vowels is heard on the beat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stress {
    /// Its number, from 0: in "eleven" it is 1.
    pub number: usize,
    /// How many vowels the word has; `None` if nobody knows.
    pub of: Option<usize>,
}

impl Stress {
    /// The only vowel of a syllable.
    pub const ONLY: Self = Self { number: 0, of: Some(1) };
}

/// How loud a vowel is at its edges, as a share of its top.
const EDGE: f64 = 0.4;
/// The same for what has no vowel.
const EDGE_WITHOUT_VOWEL: f64 = 0.5;
/// A recording whose vowels would be softer than this, of all it has between 300 and 3000 Hz, has none: "sh".
const VOWEL_LEAST: f64 = 0.15;

impl Vowel {
    /// Looks for the vowel in a recording of one syllable. `None` if there is no sound.
    #[must_use]
    pub fn find(frames: &[f32], rate: SampleRate) -> Option<Self> {
        Self::find_stressed(frames, rate, Stress::ONLY)
    }

    /// Looks for the vowel that is heard on the beat among those of a word. `None` if there is no sound.
    ///
    /// A vowel is loud between 200 and 1200 Hz and between 700 and 3400 Hz at once, where a voiced stop and the murmur
    /// of an m or n have only the first and a hiss only the second, and less loud above 3500 Hz, where a hiss is loudest.
    /// If the word's number of vowels is known, so many of its loudest tops are vowels, the least that stand out above
    /// the dips beside them left away first; else those that stand out by a quarter of the loudest. Where fewer are found
    /// than there should be, because two run into one, and not the first is stressed, the loudest is taken. What has no
    /// vowel at all, "sh", is taken where it is loudest.
    #[must_use]
    pub fn find_stressed(frames: &[f32], rate: SampleRate, stress: Stress) -> Option<Self> {
        let wide = Envelope::of(frames, rate, WIDE, (Order::Second, 20.0));
        let (loudest, most) = loudest(wide.values())?;
        let span = Span { length: Seconds::from_secs_f64(frames.len() as f64 / f64::from(rate.hz())) };
        let vocal = vocal(frames, rate);
        let (top, vocal_most) = self::loudest(&vocal).unwrap_or((loudest, 0.0));
        if vocal_most < VOWEL_LEAST * most {
            let all = (0, wide.values().len());
            return Some(span.about(&wide, wide.values(), loudest, all, EDGE_WITHOUT_VOWEL));
        }
        let nuclei = Nuclei::of(&vocal, stress.of);
        let few = stress.number > 0 && stress.of.is_some_and(|count| nuclei.count() < count);
        let number = if few { None } else { nuclei.around(stress.number) };
        let (top, within) = number.unwrap_or((top, (0, vocal.len())));
        Some(span.about(&wide, &vocal, top, within, EDGE))
    }

    /// Where it would lie by a plainer search: among the loud moments between 300 and 3000 Hz, whatever sounds there, and
    /// without knowing how many vowels there are. The two agree on most syllables; where they do not, the centre is worth a
    /// listener's check.
    pub(crate) fn find_plainly(frames: &[f32], rate: SampleRate, number: usize) -> Option<Self> {
        let wide = Envelope::of(frames, rate, WIDE, (Order::Second, 20.0));
        let all = (loudest(wide.values())?.0, (0, wide.values().len()));
        let (top, within) = Nuclei::of(wide.values(), None).around(number).unwrap_or(all);
        let span = Span { length: Seconds::from_secs_f64(frames.len() as f64 / f64::from(rate.hz())) };
        Some(span.about(&wide, wide.values(), top, within, EDGE_WITHOUT_VOWEL))
    }
}

/// Where speech is loud, consonants and vowels alike.
const WIDE: (Order, f64, f64) = (Order::First, 300.0, 3_000.0);
/// Where a vowel's first resonance lies,
const LOW: (Order, f64, f64) = (Order::Second, 200.0, 1_200.0);
/// and its others.
const MIDDLE: (Order, f64, f64) = (Order::Second, 700.0, 3_400.0);
/// Where a hiss is loudest.
const HISS_FROM_HZ: f64 = 3_500.0;
const HISS_TO_HZ: f64 = 14_000.0;
/// Slow enough that the periods of a voice run into one.
const SMOOTH: (Order, f64) = (Order::Second, 25.0);

/// How much of a vowel there is over time, at the places of every envelope of these frames.
fn vocal(frames: &[f32], rate: SampleRate) -> Vec<f64> {
    let low = Envelope::of(frames, rate, LOW, SMOOTH);
    let middle = Envelope::of(frames, rate, MIDDLE, SMOOTH);
    // A recording of a telephone's rate has nothing so high.
    let to_hz = HISS_TO_HZ.min(0.45 * f64::from(rate.hz()));
    let hiss = (to_hz > 1.1 * HISS_FROM_HZ)
        .then(|| Envelope::of(frames, rate, (Order::Second, HISS_FROM_HZ, to_hz), SMOOTH));
    let hiss = |place: usize| hiss.as_ref().map_or(0.0, |hiss| hiss.values()[place]);
    let both = low.values().iter().zip(middle.values()).map(|(low, middle)| (low * middle).sqrt());
    both.enumerate().map(|(place, both)| (both - hiss(place)).max(0.0)).collect()
}

/// The loudest place and its value; `None` in silence.
fn loudest(values: &[f64]) -> Option<(usize, f64)> {
    let top = (0..values.len()).max_by(|&a, &b| values[a].total_cmp(&values[b]))?;
    (values[top] / 2.0 > f64::EPSILON).then_some((top, values[top]))
}

/// A recording, from nothing to its length.
struct Span {
    length: Seconds,
}

impl Span {
    /// The stretch about a top, between two places, that is at least as loud as this share of it; its syllable begins at
    /// the first.
    fn about(
        &self,
        times: &Envelope,
        values: &[f64],
        top: usize,
        (from, to): (usize, usize),
        edge: f64,
    ) -> Vowel {
        let least = edge * values[top];
        let begin =
            values[from..top].iter().rposition(|&value| value < least).map_or(from, |last| from + last + 1);
        let end = values[top..to].iter().position(|&value| value < least).map_or(to, |first| top + first);
        let within = |place: usize| times.time(place).clamp(Seconds::ZERO, self.length);
        let syllable = if from == 0 { Seconds::ZERO } else { within(from) };
        Vowel { begin: within(begin), end: within(end), syllable }
    }
}
