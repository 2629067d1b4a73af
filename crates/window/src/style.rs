//! Fonts and colours: those of the scenes, for everything around them too.

use std::collections::BTreeMap;
use std::sync::Arc;

use eframe::egui::style::ScrollStyle;
use eframe::egui::{
    Color32, Context, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Stroke, TextStyle, Vec2,
    Visuals,
};
use engrave::{Colour, Theme, Weight, font};

/// The family of the music font.
pub(crate) const MUSIC: &str = "music";
/// The family of the bold text font.
const BOLD: &str = "bold";

/// The size of the window's own text, in points.
pub(crate) const TEXT_SIZE: f32 = 16.0;

pub(crate) fn colour(colour: Colour) -> Color32 {
    Color32::from_rgb(colour.red, colour.green, colour.blue)
}

/// The family a weight is drawn in.
pub(crate) fn family(weight: Weight) -> FontFamily {
    match weight {
        Weight::Regular => FontFamily::Proportional,
        Weight::Bold => FontFamily::Name(BOLD.into()),
    }
}

/// A bold font of this size in points.
pub(crate) fn bold(size: f32) -> FontId {
    FontId::new(size, family(Weight::Bold))
}

/// Gives a window its fonts, its colours and its calm: nothing blinks, nothing glides.
pub(crate) fn dress(ctx: &Context, theme: &Theme) {
    ctx.set_fonts(fonts());
    ctx.set_theme(eframe::egui::Theme::Light);
    ctx.options_mut(|options| {
        // The sizes are changed by keys of our own.
        options.zoom_with_keyboard = false;
    });
    let visuals = visuals(theme);
    ctx.all_styles_mut(|style| {
        style.visuals = visuals.clone();
        // A bar that glides or fades is repainted all the while.
        style.animation_time = 0.0;
        style.scroll_animation = eframe::egui::style::ScrollAnimation::none();
        style.spacing.item_spacing = Vec2::new(8.0, 6.0);
        style.spacing.button_padding = Vec2::new(10.0, 5.0);
        style.spacing.interact_size = Vec2::new(44.0, 30.0);
        // Bars that are always seen, and no fading at the edges: what stands there is to be read too.
        style.spacing.scroll = ScrollStyle { foreground_color: true, ..ScrollStyle::solid() };
        style.spacing.scroll.fade.strength = 0.0;
        style.text_styles = BTreeMap::from([
            (TextStyle::Small, FontId::proportional(TEXT_SIZE - 2.0)),
            (TextStyle::Body, FontId::proportional(TEXT_SIZE)),
            (TextStyle::Button, FontId::proportional(TEXT_SIZE)),
            (TextStyle::Heading, bold(TEXT_SIZE * 1.5)),
            (TextStyle::Monospace, FontId::monospace(TEXT_SIZE)),
        ]);
    });
}

/// The fonts that scenes are measured in come first; what they lack is found in the built-in ones.
fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    let embedded = [("text", font::TEXT), (BOLD, font::TEXT_BOLD), (MUSIC, font::MUSIC)];
    for (name, bytes) in embedded {
        fonts.font_data.insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
    }
    let others = fonts.families.get(&FontFamily::Proportional).cloned().unwrap_or_default();
    let with = |first: &str| std::iter::once(first.to_owned()).chain(others.iter().cloned()).collect();
    fonts.families.insert(FontFamily::Name(BOLD.into()), with(BOLD));
    fonts.families.insert(FontFamily::Name(MUSIC.into()), vec![MUSIC.to_owned()]);
    fonts.families.insert(FontFamily::Proportional, with("text"));
    fonts
}

fn visuals(theme: &Theme) -> Visuals {
    let [main, soft, faint, paper, column, early] =
        [theme.main, theme.soft, theme.faint, theme.paper, theme.column, theme.early].map(colour);
    let mut visuals = Visuals::light();
    visuals.override_text_color = None;
    visuals.weak_text_color = Some(soft);
    visuals.panel_fill = paper;
    visuals.window_fill = paper;
    visuals.extreme_bg_color = Color32::WHITE;
    visuals.faint_bg_color = column;
    visuals.warn_fg_color = main;
    visuals.error_fg_color = main;
    visuals.hyperlink_color = early;
    visuals.selection.bg_fill = column;
    visuals.selection.stroke = Stroke::new(1.5, main);
    visuals.window_stroke = Stroke::new(1.0, soft);
    visuals.window_shadow = eframe::egui::Shadow::NONE;
    visuals.popup_shadow = eframe::egui::Shadow::NONE;
    visuals.text_cursor.blink = false;
    visuals.text_cursor.stroke = Stroke::new(2.0, main);
    let widgets = &mut visuals.widgets;
    for widget in [
        &mut widgets.noninteractive,
        &mut widgets.inactive,
        &mut widgets.hovered,
        &mut widgets.active,
        &mut widgets.open,
    ] {
        widget.fg_stroke = Stroke::new(1.0, main);
        widget.corner_radius = CornerRadius::same(4);
        widget.expansion = 0.0;
    }
    widgets.noninteractive.bg_stroke = Stroke::new(1.0, faint);
    widgets.inactive.bg_fill = Color32::WHITE;
    widgets.inactive.weak_bg_fill = Color32::WHITE;
    widgets.inactive.bg_stroke = Stroke::new(1.0, colour(theme.spread));
    widgets.hovered.weak_bg_fill = column;
    widgets.hovered.bg_fill = column;
    widgets.hovered.bg_stroke = Stroke::new(1.0, main);
    // The one that has the keyboard is seen from afar.
    widgets.active.weak_bg_fill = column;
    widgets.active.bg_fill = column;
    widgets.active.bg_stroke = Stroke::new(2.5, early);
    widgets.open.weak_bg_fill = column;
    widgets.open.bg_stroke = Stroke::new(1.0, main);
    visuals
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_blinks_and_nothing_glides() {
        let ctx = Context::default();
        dress(&ctx, &Theme::default());
        let style = ctx.global_style();
        assert!(!style.visuals.text_cursor.blink);
        assert!(style.animation_time.abs() < f32::EPSILON);
        assert!(!ctx.options(|options| options.zoom_with_keyboard));
    }

    /// WCAG 2.x, 1.4.3: text has a contrast of 4.5 or more against what is behind it; 1.4.11: what shows where the
    /// keyboard is has 3 or more.
    #[test]
    fn text_and_focus_stand_out() {
        let theme = Theme::default();
        let white = Colour { red: 255, green: 255, blue: 255 };
        for behind in [theme.paper, theme.column, white] {
            assert!(theme.main.contrast(behind) >= 7.0, "text on {behind}");
            assert!(theme.soft.contrast(behind) >= 4.5, "weak text on {behind}");
            assert!(theme.early.contrast(behind) >= 3.0, "the frame of what has the keyboard, on {behind}");
        }
        let visuals = visuals(&theme);
        assert_eq!(visuals.widgets.inactive.text_color(), colour(theme.main));
        assert_eq!(visuals.weak_text_color, Some(colour(theme.soft)));
        assert_eq!(visuals.panel_fill, colour(theme.paper));
    }
}
