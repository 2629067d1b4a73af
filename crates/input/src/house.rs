use std::sync::Arc;

use crossbeam_channel::Sender;

use crate::desk::Desk;
use crate::{Connection, Error, MidiSystem, Port, SourceKind, Tap};

/// Something happened to a device that is, or was, listened to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Notice {
    /// It was unplugged, or its system has died. Its player stays.
    Gone(Port),
    /// It is back and listened to again, for the same player.
    Back(Port),
}

/// The MIDI system and the ports that are to be open on it, kept so while devices come and go.
#[derive(Debug)]
pub(crate) struct House {
    system: Box<dyn MidiSystem>,
    desk: Arc<Desk>,
    open: Vec<Open>,
    /// The number of every device that was ever asked for, by its lasting name.
    known: Vec<(String, u16)>,
    notices: Sender<Notice>,
}

/// A port that is to be open.
#[derive(Debug)]
struct Open {
    port: Port,
    source: u16,
    /// `None` while the device is gone.
    connection: Option<Box<dyn Connection>>,
}

impl House {
    pub(crate) fn new(system: Box<dyn MidiSystem>, desk: Arc<Desk>, notices: Sender<Notice>) -> Self {
        Self { system, desk, open: Vec::new(), known: Vec::new(), notices }
    }

    pub(crate) fn system_name(&self) -> &'static str {
        self.system.name()
    }

    pub(crate) fn ports(&mut self) -> Result<Vec<Port>, Error> {
        self.system.ports()
    }

    pub(crate) fn is_open(&self, port: &Port) -> bool {
        self.open.iter().any(|open| open.port == *port)
    }

    /// Opens `port`. A device that was open before keeps its number, and so its player.
    pub(crate) fn open(&mut self, port: &Port) -> Result<(), Error> {
        if self.is_open(port) {
            return Err(Error::OpenAlready { port: port.name().to_owned() });
        }
        let source = self.number_of(port);
        let tap = Tap::new(Arc::clone(&self.desk), source);
        let connection = Some(self.system.connect(port, tap)?);
        self.desk.admit(source);
        self.open.push(Open { port: port.clone(), source, connection });
        Ok(())
    }

    fn number_of(&mut self, port: &Port) -> u16 {
        let name = port.lasting_name();
        let in_use = |source: u16| self.open.iter().any(|open| open.source == source);
        let known = self.known.iter().find(|(known, source)| known == name && !in_use(*source));
        if let Some(&(_, source)) = known {
            return source;
        }
        let source = self.desk.enter(SourceKind::Port, name);
        self.known.push((name.to_owned(), source));
        source
    }

    pub(crate) fn close(&mut self, port: &Port) {
        self.open.retain(|open| open.port != *port);
    }

    /// Looks which devices are gone and which are back.
    pub(crate) fn look(&mut self) {
        let mut died = false;
        for open in &mut self.open {
            died |= open.connection.as_mut().is_some_and(|connection| !connection.is_alive());
        }
        if died {
            self.system.renew();
        }
        // A system that has died lists nothing.
        let there = if died { Vec::new() } else { self.system.ports().unwrap_or_default() };
        self.let_go(&there);
        self.take_back(&there);
    }

    fn let_go(&mut self, there: &[Port]) {
        for open in &mut self.open {
            if open.connection.is_some() && !there.contains(&open.port) {
                open.connection = None;
                self.notices.try_send(Notice::Gone(open.port.clone())).ok();
            }
        }
    }

    fn take_back(&mut self, there: &[Port]) {
        for index in 0..self.open.len() {
            if self.open[index].connection.is_some() {
                continue;
            }
            let wanted = self.open[index].port.lasting_name();
            // Two devices of one make have one name: the next free port of that name will do.
            let Some(port) =
                there.iter().find(|port| port.lasting_name() == wanted && !self.is_open_now(port))
            else {
                continue;
            };
            let tap = Tap::new(Arc::clone(&self.desk), self.open[index].source);
            // If it cannot be opened yet, the next look tries again.
            if let Ok(connection) = self.system.connect(port, tap) {
                self.open[index].connection = Some(connection);
                self.open[index].port = port.clone();
                self.notices.try_send(Notice::Back(port.clone())).ok();
            }
        }
    }

    fn is_open_now(&self, port: &Port) -> bool {
        self.open.iter().any(|open| open.connection.is_some() && open.port == *port)
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;

    use crossbeam_channel::{Receiver, bounded};
    use timebase::{HostTime, Seconds};

    use super::*;
    use crate::{Grouping, Stroke};

    /// A rack whose cables a test plugs and unplugs. The devices' behaviour under the real systems is
    /// tested where they can run; this is about what is kept while they come and go.
    #[derive(Clone, Debug, Default)]
    struct Rack {
        there: Arc<Mutex<Vec<Port>>>,
        taps: Arc<Mutex<Vec<(Port, Tap)>>>,
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
            self.taps.lock().expect("no panic").push((port.clone(), tap));
            Ok(Box::new(Cable))
        }
    }

    fn house(names: &[&str]) -> (House, Rack, Receiver<Stroke>, Receiver<Notice>) {
        let rack = Rack::default();
        plug(&rack, names);
        let (desk, strokes) = Desk::new(Grouping::ByPort, Seconds::ZERO);
        let (notices, noticed) = bounded(16);
        (House::new(Box::new(rack.clone()), desk, notices), rack, strokes, noticed)
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
        assert_eq!(noticed.try_iter().collect::<Vec<_>>(), [Notice::Gone(ports[0].clone())]);

        // It comes back under another address.
        plug(&rack, &["Other 21:0", "Pad 24:0"]);
        house.look();
        house.look();
        let back = Port::new("Pad 24:0", "Pad 24:0");
        assert_eq!(noticed.try_iter().collect::<Vec<_>>(), [Notice::Back(back)]);
        let mut taps = rack.taps.lock().expect("no panic");
        let (_, tap) = taps.last_mut().expect("connected");
        tap.feed(&[0x90, 38, 100], HostTime::from_nanos(0), Seconds::ZERO, None);
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
        let back = noticed.try_iter().filter(|notice| matches!(notice, Notice::Back(_))).count();
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
}
