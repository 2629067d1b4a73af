use eframe::egui::{FontId, RichText, Ui};
use live::Phase;

use super::Screen;
use crate::running::phase_words;
use crate::style;

/// The size of the title, in points.
const TITLE: f32 = 28.0;
/// The size of what stands beside it.
const LINE: f32 = 19.0;

impl Screen {
    /// Title, tempo, meter and how far the drill has got.
    pub(super) fn header(&self, ui: &mut Ui) {
        ui.add_space(6.0);
        ui.horizontal_wrapped(|ui| {
            let size = self.choices.size().clamp(0.8, 1.6);
            let title =
                self.sheet.as_ref().map_or_else(|| "No rhythm open".to_owned(), crate::sheet::Sheet::title);
            ui.label(RichText::new(title).font(style::bold(TITLE * size)));
            ui.add_space(12.0);
            ui.label(RichText::new(self.line()).font(FontId::proportional(LINE * size)));
        });
    }

    /// `quarter = 88 · 4/4 · playing`.
    fn line(&self) -> String {
        let Some((rhythm, _)) = self.sheet.as_ref().and_then(|sheet| sheet.rhythm()) else {
            return String::new();
        };
        let tempo = self.round_tempo().unwrap_or_else(|| self.choices.plan(rhythm).tempo());
        let meter = rhythm.bars()[0].meter();
        let mut line = format!("{tempo}  ·  {meter}");
        if self.phase() != Phase::Ready {
            line.push_str("  ·  ");
            line.push_str(phase_words(self.phase()));
        }
        line
    }
}
