use std::sync::Arc;

use crate::desk::Desk;
use crate::{Connection, Error, MidiSystem, Notice, Port, SourceKind, Tap};

/// The MIDI system and the ports that are to be open on it, kept so while devices come and go.
#[derive(Debug)]
pub(crate) struct House {
    system: Box<dyn MidiSystem>,
    desk: Arc<Desk>,
    open: Vec<Open>,
    /// The number of every device that was ever asked for, by its lasting name.
    known: Vec<(String, u16)>,
    /// Whether devices that are plugged in later are to be opened too.
    takes_all: bool,
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
    pub(crate) fn new(system: Box<dyn MidiSystem>, desk: Arc<Desk>) -> Self {
        Self { system, desk, open: Vec::new(), known: Vec::new(), takes_all: false }
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
        self.desk.mark(source, true);
        self.open.push(Open { port: port.clone(), source, connection });
        Ok(())
    }

    /// Opens every device that is there and not open yet, and from now on every one that is plugged in. One that cannot be
    /// opened is told of and tried again; the others play all the same.
    pub(crate) fn open_all(&mut self) -> Result<Vec<Port>, Error> {
        self.takes_all = true;
        let there = self.system.ports()?;
        Ok(self.open_new(&there))
    }

    fn open_new(&mut self, there: &[Port]) -> Vec<Port> {
        let mut opened = Vec::new();
        for port in there.iter().filter(|port| !port.is_through()) {
            // One that waits to be taken back under another address is no new one.
            let waits =
                |open: &Open| open.connection.is_none() && open.port.lasting_name() == port.lasting_name();
            if self.is_open(port) || self.open.iter().any(waits) {
                continue;
            }
            match self.open(port) {
                Ok(()) => opened.push(port.clone()),
                Err(error) => self.keep_trying(port, &error),
            }
        }
        opened
    }

    /// Keeps a port that could not be opened, to be tried at every look.
    fn keep_trying(&mut self, port: &Port, error: &Error) {
        let source = self.number_of(port);
        self.desk.admit(source);
        self.desk.mark(source, false);
        self.open.push(Open { port: port.clone(), source, connection: None });
        let why = match error {
            Error::Open { why, .. } => why.clone(),
            other => other.to_string(),
        };
        self.desk.notice(Notice::CannotOpen { port: port.clone(), why });
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
        if self.takes_all {
            for port in self.open_new(&there) {
                self.desk.notice(Notice::New(port));
            }
        }
    }

    fn let_go(&mut self, there: &[Port]) {
        for open in &mut self.open {
            if open.connection.is_some() && !there.contains(&open.port) {
                open.connection = None;
                self.desk.mark(open.source, false);
                self.desk.notice(Notice::Gone { port: open.port.clone(), source: open.source });
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
                let source = self.open[index].source;
                self.desk.mark(source, true);
                self.desk.notice(Notice::Back { port: port.clone(), source });
            }
        }
    }

    fn is_open_now(&self, port: &Port) -> bool {
        self.open.iter().any(|open| open.connection.is_some() && open.port == *port)
    }
}

#[cfg(test)]
mod tests;
