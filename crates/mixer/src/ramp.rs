/// A straight way from one gain to another in a number of frames.
///
/// The gain of a frame is computed from its number and never by adding up steps, so it does not
/// depend on how the frames are cut into blocks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ramp {
    from: f32,
    to: f32,
    done: u32,
    total: u32,
}

impl Ramp {
    /// A ramp of `total` frames, at least one.
    pub(crate) fn new(from: f32, to: f32, total: u32) -> Self {
        Self { from, to, done: 0, total: total.max(1) }
    }

    /// The gain `ahead` frames from now; the last frame of the ramp has exactly the gain aimed at.
    pub(crate) fn at(&self, ahead: u32) -> f32 {
        let number = self.done.saturating_add(ahead).saturating_add(1);
        if number >= self.total {
            return self.to;
        }
        self.from + (self.to - self.from) * (number as f32 / self.total as f32)
    }

    /// The gain last reached.
    pub(crate) fn reached(&self) -> f32 {
        if self.done == 0 { self.from } else { self.at_number(self.done) }
    }

    fn at_number(&self, number: u32) -> f32 {
        Self { done: number.saturating_sub(1), ..*self }.at(0)
    }

    /// Frames still to go.
    pub(crate) fn left(&self) -> u32 {
        self.total.saturating_sub(self.done)
    }

    /// Goes on by so many frames.
    pub(crate) fn advance(&mut self, frames: u32) {
        self.done = self.done.saturating_add(frames).min(self.total);
    }

    /// The gain aimed at.
    pub(crate) const fn target(&self) -> f32 {
        self.to
    }
}

/// A gain over a stretch of frames: the same throughout, or on a ramp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Course {
    Steady(f32),
    Moving(Ramp),
}

impl Course {
    /// The gain `ahead` frames from now.
    pub(crate) fn at(&self, ahead: u32) -> f32 {
        match self {
            Self::Steady(gain) => *gain,
            Self::Moving(ramp) => ramp.at(ahead),
        }
    }

    /// Goes on by so many frames; a ramp that has arrived becomes steady.
    pub(crate) fn advance(&mut self, frames: u32) {
        if let Self::Moving(ramp) = self {
            ramp.advance(frames);
            if ramp.left() == 0 {
                *self = Self::Steady(ramp.target());
            }
        }
    }

    /// Frames until it changes its kind; nothing if it never will.
    pub(crate) fn left(&self) -> Option<u32> {
        match self {
            Self::Steady(_) => None,
            Self::Moving(ramp) => Some(ramp.left()),
        }
    }

    /// Turns towards another gain from wherever it has got to.
    pub(crate) fn turn(&mut self, to: f32, frames: u32) {
        let from = match self {
            Self::Steady(gain) => *gain,
            Self::Moving(ramp) => ramp.reached(),
        };
        *self = Self::Moving(Ramp::new(from, to, frames));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ramp_is_straight_and_arrives_exactly() {
        let mut course = Course::Steady(1.0);
        course.turn(0.0, 4);
        let ahead: Vec<f32> = (0..5).map(|frame| course.at(frame)).collect();
        assert_eq!(ahead, [0.75, 0.5, 0.25, 0.0, 0.0]);
        course.advance(3);
        assert_eq!((course.at(0), course.left()), (0.0, Some(1)));
        course.advance(1);
        assert_eq!(course, Course::Steady(0.0));
    }

    #[test]
    fn turning_on_the_way_starts_from_where_it_is() {
        let mut course = Course::Steady(1.0);
        course.turn(0.0, 4);
        course.advance(2);
        course.turn(1.0, 2);
        assert_eq!((course.at(0), course.at(1)), (0.75, 1.0));
        let mut untouched = Course::Steady(0.5);
        untouched.turn(1.0, 2);
        untouched.turn(0.5, 2);
        assert_eq!(untouched.at(0), 0.5);
    }
}
