//! A drill plan on the screen: what is to be done, the notes hidden in the call, the rows of the response, how the round went.

use live::{Answered, Part, Planned, RoundOver, Tally};
use sequencer::drill::{Drill, DrillPlan, Material, Outcome, RoundBar, RoundKind, SectionKind};
use timebase::{Moment, Position};

use super::*;

fn planned() -> Planned {
    let material = |text: &str| {
        let rhythm = rhythm::text::read(text).rhythm.expect("a rhythm");
        let line = counting::count(&rhythm);
        Material::new(rhythm, &line)
    };
    let other = "title: Over the Stile\nmeter: 3/4\ntempo: quarter = 70\n\n| 1 2 3 |\n";
    let drill = Drill::new(DrillPlan::default(), vec![material(TEXT), material(other)]).expect("a plan");
    Planned::new(Some("First lesson".to_owned()), drill)
}

/// Bars of these numbers and times through.
fn bars(played: &[(u32, u32)]) -> Arc<[RoundBar]> {
    played.iter().map(|&(number, pass)| RoundBar { at: Position::ZERO, number, pass }).collect()
}

fn part(planned: &Planned, rhythm: usize, section: SectionKind, player: Option<&str>) -> Event {
    Event::Part(Arc::new(part_of(planned, rhythm, section, player)))
}

fn part_of(planned: &Planned, rhythm: usize, section: SectionKind, player: Option<&str>) -> Part {
    let tempo = planned.drill.rhythms()[rhythm].rhythm().tempo();
    Part {
        round: rhythm + 1,
        kind: RoundKind::Phrase,
        section,
        rhythm,
        bars: (1, 2),
        played: bars(&[(1, 1), (2, 1)]),
        tempo,
        entry_tempo: tempo,
        player: player.map(str::to_owned),
        is_hidden: section == SectionKind::Call,
        from: Moment::ZERO,
        to: Moment::ZERO + Seconds::from_millis(1_000),
        bar_one: Moment::ZERO,
    }
}

/// A round may begin where the rhythm has changed its tempo, and play bars again: what is heard is what stands there.
#[test]
fn a_round_is_told_with_the_tempo_and_the_bars_it_is_played_with() {
    let planned = planned();
    let mut window = opened(TEXT);
    window.harness.state_mut().plan(crate::OpenPlan { planned: planned.clone(), voice: None, levels: None });
    window.start();
    let part = Part {
        bars: (2, 1),
        played: bars(&[(2, 1), (0, 2), (1, 2)]),
        entry_tempo: rhythm::text::read("tempo: half = 60\n| 1 |").rhythm.expect("a rhythm").tempo(),
        ..part_of(&planned, 0, SectionKind::Response(0), None)
    };
    let tempo = part.tempo;
    window.harness.state_mut().heed_plan(&Event::Part(Arc::new(part)));
    window.harness.step();
    assert!(window.says("round 1  ·  half = 60  ·  bars 2, pickup-1 again"));
    assert!(window.says("half = 60  ·  4/4"), "the line beside the title too");
    // The page's places in time are those of the whole rhythm.
    assert_eq!(window.harness.state().played_tempo, Some(tempo));
}

/// Opens the plan above, whatever the file, if it is called a lesson.
#[derive(Debug)]
struct Plans;

impl crate::Keeper for Plans {
    fn keep_players(&self, _: &input::Roster, _: &input::Controls) -> Result<PathBuf, String> {
        Err("not here".to_owned())
    }

    fn players(&self) -> Result<(input::Roster, input::Controls), String> {
        Err("not here".to_owned())
    }

    fn keep_measured(&self, _: &live::Measured) -> Result<PathBuf, String> {
        Err("not here".to_owned())
    }

    fn plan(&self, path: &Path) -> Result<crate::OpenPlan, String> {
        if path.file_stem().is_some_and(|name| name == "lesson") {
            Ok(crate::OpenPlan { planned: planned(), voice: Some("male".to_owned()), levels: None })
        } else {
            Err(format!("line 3 of {} is no line of a plan", path.display()))
        }
    }
}

/// A plan is opened as a rhythm is, by its path or dropped; its tempo is set as that of a rhythm is, and a rhythm opened later
/// has the voice from before.
#[test]
fn a_plan_is_opened_in_the_window() {
    let mut window = opened_with(TEXT, |settings| settings.keeper = Some(Arc::new(Plans)));
    let ctx = window.harness.ctx.clone();
    let voice = window.harness.state().settings.voice.clone();
    window.harness.state_mut().open(Path::new("first/other.drill"), &ctx);
    window.harness.run();
    assert!(
        window.says("line 3 of first/other.drill is no line of a plan") || window.says("Line 3"),
        "why not"
    );
    assert!(window.harness.state().drilled.is_none(), "what lay there lies there");
    window.harness.state_mut().open(Path::new("first/lesson.drill"), &ctx);
    window.harness.run();
    assert!(window.harness.state().drilled.is_some());
    assert_eq!(window.harness.state().settings.voice, "male");

    let pace = |window: &mut Opened| {
        let drill = window.harness.state_mut().planned_drill().expect("a tempo within its limits");
        let planned = drill.expect("a plan lies open").planned.expect("it is the plan's");
        planned.drill.plan().pace.first()
    };
    assert_eq!(pace(&mut window), None, "every rhythm at its own");
    window.harness.state_mut().obey(crate::orders::Order::Tempo(3), &ctx);
    assert_eq!(pace(&mut window), Some(91.into()));

    let path = window.path.clone();
    window.harness.state_mut().open(&path, &ctx);
    assert!(window.harness.state().drilled.is_none());
    assert_eq!(window.harness.state().settings.voice, voice);
}

#[test]
fn a_plan_says_what_to_do_and_how_the_round_went() {
    let planned = planned();
    let mut window = opened(TEXT);
    window.harness.state_mut().plan(crate::OpenPlan { planned: planned.clone(), voice: None, levels: None });
    window.start();
    let tell = |window: &mut Opened, event: Event| {
        window.harness.state_mut().heed_plan(&event);
        if !window.harness.state().comes_late(&event) {
            window.heed(event);
        }
        window.harness.step();
    };
    tell(&mut window, part(&planned, 0, SectionKind::Call, None));
    assert!(window.says("listen") && window.says("round 1  ·  quarter = 88  ·  bars 1-2"));
    assert!(window.says("the notes are shown when it is your turn"));
    assert!(window.harness.query_by_role(Role::Figure).is_none(), "no notes");

    tell(&mut window, part(&planned, 0, SectionKind::Response(0), Some("K2")));
    tell(&mut window, Event::Judged([player("K2", 12, None)].into()));
    assert!(window.says("K2: your turn"));
    assert!(window.harness.query_by_role(Role::Figure).is_some(), "the notes");
    assert_eq!(window.harness.state().players().len(), 1);

    // The next round is of another rhythm: its page has none of the pins that the response before still gets.
    tell(&mut window, part(&planned, 1, SectionKind::CountIn, None));
    tell(&mut window, Event::Judged([player("K2", 12, None)].into()));
    assert!(window.harness.state().players().is_empty());
    assert_eq!(window.harness.state().rows(), 1, "whoever played last has a row all the same");
    let tally = Tally { asked: 10, on_time: 9, off: 1, ..Tally::default() };
    let answers = vec![Answered {
        player: Some("K2".to_owned()),
        bar_one: Moment::ZERO,
        players: [player("K2", 12, None)].into(),
        tally,
    }];
    let tempo = planned.drill.rhythms()[0].rhythm().tempo();
    let over = RoundOver {
        round: 1,
        rhythm: 0,
        bars: (1, 2),
        played: bars(&[(1, 1), (2, 1)]),
        tempo,
        entry_tempo: tempo,
        answers,
        outcome: Some(Outcome::Good),
    };
    tell(&mut window, Event::Round(Arc::new(over)));
    assert!(window.says("count-in") && window.says("round 1: good, 9 of 10 on time"));
    assert!(window.says("Over the Stile") || window.says("quarter = 70"));
    window.end(Vec::new());
    assert!(window.says("round 1: good, 9 of 10 on time") && !window.says("K2: your turn"));
}
