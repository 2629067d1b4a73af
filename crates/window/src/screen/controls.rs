use eframe::egui::{Button, ComboBox, Context, FontId, Key, Response, RichText, TextEdit, Ui};
use timebase::Tempo;

use super::{Pane, Screen};
use crate::choices::Lean;
use crate::orders::Order;
use crate::running::sentence;
use crate::sheet::Sheet;

/// How wide the tempo's field is.
const TEMPO_WIDTH: f32 = 54.0;

impl Screen {
    /// What is set, and the buttons that do it.
    pub(super) fn controls(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let mut orders = Vec::new();
        ui.add_space(2.0);
        ui.horizontal_wrapped(|ui| {
            if button(ui, "Open", "Open a rhythm (O)") {
                orders.push(Order::Open);
            }
            if self.goes_on() {
                if button(ui, "Stop", "Stop the drill (Esc)") {
                    orders.push(Order::Stop);
                }
            } else if button(ui, "Start", "Start the drill (Enter)") {
                orders.push(Order::Start);
            }
            ui.separator();
            self.tempo(ui, &ctx, &mut orders);
            let bars = match self.choices.count_in {
                0 => "none".to_owned(),
                1 => "1 bar".to_owned(),
                bars => format!("{bars} bars"),
            };
            stepper(ui, "Count-in", &bars, ["fewer bars", "more bars"], Order::CountIn, &mut orders);
            let tolerance = self.choices.tolerance_words();
            stepper(ui, "Tolerance", &tolerance, ["narrower", "wider"], Order::Tolerance, &mut orders);
            ui.separator();
            let softer = ["softer", "louder"];
            stepper(ui, "Click", &self.choices.click.to_string(), softer, Order::Click, &mut orders);
            stepper(ui, "Count", &self.choices.count.to_string(), softer, Order::Count, &mut orders);
            stepper(ui, "Clap", &self.choices.clap.to_string(), softer, Order::Clap, &mut orders);
        });
        ui.horizontal_wrapped(|ui| {
            self.switches(ui, &mut orders);
            ui.separator();
            let open = self.pane == Some(Pane::Devices);
            let line = format!("{} · {}", self.devices.sound_line(), self.devices.players_line());
            let text = shortened(&line, 44);
            let shown = ui.add(Button::new(text).selected(open)).on_hover_text(line);
            if shown.accessible_name("Sound and MIDI devices (D)").clicked() {
                orders.push(Order::Devices);
            }
            if button(ui, "Keys", "The list of keys (F1)") {
                orders.push(Order::Keys);
            }
        });
        ui.add_space(2.0);
        for order in orders {
            self.obey(order, &ctx);
        }
    }

    fn tempo(&mut self, ui: &mut Ui, ctx: &Context, orders: &mut Vec<Order>) {
        let Some((rhythm, _)) = self.sheet.as_ref().and_then(Sheet::rhythm) else { return };
        let tempo = self.choices.plan(rhythm).tempo();
        let id = ui.scope_id().with("tempo");
        if self.tempo_typed.is_empty() || !ctx.memory(|memory| memory.has_focus(id)) {
            self.tempo_typed = bpm_text(tempo);
        }
        let label = ui.label("Tempo");
        if step(ui, "−", "Tempo: slower") {
            orders.push(Order::Tempo(-1));
        }
        let field = TextEdit::singleline(&mut self.tempo_typed).id(id).desired_width(TEMPO_WIDTH);
        let field = ui.add(field).labelled_by(label.id);
        if step(ui, "+", "Tempo: faster") {
            orders.push(Order::Tempo(1));
        }
        // Esc leaves the tempo as it was.
        if field.lost_focus() && !ctx.input(|input| input.key_pressed(Key::Escape)) {
            match Tempo::parse_bpm(self.tempo_typed.trim()) {
                // A frame that is laid out twice loses the field twice: what was said the first time stays.
                Ok(bpm) if bpm == tempo.bpm() => {}
                Ok(bpm) => {
                    self.choices.bpm = Some(bpm);
                    self.complaint = None;
                }
                Err(error) => self.complaint = Some(sentence(&error.to_string())),
            }
            self.tempo_typed.clear();
        }
    }

    fn switches(&mut self, ui: &mut Ui, orders: &mut Vec<Order>) {
        let label = ui.label("Pins lean against");
        let shown = ComboBox::from_id_salt("lean")
            .selected_text(self.choices.lean.words())
            .width(110.0)
            .show_ui(ui, |ui| {
                for lean in Lean::ALL {
                    ui.selectable_value(&mut self.choices.lean, lean, lean.words());
                }
            });
        shown.response.labelled_by(label.id).on_hover_text("L");
        let mut class_view = self.choices.is_class_view(self.players().len().max(self.settings.replay.len()));
        if ui
            .checkbox(&mut class_view, "Class view")
            .on_hover_text("The section as a whole, no rows (V)")
            .changed()
        {
            orders.push(Order::ClassView);
        }
        let mut keep = self.choices.keep_takes;
        if ui.checkbox(&mut keep, "Keep takes").on_hover_text("T").changed() {
            orders.push(Order::KeepTakes);
        }
        let mut colours = self.choices.colours;
        if ui.checkbox(&mut colours, "Colours").on_hover_text("Colours, or ink alone (C)").changed() {
            orders.push(Order::Colours);
        }
        let mut large = self.choices.large_print;
        if ui.checkbox(&mut large, "Large print").on_hover_text("P").changed() {
            orders.push(Order::LargePrint);
        }
        stepper(
            ui,
            "Notes",
            &format!("{:.0} %", self.choices.size() * 100.0),
            ["smaller", "larger"],
            Order::Size,
            orders,
        );
    }
}

/// A name, a value and two buttons that move it.
fn stepper(
    ui: &mut Ui,
    name: &str,
    value: &str,
    [less, more]: [&str; 2],
    order: impl Fn(i32) -> Order,
    orders: &mut Vec<Order>,
) {
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        ui.label(name);
        if step(ui, "−", &format!("{name}: {less}")) {
            orders.push(order(-1));
        }
        ui.label(RichText::new(value).font(FontId::proportional(crate::style::TEXT_SIZE)));
        if step(ui, "+", &format!("{name}: {more}")) {
            orders.push(order(1));
        }
    });
}

fn step(ui: &mut Ui, sign: &str, name: &str) -> bool {
    named(ui.add(Button::new(sign).min_size([28.0, 28.0].into())), name)
}

fn button(ui: &mut Ui, text: &str, name: &str) -> bool {
    named(ui.button(text), name)
}

fn named(response: Response, name: &str) -> bool {
    response.on_hover_text(name).accessible_name(name).clicked()
}

/// Beats a minute without the beat's name.
fn bpm_text(tempo: Tempo) -> String {
    let text = tempo.to_string();
    text.rsplit_once("= ").map_or(text.clone(), |(_, bpm)| bpm.to_owned())
}

/// At most so many characters, the last an ellipsis where some are left out.
fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most - 1).chain(['…']).collect()
}
