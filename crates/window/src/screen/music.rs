use eframe::egui::{self, FontId, Rect, RichText, Role, ScrollArea, Sense, Ui, Vec2, WidgetInfo};
use engrave::Theme;
use live::PlayerState;

use super::Screen;
use crate::page::{Page, PageKey, RowsKey, system_height};
use crate::paint::{self, View, px};
use crate::running::{Head, Running};
use crate::sheet::{Remark, Sheet};
use crate::style;

/// How many staff spaces a page of usual size is wide: three to five bars of quarters and eighths a line.
const SPACES: f32 = 100.0;
/// How large a staff space can become, in points.
const SCALE: (f32, f32) = (5.0, 60.0);
/// The least a staff space becomes so that several rows are seen at once, in points: counts are then 12 points high.
const LEAST_FITTING: f32 = 7.0;
/// How far a scrolling key moves the page, in staff spaces.
const LINE: f32 = 8.0;
/// What stays in sight above the system that the playhead is in, in staff spaces.
const ABOVE: f32 = 1.0;
/// Okabe and Ito's blue, vermilion and purple give way to ink where colours are switched off.
const INK_ALONE: Theme = Theme {
    early: Theme::WARM_WHITE.main,
    late: Theme::WARM_WHITE.main,
    extra: Theme::WARM_WHITE.main,
    ..Theme::WARM_WHITE
};

impl Screen {
    /// The page, or what is wrong with the text, or how to begin.
    pub(super) fn music(&mut self, ui: &mut Ui) {
        let Some(sheet) = &self.sheet else { return self.invitation(ui) };
        if self.is_hidden() {
            return self.hidden(ui);
        }
        if sheet.rhythm().is_none() {
            let remarks: Vec<Remark> = sheet.remarks().collect();
            return self.mistakes(ui, &remarks);
        }
        let width =
            ui.available_width() - ui.spacing().scroll.bar_width - ui.spacing().scroll.bar_inner_margin;
        let fitting = self.fitting(ui.available_height() - self.report_to_come(ui.ctx()));
        let scale = (fitting.min(width / SPACES) * self.choices.size()).clamp(SCALE.0, SCALE.1);
        if let Err(why) = self.lay_out(f64::from((width / scale).floor())) {
            ui.label(format!(
                "This page cannot be laid out: {why}. Make the notes smaller (Ctrl −) or the window wider."
            ));
            return;
        }
        let Some(page) = &self.page else { return };
        let size = Vec2::new(px(page.scene().width), px(page.scene().height)) * scale;
        let now = self.devices.rig().filter(|_| self.goes_on()).and_then(live::Rig::heard_now);
        let playhead = now.and_then(|now| self.moment_of_page(now)).and_then(|now| page.place_of(now));
        let offset = self.scroll_offset(ui, scale, size.y, playhead);
        let Some(page) = &self.page else { return };
        let mut area = ScrollArea::vertical().auto_shrink(false).id_salt("page");
        if let Some(offset) = offset {
            area = area.vertical_scroll_offset(offset);
        }
        let theme = if self.choices.colours { Theme::WARM_WHITE } else { INK_ALONE };
        let described = self.described();
        let shown = area.show(ui, |ui| {
            let (response, painter) = ui.allocate_painter(size, Sense::focusable_noninteractive());
            let view = View { origin: response.rect.min, scale };
            let spaces = |y: f32| f64::from((y - view.origin.y) / scale);
            let seen = painter.clip_rect();
            let marks = playhead.and_then(|(system, x)| {
                page.engraving().systems().get(system).map(|system| picture::playhead(system, x))
            });
            if let Some(marks) = &marks {
                paint::paint(&painter, &marks.under, &view, &theme);
            }
            for item in page.items(spaces(seen.top()) - 1.0, spaces(seen.bottom()) + 1.0) {
                paint::paint(&painter, item, &view, &theme);
            }
            if let Some(marks) = &marks {
                paint::paint(&painter, &marks.over, &view, &theme);
            }
            if response.has_focus() {
                let frame = Rect::from_min_max(seen.min, seen.max).shrink(1.0);
                painter.rect_stroke(frame, 4.0, (2.5, style::colour(theme.early)), egui::StrokeKind::Inside);
            }
            response.widget_info(|| WidgetInfo::labeled(Role::Figure, true, &described));
        });
        self.scroll.now = shown.state.clamped_offset().y;
    }

    /// The scale at which a line of music stands in this height with all its rows under it; the least at which it can be read
    /// from some way off, where there are too many.
    fn fitting(&self, height: f32) -> f32 {
        let heads = self.heads();
        if heads.len() < 2 {
            return SCALE.1;
        }
        (height / px(system_height(&heads, self.rows() > 1))).max(LEAST_FITTING)
    }

    /// What heads the rows.
    fn heads(&self) -> Vec<Head> {
        match (&self.running, self.class_view()) {
            (None, _) => Vec::new(),
            (Some(_), true) => vec![Head::called("section")],
            // Who plays is told as soon as the drill has begun.
            (Some(Running { heads: None, .. }), false) => Vec::new(),
            // A first player on the space bar is known with the first stroke only; room is kept for the row.
            (Some(Running { heads: Some(heads), .. }), false) if heads.is_empty() => vec![Head::called("P1")],
            (Some(Running { heads: Some(heads), .. }), false) => heads.clone(),
        }
    }

    /// Makes the page anew where something of it has changed.
    fn lay_out(&mut self, width: f64) -> Result<(), String> {
        let Some(sheet) = &self.sheet else { return Ok(()) };
        let Some((rhythm, _)) = sheet.rhythm() else { return Ok(()) };
        let (class_view, heads, spread) = (self.class_view(), self.heads(), self.rows() > 1);
        // What was struck stays where it fell when the tempo is set anew.
        let tempo = self.played_tempo.unwrap_or_else(|| self.choices.plan(rhythm).tempo());
        let key = PageKey { sheet: self.sheets, width, tempo, heads, spread };
        if self.page.as_ref().is_none_or(|page| *page.key() != key) {
            self.page = Some(Page::new(sheet, key)?);
        }
        let (running, rows) = (
            self.running.is_some(),
            RowsKey { judgement: self.judgements, lean: self.choices.lean, class_view },
        );
        let players: &[PlayerState] = self.running.as_ref().map_or(&[], |running| &running.players);
        match &mut self.page {
            Some(page) if running => page.show(players, rows),
            _ => Ok(()),
        }
    }

    /// Where the page is to be scrolled to, if somewhere else than it is: by keys, or after the playhead.
    fn scroll_offset(
        &mut self,
        ui: &Ui,
        scale: f32,
        height: f32,
        playhead: Option<(usize, f64)>,
    ) -> Option<f32> {
        let most = (height - ui.available_height()).max(0.0);
        let lines = std::mem::take(&mut self.scroll.lines);
        if let Some(end) = self.scroll.to.take() {
            return Some(if end { most } else { 0.0 });
        }
        if lines != 0 {
            let by = f32::from(i16::try_from(lines).unwrap_or(0)) * LINE * scale;
            return Some((self.scroll.now + by).clamp(0.0, most));
        }
        let system = match playhead {
            // The report takes room from the page: what was played last stays in sight.
            None if std::mem::take(&mut self.scroll.has_ended) => self.scroll.system?,
            None => return None,
            Some((system, _)) if self.scroll.system == Some(system) => return None,
            Some((system, _)) => system,
        };
        self.scroll.system = Some(system);
        let top = self.page.as_ref()?.engraving().systems().get(system)?.top;
        Some(((px(top) - ABOVE) * scale).clamp(0.0, most))
    }

    /// The page in words: the rhythm with its counts, and how each player did.
    fn described(&self) -> String {
        let (Some(sheet), Some(page)) = (&self.sheet, &self.page) else { return String::new() };
        let mut words = format!("{}. {}", sheet.title(), page.engraving().description());
        if let Some(running) = self.running.as_ref().filter(|_| !self.class_view()) {
            for sums in running.sums() {
                words.push(' ');
                words.push_str(&sums);
            }
        }
        words
    }

    fn invitation(&self, ui: &mut Ui) {
        ui.vertical_centered(|ui| {
            ui.add_space(ui.available_height() * 0.3);
            ui.label(
                RichText::new("Press O to open a rhythm, or drop one here.").font(FontId::proportional(24.0)),
            );
            ui.add_space(10.0);
            ui.label("A rhythm is a text file written as it is counted:");
            ui.label(RichText::new("| 1 2 & 3 (4) |").font(style::bold(22.0)));
            ui.label("strikes 1, 2, the & of 2 and 3, and rests on 4.");
        });
    }

    /// What stands in the way, each with its line and a mark under the place.
    fn mistakes(&self, ui: &mut Ui, remarks: &[Remark]) {
        let path = self.sheet.as_ref().map(Sheet::path);
        ScrollArea::vertical().auto_shrink(false).id_salt("mistakes").show(ui, |ui| {
            ui.add_space(8.0);
            let errors = remarks.iter().filter(|remark| remark.is_error).count();
            let what = if errors == 1 { "one mistake".to_owned() } else { format!("{errors} mistakes") };
            let file = path.map(|path| path.display().to_string()).unwrap_or_default();
            ui.label(RichText::new(format!("This text has {what}.")).font(style::bold(22.0)));
            ui.label(format!("{file}: mend it in any text editor, save it, and press R to read it again."));
            ui.add_space(10.0);
            for remark in remarks {
                show_remark(ui, remark);
                ui.add_space(14.0);
            }
        });
    }
}

/// One remark: what was read, the line with the place underlined, what is allowed and what to do.
pub(super) fn show_remark(ui: &mut Ui, remark: &Remark) {
    let kind = if remark.is_error { "" } else { "Hint: " };
    let place = format!("Line {}, column {}", remark.place.line, remark.place.column);
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(place).font(style::bold(style::TEXT_SIZE)));
        ui.label(crate::running::sentence(&format!("{kind}{}", remark.message)));
    });
    line_with_place(ui, remark);
    ui.label(crate::running::sentence(&remark.help));
}

/// The line of the text in a fixed pitch, the place on a pale ground and underlined.
fn line_with_place(ui: &mut Ui, remark: &Remark) {
    let theme = Theme::WARM_WHITE;
    let font = FontId::monospace(18.0);
    let from = remark.place.column - 1;
    let mut job = egui::text::LayoutJob::default();
    let plain = egui::TextFormat::simple(font.clone(), style::colour(theme.main));
    let pointed = egui::TextFormat {
        background: style::colour(theme.column),
        underline: egui::Stroke::new(2.0, style::colour(theme.late)),
        ..plain.clone()
    };
    let characters: Vec<char> = remark.line.chars().collect();
    let until = (from + remark.length).min(characters.len());
    let part =
        |range: std::ops::Range<usize>| characters.get(range).unwrap_or_default().iter().collect::<String>();
    job.append(&part(0..from.min(characters.len())), 16.0, plain.clone());
    // The end of a line has no character to point at.
    let here = if from >= characters.len() { " ".to_owned() } else { part(from..until) };
    job.append(&here, 0.0, pointed);
    job.append(&part(until.max(from)..characters.len()), 0.0, plain);
    ui.label(job);
}
