use eframe::egui::text::LayoutJob;
use eframe::egui::{FontId, Grid, Key, RichText, ScrollArea, TextEdit, TextFormat, Ui};
use input::{Entry, Instrument, Place, Player, check_mask};
use timebase::Seconds;

use super::Screen;
use super::steppers::{heading, named, steps};
use crate::lesson::codes;
use crate::running::sentence;
use crate::style;

/// A mask goes in steps of this many ms.
const MASK_STEP_MS: i64 = 5;
/// The size of what is called out to those at the pads.
const CALL: f32 = 26.0;

/// What is asked of one player's row.
enum Asked {
    Again(String),
    Remove(String),
    Change(Entry),
}

impl Screen {
    /// Who plays on what.
    pub(super) fn players_pane(&mut self, ui: &mut Ui) {
        ui.set_width(760.0);
        if self.lesson.is_some() {
            return self.lesson_shown(ui);
        }
        self.new_player(ui);
        ui.separator();
        let entries = self.devices.settings.input.roster.entries().to_vec();
        let mut asked = None;
        ScrollArea::vertical().max_height(300.0).auto_shrink([false, true]).id_salt("players").show(
            ui,
            |ui| {
                if entries.is_empty() {
                    ui.label(
                        "Nobody is listed: every MIDI input is a player of its own, and so is the space bar.",
                    );
                } else {
                    Grid::new("listed").num_columns(5).spacing([18.0, 6.0]).show(ui, |ui| {
                        for text in ["Code", "Plays on", "Retrigger mask", "", ""] {
                            heading(ui, text);
                        }
                        ui.end_row();
                        for entry in &entries {
                            self.player_row(ui, entry, &mut asked);
                            ui.end_row();
                        }
                    });
                }
                self.others(ui);
            },
        );
        ui.separator();
        self.kept_line(ui);
        match asked {
            Some(Asked::Again(code)) => self.teach_players(ui.ctx(), vec![code]),
            Some(Asked::Remove(code)) => {
                let roster = self.devices.settings.input.roster.clone().without(&code);
                self.change_players(roster);
            }
            Some(Asked::Change(entry)) => {
                let roster = self.devices.settings.input.roster.clone().with(entry);
                self.change_players_if(roster);
            }
            None => {}
        }
    }

    /// Codes to be learnt, one player after the other.
    fn new_player(&mut self, ui: &mut Ui) {
        ui.label("Codes of the players, K1 K2 K3 (codes rather than names: they are kept with the takes):");
        let focus = std::mem::take(&mut self.pane_is_new);
        let (mut learn, mut space) = (false, false);
        ui.horizontal(|ui| {
            let field = TextEdit::singleline(&mut self.codes_typed).desired_width(280.0);
            let field = ui.add(field);
            if focus {
                field.request_focus();
            }
            learn = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
            field.accessible_name("Codes of the players");
            learn |= named(ui.button("Learn by striking"), "Each of these players strikes what is theirs");
            space |= named(ui.button("On the space bar"), "This player plays on the space bar");
        });
        let typed = codes(&self.codes_typed);
        if (learn || space) && typed.is_empty() {
            self.pane_says = Some("Type a code first, such as K1.".to_owned());
        } else if learn {
            self.teach_players(ui.ctx(), typed);
        } else if space {
            let entry = Place::port(Place::SPACE_BAR).map(|place| Entry::new(&typed[0], vec![place]));
            let roster = entry.and_then(|entry| self.devices.settings.input.roster.clone().with(entry));
            if self.change_players_if(roster) {
                self.codes_typed.clear();
            }
        }
        ui.label(
            RichText::new(
                "Several pads for one player, two hands: all of them in one turn. A pedal that keeps the pulse is a player \
                 of its own: call it beat and tread on it.",
            )
            .weak(),
        );
    }

    fn player_row(&self, ui: &mut Ui, entry: &Entry, asked: &mut Option<Asked>) {
        let code = &entry.code;
        ui.label(RichText::new(code).font(style::bold(style::TEXT_SIZE)));
        let places: Vec<String> = entry.places.iter().map(ToString::to_string).collect();
        // One line, so that it stands with the rest of the row.
        let troubles = self.troubles(code);
        let mut job = LayoutJob::default();
        let format = |font| TextFormat::simple(font, ui.visuals().text_color());
        job.append(&places.join("\n"), 0.0, format(FontId::proportional(style::TEXT_SIZE)));
        for line in &troubles {
            job.append(&format!("\n{line}"), 0.0, format(style::bold(style::TEXT_SIZE - 2.0)));
        }
        job.wrap.max_width = 300.0;
        ui.label(job);
        ui.horizontal(|ui| {
            let usual = self.devices.settings.input.retrigger;
            let mask = entry.retrigger.unwrap_or(usual);
            let whose = if entry.retrigger.is_none() { " (as all)" } else { "" };
            let shown = format!("{} ms{whose}", mask.as_millis_f64());
            let name = format!("Retrigger mask of {code}");
            if let Some(steps) = steps(ui, &name, &shown, ["shorter", "longer"]) {
                let moved = mask + Seconds::from_millis(MASK_STEP_MS * i64::from(steps));
                if check_mask(moved).is_ok() {
                    let retrigger = (moved != usual).then_some(moved);
                    *asked = Some(Asked::Change(Entry { retrigger, ..entry.clone() }));
                }
            }
        });
        let mut keys = entry.instrument == Instrument::Keys;
        let shown = ui.checkbox(&mut keys, "keys").on_hover_text("A keyboard, whose notes are held");
        if shown.changed() {
            let instrument = if keys { Instrument::Keys } else { Instrument::Pad };
            *asked = Some(Asked::Change(Entry { instrument, ..entry.clone() }));
        }
        shown.accessible_name(format!("{code} plays on keys"));
        ui.horizontal(|ui| {
            if named(ui.button("Learn anew"), &format!("Learn what {code} plays on anew")) {
                *asked = Some(Asked::Again(code.clone()));
            }
            if named(ui.button("Remove"), &format!("Remove {code}")) {
                *asked = Some(Asked::Remove(code.clone()));
            }
        });
    }

    /// What is wrong with a player's devices.
    fn troubles(&self, label: &str) -> Vec<String> {
        let players = self.devices.rig().map(live::Rig::players);
        let known =
            players.as_ref().and_then(|players| players.all().iter().find(|player| player.label() == label));
        let gone = known.filter(|player| !player.missing.is_empty());
        let gone = gone.map(|player| format!("{} is not there", player.missing.join(" and ")));
        let played = self.players().iter().find(|player| player.label == label && player.shaken > 0);
        let shaken = played.map(|player| {
            let times =
                if player.shaken == 1 { "once".to_owned() } else { format!("{} times", player.shaken) };
            format!("its pad was shaken by another {times}: raise the module's cross-talk setting")
        });
        gone.into_iter().chain(shaken).collect()
    }

    /// Those who are heard and not listed.
    fn others(&self, ui: &mut Ui) {
        // Devices that are to be opened anew still play as before the list was changed.
        let Some(rig) = self.devices.rig().filter(|_| !self.devices_are_stale) else { return };
        let players = rig.players();
        let others: Vec<&Player> = players.all().iter().filter(|player| player.code.is_none()).collect();
        if others.is_empty() {
            return;
        }
        ui.add_space(4.0);
        heading(ui, "Heard and not listed");
        for player in others {
            ui.label(format!("{}: {}", player.label(), player.name));
            for line in self.troubles(&player.label()) {
                ui.label(RichText::new(line).font(style::bold(style::TEXT_SIZE - 2.0)));
            }
        }
    }

    /// Where it is kept, or what did not work.
    pub(super) fn kept_line(&mut self, ui: &mut Ui) {
        if let Some(says) = &self.pane_says {
            ui.label(says);
        }
        let mut reread = false;
        ui.horizontal(|ui| {
            if self.settings.keeper.is_some() {
                reread = named(ui.button("Read again"), "Read players and controls as they are kept");
            }
            let kept = match (&self.kept_in, &self.settings.keeper) {
                (Some(path), _) => format!("Kept in {}", path.display()),
                (None, Some(_)) => "Every change is kept at once.".to_owned(),
                (None, None) => "Changes are kept until the window is closed.".to_owned(),
            };
            ui.label(RichText::new(kept).weak());
        });
        if reread {
            self.reread_players();
        }
    }

    /// A lesson under way: who is to strike, large enough to be read from the pads.
    pub(super) fn lesson_shown(&mut self, ui: &mut Ui) {
        let Some(lesson) = &self.lesson else { return };
        ui.label(RichText::new(lesson.asks()).font(style::bold(CALL)));
        for line in lesson.said() {
            ui.label(sentence(line));
        }
        ui.add_space(8.0);
        let (mut done, mut cancel) = (false, false);
        ui.horizontal(|ui| {
            let shown = ui.button("Done");
            // Enter ends a turn, whatever had the keyboard before.
            if ui.memory(|memory| memory.focused().is_none()) {
                shown.request_focus();
            }
            done = named(shown, "This turn is over");
            cancel = named(ui.button("Cancel"), "Leave everything as it was (Esc)");
        });
        if cancel {
            self.end_lesson();
        } else if done {
            self.go_on_with_lesson(ui.ctx());
        }
    }
}
