//! Drills: what falls where, who is asked for what, and how long it takes.

mod laws;
mod pace;
mod places;
mod repeats;
mod sound;

use sequencer::drill::{Drill, DrillPlan, Material, Outcome, Round, SectionKind};
use sequencer::{Cued, Error};
use timebase::Position;

fn material(text: &str) -> Material {
    let reading = rhythm::text::read(text);
    let rhythm = reading.rhythm.unwrap_or_else(|| panic!("{text}\n{:#?}", reading.diagnostics));
    let line = counting::count(&rhythm);
    Material::new(rhythm, &line)
}

fn drill(plan: DrillPlan, texts: &[&str]) -> Drill {
    Drill::new(plan, texts.iter().map(|text| material(text)).collect()).expect("a drill")
}

fn refused(plan: DrillPlan, text: &str) -> String {
    Drill::new(plan, vec![material(text)]).map(|_| ()).unwrap_err_or("it was taken")
}

/// The words of an error.
trait Words {
    fn unwrap_err_or(self, otherwise: &str) -> String;
}

impl Words for Result<(), Error> {
    fn unwrap_err_or(self, otherwise: &str) -> String {
        self.map_or_else(|error| error.to_string(), |()| otherwise.to_owned())
    }
}

fn all_good(drill: &Drill) -> Vec<Round> {
    drill.rounds_if(|_| Outcome::Good).collect()
}

/// Clicks (`>` accented), words and claps (`~` a tone alone) of a round, each with its place, as `sequence`'s tests write them.
fn told(round: &Round) -> [String; 3] {
    let mut found = [Vec::new(), Vec::new(), Vec::new()];
    for cue in round.cues() {
        match &cue.cued {
            Cued::Click { accented, .. } => {
                found[0].push(format!("{}{}", if *accented { ">" } else { "" }, cue.at));
            }
            Cued::Count { say, slot, .. } => found[1].push(format!("{say}@{}+{slot}", cue.at)),
            Cued::Division => {}
            Cued::Clap { length, .. } => found[2].push(format!("{}+{length}", cue.at)),
            Cued::Tone { length, .. } => found[2].push(format!("~{}+{length}", cue.at)),
        }
    }
    found.map(|words| words.join(" "))
}

fn sections(round: &Round) -> String {
    let name = |kind: SectionKind| match kind {
        SectionKind::Rest => "rest".to_owned(),
        SectionKind::CountIn => "count-in".to_owned(),
        SectionKind::Model => "model".to_owned(),
        SectionKind::Call => "call".to_owned(),
        SectionKind::Breath => "breath".to_owned(),
        SectionKind::Response(number) => format!("response{number}"),
    };
    let told = round.sections().iter().map(|s| format!("{}:{}..{}", name(s.kind), s.from, s.to));
    told.collect::<Vec<_>>().join(" ")
}

/// The places that a response asks to be struck, from its first bar line, in whole notes.
fn asked(round: &Round, response: usize) -> Vec<Position> {
    let response = &round.responses()[response];
    let attacks = response.counts().iter().filter(|count| count.deed == rhythm::Deed::Attack);
    // Found again by their moments, for a count carries no place of the round.
    let steps = (round.end() - round.start()).in_units_of(timebase::Span::new(1, 192)).to_integer();
    let places: Vec<Position> = (0..=steps).map(|n| round.start() + timebase::Span::new(n, 192)).collect();
    attacks
        .map(|count| {
            *places
                .iter()
                .find(|place| round.tempo_map().moment_at(**place) == count.at)
                .unwrap_or_else(|| panic!("{:?} stands nowhere", count.at))
        })
        .collect()
}
