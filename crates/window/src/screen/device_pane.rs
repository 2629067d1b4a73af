use audio::SoundSystem;
use eframe::egui::{Context, RichText, ScrollArea, Ui};
use input::SystemChoice;

use super::steppers::heading;
use super::{Screen, waker};
use crate::devices::List;
use crate::running::sentence;

impl Screen {
    /// Which devices are used.
    pub(super) fn device_choice(&mut self, ui: &mut Ui) {
        ui.set_width(560.0);
        let mut anew = false;
        ui.horizontal(|ui| {
            ui.label("System:");
            for (system, midi, name) in [
                (SoundSystem::Native, SystemChoice::Native, "the computer's own"),
                (SoundSystem::Jack, SystemChoice::Jack, "a JACK server"),
            ] {
                let settings = &mut self.devices.settings;
                if ui.radio(settings.sound.system == system, name).clicked()
                    && settings.sound.system != system
                {
                    settings.sound.system = system;
                    settings.midi = midi;
                    settings.sound.device = None;
                    settings.inputs.clear();
                    anew = true;
                }
            }
        });
        ui.separator();
        let list = self.devices.list.clone();
        match &list {
            None => {
                ui.label("Looking for devices …");
            }
            Some(list) => {
                ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
                    anew |= self.sound_choice(ui, list);
                    ui.separator();
                    anew |= self.midi_choice(ui, list);
                });
            }
        }
        ui.separator();
        ui.label(format!("{}. {}.", self.devices.sound_line(), self.devices.players_line()));
        let ms = self.keys.resolution().as_millis_f64();
        ui.label(RichText::new(format!("The space bar is stamped to {ms:.0} ms on this system.")).weak());
        ui.horizontal(|ui| {
            anew |= ui.button("Open again").clicked();
            if ui.button("Close").clicked() {
                let ctx = ui.ctx().clone();
                self.set_pane(None, &ctx);
            }
        });
        if anew {
            let ctx = ui.ctx().clone();
            self.open_devices_anew(&ctx);
        }
    }

    pub(super) fn open_devices_anew(&mut self, ctx: &Context) {
        self.end_lesson();
        self.devices_are_stale = false;
        self.replaced = 0;
        self.end_without_sound();
        self.devices.open(waker(ctx));
        self.devices.ask(waker(ctx));
    }

    /// Returns whether another device was chosen.
    fn sound_choice(&mut self, ui: &mut Ui, list: &List) -> bool {
        heading(ui, "Sound");
        if let Some(why) = &list.no_sound {
            ui.label(sentence(why));
            return false;
        }
        let chosen = &mut self.devices.settings.sound.device;
        let before = chosen.clone();
        ui.radio_value(chosen, None, "the system's own choice");
        for device in &list.sound {
            ui.radio_value(chosen, Some(device.name.clone()), &device.name);
        }
        *chosen != before
    }

    /// Returns whether other inputs were chosen.
    fn midi_choice(&mut self, ui: &mut Ui, list: &List) -> bool {
        heading(ui, "MIDI inputs");
        if let Some(why) = &list.no_midi {
            ui.label(sentence(why));
            return false;
        }
        if list.midi.is_empty() {
            ui.label("Nothing is plugged in. The space bar can be played on.");
            return false;
        }
        let chosen = &mut self.devices.settings.inputs;
        let before = chosen.clone();
        let mut all = chosen.is_empty();
        if ui.checkbox(&mut all, "all that are there").changed() {
            *chosen = if all { Vec::new() } else { list.midi.clone() };
        }
        for name in &list.midi {
            let mut listened = chosen.is_empty() || chosen.contains(name);
            if ui.checkbox(&mut listened, name).changed() {
                if chosen.is_empty() {
                    chosen.clone_from(&list.midi);
                }
                if listened {
                    chosen.push(name.clone());
                } else {
                    chosen.retain(|other| other != name);
                }
            }
        }
        *chosen != before
    }
}
