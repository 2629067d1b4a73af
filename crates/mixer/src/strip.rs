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

/// The level of every strip there can be: 1 until it is set.
#[derive(Clone, Debug)]
pub(crate) struct Strips {
    levels: [Course; 256],
    /// How many of them are on a ramp, so that the usual case costs nothing.
    moving: usize,
}

impl Strips {
    pub(crate) const fn new() -> Self {
        Self { levels: [Course::Steady(1.0); 256], moving: 0 }
    }

    /// Sets a level at once, before anything sounds.
    pub(crate) fn set(&mut self, strip: StripId, level: f32) {
        self.levels[usize::from(strip.0)] = Course::Steady(level);
        self.count_moving();
    }

    /// Moves a level there in so many frames. Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn turn(&mut self, strip: StripId, level: f32, frames: u32) {
        self.levels[usize::from(strip.0)].turn(level, frames);
        self.count_moving();
    }

    /// The level of a strip from now on.
    pub(crate) fn level(&self, strip: StripId) -> &Course {
        &self.levels[usize::from(strip.0)]
    }

    /// Frames until a ramp ends; nothing if none is under way.
    pub(crate) fn left(&self) -> Option<u32> {
        if self.moving == 0 { None } else { self.levels.iter().filter_map(Course::left).min() }
    }

    /// Goes on by so many frames.
    pub(crate) fn advance(&mut self, frames: u32) {
        if self.moving > 0 {
            self.levels.iter_mut().for_each(|level| level.advance(frames));
            self.count_moving();
        }
    }

    fn count_moving(&mut self) {
        self.moving = self.levels.iter().filter(|level| level.left().is_some()).count();
    }
}
