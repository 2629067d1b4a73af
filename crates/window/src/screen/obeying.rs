//! What keys and buttons ask for.

use eframe::egui::{self, Context, ViewportCommand};

use super::{Pane, Screen, waker};
use crate::choices::Strip;
use crate::orders::Order;
use crate::sheet::Sheet;

impl Screen {
    /// Does what a key or a button asks for.
    pub(super) fn obey(&mut self, order: Order, ctx: &Context) {
        match order {
            Order::Start => self.start(ctx),
            Order::Stop => self.stop(ctx),
            Order::Next => self.next(ctx),
            Order::Again => self.again(ctx),
            Order::PassOver => self.calling.advance(),
            Order::NoTurns => self.calling.end(),
            Order::Open => self.ask_for_file(ctx),
            Order::Reread => self.reread(true),
            Order::Tempo(steps) => {
                if let Some((rhythm, _)) = self.sheet.as_ref().and_then(Sheet::rhythm) {
                    self.choices.move_tempo(rhythm, steps);
                    self.tempo_typed.clear();
                }
            }
            Order::CountIn(bars) => self.choices.move_count_in(bars),
            Order::Click(steps) => self.move_level("Click", |strips| &mut strips.click, steps),
            Order::Count(steps) => self.move_level("Count", |strips| &mut strips.count, steps),
            Order::Clap(steps) => self.move_level("Clap", |strips| &mut strips.clap, steps),
            Order::Tolerance(steps) => self.choices.move_tolerance(steps),
            Order::LeanNext => self.choices.lean = self.choices.lean.next(),
            Order::ClassView => {
                let shown = self.class_view();
                self.choices.class_view = Some(!shown);
            }
            Order::KeepTakes => self.choices.keep_takes = !self.choices.keep_takes,
            Order::Colours => self.choices.colours = !self.choices.colours,
            Order::LargePrint => self.choices.large_print = !self.choices.large_print,
            Order::Size(steps) => self.choices.move_size(steps),
            Order::Told => self.choices.told = self.choices.told.next(),
            Order::Scroll(lines) => self.scroll.lines += lines,
            Order::ScrollTo(end) => self.scroll.to = Some(end),
            Order::Sounds => self.toggle(Pane::Sounds, ctx),
            Order::Players => self.toggle(Pane::Players, ctx),
            Order::Controls => self.toggle(Pane::Controls, ctx),
            Order::Turns => self.toggle(Pane::Turns, ctx),
            Order::Latency => self.toggle(Pane::Latency, ctx),
            Order::Findings => self.toggle(Pane::Findings, ctx),
            Order::Devices => self.toggle(Pane::Devices, ctx),
            Order::Keys => self.toggle(Pane::Keys, ctx),
            Order::Close => ctx.send_viewport_cmd(egui::ViewportCommand::Close),
            Order::FullScreen => {
                self.full_screen = !self.full_screen;
                ctx.send_viewport_cmd(ViewportCommand::Fullscreen(self.full_screen));
            }
        }
    }

    fn move_level(
        &mut self,
        name: &str,
        strip: impl FnOnce(&mut sequencer::Each<Strip>) -> &mut Strip,
        steps: i32,
    ) {
        let strip = strip(&mut self.choices.strips);
        strip.step(steps);
        // The pane that shows it may be closed.
        self.complaint = (self.pane != Some(Pane::Sounds)).then(|| format!("{name}: {strip}"));
        if let Some(rig) = self.devices.rig() {
            rig.set_levels(self.choices.levels());
        }
    }

    fn toggle(&mut self, pane: Pane, ctx: &Context) {
        self.set_pane((self.pane != Some(pane)).then_some(pane), ctx);
    }

    /// Lays this over the page instead of what lies there. Devices are opened with the players as they are now when those
    /// are left.
    pub(super) fn set_pane(&mut self, pane: Option<Pane>, ctx: &Context) {
        if self.pane == pane {
            return;
        }
        self.end_lesson();
        (self.pane, self.pane_is_new, self.pane_says) = (pane, true, None);
        if self.devices_are_stale && !matches!(pane, Some(Pane::Players | Pane::Controls)) {
            self.open_devices_anew(ctx);
        }
        match pane {
            Some(Pane::Devices | Pane::Latency) => self.devices.ask(waker(ctx)),
            Some(Pane::Turns) => {
                let players = self.devices.rig().map(live::Rig::players);
                let labels = players.iter().flat_map(input::Players::all).map(input::Player::label);
                let mut pads: Vec<String> = labels.collect();
                if pads.is_empty() {
                    // The space bar is a player with its first stroke only.
                    pads.push("P1".to_owned());
                }
                self.calling.at_pads(&pads);
            }
            _ => {}
        }
    }
}
