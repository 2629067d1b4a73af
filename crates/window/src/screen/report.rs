use eframe::egui::{Context, FontId, RichText, ScrollArea, Ui};

use super::Screen;
use crate::style;

/// The most of the window's height that the report takes.
const MOST_HEIGHT: f32 = 0.28;
/// The size of a sentence that is to be read from the back of the room.
const SENTENCE: f32 = 19.0;

impl Screen {
    /// Whether there is something to report: a drill that has ended.
    pub(super) fn has_report(&self) -> bool {
        self.running.as_ref().is_some_and(|running| !running.goes_on())
    }

    /// As high as its lines need, within reason: the page stays in sight.
    pub(super) fn report_height(&self, ctx: &Context) -> f32 {
        let Some(running) = &self.running else { return 0.0 };
        let names = !self.choices.is_class_view(self.players().len());
        let sums = if names { running.players.len() } else { 0 };
        let lines = running.findings(names).len().max(1) + sums + usize::from(running.take.is_some());
        let size = self.choices.size().clamp(0.8, 1.6);
        let needed =
            f32::from(u16::try_from(lines).unwrap_or(u16::MAX)) * (SENTENCE * 1.36 * size + 6.0) + 16.0;
        needed.min(ctx.content_rect().height() * MOST_HEIGHT)
    }

    /// What to fix, the sums, and where the take lies.
    pub(super) fn report(&self, ui: &mut Ui) {
        let Some(running) = &self.running else { return };
        let names = !self.choices.is_class_view(self.players().len());
        let size = self.choices.size().clamp(0.8, 1.6);
        ScrollArea::vertical().auto_shrink(false).id_salt("report").show(ui, |ui| {
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
