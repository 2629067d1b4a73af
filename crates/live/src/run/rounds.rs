//! A drill plan's part in a run: what comes next, what is asked now, what is over.

use std::sync::Arc;

use input::Players;
use timebase::{Frame, Frames, Moment, Seconds};

use super::Run;
use crate::asked::Asked;
use crate::course::{Follower, clicks, is_good};
use crate::{Error, Event};

/// How long after the end of a response strokes that belong to it may still be heard of, their latency left out.
const LATE_NEWS: Seconds = Seconds::from_millis(150);

/// What happened in a plan, and what went wrong with its take.
#[derive(Debug, Default)]
pub(crate) struct Advanced {
    pub(crate) events: Vec<Event>,
    pub(crate) failures: Vec<take::Error>,
}

impl Run {
    /// Whether the rounds of a plan are played.
    pub(crate) fn is_planned(&self) -> bool {
        self.course.is_some()
    }

    /// Makes the next round ready where it is time for it. `rendered` is what the mixer has reached, `heard` what is heard.
    pub(crate) fn make_ready(
        &mut self,
        rendered: Frame,
        block: Frames,
        heard: Moment,
        players: &Players,
    ) -> Result<(), Error> {
        let (Some(course), Some(zero)) = (&mut self.course, self.zero) else { return Ok(()) };
        let bar_one = zero + (self.sounding.bar_one() - Frame::ZERO);
        if self.follower.is_some() || !course.is_due(Frame::ZERO + (rendered - bar_one), block) {
            return Ok(());
        }
        // What was struck by now is known a latency later.
        let known = heard - self.latency.all;
        if course.planned().drill.depends_on_outcomes() {
            let open = |asked: &&mut Asked| asked.is_open;
            self.asked.iter_mut().filter(open).for_each(|asked| asked.judge_for_good(Some(known)));
            course.weigh(self.asked.iter().filter(|asked| asked.is_open));
        }
        let Some(ready) = course.next()? else { return Ok(()) };
        self.sound.follow(ready.follower.clone());
        self.follower = Some(ready.follower);
        for asked in ready.asked {
            self.asked.push_back(asked);
            // A take that cannot be written says so with the next stroke, and the drill goes on.
            let _ = self.seat(self.asked.len() - 1, players);
        }
        Ok(())
    }

    /// The round that is to follow in the mixer and was not sent yet.
    pub(crate) fn follower(&self) -> Option<&Follower> {
        self.follower.as_ref()
    }

    pub(crate) fn follower_sent(&mut self) {
        self.follower = None;
    }

    /// What has happened by what is heard now: rounds and their parts that have begun, responses that are over.
    pub(crate) fn advance(&mut self, heard: Moment) -> Advanced {
        let mut advanced = Advanced::default();
        let in_take = self.in_take(Moment::ZERO);
        let Some(course) = &mut self.course else { return advanced };
        while let Some(mut begun) = course.begun(heard) {
            begun.round.shift(in_take.since_zero());
            let clicks = clicks(&begun.beats, in_take);
            let written =
                self.recorder.as_mut().map_or(Ok(()), |recorder| recorder.round(begun.round, &clicks));
            advanced.failures.extend(written.err());
        }
        let known = heard - self.latency.all - LATE_NEWS;
        let mut is_next = false;
        while let Some(asked) = self.asked.pop_front_if(|asked| asked.window.end <= known) {
            self.close(asked, None, &mut advanced);
            is_next = true;
        }
        while let Some(part) = self.course.as_mut().and_then(|course| course.part(heard)) {
            advanced.events.push(Event::Part(Arc::new(part)));
        }
        for (index, asked) in self.asked.iter_mut().enumerate() {
            let opens = !asked.is_open && asked.window.start <= heard;
            asked.is_open |= opens;
            // One that opened while the one before was still waited for comes to its rows when that is closed.
            if index == 0 && asked.is_open && (opens || is_next) {
                advanced.events.push(Event::Judged(asked.states()));
            }
        }
        advanced
    }

    /// Judges a response for good, up to `until` where the drill was stopped then.
    fn close(&mut self, mut asked: Asked, until: Option<Moment>, advanced: &mut Advanced) {
        asked.judge_for_good(until);
        self.judged = asked.states();
        advanced.events.push(Event::Judged(Arc::clone(&self.judged)));
        // A response that was cut off says nothing of its round.
        if until.is_some_and(|until| until < asked.window.end) {
            return;
        }
        let Some(over) = self.course.as_mut().and_then(|course| course.answered(&asked)) else { return };
        if let (Some(outcome), Some(recorder)) = (over.outcome, &mut self.recorder) {
            advanced.failures.extend(recorder.became(over.round, is_good(outcome)).err());
        }
        advanced.events.push(Event::Round(Arc::new(over)));
    }

    /// The drill is over: what was asked and has begun is judged, up to `until` where it was stopped.
    pub(super) fn close_all(&mut self, until: Option<Moment>) -> (Vec<Event>, Option<take::Error>) {
        let mut advanced = Advanced::default();
        let begun = |asked: &Asked| asked.is_open || until.is_some_and(|until| asked.window.start <= until);
        while let Some(asked) = self.asked.pop_front_if(|asked| begun(asked)) {
            self.close(asked, until, &mut advanced);
        }
        self.asked.clear();
        (advanced.events, advanced.failures.pop())
    }
}
