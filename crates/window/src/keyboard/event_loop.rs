use std::time::Instant;

use eframe::{EframeWinitApplication, UserEvent};
use winit::application::ApplicationHandler;
use winit::event::{DeviceEvent, DeviceId, ElementState, StartCause, WindowEvent};
use winit::event_loop::ActiveEventLoop;
use winit::keyboard::{Key, NamedKey};
use winit::window::WindowId;

use super::KeyWatch;

/// The window's event loop, with an eye on the space bar: a key is stamped where the loop first sees it, and not
/// a frame later, where it is painted.
pub(crate) struct Watched<'app> {
    app: EframeWinitApplication<'app>,
    keys: KeyWatch,
}

impl<'app> Watched<'app> {
    pub(crate) fn new(app: EframeWinitApplication<'app>, keys: KeyWatch) -> Self {
        Self { app, keys }
    }
}

impl ApplicationHandler<UserEvent> for Watched<'_> {
    fn window_event(&mut self, event_loop: &ActiveEventLoop, window: WindowId, event: WindowEvent) {
        if let WindowEvent::KeyboardInput { event: key, is_synthetic: false, .. } = &event
            && key.state == ElementState::Pressed
            && !key.repeat
            && key.logical_key == Key::Named(NamedKey::Space)
        {
            self.keys.seen(Instant::now());
        }
        self.app.window_event(event_loop, window, event);
    }

    fn resumed(&mut self, event_loop: &ActiveEventLoop) {
        self.app.resumed(event_loop);
    }

    fn new_events(&mut self, event_loop: &ActiveEventLoop, cause: StartCause) {
        self.app.new_events(event_loop, cause);
    }

    fn user_event(&mut self, event_loop: &ActiveEventLoop, event: UserEvent) {
        self.app.user_event(event_loop, event);
    }

    fn device_event(&mut self, event_loop: &ActiveEventLoop, device: DeviceId, event: DeviceEvent) {
        self.app.device_event(event_loop, device, event);
    }

    fn about_to_wait(&mut self, event_loop: &ActiveEventLoop) {
        self.app.about_to_wait(event_loop);
    }

    fn suspended(&mut self, event_loop: &ActiveEventLoop) {
        self.app.suspended(event_loop);
    }

    fn exiting(&mut self, event_loop: &ActiveEventLoop) {
        self.app.exiting(event_loop);
    }

    fn memory_warning(&mut self, event_loop: &ActiveEventLoop) {
        self.app.memory_warning(event_loop);
    }
}

impl std::fmt::Debug for Watched<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Watched").field("keys", &self.keys).finish_non_exhaustive()
    }
}
