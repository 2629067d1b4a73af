use eframe::egui::{Align2, Context, Grid, Key, RichText, TextEdit, Ui, Window};

use super::{Pane, Screen};
use crate::orders::KEYS;
use crate::style;

impl Screen {
    /// What lies over the page, if anything does.
    pub(super) fn show_pane(&mut self, ctx: &Context) {
        let Some(pane) = self.pane else { return };
        let mut open = true;
        let window = Window::new(pane.title())
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
            Pane::Sounds => self.sounds_pane(ui),
            Pane::Players => self.players_pane(ui),
            Pane::Controls => self.controls_pane(ui),
            Pane::Turns => self.turns_pane(ui),
            Pane::Latency => self.latency_pane(ui),
            Pane::Findings => self.findings_pane(ui),
        });
        // Esc closes what lies over the page, also from a field or a button in it; a lesson it only ends.
        let escape = self.pane == Some(pane) && ctx.input(|input| input.key_pressed(Key::Escape));
        if escape && self.lesson.is_some() {
            self.end_lesson();
        } else if escape && self.measuring.taps() {
            self.stop(ctx);
        } else if !open || escape {
            self.set_pane(None, ctx);
        }
    }

    fn opening(&mut self, ui: &mut Ui) {
        ui.set_width(560.0);
        let ctx = ui.ctx().clone();
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
                self.open(&path, &ctx);
            }
            if ui.button("Browse").clicked() {
                self.browse(&ctx);
            }
            if ui.button("Cancel").clicked() {
                self.set_pane(None, &ctx);
            }
        });
        if let Some(complaint) = &self.complaint {
            ui.label(complaint);
        }
        ui.label(RichText::new("A rhythm text or a drill plan can also be dropped on the window.").weak());
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
