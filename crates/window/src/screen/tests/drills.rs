//! Drills as others ask for them: pads and pedals, turns, and the teacher's word on what was found.

use super::*;

impl Opened {
    /// As if a pad had asked for this.
    fn ask(&mut self, order: input::Order) {
        let ctx = self.harness.ctx.clone();
        self.harness.state_mut().heed_order(order, &ctx);
        self.harness.run();
    }

    /// As if the drill that runs had told this.
    fn tell(&mut self, event: Event) {
        let ctx = self.harness.ctx.clone();
        self.harness.state_mut().heed(event, &ctx);
        self.harness.run_steps(2);
    }
}

fn ended(ended: Ended, players: Vec<PlayerState>) -> Event {
    Event::Ended { ended, players: players.into(), take: None, disturbances: 0, cut: None }
}

#[test]
fn a_pad_starts_a_drill_and_opens_the_next_rhythm() {
    let mut window = opened(TEXT);
    window.ask(input::Order::Start);
    assert!(window.says("Without sound no drill can run:"), "it was asked for");
    window.press(Key::Escape);
    window.ask(input::Order::Again);
    assert!(window.says("Without sound no drill can run:"));
    let next = window.path.with_file_name("b.rhythm");
    std::fs::write(&next, TEXT.replace("Tin Roof", "Gravel")).expect("written");
    window.ask(input::Order::Next);
    assert!(window.says("Gravel"));
    window.ask(input::Order::Next);
    assert!(window.says("That was the last rhythm in its folder."));
    // While a drill runs, nobody opens another rhythm by mistake.
    window.start();
    window.ask(input::Order::Next);
    assert!(window.harness.state().running.is_some());
}

#[test]
fn a_drill_that_was_replaced_does_not_end_the_one_that_runs() {
    let mut window = opened(TEXT);
    window.start();
    window.harness.state_mut().replaced = 1;
    window.tell(ended(Ended::Stopped, vec![player("P1", 0, None)]));
    assert!(window.harness.state().goes_on());
    window.tell(ended(Ended::Finished, vec![player("P1", 0, None)]));
    assert!(!window.harness.state().goes_on());
}

#[test]
fn the_next_one_is_called_large() {
    let list = |codes: &str| codes.split(' ').map(str::to_owned).collect();
    let turns = vec![("P1".to_owned(), list("K1 K2 K3"))];
    let mut window = opened_with(TEXT, |settings| settings.turns = turns);
    assert!(window.says("K1") && window.says("Then K2."));
    window.harness.state_mut().calling.starts();
    window.start();
    window.harness.run_steps(2);
    assert!(!window.says("Then K2."), "while a drill runs nobody is called");
    window.tell(ended(Ended::Finished, vec![player("K1", 0, None)]));
    assert!(window.says("Then K3."));
    window.harness.key_press_modifiers(Modifiers::SHIFT, Key::G);
    window.harness.run();
    assert!(window.says("K3") && window.says("Then K1."));
    assert!(window.rests());
    window.press(Key::U);
    assert!(window.says("3 pupils"));
    // One stands beside the code that is called, one in the pane.
    window.harness.get_all_by_label("Nobody takes turns any more").next().expect("a button").click();
    window.harness.run();
    assert!(!window.says("Then K1."));
}

#[test]
fn the_next_drill_starts_by_itself_where_it_is_to() {
    let turns = vec![("P1".to_owned(), vec!["K1".to_owned(), "K2".to_owned()])];
    let mut window = opened_with(TEXT, |settings| settings.turns = turns);
    window.harness.state_mut().calling.by_itself = true;
    window.harness.state_mut().calling.starts();
    window.start();
    window.tell(ended(Ended::Finished, vec![player("K1", 0, None)]));
    assert!(window.says("starts by itself"));
    assert!(!window.says("Without sound"));
    // Eight seconds by the window's own time; without a device the start is refused, and said to be.
    window.harness.run_steps(40);
    assert!(window.says("Without sound no drill can run:"));
}

#[test]
fn one_three_or_all_findings_are_told() {
    let mut window = opened(TEXT);
    window.start();
    // Far too late throughout, and with one attack missed: several things to say.
    window.end(vec![player("P1", -40, Some(3))]);
    let all = window.harness.state().running.as_ref().expect("a drill").findings(true).len();
    assert!(all >= 2, "{all}");
    let shown = |window: &Opened| {
        let screen = window.harness.state();
        screen.running.as_ref().expect("a drill").report(true, screen.choices.told.most()).0.len()
    };
    assert_eq!(shown(&window), all.min(3));
    window.press(Key::E);
    assert_eq!(shown(&window), all);
    window.press(Key::E);
    assert_eq!(shown(&window), 1);
    assert!(window.says(&format!("{} more: E tells more", all - 1)));
}

#[test]
fn the_teacher_overrules_a_finding_and_notes_why() {
    let mut window = opened(TEXT);
    window.start();
    let take = window.path.with_file_name("take");
    std::fs::create_dir(&take).expect("a folder");
    std::fs::write(take.join("take.json"), "{}").expect("written");
    let players: Arc<[PlayerState]> = vec![player("P1", -40, Some(3))].into();
    window.heed(Event::Ended {
        ended: Ended::Finished,
        players,
        take: Some(take.clone()),
        disturbances: 0,
        cut: None,
    });
    window.harness.run();
    let missed = "Bar 1: the attack on 3 was missed.";
    assert!(window.says(missed));
    window.press(Key::F);
    window.harness.get_by_role_and_label(Role::TextInput, "Note").focus();
    window.harness.run();
    window.harness.event(egui::Event::Text("the stick broke".to_owned()));
    window.harness.run();
    window.harness.get_by_label(&format!("Overrule: {missed}")).click();
    window.harness.run();
    assert!(window.says("(overruled by the teacher)") && window.says("the stick broke"));
    let notes = take::Notes::read(&take).expect("kept");
    assert_eq!(notes.all()[0].words(), Some("the stick broke"));
    assert_eq!(notes.all()[0].finding().map(|finding| finding.kind.as_str()), Some("attack-missed"));
    window.harness.get_by_label(&format!("Let it count again: {missed}")).click();
    window.harness.run();
    assert_eq!(take::Notes::read(&take).expect("kept").all()[1].said(), "upheld");
    // Without a take there is nothing to keep it with.
    window.press(Key::Escape);
    window.start();
    window.end(vec![player("P1", -40, Some(3))]);
    window.press(Key::F);
    assert!(window.says("This drill's take was not kept"));
}
