//! The sound of a take: the model as it sounded, and the players' strokes rendered.

use std::collections::VecDeque;

use mixer::{Mixer, Sample};
use sequencer::{Levels, Sounding};
use timebase::{Frame, Frames};

use crate::course::Follower;

/// Renders both channels of a take, in step with what is heard but some way behind it, so that a stroke that is
/// heard of late still stands where it fell.
#[derive(Debug)]
pub(crate) struct TakeSound {
    model: Mixer,
    /// What follows in the model, not handed to its mixer yet.
    followers: VecDeque<Follower>,
    clap: Sample,
    /// Where strokes fell, in frames of the programme, and how loud, in rising order.
    strokes: Vec<(Frame, f32)>,
    written: Frame,
    model_block: Vec<f32>,
    player_block: Vec<f32>,
}

impl TakeSound {
    pub(crate) fn new(sounding: &Sounding, levels: Levels) -> Result<Self, mixer::Error> {
        let clap = sounding.programme().bank().sample(sounding.clap()).cloned();
        Ok(Self {
            model: levels.on(Mixer::new(sounding.programme()))?,
            followers: VecDeque::new(),
            clap: clap.unwrap_or(Sample::new(Vec::new())?),
            strokes: Vec::new(),
            written: Frame::ZERO,
            model_block: Vec::new(),
            player_block: Vec::new(),
        })
    }

    /// The model goes on with this.
    pub(crate) fn follow(&mut self, next: Follower) {
        self.followers.push_back(next);
    }

    /// A stroke fell here; 1 to 127 hard. One that comes later than its place was written sounds as soon as it can.
    pub(crate) fn strike(&mut self, at: Frame, velocity: u8) {
        let at = at.max(self.written);
        let place = self.strokes.partition_point(|(other, _)| *other <= at);
        self.strokes.insert(place, (at, f32::from(velocity) / 127.0));
    }

    /// What fell here turned out to be no stroke: it does not sound, unless it has begun to.
    pub(crate) fn withdraw(&mut self, at: Frame, velocity: u8) {
        let gain = f32::from(velocity) / 127.0;
        let found = self.strokes.iter().position(|&stroke| at >= self.written && stroke == (at, gain));
        found.map(|index| self.strokes.remove(index));
    }

    /// Renders up to `frame` and hands both channels over, with the frame at which they begin.
    pub(crate) fn advance<E>(
        &mut self,
        frame: Frame,
        mut take: impl FnMut(Frame, &[f32], &[f32]) -> Result<(), E>,
    ) -> Result<(), E> {
        const BLOCK: i64 = 4_096;
        while self.written < frame {
            let frames = (frame - self.written).min(Frames::new(BLOCK));
            let length = usize::try_from(frames.count()).unwrap_or(0);
            if !self.model.has_next()
                && let Some(next) = self.followers.front()
                && self.model.follow(&next.programme, Frame::ZERO, next.at).is_ok()
            {
                self.followers.pop_front();
            }
            self.model_block.resize(length, 0.0);
            self.model.render(&mut self.model_block);
            self.player_block.clear();
            self.player_block.resize(length, 0.0);
            self.render_strokes();
            let from = self.written;
            self.written += frames;
            take(from, &self.model_block, &self.player_block)?;
        }
        Ok(())
    }

    fn render_strokes(&mut self) {
        let (from, ring) = (self.written, self.clap.length());
        self.strokes.retain(|(at, _)| *at + ring > from);
        let data = self.clap.data();
        for (at, gain) in &self.strokes {
            // The part of the clap that falls into this block.
            let skip = usize::try_from((from - *at).count().max(0)).unwrap_or(data.len());
            let begin = usize::try_from((*at - from).count().max(0)).unwrap_or(usize::MAX);
            let out = self.player_block.iter_mut().skip(begin);
            out.zip(data.iter().skip(skip)).for_each(|(out, sample)| *out += gain * sample);
        }
        self.player_block.iter_mut().for_each(|sample| *sample = sample.clamp(-1.0, 1.0));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn take_sound() -> TakeSound {
        let rhythm = rhythm::text::read("meter: 1/4\n| 1 |").rhythm.expect("a rhythm");
        let sequence = sequencer::sequence(&rhythm, &counting::count(&rhythm), &sequencer::Plan::of(&rhythm));
        let voice = voice::VoicePack::shipped("female").expect("shipped");
        let sounding = sequencer::lower(&sequence, &voice).expect("sayable");
        TakeSound::new(&sounding, Levels::default()).expect("levels")
    }

    #[test]
    fn strokes_stand_where_they_fell_also_across_blocks() {
        let whole = |steps: &[i64]| {
            let mut sound = take_sound();
            sound.strike(Frame::new(5_000), 127);
            sound.strike(Frame::new(100), 64);
            let mut player = Vec::new();
            for step in steps {
                sound
                    .advance::<()>(Frame::new(*step), |_, _, right| {
                        player.extend_from_slice(right);
                        Ok(())
                    })
                    .expect("no failure");
            }
            player
        };
        let once = whole(&[20_000]);
        let first = once.iter().position(|sample| *sample != 0.0);
        assert_eq!(first, Some(100));
        let clap = take_sound().clap;
        assert!((once[100] - clap.data()[0] * 64.0 / 127.0).abs() < 1e-6);
        assert_eq!(once, whole(&[1, 150, 4_097, 5_001, 20_000]));
    }

    #[test]
    fn a_stroke_that_is_withdrawn_in_time_does_not_sound() {
        let rendered = |withdrawn_at: i64| {
            let mut sound = take_sound();
            sound.strike(Frame::new(700), 90);
            sound.strike(Frame::new(700), 64);
            let mut player = Vec::new();
            for step in [withdrawn_at, 2_000] {
                let advanced = sound.advance::<()>(Frame::new(step), |_, _, right| {
                    player.extend_from_slice(right);
                    Ok(())
                });
                advanced.expect("no failure");
                sound.withdraw(Frame::new(700), 90);
            }
            let first = sound.clap.data()[0];
            (player[700] / first * 127.0).round()
        };
        assert_eq!([rendered(600), rendered(700), rendered(701)], [64.0, 64.0, 154.0]);
    }

    #[test]
    fn a_stroke_heard_of_too_late_is_not_lost() {
        let mut sound = take_sound();
        let mut player = Vec::new();
        let mut advance = |sound: &mut TakeSound, to| {
            sound
                .advance::<()>(Frame::new(to), |_, _, right| {
                    player.extend_from_slice(right);
                    Ok(())
                })
                .expect("no failure");
        };
        advance(&mut sound, 1_000);
        sound.strike(Frame::new(500), 127);
        advance(&mut sound, 2_000);
        assert_eq!(player.iter().position(|sample| *sample != 0.0), Some(1_000));
    }
}
