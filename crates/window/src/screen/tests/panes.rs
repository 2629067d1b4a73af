//! What lies over the page: each pane by its key and its button, and what is done in it.

use std::sync::Mutex;

use input::{Controls, Entry, Place, Roster, Touched, TouchedAt};
use live::Measured;

use super::*;
use crate::Keeper;
use crate::devices::List;
use crate::lesson::Lesson;

/// Keeps in memory what files would keep.
#[derive(Debug, Default)]
struct Memory(Mutex<(Roster, Controls)>);

impl Keeper for Memory {
    fn keep_players(&self, roster: &Roster, controls: &Controls) -> Result<PathBuf, String> {
        *self.0.lock().expect("nobody panicked") = (roster.clone(), controls.clone());
        Ok(PathBuf::from("players.toml"))
    }

    fn players(&self) -> Result<(Roster, Controls), String> {
        Ok(self.0.lock().expect("nobody panicked").clone())
    }

    fn keep_measured(&self, _: &Measured) -> Result<PathBuf, String> {
        Err("the disk is full: make room".to_owned())
    }

    fn plan(&self, path: &Path) -> Result<crate::OpenPlan, String> {
        Err(format!("{}: no drill plan", path.display()))
    }
}

fn kept(window: &Opened) -> (Roster, Controls) {
    let keeper = window.harness.state().settings.keeper.as_ref().expect("one is set");
    keeper.players().expect("in memory")
}

fn with_memory() -> Opened {
    opened_with(TEXT, |settings| settings.keeper = Some(Arc::new(Memory::default())))
}

impl Opened {
    fn press_named(&mut self, name: &str) {
        self.harness.get_by_label(name).click();
        self.harness.run();
    }

    /// What is further down than the pane is high is pressed all the same by who hears the window.
    fn press_unseen(&mut self, name: &str) {
        self.harness.get_by_label(name).click_accesskit();
        self.harness.run();
    }

    /// Until the machine's own list of devices is there, whenever that is, and the pane stands still.
    fn wait_for_devices(&mut self) {
        while self.harness.state().devices.is_asking() {
            std::thread::sleep(std::time::Duration::from_millis(5));
            self.harness.run_steps(1);
        }
        self.harness.run_steps(2);
    }

    /// As if this had been touched on a device.
    fn touch(&mut self, port: &str, touched: Touched) {
        let touch = TouchedAt { port: port.to_owned(), channel: 9, touched };
        let ctx = self.harness.ctx.clone();
        self.harness.state_mut().learn(&[touch], &ctx);
        self.harness.run_steps(2);
    }
}

#[test]
fn each_pane_has_a_key_and_a_button_and_is_closed_by_esc() {
    let mut window = opened(TEXT);
    let panes = [
        (Key::S, "What sounds, how loud and where (S)", "Where it is heard"),
        (Key::Y, "Who plays on what (Y)", "Nobody is listed"),
        (Key::B, "Pads and pedals that start, stop and go on (B)", "Strike or tread on"),
        (Key::U, "Many pupils at few pads (U)", "Who takes turns at which pad"),
        (Key::M, "How late sound and strokes are (M)", "Measured so far"),
        (Key::F, "All findings, and the teacher's word (F)", "Findings are told when a drill is over."),
        (Key::D, "Sound and MIDI devices (D)", "System:"),
    ];
    for (key, button, shows) in panes {
        window.press(key);
        assert!(window.says(shows), "{key:?} shows {shows:?}");
        assert!(window.rests(), "{key:?} rests");
        window.press(Key::Escape);
        assert!(!window.says(shows), "Esc closes what {key:?} opened");
        window.press_named(button);
        assert!(window.says(shows), "{button} shows {shows:?}");
        window.press(Key::Escape);
    }
}

#[test]
fn what_sounds_is_set_by_name() {
    let mut window = opened(TEXT);
    window.press(Key::S);
    // The pane's first control has the keyboard: it mutes the click.
    window.press(Key::Space);
    for name in
        ["Clap: louder", "Count: further left", "Click on: count 1 alone", "Counts inside a rest: whispered"]
    {
        window.press_named(name);
    }
    let choices = &window.harness.state().choices;
    let levels = choices.levels();
    assert_eq!((levels.clap, levels.pan.count, levels.muted.click), (0.7, -0.2, true));
    assert_eq!(choices.choice.click, sequencer::ClickOn::Downbeats);
    assert_eq!(choices.choice.rests, sequencer::Aside::Whispered);
}

#[test]
fn players_are_listed_masked_and_removed_and_kept() {
    let mut window = with_memory();
    window.press(Key::Y);
    window.harness.event(egui::Event::Text("K1".to_owned()));
    window.harness.run();
    window.press_named("This player plays on the space bar");
    assert!(window.says("space bar") && window.says("Kept in players.toml"));
    window.press_named("Retrigger mask of K1: longer");
    assert!(window.says("30 ms"));
    assert_eq!(kept(&window).0.entries()[0].retrigger, Some(Seconds::from_millis(30)));
    window.press_named("Retrigger mask of K1: shorter");
    assert_eq!(kept(&window).0.entries()[0].retrigger, None, "the mask that serves all");
    window.press_named("K1 plays on keys");
    assert_eq!(kept(&window).0.entries()[0].instrument, input::Instrument::Keys);
    window.press_named("Remove K1");
    assert!(kept(&window).0.is_empty());
    window.press_named("Each of these players strikes what is theirs");
    assert!(window.says("Type a code first"));
}

#[test]
fn what_is_struck_is_learnt_and_the_next_one_called() {
    let mut window = with_memory();
    window.press(Key::Y);
    let list = Roster::new(vec![Entry::new("K1", vec![Place::port("Left").expect("a name")])]);
    let screen = window.harness.state_mut();
    screen.devices.settings.input.roster = list.expect("a list");
    // There is no device here to ask: the lesson is begun as it would be with one.
    screen.lesson =
        Lesson::players(vec!["K2".to_owned(), "K3".to_owned()], &screen.devices.settings.input.roster, 0.0);
    window.harness.run_steps(2);
    assert!(window.says("K2, strike everything that is yours"));
    window.touch("Right", Touched::Note(38));
    assert!(window.says("K2: Right, channel 10, note 38"));
    // A second and a half of silence by the window's own time.
    window.harness.run_steps(12);
    assert!(window.says("K3, strike everything that is yours"));
    window.touch("Left", Touched::Note(40));
    window.press_named("This turn is over");
    let told: Vec<String> = kept(&window)
        .0
        .entries()
        .iter()
        .map(|entry| format!("{}: {}", entry.code, entry.places[0]))
        .collect();
    assert_eq!(told, ["K1: Left", "K2: Right", "K3: Left, channel 10, note 40"]);
}

#[test]
fn esc_ends_a_lesson_and_leaves_everything_as_it_was() {
    let mut window = with_memory();
    window.press(Key::B);
    window.press_named("Assign a pad or a pedal to call the next pupil, or open the next rhythm");
    assert!(window.says("No device is open"), "without a device nothing can be heard");
    window.harness.state_mut().lesson = Some(Lesson::Order(input::Order::Next));
    window.harness.run_steps(2);
    assert!(window.says("Strike the pad or tread on the pedal"));
    window.press(Key::Escape);
    assert!(window.harness.state().lesson.is_none() && window.says("Strike or tread on"));
    window.harness.state_mut().lesson = Some(Lesson::Order(input::Order::Next));
    window.touch("Stage", Touched::Pedal(64));
    window.harness.run();
    assert!(window.says("Stage, channel 10, pedal 64"));
    assert_eq!(kept(&window).1.places()[0].0, input::Order::Next);
    window.press_named(
        "Stage, channel 10, pedal 64 is no longer to call the next pupil, or open the next rhythm",
    );
    assert!(kept(&window).1.is_empty());
}

#[test]
fn what_becomes_of_strokes_is_chosen() {
    let mut window = opened(TEXT);
    window.press(Key::D);
    window.wait_for_devices();
    let list = List { midi_out: vec!["Sound module".to_owned()], ..List::default() };
    window.harness.state_mut().devices.list = Some(list);
    window.harness.run_steps(2);
    window.press_named("Sound module");
    window.wait_for_devices();
    // The devices are opened and listed anew: there is no such output here, and it is chosen all the same.
    window.press_named("Sounds through this computer: louder");
    window.wait_for_devices();
    assert!(window.says("Sound module"));
    window.press_unseen("recorded: a microphone hears everybody in the room");
    window.wait_for_devices();
    window.press_unseen("Channel: higher");
    window.wait_for_devices();
    let settings = &window.harness.state().devices.settings;
    assert_eq!((settings.thru_percent, settings.through.as_deref()), (10, Some("Sound module")));
    assert_eq!(settings.record.as_ref().map(|record| record.channel), Some(1));
    window.press_named("none");
    assert_eq!(window.harness.state().devices.settings.through, None);
    // Another system has other devices.
    window.press_named("a JACK server");
    let settings = &window.harness.state().devices.settings;
    assert!(settings.through.is_none() && settings.record.is_none());
}

#[test]
fn what_cannot_be_kept_is_said() {
    let mut window = with_memory();
    let ctx = window.harness.ctx.clone();
    window.press(Key::M);
    let screen = window.harness.state_mut();
    screen.devices.settings.measured.keep_pad(live::MeasuredPad {
        port: "Pad".to_owned(),
        input: "Mic".to_owned(),
        late: Seconds::from_millis(7),
        uncertainty: Seconds::from_millis(1),
    });
    ctx.request_repaint();
    window.harness.run();
    assert!(window.says("Pad beside Mic") && window.says("7.0 ± 2.0 ms"));
    window.press_unseen("Forget everything that was measured");
    assert!(window.says("Nothing is measured any more."));
    assert!(window.says("The disk is full: make room."));
}
