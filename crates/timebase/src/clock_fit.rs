use std::collections::VecDeque;

use crate::server_blocks::ServerBlocks;
use crate::{BlockPlace, DriverStamps, Frame, HostTime, Moment, SampleRate, Seconds};

/// Anchors the line is laid through: a third of a second of blocks of 256 frames at 48 kHz. With stamps that scatter by
/// 5 µs the newest frame is then known to about 1 µs. A longer line would be quieter, but could not follow a driver that
/// filters its stamps and, after a disturbance, takes a second to come back to the true ones.
const WINDOW: usize = 64;
/// Anchors before the slope is fitted too; until then the last known slope holds, at first the nominal one.
const FIRM: usize = 16;
/// Points of the map kept for looking back: 11 s of blocks of 256 frames at 48 kHz.
const HISTORY: usize = 2048;
/// Anchors in a row that must agree on a jump before it is believed.
const AGREEING: usize = 3;
/// Anchors in a row that may be doubted or refused before the newest ones are believed without agreement.
const PATIENCE: usize = 32;
/// How far an anchor may stand from the line without being doubted, while the stamps scatter little.
const GATE_NS: f64 = 500_000.0;
/// The same before the scatter is known.
const FIRST_GATE_NS: f64 = 2_000_000.0;
/// The gate in scatters, for drivers whose stamps scatter more.
const GATE_SCATTERS: f64 = 8.0;
/// A slope beyond is a fault of the stamps: no sound card is further than some hundred ppm from its nominal rate, but a
/// driver's filtered stamps may run faster than the card for a while.
const SLOPE_LIMIT_PPM: f64 = 5_000.0;

/// What a sound device's callback leaves behind: the frame it began with and the host time at which that frame is
/// heard (or, for an input, was at the microphone).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Anchor {
    /// The block's first frame.
    pub frame: Frame,
    /// When that frame is at the loudspeaker or was at the microphone, as the driver reckons.
    pub host: HostTime,
    /// What the driver said by its own clock, where it is a sound server through which MIDI goes too.
    pub server: Option<DriverStamps>,
}

/// What became of an [`Anchor`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchored {
    /// It fits and was used.
    Kept,
    /// Its frame or its time goes back behind the one before. It was thrown away.
    Refused,
    /// It stands far from the line. It waits until the next ones tell whether it was alone.
    Doubted,
    /// Sound was lost: from here on frames are heard later than the line said, by this much (earlier if negative). The
    /// map goes on from the new place, and whatever was recorded across it is disturbed.
    Jumped(Seconds),
}

/// The map between a sound device's frames and the computer's clock.
///
/// Fed with the anchors that the device's callbacks leave. A straight line through the last 64 of them, outliers left
/// out, takes away the jitter of the single stamp; offset and slope are both fitted, for no card runs at exactly its
/// nominal rate. Where each anchor's frame falls on the line becomes a point of the map and is never moved again, so
/// the map is continuous, rises strictly, and what it has answered for the past it answers again.
///
/// A single wild stamp is left out; three in a row that agree are a dropout, after which the map
/// starts anew from the new place and says so. The delay-locked loop of Adriaensen ("Using a DLL to
/// filter time", 2005) solves the same task; a line over a window settles sooner, and it can throw an
/// outlier out where a loop must swallow it.
///
/// ```
/// use timebase::{Anchor, Anchored, ClockFit, Frame, HostTime, SampleRate};
///
/// let mut fit = ClockFit::new(SampleRate::HZ_48000);
/// for block in 0..100 {
///     // 480 frames every 10 ms, heard 3 ms after the clock's origin.
///     let host = HostTime::from_nanos(block * 10_000_000 + 3_000_000);
///     assert_eq!(fit.add(Anchor { frame: Frame::new(block * 480), host, server: None }), Anchored::Kept);
/// }
/// assert_eq!(fit.frame_at(HostTime::from_nanos(503_000_000)), Some(Frame::new(24_000)));
/// ```
///
/// Not for the audio callback: the callback sends anchors, an ordinary thread fits them.
#[derive(Clone, Debug)]
pub struct ClockFit {
    rate: SampleRate,
    anchors: VecDeque<Anchor>,
    doubted: VecDeque<Anchor>,
    doubted_in_a_row: usize,
    refused_in_a_row: usize,
    knots: VecDeque<Anchor>,
    line: Line,
    scatter_ns: f64,
    shaken: bool,
    /// Anchors since the beginning or the last jump.
    since_jump: usize,
    blocks: ServerBlocks,
}

/// Host time = `base.host` + `offset_ns` + `slope` × (frame − `base.frame`).
#[derive(Clone, Copy, Debug)]
struct Line {
    base: Anchor,
    offset_ns: f64,
    /// Nanoseconds a frame.
    slope: f64,
}

impl ClockFit {
    /// A map without anchors, for a device whose nominal rate is `rate`.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let base = Anchor { frame: Frame::ZERO, host: HostTime::from_nanos(0), server: None };
        Self {
            rate,
            anchors: VecDeque::with_capacity(WINDOW + 1),
            doubted: VecDeque::with_capacity(AGREEING + 1),
            doubted_in_a_row: 0,
            refused_in_a_row: 0,
            knots: VecDeque::with_capacity(HISTORY + 1),
            line: Line { base, offset_ns: 0.0, slope: nominal_slope(rate) },
            scatter_ns: 0.0,
            shaken: false,
            since_jump: 0,
            blocks: ServerBlocks::new(rate),
        }
    }

    /// Takes the next anchor and says what became of it.
    pub fn add(&mut self, anchor: Anchor) -> Anchored {
        if let Some(stamps) = anchor.server {
            self.blocks.add(anchor.frame, stamps);
        }
        let Some(&kept) = self.anchors.back() else {
            self.take(anchor);
            return Anchored::Kept;
        };
        if anchor.frame <= self.doubted.back().unwrap_or(&kept).frame {
            return Anchored::Refused;
        }
        // Time is compared with the last anchor believed: a doubted one may itself lie in the future.
        if anchor.host <= kept.host {
            return self.refuse(anchor);
        }
        let deviation = self.line.deviation_ns(anchor);
        if deviation.abs() <= self.gate_ns() {
            self.doubted.clear();
            self.doubted_in_a_row = 0;
            self.shaken = false;
            self.take(anchor);
            return Anchored::Kept;
        }
        self.doubt(anchor)
    }

    /// Tells the map that the driver reported a dropout. The next anchor that stands off the line is then believed at
    /// once, without waiting for others to agree.
    pub const fn expect_jump(&mut self) {
        self.shaken = true;
    }

    /// The frame heard at `host`, to the nearest; `None` before the first anchor.
    #[must_use]
    pub fn frame_at(&self, host: HostTime) -> Option<Frame> {
        Some(Frame::at(self.moment_at(host)?, self.rate))
    }

    /// What is heard at `host`, finer than a frame: the device's own time since frame 0, at its nominal rate. `None`
    /// before the first anchor.
    #[must_use]
    pub fn moment_at(&self, host: HostTime) -> Option<Moment> {
        let after = self.knots.partition_point(|knot| knot.host <= host);
        let (from, slope) = self.piece(after)?;
        let frames = (host - from.host).as_nanos() as f64 / slope;
        Some(from.frame.moment(self.rate) + Seconds::from_secs_f64(frames / f64::from(self.rate.hz())))
    }

    /// What is heard when something is struck, finer than a frame. Where the stroke came through the same sound server
    /// as the sound, its place in the server's blocks tells it to the frame and however late the server was woken;
    /// otherwise, and where that block is not known, its host time does. `None` before the first anchor.
    #[must_use]
    pub fn moment_struck(&mut self, at: HostTime, place: Option<BlockPlace>) -> Option<Moment> {
        place.and_then(|place| self.blocks.moment_at(place)).or_else(|| self.moment_at(at))
    }

    /// When `frame` is heard; `None` before the first anchor.
    #[must_use]
    pub fn host_at(&self, frame: Frame) -> Option<HostTime> {
        let after = self.knots.partition_point(|knot| knot.frame <= frame);
        let (from, slope) = self.piece(after)?;
        Some(from.host + nanos((frame - from.frame).count() as f64 * slope))
    }

    /// How much faster than its nominal rate the device has run against the computer's clock since the map began or last
    /// jumped (2,048 anchors at most), in parts per million; `None` within the first 32 anchors.
    #[must_use]
    pub fn rate_ppm(&self) -> Option<f64> {
        // From the first point that was laid on a firm line.
        let firm = self.since_jump.checked_sub(FIRM).filter(|&firm| firm >= FIRM)?;
        let first = self.knots.get(self.knots.len().saturating_sub(firm))?;
        Some((nominal_slope(self.rate) / slope_between(*first, *self.knots.back()?) - 1.0) * 1e6)
    }

    /// How far the single stamps stand from the line: a robust standard deviation; `None` before 16 anchors.
    #[must_use]
    pub fn scatter(&self) -> Option<Seconds> {
        (self.anchors.len() >= FIRM).then(|| nanos(self.scatter_ns))
    }

    /// The nominal rate it was made for.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    fn gate_ns(&self) -> f64 {
        if self.anchors.len() < FIRM { FIRST_GATE_NS } else { GATE_NS.max(GATE_SCATTERS * self.scatter_ns) }
    }

    /// Throws a stamp that goes back away. Where nothing else comes any more, it was the map that lay in the future:
    /// then it is forgotten and begun again.
    fn refuse(&mut self, anchor: Anchor) -> Anchored {
        self.refused_in_a_row += 1;
        if self.refused_in_a_row < PATIENCE {
            return Anchored::Refused;
        }
        let jump = nanos(self.line.deviation_ns(anchor));
        self.anchors.clear();
        self.since_jump = 0;
        self.doubted.clear();
        self.knots.clear();
        self.take(anchor);
        Anchored::Jumped(jump)
    }

    fn doubt(&mut self, anchor: Anchor) -> Anchored {
        self.refused_in_a_row = 0;
        self.doubted.push_back(anchor);
        self.doubted_in_a_row += 1;
        if self.doubted.len() > AGREEING {
            self.doubted.pop_front();
        }
        let deviations = self.doubted.iter().map(|&doubted| self.line.deviation_ns(doubted));
        let (least, most) = deviations.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), each| {
            (least.min(each), most.max(each))
        });
        let agreed = self.doubted.len() == AGREEING && most - least <= self.gate_ns();
        if !(agreed || self.shaken || self.doubted_in_a_row >= PATIENCE) {
            return Anchored::Doubted;
        }
        let jump = nanos((least + most) / 2.0);
        self.anchors.clear();
        self.since_jump = 0;
        self.shaken = false;
        self.doubted_in_a_row = 0;
        for doubted in std::mem::take(&mut self.doubted) {
            self.take(doubted);
        }
        Anchored::Jumped(jump)
    }

    /// Adds an anchor that is believed, lays the line anew and fixes the anchor's frame on it.
    fn take(&mut self, anchor: Anchor) {
        self.refused_in_a_row = 0;
        self.since_jump = self.since_jump.saturating_add(1);
        self.anchors.push_back(anchor);
        if self.anchors.len() > WINDOW {
            self.anchors.pop_front();
        }
        (self.line, self.scatter_ns) = fitted(&self.anchors, self.line.slope, self.rate);
        let mut host = self.line.host_at(anchor.frame);
        if let Some(last) = self.knots.back() {
            // The map must rise whatever the stamps do.
            host = host.max(last.host + Seconds::from_nanos(1));
        }
        self.knots.push_back(Anchor { host, ..anchor });
        if self.knots.len() > HISTORY {
            self.knots.pop_front();
        }
    }

    /// The straight piece that answers for a place which `after` knots precede: a knot on it and its
    /// slope in nanoseconds a frame. Outside the knots the line's own slope holds.
    fn piece(&self, after: usize) -> Option<(Anchor, f64)> {
        let (first, last) = (*self.knots.front()?, *self.knots.back()?);
        if after == 0 {
            return Some((first, self.line.slope));
        }
        let Some(&to) = self.knots.get(after) else {
            return Some((last, self.line.slope));
        };
        let from = self.knots[after - 1];
        Some((from, slope_between(from, to)))
    }
}

impl Line {
    fn deviation_ns(&self, anchor: Anchor) -> f64 {
        let along = (anchor.frame - self.base.frame).count() as f64 * self.slope;
        (anchor.host - self.base.host).as_nanos() as f64 - self.offset_ns - along
    }

    fn host_at(&self, frame: Frame) -> HostTime {
        let along = (frame - self.base.frame).count() as f64 * self.slope;
        self.base.host + nanos(self.offset_ns + along)
    }
}

fn slope_between(from: Anchor, to: Anchor) -> f64 {
    (to.host - from.host).as_nanos() as f64 / (to.frame - from.frame).count() as f64
}

fn nominal_slope(rate: SampleRate) -> f64 {
    1e9 / f64::from(rate.hz())
}

fn nanos(value: f64) -> Seconds {
    Seconds::from_secs_f64(value / 1e9)
}

/// The line through `anchors` and the scatter about it. With few anchors the slope is taken over and only the offset
/// is found, as a median; with more, least squares twice, the second time without the outliers of the first.
fn fitted(anchors: &VecDeque<Anchor>, slope: f64, rate: SampleRate) -> (Line, f64) {
    let base = anchors[0];
    let mut line = Line { base, offset_ns: 0.0, slope };
    let mut distances: Vec<f64> = anchors.iter().map(|&anchor| line.deviation_ns(anchor)).collect();
    line.offset_ns = median(&mut distances);
    if anchors.len() < FIRM {
        return (line, scatter_about(&line, anchors));
    }
    let limit = nominal_slope(rate) * SLOPE_LIMIT_PPM / 1e6;
    let within = nominal_slope(rate) - limit..=nominal_slope(rate) + limit;
    let mut keep_ns = f64::INFINITY;
    for _ in 0..2 {
        let kept = anchors.iter().copied().filter(|&anchor| line.deviation_ns(anchor).abs() <= keep_ns);
        let refined = least_squares(base, kept);
        if within.contains(&refined.slope) {
            line = refined;
        }
        // A nanosecond's floor, for stamps without any scatter.
        keep_ns = (4.0 * scatter_about(&line, anchors)).max(1.0);
    }
    (line, scatter_about(&line, anchors))
}

fn least_squares(base: Anchor, anchors: impl Iterator<Item = Anchor>) -> Line {
    let (mut count, mut sum_x, mut sum_y, mut sum_xx, mut sum_xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for anchor in anchors {
        let x = (anchor.frame - base.frame).count() as f64;
        let y = (anchor.host - base.host).as_nanos() as f64;
        count += 1.0;
        sum_x += x;
        sum_y += y;
        sum_xx += x * x;
        sum_xy += x * y;
    }
    let slope = (count * sum_xy - sum_x * sum_y) / (count * sum_xx - sum_x * sum_x);
    Line { base, offset_ns: (sum_y - slope * sum_x) / count, slope }
}

/// 1.4826 times the median absolute deviation, which is the standard deviation of a normal distribution.
fn scatter_about(line: &Line, anchors: &VecDeque<Anchor>) -> f64 {
    let mut distances: Vec<f64> = anchors.iter().map(|&anchor| line.deviation_ns(anchor).abs()).collect();
    1.4826 * median(&mut distances)
}

fn median(values: &mut [f64]) -> f64 {
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}
