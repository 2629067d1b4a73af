use std::ops::Range;

use crate::limits::CHUNK;

/// Where sounds are summed: those heard in the middle once, the others on each side.
///
/// Most sounds are in the middle, so most of the time one sum is enough for two channels.
#[derive(Clone, Debug)]
pub(crate) struct Bus {
    middle: Box<[f32; CHUNK]>,
    sides: [Box<[f32; CHUNK]>; 2],
    is_stereo: bool,
    /// Whether anything was added to a side since the bus was cleared.
    sides_used: bool,
}

/// A stretch of a bus.
#[derive(Debug)]
pub(crate) struct Part<'a> {
    bus: &'a mut Bus,
    frames: Range<usize>,
}

impl Bus {
    pub(crate) fn new() -> Self {
        let silence = || Box::new([0.0; CHUNK]);
        Self { middle: silence(), sides: [silence(), silence()], is_stereo: false, sides_used: false }
    }

    /// Silence, for sounds to be added to.
    pub(crate) fn clear(&mut self, frames: usize, is_stereo: bool) {
        self.middle[..frames].fill(0.0);
        (self.is_stereo, self.sides_used) = (is_stereo, false);
    }

    /// These frames of it.
    pub(crate) fn part(&mut self, frames: Range<usize>) -> Part<'_> {
        Part { bus: self, frames }
    }

    /// What was summed, for one channel.
    pub(crate) fn mono(&mut self, frames: usize) -> &mut [f32] {
        &mut self.middle[..frames]
    }

    /// Left and right, once they are summed.
    pub(crate) fn both(&self, frames: usize) -> [&[f32]; 2] {
        let [left, right] = &self.sides;
        [&left[..frames], &right[..frames]]
    }

    /// What was summed, for left and right.
    pub(crate) fn stereo(&mut self, frames: usize) -> [&mut [f32]; 2] {
        for side in &mut self.sides {
            if self.sides_used {
                side.iter_mut().zip(&*self.middle).take(frames).for_each(|(side, middle)| *side += middle);
            } else {
                side[..frames].copy_from_slice(&self.middle[..frames]);
            }
        }
        let [left, right] = &mut self.sides;
        [&mut left[..frames], &mut right[..frames]]
    }
}

impl Part<'_> {
    pub(crate) fn length(&self) -> usize {
        self.frames.len()
    }

    pub(crate) const fn is_stereo(&self) -> bool {
        self.bus.is_stereo
    }

    pub(crate) fn middle(&mut self) -> &mut [f32] {
        &mut self.bus.middle[self.frames.clone()]
    }

    pub(crate) fn sides(&mut self) -> [&mut [f32]; 2] {
        if !self.bus.sides_used {
            self.bus.sides.iter_mut().for_each(|side| side.fill(0.0));
            self.bus.sides_used = true;
        }
        let [left, right] = &mut self.bus.sides;
        [&mut left[self.frames.clone()], &mut right[self.frames.clone()]]
    }
}
