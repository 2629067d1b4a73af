//! A drill plan on the screen: what is heard of which round, whose turn it is, how the last round went.

use std::path::Path;
use std::sync::Arc;

use eframe::egui::{Context, FontId, RichText, Ui};
use live::{Drill, Event, Part, Planned, RoundOver, Tally};
use sequencer::drill::{Outcome, SectionKind, bars_named};
use timebase::{Moment, Tempo};

use super::{Screen, Scroll};
use crate::OpenPlan;
use crate::running::sentence;
use crate::sheet::Sheet;
use crate::style;

/// The size of what is to be done now, in points: to be read from the back of the room.
const DEED: f32 = 34.0;
/// The size of what stands beside it.
const LINE: f32 = 19.0;
/// The size of what stands in the place of a page that is hidden.
const HIDDEN: f32 = 64.0;

/// A drill plan, and how far it has got.
#[derive(Clone, Debug)]
pub(crate) struct Drilled {
    planned: Planned,
    part: Option<Arc<Part>>,
    /// The rhythm and the tempo of what the page shows.
    shown: Option<(usize, Tempo)>,
    /// The round that was judged last.
    last: Option<Arc<RoundOver>>,
    rounds: usize,
    good: usize,
}

impl Drilled {
    pub(crate) const fn new(planned: Planned) -> Self {
        Self { planned, part: None, shown: None, last: None, rounds: 0, good: 0 }
    }

    /// The same before its beginning.
    fn anew(&self) -> Self {
        Self::new(self.planned.clone())
    }

    /// What is to be done now, in a word or two.
    fn deed(&self) -> String {
        let Some(part) = &self.part else { return String::new() };
        match (part.section, &part.player) {
            (SectionKind::CountIn, _) => "count-in".to_owned(),
            (SectionKind::Rest | SectionKind::Breath, _) => "breathe".to_owned(),
            (SectionKind::Model | SectionKind::Call, _) => "listen".to_owned(),
            (SectionKind::Response(_), Some(player)) => format!("{player}: your turn"),
            (SectionKind::Response(_), None) => "your turn".to_owned(),
        }
    }

    /// `round 3  ·  quarter = 92  ·  bars 5-6`.
    fn round(&self) -> String {
        let Some(part) = &self.part else { return String::new() };
        format!("round {}  ·  {}  ·  {}", part.round, part.entry_tempo, bars_named(&part.played))
    }

    /// How the last round went, and all of them; of everybody together, for the whole room can read it.
    fn became(&self) -> String {
        let Some(last) = &self.last else { return String::new() };
        let tally = last.answers.iter().map(|answered| answered.tally).fold(Tally::default(), Tally::and);
        let word = match last.outcome {
            Some(Outcome::Good) => "good",
            Some(Outcome::Bad) => "once more",
            None => "nothing heard",
        };
        let mut text = format!("round {}: {word}", last.round);
        if tally.asked > 0 {
            text = format!("{text}, {} of {} on time", tally.on_time, tally.asked);
        }
        if self.rounds > 1 {
            text = format!("{text}  ·  {} of {} rounds good", self.good, self.rounds);
        }
        text
    }
}

/// One of the plan's rhythms, as it lies open.
fn sheet_of(planned: &Planned, rhythm: usize) -> Option<Sheet> {
    let material = planned.drill.rhythms().get(rhythm)?;
    let name = planned.title.as_deref().unwrap_or("drill plan");
    Some(Sheet::of(Path::new(name), rhythm::text::write(material.rhythm()), None, &planned.system))
}

impl Screen {
    /// Shows a drill plan instead of a rhythm: its first rhythm, until another is heard.
    pub(crate) fn plan(&mut self, plan: OpenPlan) {
        let OpenPlan { planned, voice, levels } = plan;
        self.settings.voice = voice.unwrap_or_else(|| self.usual_voice.clone());
        if let Some(levels) = levels {
            self.choices.set_levels(levels);
        }
        self.settings.file = None;
        self.lay_rhythm(&planned, 0);
        self.choices.bpm = planned.drill.plan().pace.first();
        self.tempo_typed.clear();
        self.drilled = Some(Drilled::new(planned));
    }

    /// Opens a drill plan in place of what lies there.
    pub(super) fn open_plan(&mut self, path: &Path, ctx: &Context) {
        let Some(keeper) = &self.settings.keeper else {
            self.complaint = Some("This window opens rhythms only, no drill plans.".to_owned());
            return;
        };
        match keeper.plan(path) {
            Ok(plan) => {
                if let Some(sheet) = sheet_of(&plan.planned, 0) {
                    // As with a rhythm: what was played on what lay there goes.
                    self.lay(sheet);
                }
                self.plan(plan);
                self.path_typed.clear();
                self.set_pane(None, ctx);
            }
            Err(why) => self.complaint = Some(sentence(&why)),
        }
    }

    /// The drill that the plan asks for, at its beginning, from the tempo that is set; nothing where a rhythm lies open.
    pub(super) fn planned_drill(&mut self) -> Result<Option<Drill>, String> {
        let Some(drilled) = &self.drilled else { return Ok(None) };
        let mut planned = drilled.planned.clone();
        if let Some(bpm) = self.choices.bpm.filter(|bpm| planned.drill.plan().pace.first() != Some(*bpm)) {
            planned.drill = planned.drill.starting_at(bpm).map_err(|error| sentence(&error.to_string()))?;
        }
        let anew = drilled.anew();
        self.lay_rhythm(&anew.planned, 0);
        self.drilled = Some(anew);
        Ok(Some(Drill::of_plan(planned)))
    }

    /// The tempo at which the round that is heard begins.
    pub(super) fn round_tempo(&self) -> Option<Tempo> {
        self.drilled.as_ref()?.part.as_ref().map(|part| part.entry_tempo)
    }

    fn lay_rhythm(&mut self, planned: &Planned, rhythm: usize) {
        let Some(sheet) = sheet_of(planned, rhythm) else { return };
        self.sheet = Some(sheet);
        self.sheets += 1;
        self.scroll = Scroll::default();
    }

    /// Takes in what happened in a plan; says whether the players' rows are of something else now and are to be let alone.
    pub(super) fn heed_plan(&mut self, event: &Event) {
        let Some(drilled) = &mut self.drilled else { return };
        match event {
            Event::Part(part) => {
                drilled.part = Some(Arc::clone(part));
                // Between two rounds the pins of the one that is over are looked at.
                if part.section == SectionKind::Rest {
                    return;
                }
                let before = drilled.shown.replace((part.rhythm, part.tempo));
                let other_rhythm = before.map_or(0, |(rhythm, _)| rhythm) != part.rhythm;
                let other_tempo = before.is_none_or(|(_, tempo)| tempo != part.tempo);
                if other_rhythm {
                    let planned = drilled.planned.clone();
                    self.lay_rhythm(&planned, part.rhythm);
                }
                if other_rhythm || other_tempo {
                    // What was struck in another rhythm or at another tempo stands at no place of this one.
                    self.played_tempo = Some(part.tempo);
                    self.judgements += 1;
                    if let Some(running) = &mut self.running {
                        running.players = Arc::from([]);
                    }
                }
            }
            Event::Round(over) => {
                drilled.rounds += usize::from(over.outcome.is_some());
                drilled.good += usize::from(over.outcome == Some(Outcome::Good));
                drilled.last = Some(Arc::clone(over));
            }
            _ => {}
        }
    }

    /// Whether rows that are told now are of another round than the page: of the response before, judged for good a moment
    /// later.
    pub(super) fn comes_late(&self, event: &Event) -> bool {
        let part = self.drilled.as_ref().and_then(|drilled| drilled.part.as_ref());
        matches!(event, Event::Judged(_))
            && self.players().is_empty()
            && part.is_some_and(|part| !matches!(part.section, SectionKind::Response(_)))
    }

    /// The moment of the page's rhythm that is heard now, where the rhythm is heard at all.
    pub(super) fn moment_of_page(&self, now: Moment) -> Option<Moment> {
        let Some(drilled) = &self.drilled else { return Some(now) };
        let part = drilled.part.as_ref()?;
        let sounds =
            matches!(part.section, SectionKind::Model | SectionKind::Call | SectionKind::Response(_));
        sounds.then(|| Moment::ZERO + (now - part.bar_one))
    }

    /// What is to be done, which round it is, and how the last went.
    pub(super) fn round_line(&self, ui: &mut Ui) {
        let Some(drilled) = &self.drilled else { return };
        let size = self.choices.size().clamp(0.8, 1.6);
        ui.horizontal_wrapped(|ui| {
            if self.goes_on() {
                ui.label(RichText::new(drilled.deed()).font(style::bold(DEED * size)));
                ui.add_space(16.0);
                ui.label(RichText::new(drilled.round()).font(FontId::proportional(LINE * size)));
                ui.add_space(16.0);
            }
            ui.label(RichText::new(drilled.became()).font(FontId::proportional(LINE * size)));
        });
        ui.add_space(4.0);
    }

    /// Whether the notation is to be hidden now.
    pub(super) fn is_hidden(&self) -> bool {
        let part = self.drilled.as_ref().and_then(|drilled| drilled.part.as_ref());
        self.goes_on() && part.is_some_and(|part| part.is_hidden)
    }

    /// What stands in the place of a page that is hidden.
    pub(super) fn hidden(&self, ui: &mut Ui) {
        ui.vertical_centered(|ui| {
            ui.add_space(ui.available_height() * 0.3);
            ui.label(RichText::new("listen").font(style::bold(HIDDEN)));
            ui.label(
                RichText::new("the notes are shown when it is your turn").font(FontId::proportional(LINE)),
            );
        });
    }
}
