//! The window without a display: what is shown, what keys do, what a screen reader is told.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

use eframe::egui::{self, Key, Modifiers, Role, ViewportId};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use judge::{Played, judge};
use live::{Event, PlayerState, RigSettings};
use take::Ended;
use tempfile::TempDir;
use timebase::{Seconds, TempoMap};

use super::*;

mod drilled;
mod drills;
mod panes;

const TEXT: &str = "title: Tin Roof\nmeter: 4/4\ntempo: quarter = 88\n\n| 1 2 & 3 (4) | 1 _2 3 & 4 & |\n";

/// A window on a text, on a machine whose sound device is not there.
struct Opened {
    harness: Harness<'static, Screen>,
    path: PathBuf,
    _folder: TempDir,
}

fn opened(text: &str) -> Opened {
    opened_with(text, |_| {})
}

/// The same, set otherwise.
fn opened_with(text: &str, set: impl FnOnce(&mut WindowSettings)) -> Opened {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("a.rhythm");
    std::fs::write(&path, text).expect("written");
    let mut rig = RigSettings::default();
    rig.sound.device = Some("a device that is on no machine".to_owned());
    let mut settings = WindowSettings {
        file: Some(path.clone()),
        rig,
        takes_root: folder.path().join("takes"),
        ..WindowSettings::default()
    };
    set(&mut settings);
    let mut screen = Screen::new(settings, KeyTimes::new());
    let mut begun = false;
    let harness = Harness::builder()
        .with_size([1280.0, 720.0])
        .with_theme(egui::Theme::Light)
        // The threads that look for devices ask for a frame of their own when they are done.
        .with_max_steps(20)
        .with_context_setup(|ctx| style::dress(ctx, &Theme::default()))
        .build_ui_state(
            move |ui, screen: &mut Screen| {
                if !std::mem::replace(&mut begun, true) {
                    screen.begin(ui.ctx());
                }
                screen.mind(ui.ctx());
                screen.show(ui);
            },
            {
                screen.had_focus = true;
                screen
            },
        );
    let mut opened = Opened { harness, path, _folder: folder };
    let begun = Instant::now();
    while matches!(opened.harness.state().devices.sound, Sound::Opening) {
        assert!(begun.elapsed() < Duration::from_secs(30), "the sound is opened or found missing");
        std::thread::yield_now();
        opened.harness.step();
    }
    opened.harness.run();
    opened
}

/// A player who strikes every written attack of [`TEXT`] so many ms late, and rests where `but` says not to strike.
fn player(label: &str, late_ms: i64, but: Option<usize>) -> PlayerState {
    let rhythm = rhythm::text::read(TEXT).rhythm.expect("a rhythm");
    let tempo = TempoMap::constant(rhythm.tempo());
    let counts = counting::count(&rhythm).timed(&rhythm, &rhythm.performance(), &tempo);
    let attacks = counts.iter().filter(|count| count.deed == rhythm::Deed::Attack);
    let played: Vec<Played> = attacks
        .enumerate()
        .filter(|(index, _)| but != Some(*index))
        .map(|(_, count)| Played::new(count.at + Seconds::from_millis(late_ms)))
        .collect();
    let judgement = judge(&counts, &played, &judge::Settings::default());
    let (label, source) = (label.to_owned(), "pad".to_owned());
    PlayerState {
        label,
        source,
        missing: Vec::new(),
        is_there: true,
        held: Vec::new(),
        resolution: None,
        shaken: 0,
        judgement: std::sync::Arc::new(judgement),
    }
}

impl Opened {
    /// As if a drill had been started.
    fn start(&mut self) {
        let screen = self.harness.state_mut();
        screen.running = Some(Running::new());
        screen.judgements += 1;
    }

    fn heed(&mut self, event: Event) {
        let screen = self.harness.state_mut();
        let changed = screen.running.as_mut().expect("a drill").heed(event);
        screen.judgements += u64::from(changed);
    }

    fn end(&mut self, players: Vec<PlayerState>) {
        let players: Arc<[PlayerState]> = players.into();
        self.heed(Event::Ended { ended: Ended::Finished, players, take: None, disturbances: 0, cut: None });
        self.harness.run();
    }

    fn press(&mut self, key: Key) {
        self.harness.key_press(key);
        self.harness.run();
    }

    fn says(&self, text: &str) -> bool {
        let shown = self.harness.query_all_by_label_contains(text).next().is_some();
        // A list shows what is chosen as its value.
        shown || self.harness.query_all_by_value(text).next().is_some()
    }

    /// Whether it comes to rest: three frames on end that ask for no other, whatever the threads still had to tell.
    fn rests(&mut self) -> bool {
        let begun = Instant::now();
        let mut still = 0;
        while still < 3 {
            self.harness.step();
            still = if self.next_frame() == Duration::MAX { still + 1 } else { 0 };
            if begun.elapsed() > Duration::from_secs(10) {
                return false;
            }
        }
        true
    }

    /// When the next frame is asked for.
    fn next_frame(&self) -> Duration {
        self.harness.output().viewport_output[&ViewportId::ROOT].repaint_delay
    }
}

#[test]
fn a_file_is_shown_and_told_to_a_screen_reader() {
    let window = opened(TEXT);
    assert!(window.says("Tin Roof"));
    assert!(window.says("quarter = 88  ·  4/4"));
    let page = window.harness.get_by_role(Role::Figure);
    let told = page.accesskit_node().label().expect("the page has a label");
    assert!(told.contains("Bar 1: 1, 2, &, 3, rest 4. Bar 2: 1, hold 2, 3, &, 4, &."), "{told}");
    for name in [
        "Open a rhythm (O)",
        "Start the drill (Enter)",
        "Tempo: slower",
        "Tolerance: wider",
        "Who plays on what (Y)",
    ] {
        assert!(window.harness.query_by_label(name).is_some(), "a button is called {name}");
    }
}

#[test]
fn without_a_device_the_window_says_so_and_shows_rhythms_all_the_same() {
    let mut window = opened(TEXT);
    assert!(window.says("No sound, so no drill can run; rhythms can be shown."));
    window.press(Key::Enter);
    assert!(window.says("Without sound no drill can run:"));
    assert!(window.harness.state().running.is_none());
    window.press(Key::Escape);
    assert!(!window.says("Without sound no drill can run:"));
    assert!(window.says("quarter = 88"));
}

#[test]
fn a_window_at_rest_asks_for_no_frame() {
    let mut window = opened(TEXT);
    assert!(window.rests());
    window.press(Key::O);
    assert!(window.harness.ctx.text_edit_focused(), "the path can be typed at once");
    assert!(window.rests(), "a text cursor does not blink");
}

#[test]
fn a_drill_asks_for_a_frame_at_a_time() {
    let mut window = opened(TEXT);
    window.start();
    // The rows make the page longer, and its bar takes a frame or two to settle; a thread may have something to tell.
    let delays: Vec<Duration> = (0..30)
        .map(|_| {
            window.harness.step();
            window.next_frame()
        })
        .collect();
    let paced = delays.iter().filter(|&&delay| delay == FRAME).count();
    assert!(paced >= 24, "a frame at a time, and never at once in a loop: {delays:?}");
    window.end(vec![player("P1", 10, None)]);
    assert!(window.rests());
}

#[test]
fn keys_move_what_is_set() {
    let mut window = opened(TEXT);
    let mut check = |key, modifiers, expected: &str| {
        window.harness.key_press_modifiers(modifiers, key);
        window.harness.run();
        assert!(window.says(expected), "{key:?} {modifiers:?} shows {expected:?}");
    };
    check(Key::Plus, Modifiers::SHIFT, "quarter = 89");
    check(Key::Minus, Modifiers::NONE, "quarter = 88");
    check(Key::I, Modifiers::NONE, "2 bars");
    check(Key::I, Modifiers::SHIFT, "1 bar");
    check(Key::J, Modifiers::NONE, "±55 ms");
    check(Key::K, Modifiers::SHIFT, "Click: 70 %");
    check(Key::K, Modifiers::NONE, "Click: 80 %");
    check(Key::L, Modifiers::NONE, "click");
    check(Key::Plus, Modifiers::COMMAND, "115 %");
    check(Key::Num0, Modifiers::COMMAND, "100 %");
    check(Key::F1, Modifiers::NONE, "strike, while a drill runs");
    window.press(Key::Escape);
    assert!(!window.says("strike, while a drill runs"));
    window.press(Key::D);
    assert!(window.says("MIDI inputs") || window.says("Looking for devices"));
}

#[test]
fn the_tempo_can_be_typed() {
    let mut window = opened(TEXT);
    let mut type_tempo = |text: &str| {
        window.harness.get_by_role_and_label(Role::TextInput, "Tempo").focus();
        window.harness.run();
        window.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        window.harness.event(egui::Event::Text(text.to_owned()));
        window.harness.key_press(Key::Enter);
        window.harness.run();
        (window.says("quarter = 72.5"), window.says("from 20 to 300"))
    };
    assert_eq!(type_tempo("72.5"), (true, false));
    assert_eq!(type_tempo("fast"), (true, true));
}

#[test]
fn the_space_bar_strikes_and_presses_no_button() {
    let mut window = opened(TEXT);
    let tempo = |window: &Opened| window.says("quarter = 89");
    window.harness.get_by_label("Tempo: faster").focus();
    window.harness.run();
    window.start();
    window.harness.step();
    window.harness.key_press(Key::Space);
    window.harness.run_steps(2);
    assert!(!tempo(&window), "while a drill runs the key is a pad");

    window.end(vec![player("P1", 0, None)]);
    window.press(Key::Space);
    assert!(tempo(&window), "at rest it presses the button that has the keyboard");
}

#[test]
fn strokes_are_listened_to_only_while_a_drill_runs_and_the_window_has_the_keyboard() {
    let mut window = opened(TEXT);
    let heard = |window: &mut Opened| {
        window.harness.step();
        let screen = window.harness.state();
        screen.keys.watch().seen(Instant::now());
        screen.keys.strokes().count()
    };
    assert_eq!(heard(&mut window), 0);
    window.start();
    assert_eq!(heard(&mut window), 1);
    window.harness.event(egui::Event::WindowFocused(false));
    window.harness.input_mut().focused = false;
    assert_eq!(heard(&mut window), 0);
}

#[test]
fn mistakes_are_shown_with_their_place_and_what_to_do() {
    let mut window = opened("meter: 4/4\n| 1 2 & 5 |\n| 1 2 3 4 & a |");
    assert!(window.says("This text has one mistake."));
    assert!(window.says("Line 2, column 9"));
    assert!(window.says("press R to read it again"));
    window.press(Key::Enter);
    assert!(window.says("This text is no rhythm yet"));

    std::fs::write(&window.path, TEXT).expect("written");
    window.press(Key::R);
    assert!(window.says("quarter = 88"));
    assert!(!window.says("Line 2, column 9"));
}

#[test]
fn a_file_that_was_edited_is_read_again_when_the_window_gets_the_keyboard() {
    let mut window = opened(TEXT);
    let path = window.path.clone();
    let mut focus = |focused: bool| {
        window.harness.input_mut().focused = focused;
        window.harness.event(egui::Event::WindowFocused(focused));
        window.harness.run();
        window.says("quarter = 100")
    };
    assert!(!focus(false));
    std::fs::write(&path, TEXT.replace("88", "100")).expect("written");
    assert!(focus(true));
}

#[test]
fn one_player_sees_the_findings_and_the_sums() {
    let mut window = opened(TEXT);
    window.start();
    window.end(vec![player("P1", -40, Some(3))]);
    assert!(window.says("Bar 1: the attack on 3 was missed."));
    assert!(window.says("P1: 8 struck, 1 missed, 0 extra, bias −40 ms (delay not measured), spread 0 ms"));
    let page = window.harness.get_by_role(Role::Figure);
    assert!(page.accesskit_node().label().expect("a label").contains("P1: 8 struck"));
}

#[test]
fn a_class_is_shown_as_a_whole_until_somebody_says_otherwise() {
    let mut window = opened(TEXT);
    window.start();
    window.end(vec![player("P1", -40, Some(3)), player("P2", 20, Some(3)), player("P3", 5, None)]);
    assert!(window.says("(2 of 3)"), "the deed is named and of how many");
    for label in ["P1", "P2", "P3"] {
        assert!(!window.says(label), "{label} is shown up before the class");
    }
    window.press(Key::V);
    assert!(window.says("P1: 8 struck") && window.says("P3: 9 struck"));
    window.press(Key::V);
    assert!(!window.says("P1"));
}

/// What stands at the heads of the page's rows.
fn heads(window: &Opened) -> Vec<String> {
    let page = window.harness.state().page.as_ref().expect("a page");
    let left = page.engraving().layout().staff_left();
    let head = |item: &engrave::Item| match item {
        engrave::Item::Text { text, at, .. } if at.x < left - 1.0 => Some(text.clone()),
        _ => None,
    };
    page.scene().items.iter().filter_map(head).filter(|text| !text.starts_with("early")).collect()
}

#[test]
fn a_row_says_in_whole_words_that_its_pad_is_away() {
    let mut window = opened(TEXT);
    window.harness.state_mut().choices.class_view = Some(false);
    window.start();
    let missing = vec!["Left practice pad of the third row".to_owned()];
    let gone = |label| PlayerState { missing: missing.clone(), is_there: false, ..player(label, 0, None) };
    let half = PlayerState { missing: missing.clone(), ..player("K3", 0, None) };
    let players = vec![gone("K1"), gone("Bartholomew the Younger"), half, player("K4", 0, None)];
    window.heed(Event::Judged(players.into()));
    window.harness.run_steps(2);
    let heads = heads(&window);
    assert_eq!(heads.iter().filter(|head| *head == "gone").count(), 2, "{heads:?}");
    assert!(heads.iter().any(|head| head.starts_with("not there: Left")), "{heads:?}");
    for label in ["K1", "K3", "K4"] {
        assert!(heads.iter().any(|head| head == label), "{heads:?}");
    }
    // The name is cut where there is no room, not what became of it.
    assert!(heads.iter().any(|head| head.starts_with("Barth") && head.ends_with('…')), "{heads:?}");
}

#[test]
fn the_rows_of_a_count_in_are_of_those_who_are_there() {
    let mut window = opened(TEXT);
    window.harness.state_mut().choices.class_view = Some(false);
    window.start();
    window.harness.run_steps(2);
    assert!(heads(&window).is_empty(), "before anything is told nobody is shown");
    let seated = ["K1", "K2", "K3"].map(|label| player(label, 0, None));
    window.heed(Event::Judged(seated.to_vec().into()));
    window.harness.run_steps(2);
    let shown = heads(&window);
    assert!(["K1", "K2", "K3"].iter().all(|label| shown.iter().any(|head| head == label)), "{shown:?}");
    // Alone, the space bar has a row before it is struck.
    window.start();
    window.heed(Event::Judged(Vec::new().into()));
    window.harness.run_steps(2);
    assert!(heads(&window).iter().any(|head| head == "P1"));
}

#[test]
fn who_is_not_there_is_named_before_the_class_too() {
    let mut window = opened(TEXT);
    window.start();
    let away = |label: &str| {
        let rhythm = rhythm::text::read(TEXT).rhythm.expect("a rhythm");
        let tempo = TempoMap::constant(rhythm.tempo());
        let counts = counting::count(&rhythm).timed(&rhythm, &rhythm.performance(), &tempo);
        let long = timebase::Moment::ZERO - Seconds::from_millis(1_000_000)
            ..timebase::Moment::ZERO + Seconds::from_millis(1_000_000);
        let presence = judge::Presence { until: None, absent: vec![long] };
        let judgement = judge::judge_within(&counts, &[], &presence, &judge::Settings::default());
        PlayerState { judgement: Arc::new(judgement), is_there: false, ..player(label, 0, None) }
    };
    window.end(vec![player("K1", 0, None), away("K2"), player("K3", 0, None)]);
    assert!(window.says("Not there: nothing is judged (K2)."));
    window.start();
    let mut players = vec![player("K01", 0, None)];
    players.extend((2..20).map(|number| away(&format!("K{number:02}"))));
    window.end(players);
    assert!(window.says("Not there: nothing is judged (K02, K03, K04, K05, K06, K07 and 12 more)."));
}

#[test]
fn a_path_can_be_typed_and_what_cannot_be_read_is_said() {
    let mut window = opened(TEXT);
    let other = window.path.with_file_name("other.rhythm");
    std::fs::write(&other, TEXT.replace("Tin Roof", "Gravel")).expect("written");
    let mut type_path = |path: &str, expected: &str| {
        window.press(Key::O);
        window.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        window.harness.event(egui::Event::Text(path.to_owned()));
        window.harness.key_press(Key::Enter);
        window.harness.run();
        assert!(window.says(expected), "{path} shows {expected:?}");
        window.harness.state().pane
    };
    assert_eq!(type_path("nowhere/none.rhythm", "Cannot read nowhere/none.rhythm"), Some(Pane::Open));
    assert_eq!(type_path(&other.display().to_string(), "Gravel"), None);
}
