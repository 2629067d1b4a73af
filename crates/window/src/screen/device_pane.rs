use std::collections::BTreeSet;

use audio::SoundSystem;
use eframe::egui::{Context, RichText, ScrollArea, Ui};
use input::SystemChoice;
use live::RecordSettings;

use super::steppers::{heading, stepper};
use super::{Screen, waker};
use crate::devices::List;
use crate::running::sentence;

/// How much louder, in percent of the full strength, one press makes what is struck.
const THRU_STEP: i32 = 10;

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
                    settings.through = None;
                    settings.record = None;
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
                ScrollArea::vertical().max_height(500.0).show(ui, |ui| {
                    anew |= self.sound_choice(ui, list);
                    ui.separator();
                    anew |= self.midi_choice(ui, list);
                    ui.separator();
                    anew |= self.struck_choice(ui, list);
                    ui.separator();
                    anew |= self.record_choice(ui, list);
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

    /// What else is heard of a stroke, and where. Returns whether another was chosen.
    fn struck_choice(&mut self, ui: &mut Ui, list: &List) -> bool {
        heading(ui, "What is struck");
        let settings = &mut self.devices.settings;
        let before = (settings.thru_percent, settings.through.clone());
        ui.horizontal(|ui| {
            let level = match settings.thru_percent {
                0 => "not at all".to_owned(),
                percent => format!("{percent} %"),
            };
            let steps = stepper(ui, "Sounds through this computer", &level, ["softer", "louder"]);
            let moved = i32::from(settings.thru_percent) + THRU_STEP * steps.unwrap_or(0);
            settings.thru_percent = u8::try_from(moved.clamp(0, 100)).unwrap_or(0);
        });
        ui.label(
            RichText::new("Not at all where the pads sound by themselves: each stroke would be heard twice.")
                .weak(),
        );
        ui.label("Is sent on to a MIDI output:");
        ui.radio_value(&mut settings.through, None, "none");
        // One that was chosen stays in sight when it is unplugged.
        let gone = settings.through.iter().filter(|name| !list.midi_out.contains(name)).cloned();
        let outputs: Vec<String> = list.midi_out.iter().cloned().chain(gone).collect();
        for name in &outputs {
            ui.radio_value(&mut settings.through, Some(name.clone()), name);
        }
        if !outputs.is_empty() {
            let warning = "Not to a port that sends back what it is sent, nor to a module whose pads sound by themselves.";
            ui.label(RichText::new(warning).weak());
        }
        (settings.thru_percent, settings.through.clone()) != before
    }

    /// What is kept as the players' sound in a take. Returns whether another was chosen.
    fn record_choice(&mut self, ui: &mut Ui, list: &List) -> bool {
        heading(ui, "The players' sound in a take");
        let record = &mut self.devices.settings.record;
        let before = record.clone();
        if ui.radio(record.is_none(), "made from their strokes").clicked() {
            *record = None;
        }
        let is_recorded = ui.radio(record.is_some(), "recorded: a microphone hears everybody in the room");
        if is_recorded.clicked() && record.is_none() {
            *record = Some(RecordSettings::default());
        }
        if let Some(record) = record {
            recording_input(ui, record, Some(list));
            ui.label(RichText::new("Local rules and the school decide whether it may be.").weak());
        }
        *record != before
    }
}

/// The input that is recorded, and its channel.
pub(super) fn recording_input(ui: &mut Ui, record: &mut RecordSettings, list: Option<&List>) {
    let inputs: BTreeSet<&str> =
        list.iter().flat_map(|list| &list.records).map(|device| device.name.as_str()).collect();
    ui.horizontal_wrapped(|ui| {
        ui.label("Microphone or line:");
        ui.radio_value(&mut record.device, None, "the system's own choice");
        for name in inputs {
            ui.radio_value(&mut record.device, Some(name.to_owned()), name);
        }
        let channel = u32::from(record.channel) + 1;
        let steps = stepper(ui, "Channel", &channel.to_string(), ["lower", "higher"]);
        let moved = i32::from(record.channel) + steps.unwrap_or(0);
        record.channel = u16::try_from(moved).unwrap_or(0);
    });
}
