use eframe::egui::{FontId, RichText, ScrollArea, Ui};

use super::Screen;
use crate::style;

/// The most of the window's height that the report takes.
const MOST_HEIGHT: f32 = 0.34;
/// The size of a sentence that is to be read from the back of the room.
const SENTENCE: f32 = 19.0;

impl Screen {
    /// Whether there is something to report: a drill that has ended.
    pub(super) fn has_report(&self) -> bool {
        self.running.as_ref().is_some_and(|running| !running.goes_on())
    }

    /// What to fix, the sums, and where the take lies.
    pub(super) fn report(&self, ui: &mut Ui) {
        let Some(running) = &self.running else { return };
        let names = !self.choices.is_class_view(self.players().len());
        let size = self.choices.size().clamp(0.8, 1.6);
        let most = ui.ctx().content_rect().height() * MOST_HEIGHT;
        ScrollArea::vertical().max_height(most).auto_shrink([false, true]).id_salt("report").show(ui, |ui| {
            ui.add_space(4.0);
            let findings = running.findings(names);
            if running.players.is_empty() {
                ui.label(
                    RichText::new("Nobody struck anything.").font(FontId::proportional(SENTENCE * size)),
                );
            }
            for finding in findings {
                ui.label(RichText::new(finding).font(FontId::proportional(SENTENCE * size)));
            }
            if names {
                for sums in running.sums() {
                    ui.label(RichText::new(sums).weak());
                }
            }
            if let Some(take) = &running.take {
                ui.label(RichText::new(format!("Take kept in {}", take.display())).font(small()).weak());
            }
            ui.add_space(4.0);
        });
    }
}

fn small() -> FontId {
    FontId::proportional(style::TEXT_SIZE - 2.0)
}
