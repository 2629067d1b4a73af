//! The small controls that every part of the window has.

use eframe::egui::{Button, Response, RichText, Ui};

use crate::style;

/// A name, a value and two buttons that move it: −1 or 1 if one was pressed.
pub(super) fn stepper(ui: &mut Ui, name: &str, value: &str, less_more: [&str; 2]) -> Option<i32> {
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        ui.label(name);
        steps(ui, name, value, less_more)
    })
    .inner
}

/// A value and two buttons that move it; `name` is for those who hear the window.
pub(super) fn steps(ui: &mut Ui, name: &str, value: &str, [less, more]: [&str; 2]) -> Option<i32> {
    let down = step(ui, "−", &format!("{name}: {less}"));
    ui.label(value);
    let up = step(ui, "+", &format!("{name}: {more}"));
    match (down, up) {
        (true, _) => Some(-1),
        (_, true) => Some(1),
        _ => None,
    }
}

/// One small button of a stepper.
pub(super) fn step(ui: &mut Ui, sign: &str, name: &str) -> bool {
    let size = [28.0, ui.spacing().interact_size.y];
    named(ui.add(Button::new(sign).min_size(size.into())), name)
}

pub(super) fn button(ui: &mut Ui, text: &str, name: &str) -> bool {
    named(ui.button(text), name)
}

/// A button that is called otherwise than it reads; says whether it was pressed.
pub(super) fn named(response: Response, name: &str) -> bool {
    response.on_hover_text(name).accessible_name(name).clicked()
}

/// A heading within a pane.
pub(super) fn heading(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).font(style::bold(style::TEXT_SIZE)));
}

/// One of several that exclude one another, all in sight. Says which was chosen anew.
pub(super) fn one_of<T: Copy + PartialEq>(
    ui: &mut Ui,
    name: &str,
    chosen: T,
    all: &[(&str, T)],
) -> Option<T> {
    let mut other = None;
    ui.label(name);
    ui.horizontal_wrapped(|ui| {
        for &(words, value) in all {
            let radio = ui.radio(value == chosen, words);
            let pressed = radio.clicked();
            radio.accessible_name(format!("{name}: {words}"));
            if pressed && value != chosen {
                other = Some(value);
            }
        }
    });
    other
}
