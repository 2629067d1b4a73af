//! The rounds of a drill plan: the next one handed to the mixer in time, and what happens told.

use timebase::{Frame, Frames, Moment};

use super::Worker;
use take::Ended;

impl Worker {
    /// Minds the rounds of a plan, if one runs.
    pub(super) fn mind_rounds(&mut self, heard: Moment) {
        let block = Frames::new(self.parts.sound.block());
        let Some(run) = self.run.as_mut().filter(|run| run.is_planned()) else { return };
        let Some(controller) = self.parts.sound.controller() else { return };
        let ready = run.make_ready(controller.rendered(), block, heard, &self.view.players());
        let sent = run.follower().map(|next| controller.follow(&next.programme, Frame::ZERO, next.at));
        match sent {
            Some(Ok(())) => run.follower_sent(),
            // The one before has not begun, or the mixer is behind: it is tried again at the next tick.
            None | Some(Err(mixer::Error::QueueFull | mixer::Error::NextWaits)) => {}
            Some(Err(error)) => {
                self.notice(error.to_string());
                self.end(Ended::Stopped);
                return;
            }
        }
        if let Err(error) = ready {
            self.notice(error.to_string());
            self.end(Ended::Stopped);
            return;
        }
        let Some(run) = &mut self.run else { return };
        let advanced = run.advance(heard);
        for failure in &advanced.failures {
            self.recording_failed(failure);
        }
        for event in advanced.events {
            self.tell(event);
        }
    }
}
