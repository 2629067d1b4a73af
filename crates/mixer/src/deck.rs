use timebase::{Frame, Frames};

use crate::bus::Part;
use crate::limits::THROUGH_SOUNDS;
use crate::ramp::Course;
use crate::strip::{Strip, Strips};
use crate::{Bank, Programme, Sample, SampleId, SoundEvent, StripId};

/// A programme under way: where it has got to and what sounds of it.
///
/// Made off the audio thread with every voice it will ever need; nothing is allocated afterwards.
#[derive(Debug)]
pub(crate) struct Deck {
    programme: Programme,
    /// As many as ever sound at once, so none is ever taken from another sound.
    voices: Box<[Voice]>,
    /// For sounds played at once.
    through: Box<[Voice]>,
    /// The first event that has not begun.
    next: usize,
    position: Frame,
    /// The gain of the programme: 1 while it plays, on its way to 0 when it was stopped.
    fade: Course,
    /// The gain of the sounds played at once: on its way to 0 when another programme takes over.
    through_fade: Course,
}

/// One sound under way. It is free when nothing of it is left.
#[derive(Clone, Copy, Debug)]
struct Voice {
    sample: Option<SampleId>,
    /// The next frame of the sample.
    next: usize,
    /// Frames still to sound.
    left: usize,
    /// How many of the last frames fade.
    fade: usize,
    gain: f32,
    strip: StripId,
}

impl Deck {
    /// A programme about to begin at `from`. What began before and still sounds is joined in the middle.
    pub(crate) fn new(programme: &Programme, from: Frame) -> Self {
        let from = from.clamp(Frame::ZERO, Frame::ZERO + programme.length());
        let mut deck = Self {
            voices: vec![Voice::FREE; programme.most_at_once()].into(),
            through: vec![Voice::FREE; THROUGH_SOUNDS].into(),
            next: 0,
            position: Frame::ZERO,
            fade: Course::Steady(1.0),
            through_fade: Course::Steady(1.0),
            programme: programme.clone(),
        };
        // Every sound gets the voice it would have had from the beginning, so that sums come out in the same order.
        deck.skip(from - Frame::ZERO);
        deck
    }

    /// Goes on to `position` without a sound.
    fn pass_to(&mut self, position: Frame) {
        let frames = count(position - self.position);
        let bank = self.programme.bank();
        for voice in &mut *self.voices {
            let sample = voice.sample.and_then(|id| bank.sample(id));
            voice.pass(frames, sample);
        }
        self.position = position;
    }

    /// Goes on by so many frames without a sound; what begins meanwhile and still sounds is joined in the middle.
    /// Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn skip(&mut self, frames: Frames) {
        let to = (self.position + frames).min(Frame::ZERO + self.programme.length());
        while let Some(event) = self.programme.events().get(self.next).copied()
            && event.at < to
        {
            self.pass_to(event.at.max(self.position));
            begin(&mut self.voices, &event, self.programme.bank());
            self.next += 1;
        }
        self.pass_to(to);
    }

    /// Whether nothing of it sounds any more or will: it was played to its end or has fallen silent, and so have the sounds
    /// played at once.
    pub(crate) fn has_rung_out(&self) -> bool {
        self.is_gone() || (self.is_finished() && self.through.iter().all(|voice| voice.left == 0))
    }

    pub(crate) const fn position(&self) -> Frame {
        self.position
    }

    pub(crate) const fn programme(&self) -> &Programme {
        &self.programme
    }

    pub(crate) fn frames_left(&self) -> Frames {
        if self.is_stopped() { Frames::ZERO } else { Frame::ZERO + self.programme.length() - self.position }
    }

    /// Whether it has been played to its end, or was stopped and has fallen silent.
    pub(crate) fn is_finished(&self) -> bool {
        self.position >= Frame::ZERO + self.programme.length() || self.is_stopped()
    }

    /// Whether it was stopped and its fade is over.
    pub(crate) fn is_stopped(&self) -> bool {
        self.fade == Course::Steady(0.0)
    }

    /// Whether it was stopped, also while it still fades.
    pub(crate) fn is_stopping(&self) -> bool {
        self.fade != Course::Steady(1.0)
    }

    /// Whether it has made way for another and nothing of it sounds.
    pub(crate) fn is_gone(&self) -> bool {
        self.through_fade == Course::Steady(0.0)
    }

    /// The programme falls silent in so many frames. Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn stop(&mut self, frames: u32) {
        if self.fade == Course::Steady(1.0) {
            self.fade.turn(0.0, frames);
        }
    }

    /// Everything falls silent in so many frames. Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn make_way(&mut self, frames: u32) {
        self.stop(frames);
        self.through_fade.turn(0.0, frames);
    }

    /// Plays a sound at once, the whole of it; says whether a voice was free.
    /// Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn play(&mut self, sample: SampleId, gain: f32, strip: StripId) -> bool {
        let event = SoundEvent { gain, ..SoundEvent::new(Frame::ZERO, sample, strip) };
        begin(&mut self.through, &event, self.programme.bank())
    }

    /// Frames until something begins or a fade ends; nothing if neither lies ahead.
    /// Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn until_change(&self) -> Option<usize> {
        let end = Frame::ZERO + self.programme.length();
        let begins = self.programme.events().get(self.next).map_or(end, |event| event.at);
        let begins = (!self.is_finished()).then(|| count(begins - self.position));
        let fade = |fade: &Course| fade.left().and_then(|left| usize::try_from(left).ok());
        [begins, fade(&self.fade), fade(&self.through_fade)].into_iter().flatten().min()
    }

    /// Starts every event that falls on the present frame. Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn begin_due(&mut self) {
        if self.is_finished() {
            return;
        }
        while let Some(event) = self.programme.events().get(self.next)
            && event.at <= self.position
        {
            begin(&mut self.voices, event, self.programme.bank());
            self.next += 1;
        }
    }

    /// Adds a stretch of its sound to `out`; no longer than [`Deck::until_change`] and than any strip's ramp.
    /// Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn add_to(&mut self, out: &mut Part<'_>, strips: &Strips) {
        let bank = self.programme.bank();
        for voice in &mut *self.through {
            voice.add_to(out, bank, strips.strip(voice.strip), &self.through_fade);
        }
        if !self.is_finished() {
            for voice in &mut *self.voices {
                voice.add_to(out, bank, strips.strip(voice.strip), &self.fade);
            }
            self.position += Frames::new(i64::try_from(out.length()).unwrap_or(i64::MAX));
        }
        let frames = u32::try_from(out.length()).unwrap_or(u32::MAX);
        self.fade.advance(frames);
        self.through_fade.advance(frames);
    }
}

/// A length that is never negative, as a number of frames in memory.
fn count(frames: Frames) -> usize {
    usize::try_from(frames.count()).unwrap_or(0)
}

/// Gives an event a free voice; says whether there was one. Real-time: no allocation, lock, I/O or panic.
fn begin(voices: &mut [Voice], event: &SoundEvent, bank: &Bank) -> bool {
    let Some(sample) = bank.sample(event.sample) else {
        return false;
    };
    let left = count(event.sounds(sample));
    if left == 0 {
        return true;
    }
    let Some(voice) = voices.iter_mut().find(|voice| voice.left == 0) else {
        return false;
    };
    *voice = Voice {
        sample: Some(event.sample),
        next: count(event.from),
        left,
        fade: if event.cuts(sample) { count(event.fade) } else { 0 },
        gain: event.gain,
        strip: event.strip,
    };
    true
}

impl Voice {
    const FREE: Self = Self { sample: None, next: 0, left: 0, fade: 0, gain: 0.0, strip: StripId::new(0) };

    /// Goes on without a sound.
    fn pass(&mut self, frames: usize, sample: Option<&Sample>) {
        let frames = frames.min(self.left);
        self.left -= frames;
        self.next += frames;
        let Some(sample) = sample else { return };
        if let Some(again) = sample.again()
            && self.next >= sample.data().len()
        {
            self.next = again + (self.next - again) % (sample.data().len() - again);
        }
    }

    /// Adds its next frames to `out`, as many as it has left. Real-time: no allocation, lock, I/O or panic.
    fn add_to(&mut self, out: &mut Part<'_>, bank: &Bank, strip: &Strip, fade: &Course) {
        if self.left == 0 {
            return;
        }
        let Some(sample) = self.sample.and_then(|id| bank.sample(id)) else {
            self.left = 0;
            return;
        };
        let frames = self.left.min(out.length());
        if strip.is_silent() {
            self.pass(frames, Some(sample));
            return;
        }
        let mut done = 0;
        // A sound that goes on by itself comes in several stretches where its end falls into the block.
        while done < frames {
            let stretch = (frames - done).min(sample.data().len().saturating_sub(self.next));
            let Some(data) =
                sample.data().get(self.next..self.next + stretch).filter(|data| !data.is_empty())
            else {
                self.left = 0;
                return;
            };
            if strip.is_in_the_middle() || !out.is_stereo() {
                self.add(&mut out.middle()[done..done + stretch], data, done, [&strip.gain, fade]);
            } else {
                for (side, course) in out.sides().into_iter().zip(&strip.sides) {
                    if *course != Course::Steady(0.0) {
                        self.add(&mut side[done..done + stretch], data, done, [&strip.gain, fade, course]);
                    }
                }
            }
            self.pass(stretch, Some(sample));
            done += stretch;
        }
    }

    /// Adds `data`, its next frames, at its gain and what the courses are `ahead` frames from now on.
    fn add<const N: usize>(&self, out: &mut [f32], data: &[f32], ahead: usize, courses: [&Course; N]) {
        let whole = self.left.saturating_sub(self.fade).min(data.len());
        let (out_whole, out_fading) = out.split_at_mut(whole);
        let (data_whole, data_fading) = data.split_at(whole);
        let first = u32::try_from(ahead).unwrap_or(u32::MAX);
        let gain = |number: u32| courses.iter().fold(self.gain, |gain, course| gain * course.at(number));
        // The usual case stands apart because it is one multiplication a frame. It gives the same bits as the
        // others, for the gain of every frame is reckoned alike.
        if courses.iter().all(|course| course.left().is_none()) {
            let gain = gain(0);
            for (out, data) in out_whole.iter_mut().zip(data_whole) {
                *out += data * gain;
            }
        } else {
            add(out_whole, data_whole, |number| gain(first.saturating_add(number)));
        }
        let first_fading = first.saturating_add(u32::try_from(whole).unwrap_or(u32::MAX));
        // Whole numbers of frames, so that a fade comes out the same wherever a block begins.
        let left = u32::try_from(self.left - whole).unwrap_or(u32::MAX);
        let length = self.fade as f32;
        add(out_fading, data_fading, |number| {
            let share = left.saturating_sub(number) as f32 / length;
            gain(first_fading.saturating_add(number)) * (share * share * (3.0 - 2.0 * share))
        });
    }
}

/// Adds `data` to `out`, each frame at the gain of its number.
fn add(out: &mut [f32], data: &[f32], gain: impl Fn(u32) -> f32) {
    for ((out, data), number) in out.iter_mut().zip(data).zip(0_u32..) {
        *out += data * gain(number);
    }
}
