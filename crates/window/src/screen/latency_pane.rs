use eframe::egui::{Context, Grid, RichText, ScrollArea, Ui};
use live::calibration::{Tapping, is_wireless};
use live::{Event, Measured, SoundAt};

use super::device_pane::recording_input;
use super::steppers::{heading, named};
use super::{Screen, waker};
use crate::measuring::{Found, TAPPING, WIRELESS, What, sure};
use crate::running::sentence;
use crate::style;

/// The size of what is to be done while something is measured.
const ASKED: f32 = 24.0;

impl Screen {
    /// How late sound and strokes are: what is known, and the measuring of it.
    pub(super) fn latency_pane(&mut self, ui: &mut Ui) {
        ui.set_width(780.0);
        if let Some(asks) = self.measuring.asks() {
            ui.label(RichText::new(asks).font(style::bold(ASKED)));
            return;
        }
        ScrollArea::vertical()
            .max_height(500.0)
            .min_scrolled_height(500.0)
            .auto_shrink([false, true])
            .id_salt("latency")
            .show(ui, |ui| {
                for line in self.taken_off() {
                    ui.label(line);
                }
                for line in &self.measuring.says {
                    ui.label(RichText::new(line).font(style::bold(style::TEXT_SIZE)));
                }
                ui.separator();
                self.measures(ui);
                ui.separator();
                self.stored(ui);
            });
    }

    /// What is taken off strokes now, and from what it is known.
    fn taken_off(&self) -> Vec<String> {
        if let Some(given) = self.settings.latency {
            return vec![format!(
                "{:.1} ms are taken off every stroke, as given when the window was opened.",
                given.as_millis_f64()
            )];
        }
        let Some(rig) = self.devices.rig() else {
            return vec![
                "No sound device is open, so nothing can be measured: choose one under Devices (D)."
                    .to_owned(),
            ];
        };
        let ((rate, block), latency) = (rig.sound_runs(), rig.latency());
        let device = format!("{}, {} Hz, blocks of {} frames", rig.sound_name(), rate.hz(), block.count());
        if latency.from.is_empty() {
            return vec![format!(
                "{device}: nothing is measured, so strokes are taken as the drivers stamp them, and nothing should be read \
                 into a distance from the click."
            )];
        }
        let own: Vec<String> = latency
            .own
            .iter()
            .map(|(port, late)| format!("; of {port} {:.1} ms", late.as_millis_f64()))
            .collect();
        let all = latency.all.as_millis_f64();
        let mut says = vec![format!(
            "{device}: {all:.1} ms are taken off every stroke{} (by {}).",
            own.concat(),
            latency.from
        )];
        if is_wireless(latency.all) {
            says.push(WIRELESS.to_owned());
        }
        says
    }

    /// The three ways, the best first.
    fn measures(&mut self, ui: &mut Ui) {
        recording_input(ui, &mut self.measuring.record, self.devices.list.as_ref());
        let (mut sound, mut pad, mut taps) = (false, false, false);
        ui.add_space(4.0);
        heading(ui, "1. The sound, by a loop");
        ui.label(
            "A cable from the output to the input, or the microphone where the players sit. Turn the volume low, then up to \
             what a lesson needs.",
        );
        let shown = ui.button("Measure the sound");
        if std::mem::take(&mut self.pane_is_new) {
            shown.request_focus();
        }
        sound |= named(shown, "Measure the sound by a loop");
        ui.add_space(4.0);
        heading(ui, "2. A pad, struck beside the microphone");
        ui.label("Put the microphone beside the pad. Sound and pad together are what is taken off that pad's strokes.");
        let ports = self.devices.list.as_ref().map_or_else(Vec::new, |list| list.midi.clone());
        if self.measuring.port.is_empty() {
            self.measuring.port = ports.first().cloned().unwrap_or_default();
        }
        if ports.is_empty() {
            ui.label(RichText::new("No pad is plugged in.").weak());
        } else {
            ui.horizontal_wrapped(|ui| {
                for port in &ports {
                    ui.radio_value(&mut self.measuring.port, port.clone(), port);
                }
            });
            pad |= named(ui.button("Measure the pad"), "Measure the pad beside the microphone");
        }
        ui.add_space(4.0);
        heading(ui, "3. Where there is no microphone: by tapping");
        ui.label(TAPPING);
        taps |= named(ui.button("Tap along"), "Measure by tapping along with a click");
        let ctx = ui.ctx().clone();
        if sound {
            self.measure(What::Sound, &ctx);
        }
        if pad {
            self.measure(What::Pad(self.measuring.port.clone()), &ctx);
        }
        if taps {
            self.tap_along();
        }
    }

    /// Everything that was measured, each with the devices it is true of.
    fn stored(&mut self, ui: &mut Ui) {
        heading(ui, "Measured so far");
        let measured = &self.devices.settings.measured;
        if *measured == Measured::default() {
            ui.label(RichText::new("Nothing.").weak());
            return;
        }
        let now = self.devices.rig().map(sound_at);
        Grid::new("measured").num_columns(3).spacing([18.0, 4.0]).show(ui, |ui| {
            for looped in &measured.loops {
                ui.label("sound");
                ui.label(format!("{} to {}", described(&looped.at), looped.input));
                let wireless = if is_wireless(looped.late) { ", as a wireless speaker" } else { "" };
                let (late, moved) = (looped.late.as_millis_f64(), looped.moved.as_millis_f64());
                let here = if now.as_ref() == Some(&looped.at) { " (in use)" } else { "" };
                ui.label(format!("{late:.1} ± {moved:.1} ms{wireless}{here}"));
                ui.end_row();
            }
            for pad in &measured.pads {
                ui.label("pad");
                ui.label(format!("{} beside {}", pad.port, pad.input));
                ui.label(sure(pad.late, pad.uncertainty));
                ui.end_row();
            }
            for tap in &measured.taps {
                ui.label("tapping");
                ui.label(format!("{} with {}", tap.port, described(&tap.at)));
                ui.label(format!("{}, the tapper's lead in it", sure(tap.late, tap.uncertainty)));
                ui.end_row();
            }
        });
        if named(ui.button("Forget all"), "Forget everything that was measured") {
            let ctx = ui.ctx().clone();
            self.measuring.says = vec!["Nothing is measured any more.".to_owned()];
            self.keep_measured(Measured::default(), &ctx);
        }
    }

    fn measure(&mut self, what: What, ctx: &Context) {
        if self.goes_on() {
            self.measuring.says = vec!["A drill runs: stop it first.".to_owned()];
            return;
        }
        let before = self.devices.lend();
        self.measuring.begin(what, &self.devices.settings, before, waker(ctx));
    }

    fn tap_along(&mut self) {
        let begun = Tapping::new().map_err(|error| error.to_string()).and_then(|tapping| {
            if self.goes_on() {
                return Err("a drill runs: stop it first".to_owned());
            }
            let rig =
                self.devices.rig_mut().ok_or("no sound device is open: choose one under Devices (D)")?;
            rig.start(tapping.drill()).map_err(|error| error.to_string())?;
            Ok(tapping)
        });
        match begun {
            Ok(tapping) => self.measuring.begin_taps(tapping),
            Err(why) => self.measuring.says = vec![sentence(&why)],
        }
    }

    /// What came of a measuring.
    pub(super) fn mind_measuring(&mut self, ctx: &Context) {
        if let Some(found) = self.measuring.mind() {
            self.has_measured(found, ctx);
        }
        if self.measuring.taps() {
            ctx.request_repaint_after(super::FRAME);
        }
    }

    /// What the click tells that is tapped along with.
    pub(super) fn heed_taps(&mut self, event: Event, ctx: &Context) {
        let at = self.devices.rig().map(sound_at);
        match (event, at) {
            (Event::Ended { players, .. }, Some(at)) => {
                if let Some(found) = self.measuring.tapped(&players, at) {
                    self.has_measured(found, ctx);
                }
            }
            (Event::SoundGone { why }, _) | (Event::Disturbed { why }, _) => {
                self.measuring.says = vec![sentence(&format!("sound was disturbed ({why}): measure again"))];
            }
            _ => {}
        }
    }

    fn has_measured(&mut self, found: Result<Found, String>, ctx: &Context) {
        let mut measured = self.devices.settings.measured.clone();
        match found {
            Ok(found) => {
                found.keep(&mut measured);
                self.measuring.says = found.says(&measured).iter().map(|says| sentence(says)).collect();
            }
            Err(why) => self.measuring.says = vec![sentence(&why)],
        }
        self.keep_measured(measured, ctx);
    }

    /// Keeps it, and opens the devices with it.
    fn keep_measured(&mut self, measured: Measured, ctx: &Context) {
        if self.devices.settings.measured != measured {
            self.devices.settings.measured = measured;
            let kept = self
                .settings
                .keeper
                .as_ref()
                .map(|keeper| keeper.keep_measured(&self.devices.settings.measured));
            match kept {
                Some(Ok(path)) => self.measuring.says.push(format!("Kept in {}.", path.display())),
                Some(Err(why)) => self.measuring.says.push(sentence(&why)),
                None => {}
            }
        }
        self.open_devices_anew(ctx);
    }
}

fn sound_at(rig: &live::Rig) -> SoundAt {
    let (rate, block) = rig.sound_runs();
    SoundAt { output: rig.sound_name(), rate, block }
}

fn described(at: &SoundAt) -> String {
    format!("{}, {} Hz, {} frames", at.output, at.rate.hz(), at.block.count())
}
