use eframe::egui::{FontId, Grid, Panel, RichText, TextEdit, Ui};

use super::Screen;
use super::steppers::{heading, named};
use crate::calling::COMES;
use crate::lesson::codes;
use crate::orders::Order;
use crate::style;

/// The size of the code that is called, in points: to be read from the pads.
const CALLED: f32 = 60.0;
/// How wide the list of a pad's pupils is, in points.
const FIELD: f32 = 400.0;
/// The size of what stands beside it.
const BESIDE: f32 = 22.0;

impl Screen {
    /// Many pupils at few pads.
    pub(super) fn turns_pane(&mut self, ui: &mut Ui) {
        ui.set_width(680.0);
        ui.label(
            "Who takes turns at which pad, in the order in which they are called (codes rather than names):",
        );
        let mut focus = std::mem::take(&mut self.pane_is_new);
        Grid::new("turns").num_columns(3).spacing([14.0, 6.0]).show(ui, |ui| {
            for text in ["Pad", "Pupils", ""] {
                heading(ui, text);
            }
            ui.end_row();
            for (pad, typed) in &mut self.calling.lists {
                let label = ui.label(RichText::new(pad.as_str()).font(style::bold(style::TEXT_SIZE)));
                let field = TextEdit::singleline(typed).hint_text("K1 K2 K3");
                let field = ui.add_sized([FIELD, ui.spacing().interact_size.y], field).labelled_by(label.id);
                if std::mem::take(&mut focus) {
                    field.request_focus();
                }
                let pupils = codes(typed).len();
                ui.label(
                    RichText::new(if pupils == 0 {
                        "plays alone".to_owned()
                    } else {
                        format!("{pupils} pupils")
                    })
                    .weak(),
                );
                ui.end_row();
            }
        });
        ui.add_space(4.0);
        ui.label("After a drill the next one is called, and plays");
        ui.horizontal_wrapped(|ui| {
            ui.radio_value(
                &mut self.calling.by_itself,
                false,
                "when it is asked for: Enter, G, or a pad (Controls, B)",
            );
        });
        ui.horizontal_wrapped(|ui| {
            ui.radio_value(&mut self.calling.by_itself, true, format!("by itself, {COMES:.0} s later"));
        });
        ui.separator();
        let (mut begin, mut end) = (false, false);
        ui.horizontal(|ui| {
            begin = named(ui.button("Call the first"), "Begin the turns: call the first of each list");
            if self.calling.is_on() {
                end = named(ui.button("No turns"), "Nobody takes turns any more");
            }
        });
        if let Some(says) = &self.pane_says {
            ui.label(says);
        }
        let ctx = ui.ctx().clone();
        if end {
            self.calling.end();
        }
        if begin {
            if self.calling.begin() {
                self.set_pane(None, &ctx);
            } else {
                self.pane_says =
                    Some("Nobody is on a list yet: type the codes of those who take turns.".to_owned());
            }
        }
    }

    /// Who is called, large, while no drill runs.
    pub(super) fn call_out(&mut self, ui: &mut Ui) {
        if !self.calling.is_on() || self.goes_on() {
            return;
        }
        let ctx = ui.ctx().clone();
        let mut order = None;
        Panel::top("called").show(ui, |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.spacing_mut().item_spacing.x = 18.0;
                let called = self.calling.now();
                let several = called.len() > 1;
                for (pad, code) in &called {
                    ui.label(RichText::new(code).font(style::bold(CALLED)))
                        .on_hover_text(format!("{code} plays on {pad}"));
                    if several {
                        ui.label(RichText::new(format!("on {pad}")).font(FontId::proportional(BESIDE)));
                    }
                }
                ui.label(RichText::new(self.called_words()).font(FontId::proportional(BESIDE)));
                if named(ui.button("Pass over"), "Call the next without this turn (Shift G)") {
                    order = Some(Order::PassOver);
                }
                if named(ui.button("No turns"), "Nobody takes turns any more") {
                    order = Some(Order::NoTurns);
                }
            });
        });
        if let Some(order) = order {
            self.obey(order, &ctx);
        }
    }

    fn called_words(&self) -> String {
        let then: Vec<String> = self.calling.then().into_iter().map(|(_, code)| code).collect();
        let then = then.join(" and ");
        if self.calling.is_over() {
            return format!("Everybody has played. The list begins anew; then {then}.");
        }
        let begins = if self.calling.begins_by_itself() {
            "To the pad: it starts by itself"
        } else {
            "It is your turn"
        };
        format!("{begins}. Then {then}.")
    }
}
