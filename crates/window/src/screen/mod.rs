//! The window's content: what it holds, what happens to it, and how its parts are laid out.

mod controls;
mod controls_pane;
mod device_pane;
mod drilled;
mod drilling;
mod findings_pane;
mod header;
mod latency_pane;
mod music;
mod notices;
mod obeying;
mod panes;
mod players_pane;
mod report;
mod sounds_pane;
mod steppers;
mod teaching;
#[cfg(test)]
mod tests;
mod turns_pane;

use std::path::{Path, PathBuf};
use std::time::Duration;

use eframe::egui::{self, Context, Event, Key, Ui};
use engrave::Theme;
use live::Phase;
use timebase::Tempo;

use crate::calling::Calling;
use crate::choices::Choices;
use crate::devices::{Devices, Sound};
use crate::keyboard::KeyTimes;
use crate::lesson::Lesson;
use crate::measuring::Measuring;
use crate::opening::{Chosen, FileChoice};
use crate::orders;
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
    /// The voice where no drill plan names another.
    usual_voice: String,
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
    /// Drills that were replaced by another and have not told of their end yet.
    replaced: usize,
    /// A drill was asked for before the devices were open.
    start_awaited: bool,
    pane: Option<Pane>,
    /// Whether the pane was opened just now, so that its first control gets the keyboard.
    pane_is_new: bool,
    /// What came of what was last done in a pane.
    pane_says: Option<String>,
    lesson: Option<Lesson>,
    /// Players or controls were changed since the devices were opened.
    devices_are_stale: bool,
    /// Where players and controls were kept last.
    kept_in: Option<PathBuf>,
    calling: Calling,
    measuring: Measuring,
    choice: FileChoice,
    /// As it is typed.
    path_typed: String,
    tempo_typed: String,
    codes_typed: String,
    note_typed: String,
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
    Sounds,
    Players,
    Controls,
    Turns,
    Latency,
    Findings,
}

impl Pane {
    fn title(self) -> &'static str {
        match self {
            Self::Open => "Open a rhythm",
            Self::Devices => "Sound and MIDI devices",
            Self::Keys => "Keys",
            Self::Sounds => "What sounds",
            Self::Players => "Players",
            Self::Controls => "Controls without hands",
            Self::Turns => "Turns",
            Self::Latency => "Latency",
            Self::Findings => "Findings",
        }
    }
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
    /// Whether the drill has just ended.
    has_ended: bool,
}

impl Screen {
    /// A screen with nothing opened yet.
    pub(crate) fn new(settings: WindowSettings, keys: KeyTimes) -> Self {
        Self {
            choices: Choices::of(&settings),
            usual_voice: settings.voice.clone(),
            devices: Devices::new(settings.rig.clone()),
            keys,
            sheet: None,
            drilled: None,
            sheets: 0,
            running: None,
            played_tempo: None,
            judgements: 0,
            page: None,
            replaced: 0,
            start_awaited: false,
            pane: None,
            pane_is_new: false,
            pane_says: None,
            lesson: None,
            devices_are_stale: false,
            kept_in: None,
            calling: Calling::of(&settings.turns),
            measuring: Measuring::default(),
            choice: FileChoice::default(),
            path_typed: String::new(),
            tempo_typed: String::new(),
            codes_typed: String::new(),
            note_typed: String::new(),
            complaint: None,
            scroll: Scroll::default(),
            had_focus: true,
            full_screen: false,
            settings,
        }
    }

    /// Opens the file of the settings and the devices.
    pub(crate) fn begin(&mut self, ctx: &Context) {
        style::dress(ctx, &Theme::default());
        if let Some(file) = self.settings.file.take() {
            self.open(&file, ctx);
        }
        self.devices.open(waker(ctx));
    }

    /// What happened since the last time. Called also while nothing can be seen.
    pub(crate) fn mind(&mut self, ctx: &Context) {
        if self.devices.mind() {
            if let Sound::Missing(_) = self.devices.sound {
                self.end_without_sound();
            }
            if std::mem::take(&mut self.start_awaited) {
                self.start(ctx);
            }
        }
        self.heed_events(ctx);
        self.mind_measuring(ctx);
        self.mind_turns(ctx);
        if let Some(chosen) = self.choice.answer() {
            match chosen {
                Chosen::File(path) => self.open(&path, ctx),
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

    /// Without its device no drill goes on.
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
        self.keys.listen(has_focus && self.is_played() && !ctx.text_edit_focused());
    }

    fn strike(&mut self, ctx: &Context) {
        let strokes: Vec<_> = self.keys.strokes().collect();
        if let Some(rig) = self.devices.rig_mut() {
            for stroke in strokes {
                rig.strike_key_at(stroke.at, stroke.resolution);
            }
        }
        // Where a drill runs, the space bar is a pad and presses no button.
        if self.is_played() && !ctx.text_edit_focused() {
            ctx.input_mut(|input| {
                input.events.retain(|event| !matches!(event, Event::Key { key: Key::Space, .. }));
            });
        }
    }

    /// Whether the space bar is a pad: a drill runs, or somebody taps along with the click.
    fn is_played(&self) -> bool {
        self.goes_on() || self.measuring.taps()
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
        self.call_out(ui);
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
            self.open(&path, ctx);
        }
    }

    fn ask_for_file(&mut self, ctx: &Context) {
        if self.path_typed.is_empty()
            && let Some(sheet) = &self.sheet
        {
            self.path_typed = sheet.path().display().to_string();
        }
        self.set_pane(Some(Pane::Open), ctx);
    }

    fn browse(&mut self, ctx: &Context) {
        let folder = self.sheet.as_ref().and_then(|sheet| sheet.path().parent()).map(Path::to_owned);
        self.choice.ask(folder.as_deref(), waker(ctx));
    }

    fn open(&mut self, path: &Path, ctx: &Context) {
        if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("drill")) {
            return self.open_plan(path, ctx);
        }
        match Sheet::open(path, self.settings.part.as_deref(), &self.settings.system) {
            Ok(sheet) => {
                if self.drilled.take().is_some() {
                    self.settings.voice.clone_from(&self.usual_voice);
                }
                self.lay(sheet);
                self.choices.bpm = self.settings.bpm;
                self.tempo_typed.clear();
                self.path_typed.clear();
                self.set_pane(None, ctx);
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
            self.replaced += 1;
        }
        self.sheet = Some(sheet);
        self.sheets += 1;
        self.running = None;
        self.played_tempo = None;
        self.complaint = None;
    }

    /// The rhythm that comes after the open one in its folder, by name.
    fn open_next(&mut self, ctx: &Context) {
        let Some(sheet) = &self.sheet else { return self.ask_for_file(ctx) };
        match sheet.next_in_folder() {
            Ok(Some(path)) => self.open(&path, ctx),
            Ok(None) => self.complaint = Some("That was the last rhythm in its folder.".to_owned()),
            Err(error) => self.complaint = Some(sentence(&error.to_string())),
        }
    }

    /// The colour behind everything, as the painter wants it.
    pub(crate) fn background() -> [f32; 4] {
        style::colour(Theme::default().paper).to_normalized_gamma_f32()
    }

    /// Whether the section is shown as a whole: those who will play along are reckoned with.
    fn class_view(&self) -> bool {
        self.choices.is_class_view(self.rows().max(self.settings.replay.len()))
    }

    /// How many are known to play.
    fn rows(&self) -> usize {
        self.running.as_ref().and_then(|running| running.heads.as_ref()).map_or(0, Vec::len)
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
