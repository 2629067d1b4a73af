use eframe::egui::{Frame, Margin, RichText, ScrollArea, Stroke, Ui};
use engrave::Theme;

use super::Screen;
use crate::devices::Sound;
use crate::running::sentence;
use crate::sheet::Remark;
use crate::style;

/// The keys one needs, always in sight.
const KEYS_LINE: &str =
    "Enter starts  ·  Esc stops  ·  Space strikes  ·  + − tempo  ·  O opens  ·  F1 all keys";

/// So many notices stand one under the other; more are scrolled through.
const AT_ONCE: usize = 3;
/// How high they are then, in points.
const MANY: f32 = 110.0;

impl Screen {
    /// What a person should know of, each in a line, and the most needed keys.
    pub(super) fn foot(&self, ui: &mut Ui) {
        ui.add_space(2.0);
        let notices = self.notices();
        if notices.len() <= AT_ONCE {
            notices.iter().for_each(|notice| notice_line(ui, notice));
        } else {
            // More would take the page's room.
            ScrollArea::vertical().max_height(MANY).min_scrolled_height(MANY).id_salt("notices").show(
                ui,
                |ui| {
                    notices.iter().for_each(|notice| notice_line(ui, notice));
                },
            );
        }
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(KEYS_LINE).weak());
        });
        ui.add_space(4.0);
    }

    /// What was done in vain comes first, then what is missing, then what happened.
    pub(super) fn notices(&self) -> Vec<String> {
        let mut notices: Vec<String> = self.complaint.iter().cloned().collect();
        if let Sound::Missing(why) = &self.devices.sound {
            notices.push(format!("No sound, so no drill can run; rhythms can be shown. {}", sentence(why)));
        }
        if let Some(why) = &self.devices.gone {
            notices.push(format!(
                "The sound device has gone ({why}). It is looked for: drills go on as soon as there is sound."
            ));
        }
        if let Some(why) = self.devices.rig().and_then(|rig| rig.midi_notice()) {
            notices.push(sentence(why));
        }
        // Whoever is listed and not plugged in is told in the pane of the players.
        let conflicts = self.devices.rig().into_iter().flat_map(live::Rig::conflicts);
        notices.extend(conflicts.map(|conflict| sentence(conflict)));
        if let Some(running) = &self.running {
            notices.extend(running.disturbed.iter().chain(&running.notices).cloned());
        }
        if let Some(sheet) = self.sheet.as_ref().filter(|sheet| sheet.rhythm().is_some() && !self.goes_on()) {
            notices.extend(sheet.remarks().map(|remark| hint(&remark)));
        }
        notices
    }
}

fn hint(remark: &Remark) -> String {
    let (line, column) = (remark.place.line, remark.place.column);
    format!("Hint, line {line}, column {column}: {} {}", sentence(&remark.message), sentence(&remark.help))
}

fn notice_line(ui: &mut Ui, notice: &str) {
    let theme = Theme::WARM_WHITE;
    Frame::NONE
        .fill(style::colour(theme.column))
        .stroke(Stroke::new(1.0, style::colour(theme.spread)))
        .corner_radius(4)
        .inner_margin(Margin::symmetric(10, 5))
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.label(notice);
        });
    ui.add_space(2.0);
}
