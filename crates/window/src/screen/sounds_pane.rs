use eframe::egui::{Grid, RichText, Ui};
use sequencer::{Aside, Choice, ClickOn, CountOn, Entry};

use super::Screen;
use super::steppers::{heading, named, one_of, steps};
use crate::choices::Strip;

const CLICK_ON: [(&str, ClickOn); 4] = [
    ("felt beats", ClickOn::Beats),
    ("beats and divisions", ClickOn::Divisions),
    ("count 1 alone", ClickOn::Downbeats),
    ("group starts", ClickOn::Groups),
];
const COUNT_ON: [(&str, CountOn); 3] =
    [("everything", CountOn::Everything), ("beats", CountOn::Beats), ("what is struck", CountOn::Attacks)];
const ASIDE: [(&str, Aside); 5] = [
    ("as counted", Aside::AsCounted),
    ("aloud", Aside::Aloud),
    ("softer", Aside::Softer),
    ("whispered", Aside::Whispered),
    ("silent", Aside::Silent),
];
const ENTRY: [(&str, Entry); 3] =
    [("numbers", Entry::Numbers), ("ready, play", Entry::ReadyPlay), ("ready, go", Entry::ReadyGo)];

impl Screen {
    /// What sounds, how loud and where.
    pub(super) fn sounds_pane(&mut self, ui: &mut Ui) {
        ui.set_width(720.0);
        let before = self.choices.strips;
        let strips = &mut self.choices.strips;
        let each = [
            ("Click", &mut strips.click),
            ("Count", &mut strips.count),
            ("Clap", &mut strips.clap),
            ("Tone", &mut strips.tone),
        ];
        let mut focus = std::mem::take(&mut self.pane_is_new);
        Grid::new("strips").num_columns(3).spacing([28.0, 6.0]).show(ui, |ui| {
            for text in ["Sounds", "Level", "Where it is heard"] {
                heading(ui, text);
            }
            ui.end_row();
            for (name, strip) in each {
                strip_row(ui, name, strip, std::mem::take(&mut focus));
                ui.end_row();
            }
        });
        if self.choices.strips != before
            && let Some(rig) = self.devices.rig()
        {
            rig.set_levels(self.choices.levels());
        }
        ui.label(
            RichText::new(
                "Begin softly and raise by hand: what is loud in an empty room is louder for those who sit at the speaker.",
            )
            .weak(),
        );
        ui.separator();
        Grid::new("choice").num_columns(2).spacing([18.0, 6.0]).show(ui, |ui| {
            choice_rows(ui, &mut self.choices.choice);
        });
        ui.label(RichText::new("These are heard from the next start on; levels and places at once.").weak());
    }
}

fn strip_row(ui: &mut Ui, name: &str, strip: &mut Strip, focus: bool) {
    let mut sounds = !strip.muted;
    let shown = ui.checkbox(&mut sounds, name);
    if focus {
        shown.request_focus();
    }
    if shown.changed() {
        strip.muted = !sounds;
    }
    ui.horizontal(|ui| {
        if let Some(steps) = steps(ui, name, &strip.level.to_string(), ["softer", "louder"]) {
            strip.step(steps);
        }
    });
    ui.horizontal(|ui| {
        let side = strip.side.to_string();
        if let Some(steps) = steps(ui, name, &side, ["further left", "further right"]) {
            strip.side = strip.side.moved(steps);
        }
        let is_aside = side != "middle";
        if is_aside && named(ui.button("middle"), &format!("{name}: in the middle")) {
            strip.side = crate::choices::Side::default();
        }
    });
}

fn choice_rows(ui: &mut Ui, choice: &mut Choice) {
    if let Some(click) = one_of(ui, "Click on", choice.click, &CLICK_ON) {
        choice.click = click;
    }
    ui.end_row();
    if let Some(count) = one_of(ui, "Count", choice.count, &COUNT_ON) {
        choice.count = count;
    }
    ui.end_row();
    if let Some(holds) = one_of(ui, "Counts inside a held note", choice.holds, &ASIDE) {
        choice.holds = holds;
    }
    ui.end_row();
    if let Some(rests) = one_of(ui, "Counts inside a rest", choice.rests, &ASIDE) {
        choice.rests = rests;
    }
    ui.end_row();
    if let Some(entry) = one_of(ui, "Count-in ends with", choice.entry, &ENTRY) {
        choice.entry = entry;
    }
    ui.end_row();
}
