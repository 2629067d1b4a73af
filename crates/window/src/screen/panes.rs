use audio::SoundSystem;
use eframe::egui::{Align2, Context, Grid, Key, RichText, ScrollArea, TextEdit, Ui, Window};
use input::SystemChoice;

use super::{Pane, Screen, waker};
use crate::devices::List;
use crate::orders::KEYS;
use crate::running::sentence;
use crate::style;

impl Screen {
    /// What lies over the page, if anything does.
    pub(super) fn show_pane(&mut self, ctx: &Context) {
        let (title, pane) = match self.pane {
            None => return,
            Some(Pane::Open) => ("Open a rhythm", Pane::Open),
            Some(Pane::Devices) => ("Sound and MIDI devices", Pane::Devices),
            Some(Pane::Keys) => ("Keys", Pane::Keys),
        };
        let mut open = true;
        let window = Window::new(title)
            .open(&mut open)
            .collapsible(false)
            .resizable(false)
            .movable(false)
            .fade_in(false)
            .fade_out(false)
            .anchor(Align2::CENTER_CENTER, [0.0, 0.0]);
        window.show(ctx, |ui| match pane {
            Pane::Open => self.opening(ui),
            Pane::Devices => self.device_choice(ui),
            Pane::Keys => keys(ui),
        });
        if !open {
            self.pane = None;
        }
        // In a text field Esc only leaves the field; here it closes what the field stands in.
        if self.pane == Some(Pane::Open) && ctx.input(|input| input.key_pressed(Key::Escape)) {
            self.pane = None;
        }
    }

    fn opening(&mut self, ui: &mut Ui) {
        ui.set_width(560.0);
        let label = ui.label("The path of the rhythm text:");
        let id = ui.scope_id().with("path");
        let field = TextEdit::singleline(&mut self.path_typed).id(id).desired_width(f32::INFINITY);
        let field = ui.add(field).labelled_by(label.id);
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        let nothing_focused = ui.memory(|memory| memory.focused().is_none());
        if nothing_focused && !entered {
            field.request_focus();
        }
        ui.horizontal(|ui| {
            if (ui.button("Open").clicked() || entered) && !self.path_typed.trim().is_empty() {
                let path = std::path::PathBuf::from(self.path_typed.trim());
                self.open(&path);
            }
            if ui.button("Browse").clicked() {
                let ctx = ui.ctx().clone();
                self.browse(&ctx);
            }
            if ui.button("Cancel").clicked() {
                self.pane = None;
            }
        });
        if let Some(complaint) = &self.complaint {
            ui.label(complaint);
        }
        ui.label(RichText::new("A file can also be dropped on the window.").weak());
    }

    fn device_choice(&mut self, ui: &mut Ui) {
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
                self.pane = None;
            }
        });
        if anew {
            let ctx = ui.ctx().clone();
            self.open_devices_anew(&ctx);
        }
    }

    fn open_devices_anew(&mut self, ctx: &Context) {
        if let Some(running) = &mut self.running {
            running.ended.get_or_insert(take::Ended::Stopped);
        }
        self.devices.open(waker(ctx));
        self.devices.ask(waker(ctx));
    }

    /// Returns whether another device was chosen.
    fn sound_choice(&mut self, ui: &mut Ui, list: &List) -> bool {
        ui.label(RichText::new("Sound").font(style::bold(style::TEXT_SIZE)));
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
        ui.label(RichText::new("MIDI inputs").font(style::bold(style::TEXT_SIZE)));
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

/// The list of keys, in two columns.
fn keys(ui: &mut Ui) {
    ui.spacing_mut().interact_size.y = 20.0;
    let rows = KEYS.iter().map(|row| (row.keys, row.does)).filter(|(keys, _)| !keys.is_empty());
    let strike = ("Space", "strike, while a drill runs");
    let others = [
        ("Tab, Shift Tab", "to the next, the previous control"),
        ("Space, Enter", "press the control, while no drill runs"),
    ];
    let rows: Vec<_> = std::iter::once(strike).chain(rows).chain(others).collect();
    let (left, right) = rows.split_at(rows.len().div_ceil(2));
    Grid::new("keys").num_columns(4).spacing([18.0, 3.0]).show(ui, |ui| {
        for (index, row) in left.iter().enumerate() {
            for (keys, does) in [Some(row), right.get(index)].into_iter().flatten() {
                ui.label(RichText::new(*keys).font(style::bold(style::TEXT_SIZE - 1.0)));
                ui.label(RichText::new(*does).size(style::TEXT_SIZE - 1.0));
            }
            ui.end_row();
        }
    });
}
