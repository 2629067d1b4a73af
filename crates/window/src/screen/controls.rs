use eframe::egui::{Button, ComboBox, Context, Key, TextEdit, Ui};
use timebase::Tempo;

use super::steppers::{button, named, step, stepper};
use super::{Pane, Screen};
use crate::choices::Lean;
use crate::orders::Order;
use crate::running::sentence;
use crate::sheet::Sheet;

/// How wide the tempo's field is.
const TEMPO_WIDTH: f32 = 54.0;

/// What can lie over the page: its button, its name for those who hear the window, and how it is asked for.
const PANES: [(&str, &str, Pane, Order); 8] = [
    ("Sounds", "What sounds, how loud and where (S)", Pane::Sounds, Order::Sounds),
    ("Players", "Who plays on what (Y)", Pane::Players, Order::Players),
    ("Controls", "Pads and pedals that start, stop and go on (B)", Pane::Controls, Order::Controls),
    ("Turns", "Many pupils at few pads (U)", Pane::Turns, Order::Turns),
    ("Latency", "How late sound and strokes are (M)", Pane::Latency, Order::Latency),
    ("Findings", "All findings, and the teacher's word (F)", Pane::Findings, Order::Findings),
    ("Devices", "Sound and MIDI devices (D)", Pane::Devices, Order::Devices),
    ("Keys", "The list of keys (F1)", Pane::Keys, Order::Keys),
];

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
            orders.extend(stepper(ui, "Count-in", &bars, ["fewer bars", "more bars"]).map(Order::CountIn));
            let tolerance = self.choices.tolerance_words();
            orders.extend(stepper(ui, "Tolerance", &tolerance, ["narrower", "wider"]).map(Order::Tolerance));
            ui.separator();
            let size = format!("{:.0} %", self.choices.size() * 100.0);
            orders.extend(stepper(ui, "Notes", &size, ["smaller", "larger"]).map(Order::Size));
            let mut keep = self.choices.keep_takes;
            if ui.checkbox(&mut keep, "Keep takes").on_hover_text("T").changed() {
                orders.push(Order::KeepTakes);
            }
        });
        ui.horizontal_wrapped(|ui| {
            self.switches(ui, &mut orders);
            ui.separator();
            for (text, name, pane, order) in PANES {
                if named(ui.add(Button::new(text).selected(self.pane == Some(pane))), name) {
                    orders.push(order);
                }
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
        let mut class_view = self.class_view();
        if ui
            .checkbox(&mut class_view, "Class view")
            .on_hover_text("The section as a whole, no rows (V)")
            .changed()
        {
            orders.push(Order::ClassView);
        }
        let mut colours = self.choices.colours;
        if ui.checkbox(&mut colours, "Colours").on_hover_text("Colours, or ink alone (C)").changed() {
            orders.push(Order::Colours);
        }
        let mut large = self.choices.large_print;
        if ui.checkbox(&mut large, "Large print").on_hover_text("P").changed() {
            orders.push(Order::LargePrint);
        }
    }
}

/// Beats a minute without the beat's name.
fn bpm_text(tempo: Tempo) -> String {
    let text = tempo.to_string();
    text.rsplit_once("= ").map_or(text.clone(), |(_, bpm)| bpm.to_owned())
}
