use timebase::{Frames, SampleRate, Seconds};

use crate::filter::{Filter, Order};

/// Where in a recording its one sound lies.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Audible {
    /// Its first frame.
    pub(crate) begin: usize,
    /// The frame after its last.
    pub(crate) end: usize,
}

/// Why no sound is found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum NotFound {
    /// There is none.
    Silent,
    /// What stands around it is nearly as loud.
    Noisy {
        /// How far the sound stands above it, in dB.
        above_db: f64,
    },
    /// Another sound, about as loud, stands apart from it.
    Several {
        /// When the other one sounds.
        at: Seconds,
    },
}

/// The level is taken over windows of 5 ms, a millisecond apart.
const HOPS_A_WINDOW: usize = 5;
/// A sound begins where it exceeds so many dB of the loudest window, which keeps a weak f or th,
const BEGINS_DB: f64 = -46.0;
/// and ends where it falls below so many, where a voice trails off.
const ENDS_DB: f64 = -36.0;
/// Neither threshold lies nearer to the noise than this.
const ABOVE_NOISE_DB: f64 = 6.0;
/// The noise is what a tenth of the windows do not exceed.
const NOISE_SHARE: usize = 10;
/// Noise this near to the sound leaves no beginning to be found.
const NOISE_MOST_DB: f64 = -20.0;
/// A recording this short may have been trimmed already, and has no noise to show.
const TRIMMED_MOST: Seconds = Seconds::from_millis(700);
/// Silence inside a word before its loudest moment lasts so long at most, in windows: the stop of a t.
const GAP_BEFORE: usize = 90;
/// And after it: the stop before a last t.
const GAP_AFTER: usize = 160;
/// Another sound is one within so many dB of the loudest,
const ANOTHER_DB: f64 = -15.0;
/// in so many windows.
const ANOTHER_WINDOWS: usize = 30;

impl Audible {
    /// Finds the sound about the loudest moment.
    pub(crate) fn of(frames: &[f32], rate: SampleRate) -> Result<Self, NotFound> {
        let hop = count(Seconds::from_millis(1), rate).max(1);
        let levels = levels_db(frames, rate, hop).ok_or(NotFound::Silent)?;
        let loudest = (0..levels.len()).max_by(|&a, &b| levels[a].total_cmp(&levels[b]));
        let loudest = loudest.ok_or(NotFound::Silent)?;
        let noise_db = noise(&levels);
        let trimmed = frames.len() <= count(TRIMMED_MOST, rate);
        if noise_db > NOISE_MOST_DB && !trimmed {
            return Err(NotFound::Noisy { above_db: -noise_db });
        }
        let above_noise = if noise_db > NOISE_MOST_DB { f64::MIN } else { noise_db + ABOVE_NOISE_DB };
        let begins = |db: f64| db > BEGINS_DB.max(above_noise);
        let ends = |db: f64| db > ENDS_DB.max(above_noise);
        let first = last_reached((0..=loudest).rev(), GAP_BEFORE, |place| begins(levels[place]));
        let last = last_reached(loudest..levels.len(), GAP_AFTER, |place| ends(levels[place]));
        let (first, last) = (first.unwrap_or(loudest), last.unwrap_or(loudest));
        if let Some(at) = another(&levels, first, last) {
            return Err(NotFound::Several {
                at: Frames::new(i64::try_from(at * hop).unwrap_or(0)).seconds(rate),
            });
        }
        // Half a window is on either side of its middle; a little silence stays for the fades.
        let begin = (first * hop + hop * HOPS_A_WINDOW / 2).saturating_sub(3 * hop);
        let end = (last * hop + hop * HOPS_A_WINDOW + 8 * hop).min(frames.len());
        Ok(Self { begin, end })
    }
}

/// The level of each window in dB of the loudest, without what lies below 70 Hz: hum, and a hand on the microphone.
fn levels_db(frames: &[f32], rate: SampleRate, hop: usize) -> Option<Vec<f64>> {
    let mut low: Vec<f64> = frames.iter().map(|&frame| f64::from(frame)).collect();
    Filter::low_pass(Order::Second, 70.0, f64::from(rate.hz())).run_both_ways(&mut low);
    let powers: Vec<f64> = frames
        .chunks_exact(hop)
        .zip(low.chunks_exact(hop))
        .map(|(frames, low)| {
            frames.iter().zip(low).map(|(&frame, low)| (f64::from(frame) - low).powi(2)).sum()
        })
        .collect();
    let windows: Vec<f64> = powers.windows(HOPS_A_WINDOW).map(|window| window.iter().sum()).collect();
    let greatest = windows.iter().copied().fold(0.0, f64::max);
    // Less than a ten-thousandth of full scale on average is what rounding to 16 bits leaves of nothing.
    let silence = 1e-8 * (hop * HOPS_A_WINDOW) as f64;
    (greatest > silence)
        .then(|| windows.into_iter().map(|power| 10.0 * (power / greatest + 1e-12).log10()).collect())
}

/// The level that a tenth of the windows do not exceed.
fn noise(levels: &[f64]) -> f64 {
    let mut sorted = levels.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    sorted[sorted.len() / NOISE_SHARE]
}

/// The last place that sounds before a gap longer than `gap`.
fn last_reached(
    places: impl Iterator<Item = usize>,
    gap: usize,
    sounds: impl Fn(usize) -> bool,
) -> Option<usize> {
    let mut last = None;
    let mut silent = 0;
    for place in places {
        if sounds(place) {
            last = Some(place);
            silent = 0;
        } else {
            silent += 1;
            if silent > gap {
                break;
            }
        }
    }
    last
}

/// Where another sound stands, apart from the one found.
fn another(levels: &[f64], first: usize, last: usize) -> Option<usize> {
    let outside = |place: &usize| *place + HOPS_A_WINDOW < first || *place > last + HOPS_A_WINDOW;
    let loud: Vec<usize> = (0..levels.len()).filter(outside).filter(|&p| levels[p] > ANOTHER_DB).collect();
    (loud.len() >= ANOTHER_WINDOWS).then(|| loud[0])
}

/// A time in frames.
pub(crate) fn count(time: Seconds, rate: SampleRate) -> usize {
    usize::try_from(Frames::of(time, rate).count()).unwrap_or(0)
}
