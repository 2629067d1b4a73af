//! Drills: their beginning, what they tell, what pads ask for, and whose turn it is.

use std::time::Duration;

use eframe::egui::Context;
use input::Order;
use live::{Drill, Event};
use take::Ended;

use super::teaching::now;
use super::{FRAME, Screen, Scroll};
use crate::devices::Sound;
use crate::running::{Running, sentence};

impl Screen {
    /// What the devices told since the last time.
    pub(super) fn heed_events(&mut self, ctx: &Context) {
        let Some(rig) = self.devices.rig() else { return self.learn(&[], ctx) };
        let events: Vec<_> = rig.events().try_iter().collect();
        let (mut orders, mut touches) = (Vec::new(), Vec::new());
        for event in events {
            match event {
                Event::Order(order) => orders.push(order),
                Event::Touched(touch) => touches.push(touch),
                event => {
                    match &event {
                        Event::SoundGone { why } => self.devices.gone = Some(why.clone()),
                        Event::SoundBack { .. } => self.devices.gone = None,
                        _ => {}
                    }
                    self.heed(event, ctx);
                }
            }
        }
        self.learn(&touches, ctx);
        for order in orders {
            self.heed_order(order, ctx);
        }
    }

    pub(super) fn heed(&mut self, event: Event, ctx: &Context) {
        if self.measuring.taps() {
            return self.heed_taps(event, ctx);
        }
        // What a drill tells that was replaced by another is not about the one that runs.
        if self.replaced > 0 && matches!(event, Event::Ended { .. } | Event::Judged(_) | Event::Phase(_)) {
            self.replaced -= usize::from(matches!(event, Event::Ended { .. }));
            return;
        }
        self.heed_plan(&event);
        if self.comes_late(&event) {
            return;
        }
        if let Event::Ended { ended, .. } = &event {
            self.calling.ends(*ended == Ended::Finished, now(ctx));
            self.wait_for_turn(ctx);
            self.scroll.has_ended = true;
        }
        if let Some(running) = &mut self.running {
            self.judgements += u64::from(running.heed(event));
        }
    }

    /// A pad, a pedal or a key of a keyboard asks for something.
    pub(super) fn heed_order(&mut self, order: Order, ctx: &Context) {
        if self.lesson.is_some() || self.measuring.is_on() {
            return;
        }
        match order {
            Order::Start if !self.goes_on() => self.start(ctx),
            Order::Start => {}
            // A drill that ran has stopped already.
            Order::Stop => self.calling.holds(),
            Order::Next => self.next(ctx),
            Order::Again => self.again(ctx),
        }
    }

    /// The drill starts by itself for the next one, where it is to.
    pub(super) fn mind_turns(&mut self, ctx: &Context) {
        if self.pane.is_none() && self.calling.is_due(now(ctx)) {
            self.start(ctx);
        }
        self.wait_for_turn(ctx);
    }

    fn wait_for_turn(&self, ctx: &Context) {
        if let Some(wait) = self.calling.wait(now(ctx)).filter(|_| self.pane.is_none()) {
            ctx.request_repaint_after(Duration::from_secs_f64(wait));
        }
    }

    pub(super) fn start(&mut self, ctx: &Context) {
        self.set_pane(None, ctx);
        if let Sound::Opening = self.devices.sound
            && self.sheet.as_ref().is_some_and(|sheet| sheet.rhythm().is_some())
        {
            self.start_awaited = true;
            self.complaint = Some("The devices are being opened; the drill starts then.".to_owned());
            return;
        }
        self.complaint = self.try_start().err();
        if self.complaint.is_none() {
            // The keyboard is the players' now.
            ctx.memory_mut(|memory| {
                if let Some(focused) = memory.focused() {
                    memory.surrender_focus(focused);
                }
            });
            ctx.request_repaint_after(FRAME);
        }
    }

    fn try_start(&mut self) -> Result<(), String> {
        let Some(sheet) = &self.sheet else { return Err("Open a rhythm first: press O.".to_owned()) };
        let Some((rhythm, _)) = sheet.rhythm() else {
            return Err("This text is no rhythm yet: mend it and press R.".to_owned());
        };
        let system = self.settings.system.clone();
        let drill = Drill { system, ..Drill::new(rhythm.clone(), self.choices.plan(rhythm)) };
        let title = sheet.title();
        let mut drill = self.planned_drill()?.unwrap_or(drill);
        drill.voice.clone_from(&self.settings.voice);
        drill.levels = self.choices.levels();
        drill.settings = self.choices.judge;
        drill.latency = self.settings.latency;
        drill.replay.clone_from(&self.settings.replay);
        drill.names = self.calling.now();
        drill.take =
            self.choices.keep_takes.then(|| live::new_take_dir(&self.settings.takes_root, Some(&title)));
        let is_replaced = self.goes_on();
        if self.devices.gone.is_some() {
            return Err("The sound device has gone: plug it in again, or choose another with D.".to_owned());
        }
        let rig = match &mut self.devices.sound {
            Sound::Open(rig) => rig,
            Sound::Opening => {
                return Err("The sound device is still being opened: try again in a moment.".to_owned());
            }
            Sound::Lent => return Err("A latency is being measured: wait until it is found.".to_owned()),
            Sound::Missing(_) => {
                return Err("Without sound no drill can run: choose a device with D.".to_owned());
            }
        };
        let tempo = drill.plan.tempo();
        rig.start(drill).map_err(|error| sentence(&error.to_string()))?;
        self.replaced += usize::from(is_replaced);
        self.calling.starts();
        self.played_tempo = Some(tempo);
        self.running = Some(Running::new());
        self.judgements += 1;
        self.scroll = Scroll::default();
        Ok(())
    }

    /// Ends the drill; where none runs, what waits to begin, or what was said last.
    pub(super) fn stop(&mut self, ctx: &Context) {
        self.start_awaited = false;
        self.calling.holds();
        if self.lesson.is_some() {
            return self.end_lesson();
        }
        if self.is_played() {
            // What was tapped so far is nobody's drill.
            self.replaced += usize::from(self.measuring.give_up());
            if let Some(rig) = self.devices.rig() {
                rig.stop();
            }
        } else if self.pane.is_some() {
            self.set_pane(None, ctx);
        } else {
            self.complaint = None;
        }
    }

    /// The next one's turn; without turns, the next rhythm.
    pub(super) fn next(&mut self, ctx: &Context) {
        if self.goes_on() {
            return;
        }
        if self.calling.is_on() {
            self.calling.next();
            self.start(ctx);
        } else {
            self.open_next(ctx);
        }
    }

    /// The same once more, by the same players.
    pub(super) fn again(&mut self, ctx: &Context) {
        self.calling.again();
        self.start(ctx);
    }
}
