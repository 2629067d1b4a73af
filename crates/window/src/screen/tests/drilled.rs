//! A drill plan on the screen: what is to be done, the notes hidden in the call, the rows of the response, how the round went.

use live::{Answered, Part, Planned, RoundOver, Tally};
use sequencer::drill::{Drill, DrillPlan, Material, Outcome, RoundKind, SectionKind};
use timebase::Moment;

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

fn part(planned: &Planned, rhythm: usize, section: SectionKind, player: Option<&str>) -> Event {
    Event::Part(Arc::new(Part {
        round: rhythm + 1,
        kind: RoundKind::Phrase,
        section,
        rhythm,
        bars: (1, 2),
        tempo: planned.drill.rhythms()[rhythm].rhythm().tempo(),
        player: player.map(str::to_owned),
        is_hidden: section == SectionKind::Call,
        from: Moment::ZERO,
        to: Moment::ZERO + Seconds::from_millis(1_000),
        bar_one: Moment::ZERO,
    }))
}

#[test]
fn a_plan_says_what_to_do_and_how_the_round_went() {
    let planned = planned();
    let mut window = opened(TEXT);
    window.harness.state_mut().plan(planned.clone());
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
    let tally = Tally { asked: 10, on_time: 9, off: 1, ..Tally::default() };
    let answers = vec![Answered {
        player: Some("K2".to_owned()),
        bar_one: Moment::ZERO,
        players: [player("K2", 12, None)].into(),
        tally,
    }];
    let tempo = planned.drill.rhythms()[0].rhythm().tempo();
    let over = RoundOver { round: 1, rhythm: 0, bars: (1, 2), tempo, answers, outcome: Some(Outcome::Good) };
    tell(&mut window, Event::Round(Arc::new(over)));
    assert!(window.says("count-in") && window.says("round 1: good, 9 of 10 on time"));
    assert!(window.says("Over the Stile") || window.says("quarter = 70"));
    window.end(Vec::new());
    assert!(window.says("round 1: good, 9 of 10 on time") && !window.says("K2: your turn"));
}
