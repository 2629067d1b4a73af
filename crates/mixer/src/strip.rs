use std::f32::consts::{FRAC_PI_4, SQRT_2};

use crate::Error;
use crate::limits::GAIN_MOST;
use crate::programme::check_gain;
use crate::ramp::Course;

/// The number of a level control. What it controls is settled by whoever writes the events.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StripId(u8);

impl StripId {
    /// The strip of this number.
    #[must_use]
    pub const fn new(number: u8) -> Self {
        Self(number)
    }

    /// Its number.
    #[must_use]
    pub const fn number(self) -> u8 {
        self.0
    }
}

/// How a strip is set: its level, its place between left and right, and whether it is muted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// A factor of its sounds' own level, 0 to [`GAIN_MOST`](crate::limits::GAIN_MOST); 1 leaves them as they are.
    pub level: f32,
    /// Where it is heard: −1 left, 0 in the middle, 1 right. The power is the same everywhere: in the middle both
    /// sides have it at its level, wholly to one side that side has it 3 dB louder and the other not at all. In mono
    /// it plays no part.
    pub pan: f32,
    /// Whether nothing of it sounds; its level is kept.
    pub muted: bool,
}

impl Default for Setting {
    fn default() -> Self {
        Self { level: 1.0, pan: 0.0, muted: false }
    }
}

impl Setting {
    /// Heard in the middle at this level.
    #[must_use]
    pub const fn at_level(level: f32) -> Self {
        Self { level, pan: 0.0, muted: false }
    }

    pub(crate) fn checked(self) -> Result<Self, Error> {
        check_gain(self.level, GAIN_MOST)?;
        if (-1.0..=1.0).contains(&self.pan) { Ok(self) } else { Err(Error::Pan { given: self.pan }) }
    }

    fn gain(self) -> f32 {
        if self.muted { 0.0 } else { self.level }
    }

    /// The gains of left and right: √2 times cosine and sine of an angle that goes from 0 to 90°.
    fn sides(self) -> [f32; 2] {
        match self.pan {
            0.0 => [1.0, 1.0],
            -1.0 => [SQRT_2, 0.0],
            1.0 => [0.0, SQRT_2],
            pan => {
                let (right, left) = ((pan + 1.0) * FRAC_PI_4).sin_cos();
                [SQRT_2 * left, SQRT_2 * right]
            }
        }
    }
}

/// A strip as it sounds.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Strip {
    setting: Setting,
    /// Its level, or nothing where it is muted.
    pub(crate) gain: Course,
    /// What left and right have of it.
    pub(crate) sides: [Course; 2],
}

impl Strip {
    const UNTOUCHED: Self = Self {
        setting: Setting { level: 1.0, pan: 0.0, muted: false },
        gain: Course::Steady(1.0),
        sides: [Course::Steady(1.0); 2],
    };

    /// Whether nothing of it sounds and nothing is about to.
    pub(crate) fn is_silent(&self) -> bool {
        self.gain == Course::Steady(0.0)
    }

    /// Whether both sides have it alike.
    pub(crate) fn is_in_the_middle(&self) -> bool {
        self.sides == [Course::Steady(1.0); 2]
    }

    fn courses(&mut self) -> impl Iterator<Item = &mut Course> {
        std::iter::once(&mut self.gain).chain(&mut self.sides)
    }

    fn left(&self) -> Option<u32> {
        [&self.gain, &self.sides[0], &self.sides[1]].into_iter().filter_map(Course::left).min()
    }
}

/// Every strip there can be: at level 1 in the middle until it is set.
#[derive(Clone, Debug)]
pub(crate) struct Strips {
    strips: Box<[Strip]>,
    /// How many of them are on a ramp, so that the usual case costs nothing.
    moving: usize,
}

impl Strips {
    pub(crate) fn new() -> Self {
        Self { strips: vec![Strip::UNTOUCHED; 256].into(), moving: 0 }
    }

    /// Sets a strip at once, before anything sounds.
    pub(crate) fn set(&mut self, strip: StripId, setting: Setting) {
        let [left, right] = setting.sides().map(Course::Steady);
        let gain = Course::Steady(setting.gain());
        self.strips[usize::from(strip.0)] = Strip { setting, gain, sides: [left, right] };
        self.count_moving();
    }

    /// Moves a strip there in so many frames. Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn turn(&mut self, strip: StripId, setting: Setting, frames: u32) {
        let strip = &mut self.strips[usize::from(strip.0)];
        strip.setting = setting;
        let [left, right] = setting.sides();
        for (course, to) in strip.courses().zip([setting.gain(), left, right]) {
            if *course != Course::Steady(to) {
                course.turn(to, frames);
            }
        }
        self.count_moving();
    }

    /// How a strip was set last.
    pub(crate) fn setting(&self, strip: StripId) -> Setting {
        self.strips[usize::from(strip.0)].setting
    }

    /// A strip from now on.
    pub(crate) fn strip(&self, strip: StripId) -> &Strip {
        &self.strips[usize::from(strip.0)]
    }

    /// Frames until a ramp ends; nothing if none is under way.
    pub(crate) fn left(&self) -> Option<u32> {
        if self.moving == 0 { None } else { self.strips.iter().filter_map(Strip::left).min() }
    }

    /// Goes on by so many frames.
    pub(crate) fn advance(&mut self, frames: u32) {
        if self.moving > 0 {
            self.strips.iter_mut().flat_map(Strip::courses).for_each(|course| course.advance(frames));
            self.count_moving();
        }
    }

    fn count_moving(&mut self) {
        self.moving = self.strips.iter().filter(|strip| strip.left().is_some()).count();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_power_is_the_same_wherever_it_is_heard() {
        for pan in [-1.0, -0.7, -0.1, 0.0, 0.25, 0.5, 1.0] {
            let [left, right] = Setting { pan, ..Setting::default() }.sides();
            assert!((left * left + right * right - 2.0).abs() < 1e-6, "{pan}: {left} {right}");
            let [other_right, other_left] = Setting { pan: -pan, ..Setting::default() }.sides();
            assert!((left - other_left).abs() < 1e-6 && (right - other_right).abs() < 1e-6);
        }
        // Halfway to the right: 22.5° before the end of its way, 10 log10(2 sin² 67.5°) = 2.3 dB up.
        let [_, right] = Setting { pan: 0.5, ..Setting::default() }.sides();
        assert!((20.0 * right.log10() - 2.32).abs() < 0.01);
    }

    #[test]
    fn what_is_no_setting_is_refused() {
        let check = |setting: Setting, says: &str| {
            let error = setting.checked().expect_err(says).to_string();
            assert!(error.contains(says), "{error}");
        };
        check(Setting { pan: 1.1, ..Setting::default() }, "1.1 is not a place between left and right");
        check(Setting { pan: f32::NAN, ..Setting::default() }, "goes from -1 (left) to 1 (right)");
        check(Setting::at_level(-1.0), "is not a gain");
        assert!(Setting::default().checked().is_ok());
    }

    #[test]
    fn a_level_is_kept_while_a_strip_is_muted() {
        let mut strips = Strips::new();
        let id = StripId::new(7);
        strips.set(id, Setting { level: 0.5, muted: true, ..Setting::default() });
        assert!(strips.strip(id).is_silent() && strips.left().is_none());
        strips.turn(id, Setting { muted: false, ..strips.setting(id) }, 10);
        assert_eq!((strips.left(), strips.strip(id).gain.at(9)), (Some(10), 0.5));
        strips.advance(10);
        assert_eq!((strips.left(), strips.strip(id).is_in_the_middle()), (None, true));
    }
}
