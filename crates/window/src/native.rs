use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use eframe::egui::{Context, Ui, ViewportBuilder, Visuals};
use eframe::{NativeOptions, UserEvent};
use winit::event_loop::{ControlFlow, EventLoop};

use crate::keyboard::{KeyTimes, Watched};
use crate::screen::Screen;
use crate::{Error, OpenPlan, WindowSettings, said};

/// Opens the window and returns when it is closed. To be called on the program's first thread.
///
/// Without a sound device, without MIDI and with mistakes in the rhythm text the window opens all the same and says so.
///
/// # Errors
/// If there is no display, or its drivers are missing.
pub fn run(settings: WindowSettings) -> Result<(), Error> {
    open(settings, None)
}

/// The same with a drill plan, which lies open instead of the settings' file.
///
/// # Errors
/// As [`run`].
pub fn run_plan(settings: WindowSettings, plan: OpenPlan) -> Result<(), Error> {
    open(settings, Some(plan))
}

fn open(settings: WindowSettings, plan: Option<OpenPlan>) -> Result<(), Error> {
    said::listen();
    let no_window = |why: String| Error::NoWindow { why };
    let event_loop =
        EventLoop::<UserEvent>::with_user_event().build().map_err(|error| no_window(error.to_string()))?;
    event_loop.set_control_flow(ControlFlow::Wait);

    let keys = KeyTimes::new();
    let (watch, painted) = (keys.watch(), Arc::new(AtomicBool::new(false)));
    let options = NativeOptions {
        viewport: ViewportBuilder::default()
            .with_title("countline")
            .with_app_id("countline")
            .with_inner_size([1280.0, 720.0])
            .with_min_inner_size([640.0, 400.0]),
        ..NativeOptions::default()
    };
    let shown = Arc::clone(&painted);
    let app = eframe::create_native(
        "countline",
        options,
        Box::new(move |creation| {
            let ctx = creation.egui_ctx.clone();
            #[cfg(target_os = "linux")]
            let keys = {
                let ctx = ctx.clone();
                keys.with_server(move || ctx.request_repaint())
            };
            let mut screen = Screen::new(settings, keys);
            if let Some(plan) = plan {
                screen.plan(plan);
            }
            screen.begin(&ctx);
            Ok(Box::new(Shown { screen, painted: shown }))
        }),
        &event_loop,
    );
    let mut app = Watched::new(app, watch);
    event_loop.run_app(&mut app).map_err(|error| no_window(error.to_string()))?;
    drop(app);
    // A driver that is missing ends the loop without an error: nothing was ever painted, and the reason was only logged.
    if painted.load(Ordering::Acquire) {
        Ok(())
    } else {
        Err(no_window(said::so_far("the window system gave no reason")))
    }
}

/// The screen, and whether it was ever seen.
struct Shown {
    screen: Screen,
    painted: Arc<AtomicBool>,
}

impl eframe::App for Shown {
    fn logic(&mut self, ctx: &Context, _frame: &mut eframe::Frame) {
        self.screen.mind(ctx);
    }

    fn ui(&mut self, ui: &mut Ui, _frame: &mut eframe::Frame) {
        self.screen.show(ui);
        self.painted.store(true, Ordering::Release);
    }

    fn clear_color(&self, _visuals: &Visuals) -> [f32; 4] {
        Screen::background()
    }
}
