use std::collections::HashSet;

use timebase::Seconds;

use crate::limits::{CODE_CHARS, PLAYERS, RETRIGGER_MS};
use crate::{Error, Place};

/// Who plays on what: a list of players, each with a code and places on the devices.
///
/// Of two places that hold the same touch, the narrower one has it: K1 may have a whole port, and K2 of it the note 40.
/// Two players whose places cross without one lying within the other are refused, for nobody could say whose a stroke is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Roster {
    entries: Vec<Entry>,
}

/// One player of a [`Roster`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// What the player is called: a code rather than a name.
    pub code: String,
    /// Where the player strikes: one or several, two pads for two hands.
    pub places: Vec<Place>,
    /// What kind of thing is struck.
    pub instrument: Instrument,
    /// The player's own retrigger mask; `None` for the one that serves all.
    pub retrigger: Option<Seconds>,
}

/// What kind of thing is struck.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Instrument {
    /// Pads and drums: nobody is expected to hold a stroke.
    #[default]
    Pad,
    /// Keys that are held: their releases are judged, and keys struck together are one attack.
    Keys,
}

impl Entry {
    /// A player on pads at these places, with the mask that serves all.
    #[must_use]
    pub fn new(code: &str, places: Vec<Place>) -> Self {
        Self { code: code.to_owned(), places, instrument: Instrument::Pad, retrigger: None }
    }
}

impl Roster {
    /// A list of these players.
    ///
    /// # Errors
    /// If a code is empty, too long, not on one line or there twice, a player has no place, a mask lies outside its
    /// limit, or places of two players cross.
    pub fn new(entries: Vec<Entry>) -> Result<Self, Error> {
        let count = i64::try_from(entries.len()).unwrap_or(i64::MAX);
        if !PLAYERS.holds(count) {
            return Err(Error::OutOfRange { given: count, limit: PLAYERS });
        }
        let mut codes = HashSet::new();
        for entry in &entries {
            check_code(&entry.code)?;
            if !codes.insert(entry.code.as_str()) {
                return Err(Error::CodeTwice { code: entry.code.clone() });
            }
            if entry.places.is_empty() {
                return Err(Error::NoPlace { code: entry.code.clone() });
            }
            if let Some(mask) = entry.retrigger {
                check_mask(mask)?;
            }
        }
        for (index, entry) in entries.iter().enumerate() {
            for other in &entries[..index] {
                check_apart(other, entry)?;
            }
        }
        Ok(Self { entries })
    }

    /// The players, in their order.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Whether nobody is listed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// The same list with another player, or with other places for a player who is there.
    ///
    /// # Errors
    /// As [`Roster::new`].
    pub fn with(mut self, entry: Entry) -> Result<Self, Error> {
        match self.entries.iter_mut().find(|there| there.code == entry.code) {
            Some(there) => *there = entry,
            None => self.entries.push(entry),
        }
        Self::new(self.entries)
    }

    /// The same list without this player; the same if there is none of that code.
    #[must_use]
    pub fn without(mut self, code: &str) -> Self {
        self.entries.retain(|entry| entry.code != code);
        self
    }
}

/// Whether a mask is one.
///
/// # Errors
/// Outside [`RETRIGGER_MS`].
pub fn check_mask(mask: Seconds) -> Result<(), Error> {
    let most = Seconds::from_millis(RETRIGGER_MS.most);
    if mask < Seconds::ZERO || mask > most {
        let given = mask.as_nanos().div_euclid(1_000_000);
        return Err(Error::OutOfRange { given, limit: RETRIGGER_MS });
    }
    Ok(())
}

fn check_code(code: &str) -> Result<(), Error> {
    let chars = i64::try_from(code.trim().chars().count()).unwrap_or(i64::MAX);
    if !CODE_CHARS.holds(chars) {
        return Err(Error::OutOfRange { given: chars, limit: CODE_CHARS });
    }
    if code.trim() != code || code.chars().any(char::is_control) {
        return Err(Error::NoCode { given: code.to_owned() });
    }
    Ok(())
}

fn check_apart(one: &Entry, other: &Entry) -> Result<(), Error> {
    for (a, b) in one.places.iter().flat_map(|a| other.places.iter().map(move |b| (a, b))) {
        let nested = a.is_within(b) != b.is_within(a);
        if a.port_name() == b.port_name() && a.meets(b) && !nested {
            return Err(Error::PlacesCross {
                one: format!("{}: {a}", one.code),
                other: format!("{}: {b}", other.code),
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{NoteRange, Touch};

    fn pad(channel: Option<u8>, notes: Option<(u8, u8)>) -> Place {
        let mut place = Place::port("Pad").expect("a name");
        if let Some(channel) = channel {
            place = place.on_channel(channel).expect("a channel");
        }
        if let Some((least, most)) = notes {
            let notes = NoteRange::new(least, most).expect("a range");
            place = place.with_touch(Touch::Notes(notes)).expect("a touch");
        }
        place
    }

    fn roster(places: &[Place]) -> Result<Roster, Error> {
        let entry = |(index, place): (usize, &Place)| Entry::new(&format!("K{index}"), vec![place.clone()]);
        Roster::new(places.iter().enumerate().map(entry).collect())
    }

    #[test]
    fn nested_places_are_welcome_and_crossing_ones_refused() {
        assert!(roster(&[pad(None, None), pad(Some(9), None), pad(Some(9), Some((38, 40)))]).is_ok());
        assert!(roster(&[pad(None, Some((36, 40))), pad(None, Some((41, 50)))]).is_ok());
        let crossed =
            roster(&[pad(None, Some((36, 40))), pad(None, Some((40, 50)))]).expect_err("40 is both's");
        let said = crossed.to_string();
        assert!(said.contains("K0: Pad, notes 36-40") && said.contains("K1: Pad, notes 40-50"), "{said}");
        assert!(roster(&[pad(None, None), pad(None, None)]).is_err(), "one place twice");
        assert!(roster(&[pad(Some(9), None), pad(None, Some((36, 40)))]).is_err(), "neither is narrower");
    }

    #[test]
    fn codes_are_told_apart() {
        let check = |codes: &[&str], word: &str| {
            let entry = |(at, code): (u8, &&str)| Entry::new(code, vec![pad(Some(at), None)]);
            let said = Roster::new((0..).zip(codes).map(entry).collect()).expect_err("refused").to_string();
            assert!(said.contains(word), "{said}");
        };
        check(&["K1", "K1"], "\"K1\"");
        check(&[""], "1 to 40");
        check(&["K\n1"], "one line");
        let nowhere = Roster::new(vec![Entry::new("K1", Vec::new())]).expect_err("no place");
        assert!(nowhere.to_string().contains("K1"), "{nowhere}");
        let mask = Some(Seconds::from_millis(101));
        let slow = Entry { retrigger: mask, ..Entry::new("K1", vec![pad(None, None)]) };
        assert!(Roster::new(vec![slow]).expect_err("a mask").to_string().contains("0 to 100"));
    }

    #[test]
    fn a_player_is_put_elsewhere_and_taken_out() {
        let list = roster(&[pad(Some(0), None), pad(Some(1), None)]).expect("apart");
        let moved = list.with(Entry::new("K1", vec![pad(Some(5), None)])).expect("apart");
        assert_eq!(moved.entries()[1].places[0].channel(), Some(5));
        assert_eq!(moved.without("K0").entries().len(), 1);
    }
}
