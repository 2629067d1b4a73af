//! Lessons, and what is changed of players and controls by them or by hand.

use eframe::egui::Context;
use input::{Controls, Roster, TouchedAt};
use std::time::Duration;

use super::Screen;
use crate::lesson::{Lesson, Outcome};
use crate::running::sentence;

impl Screen {
    /// These players strike everything that is theirs, one after the other.
    pub(super) fn teach_players(&mut self, ctx: &Context, codes: Vec<String>) {
        let lesson = Lesson::players(codes, &self.devices.settings.input.roster, now(ctx));
        self.teach(ctx, lesson);
    }

    /// Begins a lesson, if something can be heard.
    pub(super) fn teach(&mut self, ctx: &Context, lesson: Option<Lesson>) {
        self.pane_says = None;
        if self.goes_on() {
            self.pane_says = Some("A drill runs: stop it first.".to_owned());
            return;
        }
        let Some(rig) = self.devices.rig() else {
            self.pane_says =
                Some("No device is open, so nothing can be heard: choose one under Devices.".to_owned());
            return;
        };
        if let Some(notice) = rig.midi_notice() {
            self.pane_says = Some(sentence(notice));
            return;
        }
        rig.ask_touches(true);
        self.lesson = lesson;
        self.wait_for_lesson(ctx);
    }

    /// What was touched while a lesson is under way.
    pub(super) fn learn(&mut self, touches: &[TouchedAt], ctx: &Context) {
        let now = now(ctx);
        let mut outcome = None;
        if let Some(lesson) = &mut self.lesson {
            outcome = touches.iter().find_map(|touch| lesson.heed(touch, now)).or_else(|| lesson.mind(now));
        }
        if let Some(outcome) = outcome {
            self.has_learnt(outcome);
        }
        self.wait_for_lesson(ctx);
    }

    /// The present turn is over.
    pub(super) fn go_on_with_lesson(&mut self, ctx: &Context) {
        let outcome = self.lesson.as_mut().and_then(|lesson| lesson.go_on(now(ctx)));
        if let Some(outcome) = outcome {
            self.has_learnt(outcome);
        }
        self.wait_for_lesson(ctx);
    }

    /// Nothing more is learnt.
    pub(super) fn end_lesson(&mut self) {
        if self.lesson.take().is_some()
            && let Some(rig) = self.devices.rig()
        {
            rig.ask_touches(false);
        }
    }

    fn wait_for_lesson(&self, ctx: &Context) {
        if let Some(wait) = self.lesson.as_ref().and_then(|lesson| lesson.wait(now(ctx))) {
            ctx.request_repaint_after(Duration::from_secs_f64(wait));
        }
    }

    fn has_learnt(&mut self, outcome: Outcome) {
        self.end_lesson();
        match outcome {
            Outcome::Players(roster) => {
                self.codes_typed.clear();
                self.change_players(roster);
            }
            Outcome::Order(order, place) => {
                let mut places = self.devices.settings.input.controls.places().to_vec();
                // One place asks for one thing.
                places.retain(|(_, other)| *other != place);
                places.push((order, place));
                self.change_controls(Controls::new(places));
            }
            Outcome::Nothing(why) => self.pane_says = Some(sentence(&why)),
        }
    }

    /// Puts a list in the place of the one there was, or says why it is none. Says whether it did.
    pub(super) fn change_players_if(&mut self, roster: Result<Roster, input::Error>) -> bool {
        match roster {
            Ok(roster) => {
                self.change_players(roster);
                true
            }
            Err(error) => {
                self.pane_says = Some(sentence(&error.to_string()));
                false
            }
        }
    }

    pub(super) fn change_players(&mut self, roster: Roster) {
        self.devices.settings.input.roster = roster;
        self.keep_players();
    }

    pub(super) fn change_controls(&mut self, controls: Controls) {
        self.devices.settings.input.controls = controls;
        self.keep_players();
    }

    /// The devices are opened with what is kept now as soon as the pane is left.
    fn keep_players(&mut self) {
        self.devices_are_stale = true;
        self.pane_says = None;
        let input = &self.devices.settings.input;
        let Some(keeper) = &self.settings.keeper else { return };
        match keeper.keep_players(&input.roster, &input.controls) {
            Ok(path) => self.kept_in = Some(path),
            Err(why) => self.pane_says = Some(sentence(&why)),
        }
    }

    pub(super) fn reread_players(&mut self) {
        let Some(keeper) = &self.settings.keeper else { return };
        match keeper.players() {
            Ok((roster, controls)) => {
                self.devices.settings.input.roster = roster;
                self.devices.settings.input.controls = controls;
                self.devices_are_stale = true;
                self.pane_says = Some("Read as it is kept.".to_owned());
            }
            Err(why) => self.pane_says = Some(sentence(&why)),
        }
    }
}

/// The window's own time, in seconds.
pub(super) fn now(ctx: &Context) -> f64 {
    ctx.input(|input| input.time)
}
