use std::collections::BTreeSet;

use crate::{Entry, Error, NoteRange, Place, Roster, Touch, Touched, TouchedAt};

/// Who plays on what, learnt by playing: one player after the other strikes everything that is theirs.
///
/// Of what was struck, each player gets as much as nobody else struck: the whole port; or of it a channel; or of that the
/// notes from the lowest to the highest struck, and where others struck in between, each note by itself. A pedal is always
/// by itself.
#[derive(Clone, Debug, Default)]
pub struct Learning {
    players: Vec<Learnt>,
    /// Who was listed before.
    listed: Vec<Entry>,
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
    touched: Touched,
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

    /// Nothing learnt yet, beside those who are listed: they keep what is theirs until they are called themselves.
    #[must_use]
    pub fn beside(listed: &Roster) -> Self {
        Self { players: Vec::new(), listed: listed.entries().to_vec() }
    }

    /// It is this player's turn to strike.
    pub fn call(&mut self, code: &str) {
        self.players.push(Learnt { code: code.to_owned(), struck: BTreeSet::new() });
    }

    /// The player whose turn it is struck this note on a channel of a port.
    pub fn strike(&mut self, port: &str, channel: u8, note: u8) -> Lesson {
        self.touch(&TouchedAt { port: port.to_owned(), channel, touched: Touched::Note(note) })
    }

    /// The player whose turn it is struck this, or trod on it.
    pub fn touch(&mut self, touch: &TouchedAt) -> Lesson {
        let TouchedAt { port, channel, touched } = touch.clone();
        let struck = Struck { port, channel, touched };
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

    /// The list that was learnt. Players who struck nothing are left out, or stay as they were listed.
    ///
    /// # Errors
    /// If a code is none, or is there twice, or two players' places cross.
    pub fn roster(&self) -> Result<Roster, Error> {
        let mut entries = self.listed.clone();
        for (index, player) in self.players.iter().enumerate() {
            let places = self.places(index)?;
            if places.is_empty() {
                continue;
            }
            match self.listed.iter().position(|entry| entry.code == player.code) {
                Some(listed) => entries[listed].places = places,
                None => entries.push(Entry::new(&player.code, places)),
            }
        }
        Roster::new(entries)
    }

    /// Whether none of those who are listed, and were not called, has any of this.
    fn is_free(&self, place: &Place) -> bool {
        let called = |entry: &&Entry| self.players.iter().any(|player| player.code == entry.code);
        let others = self.listed.iter().filter(|entry| !called(entry)).flat_map(|entry| &entry.places);
        // A listed name may be a part of the device's.
        let port = place.port_name().to_lowercase();
        others
            .filter(|other| port.contains(&other.port_name().to_lowercase()))
            .all(|other| !other.meets(place))
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
            for (channel, controller) in own.iter().filter(|struck| struck.port == port).filter_map(pedal) {
                places.push(place.clone().on_channel(channel)?.with_touch(Touch::Pedal(controller))?);
            }
            let own: Vec<(u8, u8)> =
                own.iter().filter(|struck| struck.port == port).filter_map(note).collect();
            let others: Vec<(u8, u8)> =
                self.others(index).filter(|other| other.port == port).filter_map(note).collect();
            if own.is_empty() {
                continue;
            }
            if others.is_empty() && self.is_free(&place) {
                places.push(place);
                continue;
            }
            let channels: BTreeSet<u8> = own.iter().map(|&(channel, _)| channel).collect();
            for channel in channels {
                let of = |struck: &[(u8, u8)]| -> Vec<u8> {
                    struck.iter().filter(|(on, _)| *on == channel).map(|&(_, note)| note).collect()
                };
                places.extend(self.on_channel(
                    place.clone().on_channel(channel)?,
                    &of(&own),
                    &of(&others),
                )?);
            }
        }
        Ok(places)
    }

    /// What of a channel is a player's who struck the rising `notes`, where others struck `taken`.
    fn on_channel(&self, channel: Place, notes: &[u8], taken: &[u8]) -> Result<Vec<Place>, Error> {
        if taken.is_empty() && self.is_free(&channel) {
            return Ok(vec![channel]);
        }
        let of = |range| channel.clone().with_touch(Touch::Notes(range));
        let places: Vec<Place> = ranges(notes, taken)?.into_iter().map(of).collect::<Result<_, _>>()?;
        if places.iter().all(|place| self.is_free(place)) {
            return Ok(places);
        }
        // Within what is somebody's who is listed, only what was struck is taken away from them.
        notes.iter().map(|&note| of(NoteRange::new(note, note)?)).collect()
    }
}

fn note(struck: &Struck) -> Option<(u8, u8)> {
    if let Touched::Note(note) = struck.touched { Some((struck.channel, note)) } else { None }
}

fn pedal(struck: &Struck) -> Option<(u8, u8)> {
    if let Touched::Pedal(controller) = struck.touched { Some((struck.channel, controller)) } else { None }
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
    use crate::{Grouping, Players, SourceKind};

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

    #[test]
    fn those_who_are_listed_keep_what_is_theirs() {
        let pad = |text: &str| Place::port(text).expect("a name");
        let mut first = Entry::new("K1", vec![pad("module")]);
        first.retrigger = Some(timebase::Seconds::from_millis(30));
        let listed = Roster::new(vec![first, Entry::new("K2", vec![pad("Left")])]).expect("a list");
        let check = |learnt: &[(&str, &[TouchedAt])], expected: &[&str]| {
            let mut learning = Learning::beside(&listed);
            for (code, touches) in learnt {
                learning.call(code);
                for touch in *touches {
                    assert_eq!(learning.touch(touch), Lesson::Learnt);
                }
            }
            let roster = learning.roster().expect("a list");
            let told = |entry: &Entry| {
                let places: Vec<_> = entry.places.iter().map(ToString::to_string).collect();
                format!("{}: {}", entry.code, places.join(" and "))
            };
            let told: Vec<_> = roster.entries().iter().map(told).collect();
            assert_eq!(told, expected);
            assert_eq!(roster.entries()[0].retrigger, listed.entries()[0].retrigger);
        };
        let at = |port: &str, channel, touched| TouchedAt { port: port.to_owned(), channel, touched };
        let struck = |port, note| at(port, 9, Touched::Note(note));
        // K3 takes two pads out of what is K1's, a port of its own, and a pedal.
        check(
            &[("K3", &[struck("Big Module", 40), struck("Big Module", 42), struck("Right", 1)])],
            &[
                "K1: module",
                "K2: Left",
                "K3: Big Module, channel 10, note 40 and Big Module, channel 10, note 42 and Right",
            ],
        );
        check(
            &[("beat", &[at("Left", 0, Touched::Pedal(64))])],
            &["K1: module", "K2: Left", "beat: Left, channel 1, pedal 64"],
        );
        // Who is called again gets anew what nobody else has; who strikes nothing stays.
        check(&[("K1", &[struck("Right", 40)]), ("K2", &[])], &["K1: Right", "K2: Left"]);
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
