use std::collections::HashMap;
use std::fmt;

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
    /// What kind of thing is played on.
    pub kind: SourceKind,
    /// Its name, as the system gives it.
    pub name: String,
    /// The channel, 0 to 15, where players are told apart by it.
    pub channel: Option<u8>,
}

/// Who plays on what.
#[derive(Clone, Debug, Default)]
pub struct Players {
    grouping: Grouping,
    sources: Vec<(SourceKind, String)>,
    players: Vec<Player>,
    found: HashMap<(u16, Option<u8>), PlayerId>,
}

impl Players {
    /// Nobody yet.
    #[must_use]
    pub fn new(grouping: Grouping) -> Self {
        Self { grouping, ..Self::default() }
    }

    /// Notes something that can be played on and returns its number. Its players are entered when they are
    /// [admitted](Self::admit) or first heard.
    pub fn enter(&mut self, kind: SourceKind, name: &str) -> u16 {
        let source = number(self.sources.len());
        self.sources.push((kind, name.to_owned()));
        source
    }

    /// Enters the one player of `source` before a stroke is heard, so that players stand in the order of their devices
    /// and not of their first strokes. Where channels are players, it is not known yet who they are, and nobody is entered.
    pub fn admit(&mut self, source: u16) {
        if self.channel_told(source, 0).is_none() {
            self.at(source, 0);
        }
    }

    /// Who plays on `channel` of `source`; entered now if not before.
    pub fn at(&mut self, source: u16, channel: u8) -> PlayerId {
        let channel = self.channel_told(source, channel);
        if let Some(&id) = self.found.get(&(source, channel)) {
            return id;
        }
        let id = PlayerId(number(self.players.len()));
        let known = self.sources.get(usize::from(source)).cloned();
        let (kind, name) = known.unwrap_or((SourceKind::Port, String::new()));
        self.players.push(Player { id, kind, name, channel });
        self.found.insert((source, channel), id);
        id
    }

    /// Everybody, in order.
    #[must_use]
    pub fn all(&self) -> &[Player] {
        &self.players
    }

    /// The player of this number.
    #[must_use]
    pub fn player(&self, id: PlayerId) -> Option<&Player> {
        self.players.get(usize::from(id.0))
    }

    fn channel_told(&self, source: u16, channel: u8) -> Option<u8> {
        let kind = self.sources.get(usize::from(source)).map(|&(kind, _)| kind);
        (self.grouping == Grouping::ByChannel && kind != Some(SourceKind::Keyboard)).then_some(channel)
    }
}

/// Nobody has 65,536 devices; the last number is shared if somebody does.
fn number(index: usize) -> u16 {
    u16::try_from(index).unwrap_or(u16::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(grouping: Grouping, heard: &[(u16, u8)], expected: &[&str]) -> Players {
        let mut players = Players::new(grouping);
        assert_eq!(players.enter(SourceKind::Port, "Pad A"), 0);
        assert_eq!(players.enter(SourceKind::Port, "Pad B"), 1);
        assert_eq!(players.enter(SourceKind::Keyboard, "space bar"), 2);
        (0..3).for_each(|source| players.admit(source));
        let found: Vec<_> =
            heard.iter().map(|&(source, channel)| players.at(source, channel).to_string()).collect();
        assert_eq!(found, expected);
        players
    }

    #[test]
    fn a_device_is_a_player() {
        let players = check(Grouping::ByPort, &[(2, 0), (1, 9), (0, 3), (0, 9)], &["P3", "P2", "P1", "P1"]);
        assert_eq!(players.all().len(), 3);
        assert_eq!(players.player(PlayerId::new(1)).map(|player| player.name.as_str()), Some("Pad B"));
    }

    #[test]
    fn a_channel_is_a_player_where_asked_for() {
        let players = check(
            Grouping::ByChannel,
            &[(2, 0), (1, 9), (0, 3), (0, 9), (1, 9), (2, 5)],
            &["P1", "P2", "P3", "P4", "P2", "P1"],
        );
        assert_eq!(players.player(PlayerId::new(3)).and_then(|player| player.channel), Some(9));
        assert_eq!(players.player(PlayerId::new(0)).map(|player| player.kind), Some(SourceKind::Keyboard));
        assert_eq!(players.player(PlayerId::new(4)), None);
    }
}
