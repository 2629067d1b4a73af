//! The window's content: what it holds, what happens to it, and how its parts are laid out.

mod controls;
mod drilled;
mod header;
mod music;
mod notices;
mod panes;
mod report;
#[cfg(test)]
mod tests;

use std::path::{Path, PathBuf};
use std::time::Duration;

use eframe::egui::{self, Context, Event, Key, Ui, ViewportCommand};
use engrave::Theme;
use live::{Drill, Phase};
use timebase::Tempo;

use crate::choices::Choices;
use crate::devices::{Devices, Sound};
use crate::keyboard::KeyTimes;
use crate::opening::{Chosen, FileChoice};
use crate::orders::{self, Order};
use crate::page::Page;
use crate::running::{Running, sentence};
use crate::sheet::Sheet;
use crate::{WindowSettings, style};

/// How long after a frame the next one is painted while a drill runs.
const FRAME: Duration = Duration::from_micros(16_670);

/// How much larger everything is in large print.
const LARGE_PRINT: f32 = 1.3;

/// Everything the window shows and does.
#[derive(Debug)]
pub(crate) struct Screen {
    settings: WindowSettings,
    choices: Choices,
    devices: Devices,
    keys: KeyTimes,
    sheet: Option<Sheet>,
    /// A drill plan, whose rhythms lie open by turns.
    drilled: Option<drilled::Drilled>,
    /// Counted up with every sheet that is read.
    sheets: u64,
    running: Option<Running>,
    /// The tempo of the drill that runs or has ended.
    played_tempo: Option<Tempo>,
    /// Counted up with every judgement that is told.
    judgements: u64,
    page: Option<Page>,
    pane: Option<Pane>,
    choice: FileChoice,
    /// As it is typed.
    path_typed: String,
    tempo_typed: String,
    /// What was last done in vain, and what to do.
    complaint: Option<String>,
    scroll: Scroll,
    had_focus: bool,
    full_screen: bool,
}

/// What lies over the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Pane {
    Open,
    Devices,
    Keys,
}

/// Where the page is to be scrolled to.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Scroll {
    /// Where it is, in points.
    now: f32,
    /// By so many lines, once.
    lines: i32,
    /// To the beginning or the end, once.
    to: Option<bool>,
    /// The system that the playhead was in.
    system: Option<usize>,
}

impl Screen {
    /// A screen with nothing opened yet.
    pub(crate) fn new(settings: WindowSettings, keys: KeyTimes) -> Self {
        Self {
            choices: Choices::of(&settings),
            devices: Devices::new(settings.rig.clone()),
            settings,
            keys,
            sheet: None,
            drilled: None,
            sheets: 0,
            running: None,
            played_tempo: None,
            judgements: 0,
            page: None,
            pane: None,
            choice: FileChoice::default(),
            path_typed: String::new(),
            tempo_typed: String::new(),
            complaint: None,
            scroll: Scroll::default(),
            had_focus: true,
            full_screen: false,
        }
    }

    /// Opens the file of the settings and the devices.
    pub(crate) fn begin(&mut self, ctx: &Context) {
        style::dress(ctx, &Theme::default());
        if let Some(file) = self.settings.file.take() {
            self.open(&file);
        }
        self.devices.open(waker(ctx));
    }

    /// What happened since the last time. Called also while nothing can be seen.
    pub(crate) fn mind(&mut self, ctx: &Context) {
        if self.devices.mind()
            && let Sound::Missing(_) = self.devices.sound
        {
            self.end_without_sound();
        }
        self.heed_events();
        if let Some(chosen) = self.choice.answer() {
            match chosen {
                Chosen::File(path) => self.open(&path),
                Chosen::Nothing => {
                    self.complaint = Some(
                        "No file was chosen. If no dialog appeared, this desktop has none: type the path, or drop the \
                         file on the window."
                            .to_owned(),
                    );
                }
            }
        }
        self.mind_focus(ctx);
        self.strike(ctx);
        if self.goes_on() {
            ctx.request_repaint_after(FRAME);
        }
    }

    fn heed_events(&mut self) {
        let Some(rig) = self.devices.rig() else { return };
        let events: Vec<_> = rig.events().try_iter().collect();
        let mut gone = None;
        for event in events {
            if let live::Event::SoundGone { why } = &event {
                gone = Some(why.clone());
            }
            self.heed_plan(&event);
            if self.comes_late(&event) {
                continue;
            }
            // Judgements of a drill that was replaced by another still come in; they end with it.
            if let Some(running) = &mut self.running {
                self.judgements += u64::from(running.heed(event));
            }
        }
        if let Some(why) = gone {
            self.devices.sound = Sound::Missing(format!("the sound device has gone ({why})"));
        }
    }

    fn end_without_sound(&mut self) {
        if let Some(running) = &mut self.running {
            running.ended.get_or_insert(take::Ended::Stopped);
        }
    }

    /// A file that was edited meanwhile is read again when the window gets the keyboard back.
    fn mind_focus(&mut self, ctx: &Context) {
        let has_focus = ctx.input(|input| input.focused);
        if has_focus && !self.had_focus && !self.goes_on() && self.drilled.is_none() {
            self.reread(false);
        }
        self.had_focus = has_focus;
        self.keys.listen(has_focus && self.goes_on() && !ctx.text_edit_focused());
    }

    fn strike(&mut self, ctx: &Context) {
        let strokes: Vec<_> = self.keys.strokes().collect();
        if let Some(rig) = self.devices.rig_mut() {
            for stroke in strokes {
                rig.strike_key_at(stroke.at, stroke.resolution);
            }
        }
        // Where a drill runs, the space bar is a pad and presses no button.
        if self.goes_on() && !ctx.text_edit_focused() {
            ctx.input_mut(|input| {
                input.events.retain(|event| !matches!(event, Event::Key { key: Key::Space, .. }));
            });
        }
    }

    fn goes_on(&self) -> bool {
        self.running.as_ref().is_some_and(Running::goes_on)
    }

    fn phase(&self) -> Phase {
        self.running.as_ref().map_or(Phase::Ready, |running| running.phase)
    }

    /// Paints everything.
    pub(crate) fn show(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        for order in orders::typed(&ctx) {
            self.obey(order, &ctx);
        }
        self.take_dropped(&ctx);
        let zoom = if self.choices.large_print { LARGE_PRINT } else { 1.0 };
        if (ctx.zoom_factor() - zoom).abs() > f32::EPSILON {
            ctx.set_zoom_factor(zoom);
        }
        egui::Panel::top("head").show_separator_line(false).show(ui, |ui| self.header(ui));
        egui::Panel::top("controls").show(ui, |ui| self.controls(ui));
        if self.drilled.is_some() {
            egui::Panel::top("round").show_separator_line(false).show(ui, |ui| self.round_line(ui));
        }
        egui::Panel::bottom("foot").show_separator_line(false).show(ui, |ui| self.foot(ui));
        if self.has_report() {
            let height = self.report_height(&ctx);
            egui::Panel::bottom("report").exact_size(height).show(ui, |ui| self.report(ui));
        }
        egui::CentralPanel::default().show(ui, |ui| self.music(ui));
        self.show_pane(&ctx);
    }

    fn take_dropped(&mut self, ctx: &Context) {
        let dropped: Option<PathBuf> = ctx.input_mut(|input| {
            let files = std::mem::take(&mut input.raw.dropped_files);
            files.first().map(|file| file.path().to_owned())
        });
        if let Some(path) = dropped {
            self.open(&path);
        }
    }

    /// Does what a key or a button asks for.
    fn obey(&mut self, order: Order, ctx: &Context) {
        match order {
            Order::Start => self.start(ctx),
            Order::Stop => self.stop(),
            Order::Open => self.ask_for_file(),
            Order::Reread => self.reread(true),
            Order::Tempo(steps) => {
                if let Some((rhythm, _)) = self.sheet.as_ref().and_then(Sheet::rhythm) {
                    self.choices.move_tempo(rhythm, steps);
                    self.tempo_typed.clear();
                }
            }
            Order::CountIn(bars) => self.choices.move_count_in(bars),
            Order::Click(steps) => self.move_level(|choices| &mut choices.click, steps),
            Order::Count(steps) => self.move_level(|choices| &mut choices.count, steps),
            Order::Clap(steps) => self.move_level(|choices| &mut choices.clap, steps),
            Order::Tolerance(steps) => self.choices.move_tolerance(steps),
            Order::LeanNext => self.choices.lean = self.choices.lean.next(),
            Order::ClassView => {
                let shown = self.choices.is_class_view(self.players().len());
                self.choices.class_view = Some(!shown);
            }
            Order::KeepTakes => self.choices.keep_takes = !self.choices.keep_takes,
            Order::Colours => self.choices.colours = !self.choices.colours,
            Order::LargePrint => self.choices.large_print = !self.choices.large_print,
            Order::Size(steps) => self.choices.move_size(steps),
            Order::Scroll(lines) => self.scroll.lines += lines,
            Order::ScrollTo(end) => self.scroll.to = Some(end),
            Order::Devices => self.toggle(Pane::Devices, ctx),
            Order::Keys => self.toggle(Pane::Keys, ctx),
            Order::Close => ctx.send_viewport_cmd(egui::ViewportCommand::Close),
            Order::FullScreen => {
                self.full_screen = !self.full_screen;
                ctx.send_viewport_cmd(ViewportCommand::Fullscreen(self.full_screen));
            }
        }
    }

    fn move_level(&mut self, level: impl FnOnce(&mut Choices) -> &mut crate::choices::Level, steps: i32) {
        self.choices.move_level(level, steps);
        if let Some(rig) = self.devices.rig() {
            rig.set_levels(self.choices.levels());
        }
    }

    fn toggle(&mut self, pane: Pane, ctx: &Context) {
        self.pane = if self.pane == Some(pane) { None } else { Some(pane) };
        if self.pane == Some(Pane::Devices) {
            self.devices.ask(waker(ctx));
        }
    }

    fn start(&mut self, ctx: &Context) {
        self.pane = None;
        self.complaint = self.try_start().err();
        if self.complaint.is_none() {
            // The keyboard is the players' now.
            ctx.memory_mut(|memory| {
                if let Some(focused) = memory.focused() {
                    memory.surrender_focus(focused);
                }
            });
            ctx.request_repaint_after(FRAME);
        }
    }

    fn try_start(&mut self) -> Result<(), String> {
        let Some(sheet) = &self.sheet else { return Err("Open a rhythm first: press O.".to_owned()) };
        let Some((rhythm, _)) = sheet.rhythm() else {
            return Err("This text is no rhythm yet: mend it and press R.".to_owned());
        };
        let drill = Drill::new(rhythm.clone(), self.choices.plan(rhythm));
        let title = sheet.title();
        let mut drill = self.planned_drill().unwrap_or(drill);
        drill.voice.clone_from(&self.settings.voice);
        drill.levels = self.choices.levels();
        drill.settings = self.choices.judge;
        drill.latency = self.settings.latency;
        drill.replay.clone_from(&self.settings.replay);
        drill.take =
            self.choices.keep_takes.then(|| live::new_take_dir(&self.settings.takes_root, Some(&title)));
        let rig = match &mut self.devices.sound {
            Sound::Open(rig) => rig,
            Sound::Opening => {
                return Err("The sound device is still being opened: try again in a moment.".to_owned());
            }
            Sound::Missing(_) => {
                return Err("Without sound no drill can run: choose a device with D.".to_owned());
            }
        };
        let tempo = drill.plan.tempo();
        rig.start(drill).map_err(|error| sentence(&error.to_string()))?;
        self.played_tempo = Some(tempo);
        self.running = Some(Running::new());
        self.judgements += 1;
        self.scroll = Scroll::default();
        Ok(())
    }

    fn stop(&mut self) {
        if self.goes_on() {
            if let Some(rig) = self.devices.rig() {
                rig.stop();
            }
        } else if self.pane.take().is_none() {
            self.complaint = None;
        }
    }

    fn ask_for_file(&mut self) {
        if self.path_typed.is_empty()
            && let Some(sheet) = &self.sheet
        {
            self.path_typed = sheet.path().display().to_string();
        }
        self.pane = Some(Pane::Open);
    }

    fn browse(&mut self, ctx: &Context) {
        let folder = self.sheet.as_ref().and_then(|sheet| sheet.path().parent()).map(Path::to_owned);
        self.choice.ask(folder.as_deref(), waker(ctx));
    }

    fn open(&mut self, path: &Path) {
        match Sheet::open(path, self.settings.part.as_deref()) {
            Ok(sheet) => {
                self.drilled = None;
                self.lay(sheet);
                self.choices.bpm = self.settings.bpm;
                self.tempo_typed.clear();
                self.path_typed.clear();
                self.pane = None;
                self.scroll = Scroll { to: Some(false), ..Scroll::default() };
            }
            Err(error) => self.complaint = Some(sentence(&error.to_string())),
        }
    }

    /// Reads the file again; `asked` if somebody wanted to know.
    fn reread(&mut self, asked: bool) {
        let Some(sheet) = self.sheet.as_ref().filter(|_| self.drilled.is_none()) else { return };
        match sheet.reread() {
            Ok(Some(sheet)) => self.lay(sheet),
            Ok(None) if asked => self.complaint = Some("The file is as it was read.".to_owned()),
            Ok(None) => {}
            Err(error) => self.complaint = Some(sentence(&error.to_string())),
        }
    }

    /// Puts a sheet in place of the one that lies there, and of what was played on it.
    fn lay(&mut self, sheet: Sheet) {
        if self.goes_on()
            && let Some(rig) = self.devices.rig()
        {
            rig.stop();
        }
        self.sheet = Some(sheet);
        self.sheets += 1;
        self.running = None;
        self.played_tempo = None;
        self.complaint = None;
    }

    /// The colour behind everything, as the painter wants it.
    pub(crate) fn background() -> [f32; 4] {
        style::colour(Theme::default().paper).to_normalized_gamma_f32()
    }

    fn players(&self) -> &[live::PlayerState] {
        self.running.as_ref().map_or(&[], |running| &running.players)
    }
}

/// Asks for a frame, from whichever thread.
fn waker(ctx: &Context) -> impl Fn() + Clone + Send + 'static + use<> {
    let ctx = ctx.clone();
    move || ctx.request_repaint()
}
