use std::sync::Mutex;

use crossbeam_channel::Receiver;
use timebase::{HostTime, Seconds};

use super::*;
use crate::{InputSettings, Stroke};

/// A rack whose cables a test plugs and unplugs. The devices' behaviour under the real systems is
/// tested where they can run; this is about what is kept while they come and go.
#[derive(Clone, Debug, Default)]
struct Rack {
    there: Arc<Mutex<Vec<Port>>>,
    taps: Arc<Mutex<Vec<(Port, Tap)>>>,
    /// The names of ports that another program holds.
    held: Arc<Mutex<Vec<String>>>,
}

#[derive(Debug)]
struct Cable;
impl Connection for Cable {}

impl MidiSystem for Rack {
    fn name(&self) -> &'static str {
        "rack"
    }
    fn ports(&mut self) -> Result<Vec<Port>, Error> {
        Ok(self.there.lock().expect("no panic").clone())
    }
    fn connect(&mut self, port: &Port, tap: Tap) -> Result<Box<dyn Connection>, Error> {
        if self.held.lock().expect("no panic").iter().any(|held| held == port.name()) {
            return Err(Error::Open { port: port.name().to_owned(), why: "held by another".to_owned() });
        }
        self.taps.lock().expect("no panic").push((port.clone(), tap));
        Ok(Box::new(Cable))
    }
}

fn house(names: &[&str]) -> (House, Rack, Receiver<Stroke>, Receiver<Notice>) {
    let rack = Rack::default();
    plug(&rack, names);
    let (desk, fetched) = Desk::new(&InputSettings { retrigger: Seconds::ZERO, ..InputSettings::default() });
    (House::new(Box::new(rack.clone()), desk), rack, fetched.strokes, fetched.notices)
}

fn plug(rack: &Rack, names: &[&str]) {
    *rack.there.lock().expect("no panic") = names.iter().map(|&name| Port::new(name, name)).collect();
}

#[test]
fn a_device_plugged_in_again_is_the_same_player() {
    let (mut house, rack, strokes, noticed) = house(&["Pad 20:0", "Other 21:0"]);
    let ports = house.ports().expect("a rack");
    for port in &ports {
        house.open(port).expect("there");
    }
    house.look();
    assert_eq!(noticed.try_iter().count(), 0);

    plug(&rack, &["Other 21:0"]);
    house.look();
    house.look();
    assert_eq!(noticed.try_iter().collect::<Vec<_>>(), [Notice::Gone { port: ports[0].clone(), source: 0 }]);

    // It comes back under another address.
    plug(&rack, &["Other 21:0", "Pad 24:0"]);
    house.look();
    house.look();
    let back = Port::new("Pad 24:0", "Pad 24:0");
    assert_eq!(noticed.try_iter().collect::<Vec<_>>(), [Notice::Back { port: back, source: 0 }]);
    let mut taps = rack.taps.lock().expect("no panic");
    let (_, tap) = taps.last_mut().expect("connected");
    tap.feed(&[0x90, 38, 100], HostTime::from_nanos(0), Seconds::ZERO);
    assert_eq!(strokes.try_recv().expect("a stroke").player.to_string(), "P1");
}

#[test]
fn two_devices_of_one_name_come_back_to_two_players() {
    let (mut house, rack, _strokes, noticed) = house(&["Pad 20:0", "Pad 21:0"]);
    for port in house.ports().expect("a rack") {
        house.open(&port).expect("there");
    }
    plug(&rack, &[]);
    house.look();
    plug(&rack, &["Pad 30:0", "Pad 31:0"]);
    house.look();
    let back = noticed.try_iter().filter(|notice| matches!(notice, Notice::Back { .. })).count();
    assert_eq!(back, 2);
    let sources: Vec<_> = house.open.iter().map(|open| open.port.name().to_owned()).collect();
    assert_eq!(sources, ["Pad 30:0", "Pad 31:0"]);
}

#[test]
fn a_port_is_opened_once() {
    let (mut house, ..) = house(&["Pad"]);
    let port = Port::new("Pad", "Pad");
    house.open(&port).expect("there");
    assert_eq!(house.open(&port), Err(Error::OpenAlready { port: "Pad".to_owned() }));
    house.close(&port);
    house.open(&port).expect("closed before");
    assert_eq!(house.desk.players().all().len(), 1, "the same player");
}

fn missing(house: &House) -> Vec<String> {
    house.desk.players().all().iter().flat_map(|player| player.missing.clone()).collect()
}

#[test]
fn a_player_whose_device_is_gone_says_so() {
    let (mut house, rack, ..) = house(&["Pad 20:0", "Other 21:0"]);
    house.open_all().expect("a rack");
    assert!(missing(&house).is_empty());
    plug(&rack, &["Other 21:0"]);
    house.look();
    assert_eq!(missing(&house), ["Pad"]);
    plug(&rack, &["Other 21:0", "Pad 24:0"]);
    house.look();
    assert!(missing(&house).is_empty());
}

/// One port that another program holds does not keep the others from playing, and plays itself once it is free.
#[test]
fn a_port_that_cannot_be_opened_stands_in_nobodys_way() {
    let (mut house, rack, strokes, noticed) = house(&["Held 20:0", "Pad 21:0"]);
    rack.held.lock().expect("no panic").push("Held 20:0".to_owned());
    let opened = house.open_all().expect("a rack");
    assert_eq!(opened, [Port::new("Pad 21:0", "Pad 21:0")]);
    house.look();
    let held = Port::new("Held 20:0", "Held 20:0");
    let told = Notice::CannotOpen { port: held.clone(), why: "held by another".to_owned() };
    assert_eq!(noticed.try_iter().collect::<Vec<_>>(), [told]);
    assert_eq!(missing(&house), ["Held"]);
    rack.held.lock().expect("no panic").clear();
    house.look();
    assert_eq!(noticed.try_iter().collect::<Vec<_>>(), [Notice::Back { port: held, source: 0 }]);
    let mut taps = rack.taps.lock().expect("no panic");
    let (_, tap) = taps.last_mut().expect("connected");
    tap.feed(&[0x90, 38, 100], HostTime::from_nanos(0), Seconds::ZERO);
    assert_eq!(strokes.try_recv().expect("a stroke").player.to_string(), "P1");
}

#[test]
fn a_device_plugged_in_later_plays_where_all_do() {
    let (mut house, rack, _strokes, noticed) = house(&["Pad 20:0"]);
    house.open_all().expect("a rack");
    plug(&rack, &["Pad 20:0", "New 22:0", "Midi Through 14:0"]);
    house.look();
    house.look();
    assert_eq!(noticed.try_iter().collect::<Vec<_>>(), [Notice::New(Port::new("New 22:0", "New 22:0"))]);
    // Gone and back under another address, but held meanwhile: still the same, and no new one.
    plug(&rack, &["Pad 20:0"]);
    house.look();
    rack.held.lock().expect("no panic").push("New 30:0".to_owned());
    plug(&rack, &["Pad 20:0", "New 30:0"]);
    house.look();
    rack.held.lock().expect("no panic").clear();
    house.look();
    let told: Vec<_> = noticed.try_iter().collect();
    assert!(matches!(&told[..], [Notice::Gone { .. }, Notice::Back { .. }]), "{told:?}");
    assert_eq!(house.desk.players().all().len(), 2);
}

#[test]
fn two_devices_of_one_name_are_told_of() {
    let (mut house, _rack, _strokes, noticed) = house(&["Pad 20:0", "Pad 21:0"]);
    house.open_all().expect("a rack");
    assert_eq!(noticed.try_iter().collect::<Vec<_>>(), [Notice::Twice { name: "Pad #2".to_owned() }]);
    let names: Vec<_> = house.desk.players().all().iter().map(|player| player.name.clone()).collect();
    assert_eq!(names, ["Pad", "Pad #2"]);
}

/// Any order of plugging, unplugging and looking ends with every device that is there played by the player it had.
mod any_order {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn nobody_is_doubled_and_nothing_stays_deaf(steps in prop::collection::vec(0u8..16, 1..30)) {
            let (mut house, rack, strokes, _noticed) = house(&["A 1:0", "B 2:0"]);
            house.open_all().expect("a rack");
            for (address, step) in (10..).zip(steps) {
                // Four devices at most, each plugged in by its bit, every time under another address.
                let names: Vec<String> = (0u8..4)
                    .filter(|bit| step & (1 << bit) != 0)
                    .map(|bit| format!("{} {address}:{bit}", char::from(b'A' + bit)))
                    .collect();
                plug(&rack, &names.iter().map(String::as_str).collect::<Vec<_>>());
                house.look();
                house.look();
                let players = house.desk.players();
                prop_assert!(players.all().len() <= 4);
                for name in &names {
                    let mut taps = rack.taps.lock().expect("no panic");
                    let tap = taps.iter_mut().rev().find(|(port, _)| port.name() == name);
                    let (_, tap) = tap.expect("what is there is listened to");
                    tap.feed(&[0x90, 38, 100], HostTime::from_nanos(0), Seconds::ZERO);
                    let player = strokes.try_recv().expect("a stroke").player;
                    let known = players.player(player).expect("a player");
                    prop_assert_eq!(known.name.as_str(), &name[..1]);
                    prop_assert!(known.missing.is_empty());
                }
                let missing = players.all().iter().filter(|player| !player.missing.is_empty()).count();
                prop_assert_eq!(missing + names.len(), players.all().len());
            }
        }
    }
}
