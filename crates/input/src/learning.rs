use std::collections::BTreeSet;

use crate::{Entry, Error, NoteRange, Place, Roster, Touch};

/// Who plays on what, learnt by playing: one player after the other strikes everything that is theirs.
///
/// Of what was struck, each player gets as much as nobody else struck: the whole port; or of it a channel; or of that the
/// notes from the lowest to the highest struck, and where others struck in between, each note by itself.
#[derive(Clone, Debug, Default)]
pub struct Learning {
    players: Vec<Learnt>,
}

#[derive(Clone, Debug)]
struct Learnt {
    code: String,
    struck: BTreeSet<Struck>,
}

#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Struck {
    port: String,
    channel: u8,
    note: u8,
}

/// What became of a stroke.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Lesson {
    /// It is the player's, and is new.
    Learnt,
    /// It was known already.
    Known,
    /// Somebody else struck just this before; it stays theirs.
    OfAnother {
        /// Whose it is.
        code: String,
    },
    /// Nobody is to strike yet.
    Nobody,
}

impl Learning {
    /// Nothing learnt yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// It is this player's turn to strike.
    pub fn call(&mut self, code: &str) {
        self.players.push(Learnt { code: code.to_owned(), struck: BTreeSet::new() });
    }

    /// The player whose turn it is struck this note on a channel of a port.
    pub fn strike(&mut self, port: &str, channel: u8, note: u8) -> Lesson {
        let struck = Struck { port: port.to_owned(), channel, note };
        let Some((last, others)) = self.players.split_last_mut() else { return Lesson::Nobody };
        if let Some(other) = others.iter().find(|other| other.struck.contains(&struck)) {
            return Lesson::OfAnother { code: other.code.clone() };
        }
        if last.struck.insert(struck) { Lesson::Learnt } else { Lesson::Known }
    }

    /// How many different pads or keys the player whose turn it is has struck.
    #[must_use]
    pub fn struck(&self) -> usize {
        self.players.last().map_or(0, |last| last.struck.len())
    }

    /// The list that was learnt. Players who struck nothing are left out.
    ///
    /// # Errors
    /// If a code is none, or is there twice.
    pub fn roster(&self) -> Result<Roster, Error> {
        let mut entries = Vec::new();
        for (index, player) in self.players.iter().enumerate() {
            let places = self.places(index)?;
            if !places.is_empty() {
                entries.push(Entry::new(&player.code, places));
            }
        }
        Roster::new(entries)
    }

    fn others(&self, index: usize) -> impl Iterator<Item = &Struck> {
        let others = self.players.iter().enumerate().filter(move |(other, _)| *other != index);
        others.flat_map(|(_, player)| &player.struck)
    }

    fn places(&self, index: usize) -> Result<Vec<Place>, Error> {
        let own = &self.players[index].struck;
        let ports: BTreeSet<&str> = own.iter().map(|struck| struck.port.as_str()).collect();
        let mut places = Vec::new();
        for port in ports {
            let place = Place::port(port)?;
            if !self.others(index).any(|other| other.port == port) {
                places.push(place);
                continue;
            }
            let channels: BTreeSet<u8> =
                own.iter().filter(|struck| struck.port == port).map(|struck| struck.channel).collect();
            for channel in channels {
                let place = place.clone().on_channel(channel)?;
                let taken: Vec<u8> = self
                    .others(index)
                    .filter(|other| other.port == port && other.channel == channel)
                    .map(|other| other.note)
                    .collect();
                if taken.is_empty() {
                    places.push(place);
                    continue;
                }
                let notes: Vec<u8> = own
                    .iter()
                    .filter(|struck| struck.port == port && struck.channel == channel)
                    .map(|struck| struck.note)
                    .collect();
                for range in ranges(&notes, &taken)? {
                    places.push(place.clone().with_touch(Touch::Notes(range))?);
                }
            }
        }
        Ok(places)
    }
}

/// The rising `notes` as one range, if none of `taken` lies within; else each by itself.
fn ranges(notes: &[u8], taken: &[u8]) -> Result<Vec<NoteRange>, Error> {
    let (Some(&least), Some(&most)) = (notes.first(), notes.last()) else { return Ok(Vec::new()) };
    // Two such ranges never cross: an end of one would lie in the other, and ends were struck.
    let free = !taken.iter().any(|&note| least <= note && note <= most);
    if free {
        Ok(vec![NoteRange::new(least, most)?])
    } else {
        notes.iter().map(|&note| NoteRange::new(note, note)).collect()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::{Grouping, Players, SourceKind, Touched};

    /// Port, channel and note.
    type Strokes<'a> = &'a [(&'a str, u8, u8)];

    fn learnt(players: &[(&str, Strokes<'_>)]) -> Vec<String> {
        let mut learning = Learning::new();
        for (code, strokes) in players {
            learning.call(code);
            for &(port, channel, note) in *strokes {
                learning.strike(port, channel, note);
            }
        }
        let roster = learning.roster().expect("a list");
        let told = |entry: &Entry| {
            let places: Vec<_> = entry.places.iter().map(ToString::to_string).collect();
            format!("{}: {}", entry.code, places.join(" and "))
        };
        roster.entries().iter().map(told).collect()
    }

    #[test]
    fn each_gets_as_much_as_nobody_else_struck() {
        assert_eq!(
            learnt(&[("K1", &[("A", 9, 38)]), ("K2", &[("B", 9, 38), ("C", 0, 40)]), ("K3", &[])]),
            ["K1: A", "K2: B and C"]
        );
        assert_eq!(
            learnt(&[("K1", &[("A", 0, 38)]), ("K2", &[("A", 1, 38)])]),
            ["K1: A, channel 1", "K2: A, channel 2"]
        );
        // A keyboard split in two, and pads that lie between one another.
        assert_eq!(
            learnt(&[("K1", &[("A", 0, 36), ("A", 0, 47)]), ("K2", &[("A", 0, 60), ("A", 0, 72)])]),
            ["K1: A, channel 1, notes 36-47", "K2: A, channel 1, notes 60-72"]
        );
        assert_eq!(
            learnt(&[("K1", &[("A", 9, 38), ("A", 9, 45)]), ("K2", &[("A", 9, 40)])]),
            ["K1: A, channel 10, note 38 and A, channel 10, note 45", "K2: A, channel 10, note 40"]
        );
    }

    #[test]
    fn what_is_anothers_stays_theirs() {
        let mut learning = Learning::new();
        assert_eq!(learning.strike("A", 0, 38), Lesson::Nobody);
        learning.call("K1");
        assert_eq!(learning.strike("A", 0, 38), Lesson::Learnt);
        assert_eq!(learning.strike("A", 0, 38), Lesson::Known);
        learning.call("K2");
        assert_eq!(learning.strike("A", 0, 38), Lesson::OfAnother { code: "K1".to_owned() });
        assert_eq!(learning.struck(), 0);
    }

    proptest! {
        /// Whatever is struck by whom: the list is one, and each stroke is heard as its player's.
        #[test]
        fn what_was_learnt_is_heard_so(
            strokes in prop::collection::vec((0usize..5, 0u8..2, 0u8..3, 30u8..50), 1..40),
        ) {
            let mut learning = Learning::new();
            let mut owned = Vec::new();
            for player in 0..5 {
                let code = format!("K{player}");
                learning.call(&code);
                for &(by, port, channel, note) in &strokes {
                    if by == player && learning.strike(["Left", "Right"][usize::from(port)], channel, note) == Lesson::Learnt {
                        owned.push((code.clone(), port, channel, note));
                    }
                }
            }
            let roster = learning.roster().expect("a list");
            let mut players = Players::listed(Grouping::ByPort, roster);
            let sources = ["Left", "Right"].map(|name| players.enter(SourceKind::Port, name));
            for (code, port, channel, note) in owned {
                let heard = players.at(sources[usize::from(port)], channel, Touched::Note(note)).expect("a note");
                prop_assert_eq!(players.player(heard).expect("known").label(), code);
            }
        }
    }
}
