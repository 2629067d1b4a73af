use eframe::egui::{Grid, RichText, Ui};
use input::{Controls, Order};

use super::Screen;
use super::steppers::{heading, named};
use crate::lesson::{Lesson, does};
use crate::style;

impl Screen {
    /// Which pads, pedals and keys ask for what.
    pub(super) fn controls_pane(&mut self, ui: &mut Ui) {
        ui.set_width(700.0);
        if self.lesson.is_some() {
            return self.lesson_shown(ui);
        }
        ui.label("A pad, a pedal or a key of a keyboard can ask for what else the computer's keys ask for:");
        let places = self.devices.settings.input.controls.places().to_vec();
        let mut focus = std::mem::take(&mut self.pane_is_new);
        let (mut assign, mut remove) = (None, None);
        Grid::new("orders").num_columns(3).spacing([18.0, 8.0]).show(ui, |ui| {
            for text in ["To", "Strike or tread on", ""] {
                heading(ui, text);
            }
            ui.end_row();
            for order in [Order::Start, Order::Stop, Order::Next, Order::Again] {
                ui.label(RichText::new(does(order)).font(style::bold(style::TEXT_SIZE)));
                let own = places.iter().enumerate().filter(|(_, (other, _))| *other == order);
                let own: Vec<_> = own.collect();
                if own.is_empty() {
                    ui.label(RichText::new("nothing").weak());
                } else {
                    ui.vertical(|ui| {
                        for (index, (_, place)) in own {
                            ui.horizontal(|ui| {
                                ui.label(place.to_string());
                                let name = format!("{place} is no longer to {}", does(order));
                                if named(ui.button("Remove"), &name) {
                                    remove = Some(index);
                                }
                            });
                        }
                    });
                }
                let shown = ui.button("Assign");
                if std::mem::take(&mut focus) {
                    shown.request_focus();
                }
                if named(shown, &format!("Assign a pad or a pedal to {}", does(order))) {
                    assign = Some(order);
                }
                ui.end_row();
            }
        });
        ui.label(
            RichText::new("What is assigned is no stroke of anybody's. A pedal that keeps the pulse is a player: see Players (Y).")
                .weak(),
        );
        ui.separator();
        self.kept_line(ui);
        if let Some(order) = assign {
            self.teach(ui.ctx(), Some(Lesson::Order(order)));
        }
        if let Some(index) = remove {
            let mut places = places;
            places.remove(index);
            self.change_controls(Controls::new(places));
        }
    }
}
