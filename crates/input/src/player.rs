use std::collections::HashMap;
use std::fmt;

use timebase::Seconds;

use crate::binding::Bindings;
use crate::place::Touched;
use crate::{Controls, Instrument, Roster, Touch};

/// One who plays. Written as `P1`, `P2` and so on, in the order in which they were entered; names are
/// for whoever keeps them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PlayerId(u16);

impl PlayerId {
    /// The player of this index, counted from 0: index 0 is `P1`.
    #[must_use]
    pub const fn new(index: u16) -> Self {
        Self(index)
    }

    /// The index, from 0.
    #[must_use]
    pub const fn index(self) -> u16 {
        self.0
    }
}

impl fmt::Display for PlayerId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "P{}", u32::from(self.0) + 1)
    }
}

/// What makes one player.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Grouping {
    /// Everything that comes from one device is one player's.
    #[default]
    ByPort,
    /// Every channel of a device is a player of its own, entered when it is first heard: for a module to which
    /// several pads are wired.
    ByChannel,
}

/// Where strokes come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SourceKind {
    /// A MIDI port.
    Port,
    /// The computer's keyboard.
    Keyboard,
    /// A recorded take, played again.
    Replay,
}

/// A player and what he or she plays on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Player {
    /// Who.
    pub id: PlayerId,
    /// The code by which the [`Roster`] lists the player; `None` for one who is not listed.
    pub code: Option<String>,
    /// What kind of thing is played on.
    pub kind: SourceKind,
    /// Its name, as the system gives it; of several places of a listed player all of them.
    pub name: String,
    /// The channel, 0 to 15, where players are told apart by it.
    pub channel: Option<u8>,
    /// Pads or keys.
    pub instrument: Instrument,
    /// The player's own retrigger mask; `None` for the one that serves all.
    pub retrigger: Option<Seconds>,
    /// The devices of the player that are not there, by their names: unplugged, or never seen.
    pub missing: Vec<String>,
    /// Whether any of them is there.
    pub is_there: bool,
    /// Whether the player has nothing but pedals, and so keeps the pulse.
    pub keeps_pulse: bool,
}

impl Player {
    /// What the player is called: the code, or `P1` and so on.
    #[must_use]
    pub fn label(&self) -> String {
        self.code.clone().unwrap_or_else(|| self.id.to_string())
    }
}

/// Something that can be played on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// What kind of thing it is.
    pub kind: SourceKind,
    /// Its name. Of two devices with one name the second is called `Pad #2`, in the order in which they were found.
    pub name: String,
    /// Whether it is there.
    pub is_there: bool,
}

/// Who plays on what.
#[derive(Clone, Debug, Default)]
pub struct Players {
    grouping: Grouping,
    roster: Roster,
    sources: Vec<Source>,
    bindings: Bindings,
    /// The devices that give orders.
    ordering: Bindings,
    players: Vec<Player>,
    found: HashMap<(u16, Option<u8>), PlayerId>,
}

impl Players {
    /// Nobody yet.
    #[must_use]
    pub fn new(grouping: Grouping) -> Self {
        Self::listed(grouping, Roster::default())
    }

    /// Those of the list, in its order, before anybody else. Who strikes where nobody of the list is to strike becomes a
    /// player of their own, so that no stroke is lost.
    #[must_use]
    pub fn listed(grouping: Grouping, roster: Roster) -> Self {
        let players = roster.entries().iter().enumerate().map(|(index, entry)| {
            let names: Vec<String> = entry.places.iter().map(ToString::to_string).collect();
            Player {
                id: PlayerId(number(index)),
                code: Some(entry.code.clone()),
                kind: SourceKind::Port,
                name: names.join(" and "),
                channel: None,
                instrument: entry.instrument,
                retrigger: entry.retrigger,
                missing: Vec::new(),
                is_there: true,
                keeps_pulse: entry.places.iter().all(|place| matches!(place.touch(), Touch::Pedal(_))),
            }
        });
        let players = players.collect();
        let places = roster.entries().iter().flat_map(|entry| entry.places.iter());
        let bindings = Bindings::of(places.map(|place| place.port_name()));
        let mut listed = Self {
            grouping,
            roster,
            bindings,
            ordering: Bindings::default(),
            players,
            sources: Vec::new(),
            found: HashMap::new(),
        };
        listed.look();
        listed
    }

    /// The same where these devices give orders too: nobody knows whether somebody plays on them, so until a note comes that is no
    /// order, they are nobody's.
    #[must_use]
    pub fn beside(self, controls: &Controls) -> Self {
        let ordering = Bindings::of(controls.places().iter().map(|(_, place)| place.port_name()));
        Self { ordering, ..self }
    }

    /// Notes something that can be played on and returns its number. Its players are entered when they are
    /// [admitted](Self::admit) or first heard.
    pub fn enter(&mut self, kind: SourceKind, name: &str) -> u16 {
        let source = number(self.sources.len());
        let alike = |other: &&Source| {
            other.kind == kind && (other.name == name || other.name.starts_with(&format!("{name} #")))
        };
        let before = self.sources.iter().filter(alike).count();
        let name = if kind == SourceKind::Port && before > 0 {
            format!("{name} #{}", before + 1)
        } else {
            name.to_owned()
        };
        self.bindings.bind(kind, &name, source);
        self.ordering.bind(kind, &name, source);
        self.sources.push(Source { kind, name, is_there: true });
        self.look();
        source
    }

    /// Tells that a device has gone or is back.
    pub fn mark(&mut self, source: u16, is_there: bool) {
        if let Some(known) = self.sources.get_mut(usize::from(source)) {
            known.is_there = is_there;
            self.look();
        }
    }

    /// What this number stands for.
    #[must_use]
    pub fn source(&self, source: u16) -> Option<&Source> {
        self.sources.get(usize::from(source))
    }

    /// Enters the one player of `source` before a stroke is heard, so that players stand in the order of their devices
    /// and not of their first strokes. Where channels are players, or the list names the device, nobody is entered; nor where it
    /// gives orders, for a switch under a foot is no pupil.
    pub fn admit(&mut self, source: u16) {
        let is_named = self.bindings.names(source) || self.ordering.names(source);
        if self.channel_told(source, 0).is_none() && !is_named {
            self.unlisted(source, 0);
        }
    }

    /// Who struck this on `channel` of `source`; entered now if not before. A pedal is nobody's unless the list says so.
    pub fn at(&mut self, source: u16, channel: u8, touched: Touched) -> Option<PlayerId> {
        let listed = self.listed_at(source, channel, touched);
        match touched {
            Touched::Note(_) => Some(listed.unwrap_or_else(|| self.unlisted(source, channel))),
            Touched::Pedal(_) => listed,
        }
    }

    /// Who has this on `channel` of `source`, as far as is known.
    pub(crate) fn known_at(&self, source: u16, channel: u8, touched: Touched) -> Option<PlayerId> {
        let unlisted = || self.found.get(&(source, self.channel_told(source, channel))).copied();
        let listed = self.listed_at(source, channel, touched);
        listed.or_else(|| if matches!(touched, Touched::Note(_)) { unlisted() } else { None })
    }

    /// The player whose place holds this touch and is the narrowest that does.
    fn listed_at(&self, source: u16, channel: u8, touched: Touched) -> Option<PlayerId> {
        let mut best: Option<(usize, &crate::Place)> = None;
        for (index, entry) in self.roster.entries().iter().enumerate() {
            for place in &entry.places {
                let here = self.bindings.source(place.port_name()) == Some(source);
                if here
                    && place.holds(channel, touched)
                    && best.is_none_or(|(_, other)| place.is_within(other) && !other.is_within(place))
                {
                    best = Some((index, place));
                }
            }
        }
        best.map(|(index, _)| PlayerId(number(index)))
    }

    fn unlisted(&mut self, source: u16, channel: u8) -> PlayerId {
        let channel = self.channel_told(source, channel);
        if let Some(&id) = self.found.get(&(source, channel)) {
            return id;
        }
        let id = PlayerId(number(self.players.len()));
        let known = self.sources.get(usize::from(source));
        let (kind, name) =
            known.map_or((SourceKind::Port, String::new()), |source| (source.kind, source.name.clone()));
        self.players.push(Player {
            id,
            code: None,
            kind,
            name,
            channel,
            instrument: Instrument::Pad,
            retrigger: None,
            missing: Vec::new(),
            is_there: true,
            keeps_pulse: false,
        });
        self.found.insert((source, channel), id);
        self.look();
        id
    }

    /// Everybody, in order.
    #[must_use]
    pub fn all(&self) -> &[Player] {
        &self.players
    }

    /// One of them.
    #[must_use]
    pub fn player(&self, id: PlayerId) -> Option<&Player> {
        self.players.get(usize::from(id.0))
    }

    /// Everything that can be played on, by its number.
    #[must_use]
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// Those who play on this device, in order; who is not listed only once heard of.
    #[must_use]
    pub fn on(&self, source: u16) -> Vec<PlayerId> {
        let mut on: Vec<PlayerId> = Vec::new();
        for (index, entry) in self.roster.entries().iter().enumerate() {
            let here = |place: &crate::Place| self.bindings.source(place.port_name()) == Some(source);
            if entry.places.iter().any(here) {
                on.push(PlayerId(number(index)));
            }
        }
        let found = self.found.iter().filter(|((at, _), _)| *at == source).map(|(_, id)| *id);
        on.extend(found);
        on.sort_unstable();
        on
    }

    pub(crate) const fn bindings(&self) -> &Bindings {
        &self.bindings
    }

    /// Those of the list who are to play on a device that was never seen, and its name.
    pub(crate) fn unseen(&self) -> Vec<(String, String)> {
        let places =
            self.roster.entries().iter().flat_map(|entry| {
                entry.places.iter().map(move |place| (entry.code.as_str(), place.port_name()))
            });
        let mut unseen: Vec<(String, String)> = Vec::new();
        for (code, name) in places.filter(|(_, name)| !self.bindings.is_seen(name)) {
            if !unseen.iter().any(|(known, of)| known == code && of == name) {
                unseen.push((code.to_owned(), name.to_owned()));
            }
        }
        unseen
    }

    /// Notes what each player lacks.
    fn look(&mut self) {
        for (player, entry) in self.players.iter_mut().zip(self.roster.entries()) {
            player.missing.clear();
            player.is_there = false;
            for place in &entry.places {
                let source = self.bindings.source(place.port_name());
                let source = source.and_then(|source| self.sources.get(usize::from(source)));
                let name = source.map_or(place.port_name(), |source| &source.name);
                let is_there = source.is_some_and(|source| source.is_there);
                let always = place.port_name() == crate::Place::SPACE_BAR;
                player.is_there |= is_there || always;
                if !is_there && !always && !player.missing.iter().any(|missing| missing == name) {
                    player.missing.push(name.to_owned());
                }
            }
        }
        for (&(source, _), id) in &self.found {
            if let (Some(player), Some(source)) =
                (self.players.get_mut(usize::from(id.0)), self.sources.get(usize::from(source)))
            {
                player.is_there = source.is_there;
                player.missing = if source.is_there { Vec::new() } else { vec![source.name.clone()] };
            }
        }
    }

    fn channel_told(&self, source: u16, channel: u8) -> Option<u8> {
        let kind = self.sources.get(usize::from(source)).map(|source| source.kind);
        (self.grouping == Grouping::ByChannel && kind != Some(SourceKind::Keyboard)).then_some(channel)
    }
}

/// Nobody has 65,536 devices; the last number is shared if somebody does.
fn number(index: usize) -> u16 {
    u16::try_from(index).unwrap_or(u16::MAX)
}

#[cfg(test)]
mod tests;
