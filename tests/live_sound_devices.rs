//! Devices that come and go, and what is said where there are none. On a real JACK server.
#![cfg(target_os = "linux")]

use std::time::{Duration, Instant};

use audio::{DeviceSettings, Event, OutputDevice, SoundSystem, devices};
use input::{Input, InputSettings, Notice, SystemChoice, midi_system};
use mixer::{Bank, Mixer, Programme};
use tests::jackd::{Robot, RobotPlan, Server, on_named_server};
use timebase::{Frames, HostOrigin, SampleRate};

/// Strikes on its stimulus port every 50 ms, for a minute.
fn robot() -> Robot {
    Robot::start(RobotPlan {
        name: "robot".to_owned(),
        threshold: 1.0,
        deaf: 0,
        click_every: 0,
        strikes: Vec::new(),
        stimulus: (1..1_200).map(|n| n * 2_400).collect(),
    })
}

/// Waits for what `look` finds.
fn within<T>(seconds: u64, what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let begun = Instant::now();
    loop {
        if let Some(found) = look() {
            return found;
        }
        assert!(begun.elapsed() < Duration::from_secs(seconds), "{what}: not within {seconds} s");
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn next_stroke_is_of_p1(input: &Input) {
    while input.strokes().try_recv().is_ok() {}
    let stroke = within(3, "a stroke", || input.strokes().try_recv().ok());
    assert_eq!(stroke.player.to_string(), "P1");
}

#[test]
fn a_pad_plugged_in_again_plays_on() {
    on_named_server("a_pad_plugged_in_again_plays_on", |name| {
        let _server = Server::named(name);
        let mut pad = robot();
        let mut input = Input::new(&InputSettings::default());
        input.attach(midi_system(SystemChoice::Jack, origin()).expect("a server answers"));
        let stimulus = within(3, "the port", || {
            input.ports().expect("a server").into_iter().find(|port| port.name() == "robot:stimulus")
        });
        input.open(&stimulus).expect("it can be opened");
        next_stroke_is_of_p1(&input);
        for _ in 0..2 {
            drop(pad);
            let gone = within(5, "gone", || input.notices().try_recv().ok());
            assert!(matches!(&gone, Notice::Gone { port, .. } if *port == stimulus), "{gone:?}");
            pad = robot();
            let back = within(5, "back", || input.notices().try_recv().ok());
            assert!(matches!(&back, Notice::Back { port, .. } if *port == stimulus), "{back:?}");
            next_stroke_is_of_p1(&input);
        }
        assert_eq!(input.players().all().len(), 1);
    });
}

#[test]
fn a_server_that_dies_is_told_and_its_successor_found() {
    on_named_server("a_server_that_dies_is_told_and_its_successor_found", |name| {
        let server = Server::named(name);
        let pad = robot();
        let mut input = Input::new(&InputSettings::default());
        input.attach(midi_system(SystemChoice::Jack, origin()).expect("a server answers"));
        let opened = input.open_all().expect("they can be opened");
        assert_eq!(opened.len(), 2);
        let settings = DeviceSettings { system: SoundSystem::Jack, ..DeviceSettings::default() };
        let device = OutputDevice::find(&settings).expect("a server answers");
        let mut output = device.start(silence(), origin()).expect("it plays");
        within(3, "anchors", || output.next_anchor());

        drop(server);
        let end = within(5, "the end of the sound", || output.next_event().filter(Event::is_end));
        println!("sound: {end:?}");
        for _ in 0..2 {
            let gone = within(5, "gone", || input.notices().try_recv().ok());
            assert!(matches!(gone, Notice::Gone { .. }), "{gone:?}");
        }
        drop(pad);
        drop(output);

        let _server = Server::named(name);
        let _pad = robot();
        for _ in 0..2 {
            let back = within(10, "back", || input.notices().try_recv().ok());
            assert!(matches!(back, Notice::Back { .. }), "{back:?}");
        }
        within(3, "a stroke", || input.strokes().try_recv().ok());
        let device = OutputDevice::find(&settings).expect("a server answers");
        let mut output = device.start(silence(), origin()).expect("it plays");
        within(3, "anchors", || output.next_anchor());
    });
}

/// While no pad is there nothing but the server itself says that it has died; closing a client of a dead server after its
/// successor has started would bring the program down.
#[test]
fn a_server_that_dies_while_no_pad_is_there_takes_nothing_with_it() {
    on_named_server("a_server_that_dies_while_no_pad_is_there_takes_nothing_with_it", |name| {
        let mut server = Some(Server::named(name));
        for is_closed_at_once in [true, false] {
            let mut input = Input::new(&InputSettings::default());
            input.attach(midi_system(SystemChoice::Jack, origin()).expect("a server answers"));
            assert_eq!(input.open_all().expect("it lists them").len(), 0);
            drop(server.take());
            server = Some(Server::named(name));
            let settings = DeviceSettings { system: SoundSystem::Jack, ..DeviceSettings::default() };
            let device = OutputDevice::find(&settings).expect("a server answers");
            let mut output = device.start(silence(), origin()).expect("it plays");
            within(3, "anchors", || output.next_anchor());
            if !is_closed_at_once {
                let pad = robot();
                for _ in 0..2 {
                    let new = within(5, "a pad on the new server", || input.notices().try_recv().ok());
                    assert!(matches!(new, Notice::New(_)), "{new:?}");
                }
                within(3, "a stroke", || input.strokes().try_recv().ok());
                drop(pad);
            }
            drop(input);
        }
    });
}

/// Each wish that cannot be met is answered with what was asked for, what there is and what to do.
#[test]
fn what_is_not_there_is_said_plainly() {
    on_named_server("what_is_not_there_is_said_plainly", |name| {
        let check = |said: String, parts: &[&str]| {
            assert!(parts.iter().all(|part| said.contains(part)), "{said}");
        };
        let without = [name, "no server", "start one"];
        check(devices(SoundSystem::Jack).expect_err("no server").to_string(), &without);
        check(midi_system(SystemChoice::Jack, origin()).expect_err("no server").to_string(), &without);

        let _server = Server::named(name);
        let named = |device: &str| {
            let device = Some(device.to_owned());
            OutputDevice::find(&DeviceSettings {
                system: SoundSystem::Jack,
                device,
                ..DeviceSettings::default()
            })
        };
        check(
            named("drum").expect_err("no such device").to_string(),
            &["\"drum\"", "play through", "JACK Output"],
        );
        let listed = devices(SoundSystem::Jack).expect("a server answers");
        let ways: Vec<_> =
            listed.iter().map(|device| (device.plays, device.records, device.is_default)).collect();
        assert_eq!(ways, [(false, true, false), (true, false, true)]);

        let at_44_100 = Mixer::new(&nothing(SampleRate::new(44_100).expect("in range")));
        let device = named("jack output").expect("there");
        let error = device.start(at_44_100, origin()).expect_err("another rate");
        check(error.to_string(), &["44100 Hz", "48000 Hz", "JACK Output"]);
    });
}

fn origin() -> HostOrigin {
    HostOrigin::at(Instant::now())
}

fn nothing(rate: SampleRate) -> Programme {
    Programme::new(Bank::new(rate), Vec::new(), Frames::new(48_000)).expect("a programme")
}

fn silence() -> Mixer {
    Mixer::new(&nothing(SampleRate::HZ_48000))
}
