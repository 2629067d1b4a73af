use timebase::{Frames, SampleRate};

use crate::between::{Between, loudest};
use crate::limits::{CEILING, CHUNK, LIMITER_GLIDE, LIMITER_RELEASE};

/// A look-ahead limiter of true peaks, for one channel or two that keep their balance.
///
/// Where nothing reaches [`CEILING`], also between the samples, sound passes unchanged to the bit. Where something
/// does, the gain glides down before it, is low enough all the while it sounds, and comes back slowly: no
/// frame is bent, so nothing crackles. It hears what comes [`Limiter::delay`] frames before it gives it out.
///
/// Gains are whole numbers, in parts of [`ONE`], so that their running sum is exact and does not depend on blocks.
#[derive(Clone, Debug)]
pub(crate) struct Limiter {
    between: Between,
    /// What was heard and not yet given out, and room for what comes next.
    held: [Box<[f32]>; 2],
    delay: usize,
    peaks: Box<[f32]>,
    gains: Box<[f32]>,
    /// The least gain that is wanted anywhere in the last frames.
    least: Least,
    /// The gain before it is smoothed: falls at once, rises slowly.
    gain: i64,
    /// How fast it rises, of the way that is left, a frame.
    rise: i64,
    /// The last gains, whose mean is what sounds.
    glide: Box<[i64]>,
    oldest: usize,
    sum: i64,
}

/// Gain 1.
const ONE: i64 = 1 << 30;

/// So near to 1 the gain has come back: 0.0005 dB away, which no ear hears and which would last as long again.
const ARRIVED: i64 = ONE - (ONE >> 14);

/// How much lower than the ceiling peaks are brought: the gain moves while a peak sounds, which bends it a little.
const MARGIN: f32 = 0.988_553_1;

impl Limiter {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let glide = usize::try_from(Frames::of(LIMITER_GLIDE, rate).count()).unwrap_or(0).max(8);
        let between = Between::new(rate);
        let delay = glide + between.before() + between.after();
        let room = || vec![0.0; delay + CHUNK].into();
        let glide_length = i64::try_from(glide).unwrap_or(1);
        Self {
            held: [room(), room()],
            delay,
            peaks: vec![0.0; CHUNK].into(),
            gains: vec![0.0; CHUNK].into(),
            // A peak lies in the window for as long as any frame that has a part in it waits or sounds.
            least: Least::new(glide + 2 * between.after()),
            between,
            gain: ONE,
            rise: rise(rate),
            glide: vec![ONE; glide].into(),
            oldest: 0,
            sum: ONE * glide_length,
        }
    }

    /// How many frames later it gives out what it is given.
    pub(crate) const fn delay(&self) -> usize {
        self.delay
    }

    /// Takes at most [`CHUNK`] frames of one channel or two and puts in their place those that it took
    /// [`Limiter::delay`] frames ago. One channel is taken for both.
    ///
    /// Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn pass(&mut self, sound: &mut [&mut [f32]]) {
        let Some(frames) = sound.first().map(|channel| channel.len().min(CHUNK)) else { return };
        for (number, held) in self.held.iter_mut().enumerate() {
            let channel = sound.get(number).unwrap_or(&sound[0]);
            held[self.delay..self.delay + frames].copy_from_slice(&channel[..frames]);
        }
        let limited = self.reckon(frames, sound.len());
        for (channel, held) in sound.iter_mut().zip(&self.held) {
            if limited {
                for ((out, held), gain) in channel.iter_mut().zip(&**held).zip(&self.gains) {
                    *out = held * gain;
                }
            } else {
                channel[..frames].copy_from_slice(&held[..frames]);
            }
        }
        for held in &mut self.held {
            held.copy_within(frames..frames + self.delay, 0);
        }
    }

    /// Works out the gains of the next frames to be given out; says whether any is not 1.
    fn reckon(&mut self, frames: usize, channels: usize) -> bool {
        let heard = self.delay - self.between.before() - self.between.after()..self.delay + frames;
        let target = CEILING * MARGIN;
        let held = || self.held.iter().take(channels).map(|held| &held[heard.clone()]);
        let loudest = held().map(loudest).fold(0.0, f32::max);
        if self.is_idle() && self.between.bound(loudest) <= target {
            return false;
        }
        let peaks = &mut self.peaks[..frames];
        peaks.fill(0.0);
        held().for_each(|samples| self.between.raise(samples, peaks, target));
        let whole = self.glide.len() as f64 * ONE as f64;
        for (gain, peak) in self.gains.iter_mut().zip(&*peaks) {
            let wanted = if *peak <= target { ONE } else { parts(target / peak) };
            let least = self.least.after(wanted);
            let risen = self.gain + (((ONE - self.gain) * self.rise) >> 30).max(1);
            self.gain = if risen < ARRIVED { risen } else { ONE }.min(least);
            self.sum += self.gain - std::mem::replace(&mut self.glide[self.oldest], self.gain);
            self.oldest = (self.oldest + 1) % self.glide.len();
            *gain = narrowed(self.sum as f64 / whole);
        }
        true
    }

    /// Whether every gain that still matters is 1.
    fn is_idle(&self) -> bool {
        self.least.is(ONE) && self.sum == ONE * i64::try_from(self.glide.len()).unwrap_or(1)
    }
}

/// The share of the way to 1 that the gain rises a frame.
fn rise(rate: SampleRate) -> i64 {
    let frames = LIMITER_RELEASE.as_secs_f64() * f64::from(rate.hz());
    parts(narrowed(1.0 - (-1.0 / frames).exp()))
}

#[expect(clippy::cast_possible_truncation, reason = "a gain up to 1, rounded down on purpose")]
fn parts(gain: f32) -> i64 {
    (f64::from(gain) * ONE as f64) as i64
}

#[expect(clippy::cast_possible_truncation, reason = "a gain is one of single precision")]
fn narrowed(gain: f64) -> f32 {
    gain as f32
}

/// The least of the last so many values, found by keeping those that can still become it.
#[derive(Clone, Debug)]
struct Least {
    /// Rising in value and in age from the newest; a ring.
    kept: Box<[(i64, u64)]>,
    first: usize,
    many: usize,
    now: u64,
}

impl Least {
    fn new(window: usize) -> Self {
        Self { kept: vec![(ONE, 0); window.max(1)].into(), first: 0, many: 1, now: 0 }
    }

    /// Takes a value and gives the least of the window that ends with it.
    fn after(&mut self, value: i64) -> i64 {
        let window = self.kept.len();
        self.now += 1;
        while self.many > 0 && self.kept[(self.first + self.many - 1) % window].0 >= value {
            self.many -= 1;
        }
        // What has left the window goes before the newest comes, so that there is always room.
        if self.many > 0 && self.now - self.kept[self.first].1 >= window as u64 {
            self.first = (self.first + 1) % window;
            self.many -= 1;
        }
        self.kept[(self.first + self.many) % window] = (value, self.now);
        self.many += 1;
        self.kept[self.first].0
    }

    /// Whether all values of the window are this one, which no other may be greater than.
    fn is(&self, value: i64) -> bool {
        self.many == 1 && self.kept[self.first].0 == value
    }
}

#[cfg(test)]
mod tests;
