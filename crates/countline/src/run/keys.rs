//! The terminal's keyboard.

use std::io::IsTerminal;
use std::time::{Duration, Instant};

use crossterm::event::{Event as Key, KeyCode, KeyEventKind, KeyModifiers};
use input::Order;
use timebase::Seconds;

/// How late a key may be known: the terminal gives no stamp, so the stamp is taken when the key is read.
pub(super) const RESOLUTION: Seconds = Seconds::from_millis(2);

/// What was pressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pressed {
    Strike(Instant),
    Order(Order),
    Stop,
}

/// The terminal's keyboard, while it is a terminal. Restored when dropped.
pub(super) struct Keys;

impl Keys {
    pub(super) fn read() -> Option<Self> {
        (std::io::stdin().is_terminal() && crossterm::terminal::enable_raw_mode().is_ok()).then_some(Self)
    }

    /// When the space bar was struck next; other keys are passed over.
    pub(super) fn struck(&self) -> Option<Instant> {
        while let Some(pressed) = self.next() {
            if let Pressed::Strike(at) = pressed {
                return Some(at);
            }
        }
        None
    }

    pub(super) fn next(&self) -> Option<Pressed> {
        while crossterm::event::poll(Duration::ZERO).unwrap_or(false) {
            let at = Instant::now();
            let Ok(Key::Key(key)) = crossterm::event::read() else { continue };
            if key.kind != KeyEventKind::Press {
                continue;
            }
            match (key.code, key.modifiers) {
                (KeyCode::Char('c'), KeyModifiers::CONTROL) | (KeyCode::Esc, _) => {
                    return Some(Pressed::Stop);
                }
                (KeyCode::Enter, _) => return Some(Pressed::Order(Order::Start)),
                // As in the window.
                (KeyCode::Char('g'), _) => return Some(Pressed::Order(Order::Next)),
                (KeyCode::Char('a'), _) => return Some(Pressed::Order(Order::Again)),
                (KeyCode::Char(' '), _) => return Some(Pressed::Strike(at)),
                _ => {}
            }
        }
        None
    }
}

impl Drop for Keys {
    fn drop(&mut self) {
        // If the terminal is gone there is nothing to restore.
        let _ = crossterm::terminal::disable_raw_mode();
    }
}
