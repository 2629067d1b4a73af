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

impl Vowel {
    /// Looks for the vowel in a recording of one syllable: the stretch about its loudest moment, between 300
    /// and 3000 Hz, that is at least half as loud. `None` if there is no sound.
    ///
    /// In a word of several syllables this is the loudest vowel, which need not be the stressed one.
    #[must_use]
    pub fn find(frames: &[f32], rate: SampleRate) -> Option<Self> {
        let envelope = Envelope::of(frames, rate, (Order::First, 300.0, 3_000.0), (Order::Second, 20.0));
        let values = envelope.values();
        let top = (0..values.len()).max_by(|&a, &b| values[a].total_cmp(&values[b]))?;
        let half = values[top] / 2.0;
        if half <= f64::EPSILON {
            return None;
        }
        let begin = values[..top].iter().rposition(|&value| value < half).map_or(0, |last| last + 1);
        let end =
            values[top..].iter().position(|&value| value < half).map_or(values.len(), |first| top + first);
        let length = Seconds::from_secs_f64(frames.len() as f64 / f64::from(rate.hz()));
        let within = |time: Seconds| time.clamp(Seconds::ZERO, length);
        Some(Self {
            begin: within(envelope.time(begin)),
            end: within(envelope.time(end)),
            syllable: Seconds::ZERO,
        })
    }
}
