//! Whose devices are there while a drill runs.

use std::collections::{BTreeSet, HashMap};
use std::ops::Range;

use input::{Input, PlayerId, Players};
use timebase::{Moment, Seconds};

use crate::asked::NEVER;

/// Before everything that is asked, and behind it.
pub(crate) fn always() -> Range<Moment> {
    Moment::ZERO - NEVER..Moment::ZERO + NEVER
}

/// When each player could not be heard, in the drill's own time.
#[derive(Debug, Default)]
pub(crate) struct Attendance {
    players: HashMap<PlayerId, Attended>,
}

#[derive(Debug, Default)]
struct Attended {
    /// Devices of the player that were never there in this drill: a second pad that stands at home is no loss.
    never: BTreeSet<String>,
    absent: Vec<Range<Moment>>,
    /// When what a device sent was held back, each by the number of its flood.
    held: Vec<(u64, Range<Moment>)>,
    is_gone: bool,
    /// The devices that were not there when it was last looked.
    missing: Vec<String>,
    /// The last stroke that was heard of each device, by its number.
    heard: HashMap<u16, Moment>,
}

/// Somebody's device has gone or is back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Change {
    Gone { id: PlayerId, from: Moment },
    Back { id: PlayerId, at: Moment },
}

impl Attendance {
    /// Notes who is there when the drill is made ready.
    pub(crate) fn begin(&mut self, players: &Players) -> Vec<Change> {
        self.look(players, always().start)
    }

    /// The same at a moment of the drill, when something has changed. Whoever is new has come in only now.
    pub(crate) fn look(&mut self, players: &Players, now: Moment) -> Vec<Change> {
        let mut changes = Vec::new();
        for player in players.all() {
            let id = player.id;
            let is_new = !self.players.contains_key(&id);
            let known = self.players.entry(id).or_default();
            if is_new {
                known.never = player.missing.iter().cloned().collect();
                if now > always().start {
                    known.absent.push(always().start..now);
                    changes.extend([Change::Gone { id, from: always().start }, Change::Back { id, at: now }]);
                }
            } else {
                known.never.retain(|device| player.missing.contains(device));
            }
            let lacks = player.missing.iter().any(|device| !known.never.contains(device));
            let is_gone = !player.is_there || lacks;
            match (known.is_gone, is_gone) {
                (false, true) => {
                    // It is noticed some time after; what was heard was heard.
                    let noticed = if now > always().start { now - Input::NOTICED_WITHIN } else { now };
                    let from = noticed.max(known.heard_last(player, players));
                    known.absent.push(from..always().end);
                    changes.push(Change::Gone { id, from });
                }
                (true, false) => {
                    if let Some(last) = known.absent.last_mut() {
                        last.end = now;
                    }
                    changes.push(Change::Back { id, at: now });
                }
                _ => {}
            }
            known.is_gone = is_gone;
            known.missing.clone_from(&player.missing);
        }
        changes
    }

    /// A stroke was heard: whoever struck is there, and was all the time if nothing else was known.
    pub(crate) fn heard(&mut self, id: PlayerId, source: u16, at: Moment) {
        let last = self.players.entry(id).or_default().heard.entry(source).or_insert(at);
        *last = at.max(*last);
    }

    /// Whether this one has struck anything in the drill.
    pub(crate) fn has_struck(&self, id: PlayerId) -> bool {
        self.players.get(&id).is_some_and(|known| !known.heard.is_empty())
    }

    /// What this player's device sent was held back in this stretch, by the flood of this number; whatever was known of it before. Says
    /// whether that is news.
    pub(crate) fn held_back(&mut self, id: PlayerId, flood: u64, stretch: Range<Moment>) -> bool {
        let held = &mut self.players.entry(id).or_default().held;
        match held.iter_mut().find(|(known, _)| *known == flood) {
            Some((_, known)) => {
                let before = std::mem::replace(known, stretch);
                before != *known
            }
            None => {
                held.push((flood, stretch));
                true
            }
        }
    }

    /// When this one could not be heard, as far as it is over or a device is gone.
    pub(crate) fn known(&self, id: PlayerId) -> Vec<Range<Moment>> {
        let Some(known) = self.players.get(&id) else { return Vec::new() };
        let held = known.held.iter().map(|(_, stretch)| stretch.clone());
        let over = held.filter(|stretch| stretch.end < always().end);
        known.absent.iter().cloned().chain(over).collect()
    }

    /// When none of these could be heard.
    pub(crate) fn absent(&self, ids: &[PlayerId]) -> Vec<Range<Moment>> {
        let of = |id: &PlayerId| {
            let held = |known: &Attended| known.held.iter().map(|(_, stretch)| stretch.clone()).collect();
            self.players.get(id).map_or_else(Vec::new, |known| [known.absent.clone(), held(known)].concat())
        };
        ids.iter().map(of).reduce(|one, other| together(&one, &other)).unwrap_or_default()
    }
}

impl Attended {
    /// Just after the last stroke of those devices that have gone now; the player's others tell nothing of them.
    fn heard_last(&self, player: &input::Player, players: &Players) -> Moment {
        let gone = |name: &&String| !self.missing.contains(name) && !self.never.contains(*name);
        let source = |name: &String| players.sources().iter().position(|source| source.name == *name);
        let heard = |name: &String| {
            let source = u16::try_from(source(name)?).ok()?;
            Some(*self.heard.get(&source)? + Seconds::from_nanos(1))
        };
        let last = player.missing.iter().filter(gone).map(|name| heard(name).unwrap_or(always().start));
        last.min().unwrap_or(always().start)
    }
}

/// What lies in stretches of both.
pub(crate) fn together(one: &[Range<Moment>], other: &[Range<Moment>]) -> Vec<Range<Moment>> {
    let pairs = one.iter().flat_map(|a| other.iter().map(move |b| a.start.max(b.start)..a.end.min(b.end)));
    pairs.filter(|both| both.start < both.end).collect()
}

#[cfg(test)]
mod tests {
    use input::{Entry, Grouping, Place, Roster, SourceKind};

    use super::*;

    fn at(ms: i64) -> Moment {
        Moment::ZERO + Seconds::from_millis(ms)
    }

    fn alone(absence: Range<Moment>) -> Vec<Range<Moment>> {
        vec![absence]
    }

    fn players() -> Players {
        let place = |name: &str| Place::port(name).expect("a name");
        let entries = vec![
            Entry::new("K1", vec![place("Left"), place("Right")]),
            Entry::new("K2", vec![place("Home"), place("School")]),
        ];
        Players::listed(Grouping::ByPort, Roster::new(entries).expect("a list"))
    }

    #[test]
    fn a_device_that_goes_is_missed_and_one_that_never_was_is_not() {
        let (k1, k2) = (PlayerId::new(0), PlayerId::new(1));
        let mut players = players();
        let sources = ["Left", "Right", "School"].map(|name| players.enter(SourceKind::Port, name));
        let mut attendance = Attendance::default();
        assert_eq!(attendance.begin(&players), []);
        attendance.heard(k1, sources[0], at(4_500));
        // The other hand tells nothing of the device that has gone.
        attendance.heard(k1, sources[1], at(4_900));
        players.mark(sources[0], false);
        let gone = Change::Gone { id: k1, from: at(4_500) + Seconds::from_nanos(1) };
        assert_eq!(attendance.look(&players, at(5_000)), [gone]);
        players.mark(sources[0], true);
        assert_eq!(attendance.look(&players, at(6_000)), [Change::Back { id: k1, at: at(6_000) }]);
        players.mark(sources[2], false);
        assert_eq!(attendance.look(&players, at(9_000)), [Change::Gone { id: k2, from: at(8_000) }]);
        assert_eq!(attendance.absent(&[k2]), alone(at(8_000)..always().end));
        // Two who share a turn are gone where both are.
        assert_eq!(attendance.absent(&[k1, k2]), []);
        // What was held back while it went on is known from its beginning on.
        let held = [at(7_000)..always().end, at(7_000)..always().end, at(7_000)..at(7_500)];
        assert_eq!(held.map(|stretch| attendance.held_back(k1, 7, stretch)), [true, false, true]);
        let of_k1 = attendance.absent(&[k1]);
        assert_eq!(of_k1, [at(4_500) + Seconds::from_nanos(1)..at(6_000), at(7_000)..at(7_500)]);
        // Somebody who was plugged in just now was not there before.
        players.mark(sources[2], true);
        let source = players.enter(SourceKind::Port, "Third");
        players.admit(source);
        attendance.look(&players, at(11_000));
        assert_eq!(attendance.absent(&[PlayerId::new(2)]), alone(always().start..at(11_000)));
    }

    #[test]
    fn who_is_not_there_at_the_beginning_is_never_there_unless_he_comes() {
        let mut players = players();
        players.enter(SourceKind::Port, "Right");
        let mut attendance = Attendance::default();
        attendance.begin(&players);
        assert_eq!(attendance.absent(&[PlayerId::new(0)]), [], "the right hand is there");
        assert_eq!(attendance.absent(&[PlayerId::new(1)]), [always()]);
        players.enter(SourceKind::Port, "Home");
        attendance.look(&players, at(1_000));
        assert_eq!(attendance.absent(&[PlayerId::new(1)]), alone(always().start..at(1_000)));
    }
}
