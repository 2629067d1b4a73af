//! What a microphone hears, kept for some seconds and laid beside the model.

use std::collections::VecDeque;

use timebase::{Anchored, ClockFit, Frame, Frames, HostTime, Seconds};

use crate::device::SoundIn;

/// Seconds of sound that are kept: more than the take stays behind what is heard.
const KEPT_SECONDS: usize = 5;

/// A device that records, and its last seconds.
#[derive(Debug)]
pub(crate) struct Microphone {
    device: Box<dyn SoundIn>,
    fit: ClockFit,
    kept: VecDeque<f32>,
    /// The device's frame that is kept longest.
    first: Frame,
    /// From a frame's reckoned moment at the loudspeaker to its reckoned moment at the microphone, as measured.
    late: Seconds,
}

/// What happened to a microphone.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum MicrophoneNews {
    /// Sound was lost.
    Disturbed,
    /// It has gone.
    Gone(String),
}

impl Microphone {
    pub(crate) fn new(device: Box<dyn SoundIn>, late: Seconds) -> Self {
        let fit = ClockFit::new(device.rate());
        Self { device, fit, kept: VecDeque::new(), first: Frame::ZERO, late }
    }

    pub(crate) fn name(&self) -> String {
        self.device.name()
    }

    /// How far what it hears lags, as measured.
    pub(crate) fn late(&self) -> Seconds {
        self.late
    }

    /// Fetches what was heard.
    pub(crate) fn mind(&mut self) -> Option<MicrophoneNews> {
        let mut news = None;
        while let Some(anchor) = self.device.next_anchor() {
            if let Anchored::Jumped(_) = self.fit.add(anchor) {
                news = Some(MicrophoneNews::Disturbed);
            }
        }
        while let Some(chunk) = self.device.next_chunk() {
            self.keep(chunk.first(), chunk.samples());
        }
        while let Some(event) = self.device.next_event() {
            match event {
                audio::Event::Gone { why } => return Some(MicrophoneNews::Gone(why)),
                audio::Event::Dropout => {
                    self.fit.expect_jump();
                    news = Some(MicrophoneNews::Disturbed);
                }
                _ => {}
            }
        }
        news
    }

    fn keep(&mut self, first: Frame, samples: &[f32]) {
        let most = KEPT_SECONDS * usize::try_from(self.device.rate().hz()).unwrap_or(usize::MAX);
        let next = self.first + length(self.kept.len());
        // What was lost in between is silence; what lies far ahead begins anew.
        let lost = usize::try_from((first - next).count().max(0)).unwrap_or(usize::MAX);
        if self.kept.is_empty() || lost > most {
            self.kept.clear();
            self.first = first;
        } else {
            self.kept.extend(std::iter::repeat_n(0.0, lost));
        }
        self.kept.extend(samples);
        let over = self.kept.len().saturating_sub(most);
        self.kept.drain(..over);
        self.first += Frames::new(i64::try_from(over).unwrap_or(0));
    }

    /// Lays what was heard into `out`, whose first frame sounded at `from` and whose end at `to`, by the loudspeaker's
    /// reckoning. Says whether there was something: what is not there yet, or no more, is silent.
    ///
    /// The two devices may have clocks of their own, so a block's frames fall between the microphone's and are read off the
    /// line between two of them.
    pub(crate) fn lay(&self, out: &mut [f32], from: HostTime, to: HostTime) -> bool {
        let place = |host: HostTime| {
            let moment = self.fit.moment_at(host + self.late)?;
            Some(moment.as_secs_f64() * f64::from(self.device.rate().hz()) - self.first.index() as f64)
        };
        let (Some(begin), Some(end)) = (place(from), place(to)) else { return false };
        let step = (end - begin) / (out.len().max(1)) as f64;
        let mut there = false;
        for (index, sample) in out.iter_mut().enumerate() {
            let at = begin + step * index as f64;
            let heard = self.between(at);
            there |= heard.is_some();
            *sample = heard.unwrap_or(0.0);
        }
        there
    }

    fn between(&self, at: f64) -> Option<f32> {
        if at < 0.0 || at >= self.kept.len() as f64 {
            return None;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "checked to lie within what is kept"
        )]
        let (before, share) = (at.floor() as usize, (at - at.floor()) as f32);
        let first = *self.kept.get(before)?;
        let second = self.kept.get(before + 1).copied().unwrap_or(first);
        Some(first + share * (second - first))
    }
}

fn length(frames: usize) -> Frames {
    Frames::new(i64::try_from(frames).unwrap_or(i64::MAX))
}

/// The moments of a block's two ends: `frames` from `first` on, by a device's own clock.
pub(crate) fn ends(fit: &ClockFit, first: Frame, frames: usize) -> Option<(HostTime, HostTime)> {
    Some((fit.host_at(first)?, fit.host_at(first + length(frames))?))
}
