use eframe::egui::{Context, FontId, RichText, ScrollArea, Ui};

use live::PlayerState;

use super::Screen;
use crate::style;

/// The most of the window's height that the report takes.
const MOST_HEIGHT: f32 = 0.23;
/// The size of a sentence that is to be read from the back of the room.
const SENTENCE: f32 = 19.0;

impl Screen {
    /// Whether there is something to report: a drill that has ended.
    pub(super) fn has_report(&self) -> bool {
        self.running.as_ref().is_some_and(|running| !running.goes_on())
    }

    /// What the report will take of the page's height when the drill is over: the page keeps it free from the start, so that
    /// nothing is laid out anew then.
    pub(super) fn report_to_come(&self, ctx: &Context) -> f32 {
        if self.has_report() { 0.0 } else { ctx.content_rect().height() * MOST_HEIGHT }
    }

    /// As high as its lines need, within reason: the page stays in sight.
    pub(super) fn report_height(&self, ctx: &Context) -> f32 {
        let Some(running) = &self.running else { return 0.0 };
        let names = !self.class_view();
        let sums = if names { running.players.len() } else { 0 };
        let (says, more) = running.report(names, self.choices.told.most());
        let small = sums + usize::from(running.take.is_some() || more > 0);
        let size = self.choices.size().clamp(0.8, 1.6);
        let lines = |lines: usize| f32::from(u16::try_from(lines).unwrap_or(u16::MAX));
        let needed = lines(says.len().max(1)) * (SENTENCE * 1.36 * size + 6.0) + lines(small) * 28.0 + 12.0;
        needed.min(ctx.content_rect().height() * MOST_HEIGHT)
    }

    /// What to fix, the sums, and where the take lies.
    pub(super) fn report(&self, ui: &mut Ui) {
        let Some(running) = &self.running else { return };
        let names = !self.class_view();
        let size = self.choices.size().clamp(0.8, 1.6);
        ScrollArea::vertical().auto_shrink(false).id_salt("report").show(ui, |ui| {
            ui.add_space(4.0);
            let (findings, more) = running.report(names, self.choices.told.most());
            let sentence = |says: String| RichText::new(says).font(FontId::proportional(SENTENCE * size));
            let has_struck = |player: &PlayerState| !player.judgement.attacks().is_empty();
            if findings.is_empty() && !running.players.iter().any(has_struck) {
                ui.label(sentence("Nobody struck anything.".to_owned()));
            }
            for finding in findings {
                ui.label(sentence(finding));
            }
            if names {
                for sums in running.sums() {
                    ui.label(RichText::new(sums).weak());
                }
            }
            let more = (more > 0).then(|| format!("{more} more: E tells more, F all of them"));
            let take = running.take.as_ref().map(|take| format!("Take kept in {}", take.display()));
            let last: Vec<String> = more.into_iter().chain(take).collect();
            if !last.is_empty() {
                ui.label(RichText::new(last.join("  ·  ")).font(small()).weak());
            }
            ui.add_space(4.0);
        });
    }
}

fn small() -> FontId {
    FontId::proportional(style::TEXT_SIZE - 2.0)
}
