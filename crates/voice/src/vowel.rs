use timebase::{SampleRate, Seconds};

use crate::centre::Envelope;
use crate::filter::Order;

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

/// What counts as a vowel of its own: at least so much of the loudest one,
const HEARD: f64 = 0.35;
/// and parted from its neighbour by a dip below so much of the softer of the two.
const DIP: f64 = 0.75;

impl Vowel {
    /// Looks for the vowel in a recording of one syllable: the stretch about its loudest moment, between 300
    /// and 3000 Hz, that is at least half as loud. `None` if there is no sound.
    ///
    /// In a word of several syllables this is the loudest vowel, which need not be the stressed one; see
    /// [`Vowel::find_stressed`].
    #[must_use]
    pub fn find(frames: &[f32], rate: SampleRate) -> Option<Self> {
        let loudness = Loudness::of(frames, rate);
        let top = loudness.loudest()?;
        Some(loudness.vowel_about(top, 0, loudness.values().len()))
    }

    /// Looks for the vowel of this number, from 0, among those of a word: in "eleven" the one of number 1 is heard on
    /// the beat. Where fewer are found, because two run into one, the loudest is taken. `None` if there is no sound.
    #[must_use]
    pub fn find_stressed(frames: &[f32], rate: SampleRate, number: usize) -> Option<Self> {
        let loudness = Loudness::of(frames, rate);
        let loudest = loudness.loudest()?;
        let (tops, dips) = loudness.vowels(loudest);
        let Some(&top) = tops.get(number) else {
            return Some(loudness.vowel_about(loudest, 0, loudness.values().len()));
        };
        // The dips lie between the vowels: the one of the same number follows its vowel.
        let from = number.checked_sub(1).map_or(0, |before| dips[before]);
        let to = dips.get(number).copied().unwrap_or(loudness.values().len());
        Some(loudness.vowel_about(top, from, to))
    }
}

/// How loud a recording is over time where vowels are, 300 to 3000 Hz, smoothed at 20 Hz.
struct Loudness {
    envelope: Envelope,
    length: Seconds,
}

impl Loudness {
    fn of(frames: &[f32], rate: SampleRate) -> Self {
        let envelope = Envelope::of(frames, rate, (Order::First, 300.0, 3_000.0), (Order::Second, 20.0));
        let length = Seconds::from_secs_f64(frames.len() as f64 / f64::from(rate.hz()));
        Self { envelope, length }
    }

    fn values(&self) -> &[f64] {
        self.envelope.values()
    }

    /// The loudest place; `None` in silence.
    fn loudest(&self) -> Option<usize> {
        let values = self.values();
        let top = (0..values.len()).max_by(|&a, &b| values[a].total_cmp(&values[b]))?;
        (values[top] / 2.0 > f64::EPSILON).then_some(top)
    }

    /// The top of each vowel, in order, and the deepest place between each and the next.
    fn vowels(&self, loudest: usize) -> (Vec<usize>, Vec<usize>) {
        let values = self.values();
        let least = HEARD * values[loudest];
        let (mut tops, mut dips) = (Vec::<usize>::new(), Vec::<usize>::new());
        let mut lowest = 0;
        for place in 1..values.len().saturating_sub(1) {
            if values[place] < values[lowest] {
                lowest = place;
            }
            let is_top = values[place] > values[place - 1] && values[place] >= values[place + 1];
            if !is_top || values[place] < least {
                continue;
            }
            match tops.last_mut() {
                // Not parted from the one before: the louder of the two is the top of one vowel.
                Some(last) if values[lowest] > DIP * values[*last].min(values[place]) => {
                    if values[place] > values[*last] {
                        *last = place;
                        lowest = place;
                    }
                    continue;
                }
                Some(_) => dips.push(lowest),
                None => {}
            }
            tops.push(place);
            lowest = place;
        }
        (tops, dips)
    }

    /// The stretch about a top, between two places, that is at least half as loud; its syllable begins at the first.
    fn vowel_about(&self, top: usize, from: usize, to: usize) -> Vowel {
        let values = self.values();
        let half = values[top] / 2.0;
        let begin =
            values[from..top].iter().rposition(|&value| value < half).map_or(from, |last| from + last + 1);
        let end = values[top..to].iter().position(|&value| value < half).map_or(to, |first| top + first);
        let within = |place: usize| self.envelope.time(place).clamp(Seconds::ZERO, self.length);
        let syllable = if from == 0 { Seconds::ZERO } else { within(from) };
        Vowel { begin: within(begin), end: within(end), syllable }
    }
}
