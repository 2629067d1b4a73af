use eframe::egui::{RichText, ScrollArea, TextEdit, Ui};

use super::Screen;
use super::steppers::{heading, named};
use crate::choices;
use crate::running::{Told, sentence};

/// What the teacher does with a finding, or with the take.
enum Said {
    Rules(Told),
    Notes,
}

impl Screen {
    /// All findings of the drill that is over, and the teacher's word on them.
    pub(super) fn findings_pane(&mut self, ui: &mut Ui) {
        ui.set_width(780.0);
        self.how_many(ui);
        ui.separator();
        let Some(running) = self.running.as_ref().filter(|running| !running.goes_on()) else {
            ui.label("Findings are told when a drill is over.");
            return;
        };
        let names = !self.class_view();
        let findings = running.findings(names);
        let keeps = running.take.is_some();
        let mut said = None;
        ScrollArea::vertical().max_height(280.0).auto_shrink([false, true]).id_salt("findings").show(
            ui,
            |ui| {
                if findings.is_empty() {
                    ui.label("Nothing was found.");
                }
                for told in findings {
                    ui.horizontal_wrapped(|ui| {
                        let (text, name) = if told.overruled {
                            ("Uphold", format!("Let it count again: {}", told.says))
                        } else {
                            ("Overrule", format!("Overrule: {}", told.says))
                        };
                        let rules = !told.doubtful
                            && ui.add_enabled_ui(keeps, |ui| named(ui.button(text), &name)).inner;
                        if told.overruled {
                            ui.label(
                                RichText::new(format!("{} (overruled by the teacher)", told.says)).weak(),
                            );
                        } else {
                            ui.label(&told.says);
                        }
                        if rules {
                            said = Some(Said::Rules(told));
                        }
                    });
                }
            },
        );
        ui.separator();
        if keeps {
            self.notes(ui, &mut said);
        } else {
            ui.label("This drill's take was not kept, so no word can be kept with it: tick Keep takes (T) before the next.");
        }
        if let Some(said) = said {
            self.teacher_says(said);
        }
    }

    fn how_many(&mut self, ui: &mut Ui) {
        let mut focus = std::mem::take(&mut self.pane_is_new);
        ui.horizontal(|ui| {
            ui.label("Told under the page (E):");
            for told in choices::Told::ALL {
                let shown = ui.radio_value(&mut self.choices.told, told, told.words());
                if std::mem::take(&mut focus) {
                    shown.request_focus();
                }
            }
        });
    }

    /// What was said of the take, and a field for more.
    fn notes(&mut self, ui: &mut Ui, said: &mut Option<Said>) {
        let Some(running) = &self.running else { return };
        let mut noted = running.notes.all().iter().filter(|note| note.words().is_some()).peekable();
        if noted.peek().is_some() {
            heading(ui, "Kept with the take");
        }
        for note in noted {
            let about =
                note.finding().map_or_else(String::new, |finding| format!("{finding} {}: ", note.said()));
            ui.label(format!("{about}{}", note.words().unwrap_or_default()));
        }
        ui.horizontal(|ui| {
            let label = ui.label("Note");
            ui.add(TextEdit::singleline(&mut self.note_typed).desired_width(480.0)).labelled_by(label.id);
            if named(ui.button("Keep with the take"), "Keep this note with the take") {
                *said = Some(Said::Notes);
            }
        });
        ui.label(
            RichText::new("A note that stands here when a finding is overruled is kept with the finding.")
                .weak(),
        );
        if let Some(says) = &self.pane_says {
            ui.label(says);
        }
    }

    fn teacher_says(&mut self, said: Said) {
        let words = Some(self.note_typed.trim().to_owned()).filter(|words| !words.is_empty());
        let Some(running) = &mut self.running else { return };
        let kept = match (said, words) {
            (Said::Rules(told), words) => running.rule(&told, words),
            (Said::Notes, Some(words)) => running.note(&words),
            (Said::Notes, None) => Err("write the note first".to_owned()),
        };
        match kept {
            Ok(()) => {
                self.note_typed.clear();
                self.pane_says = Some("Kept.".to_owned());
            }
            Err(why) => self.pane_says = Some(sentence(&why)),
        }
    }
}
