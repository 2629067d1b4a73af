use proptest::prelude::*;

use super::*;
use crate::{Entry, NoteRange, Place, Touch};

const SNARE: Touched = Touched::Note(38);

fn check(grouping: Grouping, heard: &[(u16, u8)], expected: &[&str]) -> Players {
    let mut players = Players::new(grouping);
    assert_eq!(players.enter(SourceKind::Port, "Pad A"), 0);
    assert_eq!(players.enter(SourceKind::Port, "Pad B"), 1);
    assert_eq!(players.enter(SourceKind::Keyboard, "keyboard"), 2);
    (0..3).for_each(|source| players.admit(source));
    let mut struck = |&(source, channel): &(u16, u8)| players.at(source, channel, SNARE).expect("a note");
    let found: Vec<_> = heard.iter().map(|heard| struck(heard).to_string()).collect();
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

fn place(port: &str, channel: Option<u8>, touch: Touch) -> Place {
    let place = Place::port(port).expect("a name").with_touch(touch).expect("a touch");
    channel.map_or(place.clone(), |channel| place.on_channel(channel).expect("a channel"))
}

fn notes(least: u8, most: u8) -> Touch {
    Touch::Notes(NoteRange::new(least, most).expect("a range"))
}

fn listed(entries: &[(&str, Vec<Place>)]) -> Players {
    let entries = entries.iter().map(|(code, places)| Entry::new(code, places.clone())).collect();
    Players::listed(Grouping::ByPort, Roster::new(entries).expect("a list"))
}

/// Four pupils: two on one module by note, one with a pad for each hand, one at the keyboard beside.
#[test]
fn a_section_is_told_apart() {
    let mut players = listed(&[
        ("K1", vec![place("Module", Some(9), notes(36, 40))]),
        ("K2", vec![place("Module", Some(9), notes(41, 50))]),
        ("K3", vec![place("Left", None, Touch::AnyNote), place("Right", None, Touch::AnyNote)]),
        ("K4", vec![place("Keys", None, Touch::AnyNote)]),
        ("beat", vec![place("Keys", None, Touch::Pedal(64))]),
    ]);
    for name in ["Drum Module MIDI 1", "Right Pad", "Left Pad", "Stage Keys"] {
        let source = players.enter(SourceKind::Port, name);
        players.admit(source);
    }
    assert_eq!(players.all().len(), 5, "nobody but the listed");
    let mut check = |source, channel, touched, expected: Option<&str>| {
        let id = players.at(source, channel, touched);
        let label = id.and_then(|id| players.player(id)).map(Player::label);
        assert_eq!(label.as_deref(), expected, "{source} {channel} {touched:?}");
    };
    check(0, 9, SNARE, Some("K1"));
    check(0, 9, Touched::Note(41), Some("K2"));
    check(1, 0, SNARE, Some("K3"));
    check(2, 5, SNARE, Some("K3"));
    check(3, 0, Touched::Note(60), Some("K4"));
    check(3, 0, Touched::Pedal(64), Some("beat"));
    check(3, 0, Touched::Pedal(4), None);
    // Nobody of the list strikes there: a player of their own, and no stroke lost.
    check(0, 9, Touched::Note(60), Some("P6"));
    check(0, 0, SNARE, Some("P6"));
}

#[test]
fn a_player_lacks_what_is_not_there() {
    let mut players = listed(&[
        ("K1", vec![place("Left", None, Touch::AnyNote), place("Right", None, Touch::AnyNote)]),
        ("K2", vec![place(Place::SPACE_BAR, None, Touch::AnyNote)]),
    ]);
    let missing = |players: &Players, index: usize| players.all()[index].missing.clone();
    assert_eq!(missing(&players, 0), ["Left", "Right"]);
    assert!(missing(&players, 1).is_empty());
    let left = players.enter(SourceKind::Port, "Left Pad");
    assert_eq!(missing(&players, 0), ["Right"]);
    players.enter(SourceKind::Port, "Right Pad");
    assert!(missing(&players, 0).is_empty());
    players.mark(left, false);
    assert_eq!(missing(&players, 0), ["Left Pad"]);
    players.mark(left, true);
    assert!(missing(&players, 0).is_empty());
    let bar = players.enter(SourceKind::Keyboard, "keyboard");
    let struck = players.at(bar, 0, Touched::Note(39)).expect("a note");
    assert_eq!(players.player(struck).map(Player::label).as_deref(), Some("K2"));
}

/// A switch that starts the drill is no pupil; a pad that does so with one of its notes is one as soon as another is struck.
#[test]
fn what_gives_orders_is_nobodys_until_it_is_played_on() {
    let bell = place("Bells", None, notes(51, 51));
    let places = [place("Ped", None, Touch::Pedal(64)), bell, place("Module", None, notes(60, 60))];
    let controls = Controls::new(places.into_iter().map(|place| (crate::Order::Start, place)).collect());
    let entries = vec![Entry::new("K1", vec![place("Module", None, notes(36, 40))])];
    let roster = Roster::new(entries).expect("a list");
    let mut players = Players::listed(Grouping::ByPort, roster).beside(&controls);
    for name in ["Ped", "Bells", "Drum Module", "Pad"] {
        let source = players.enter(SourceKind::Port, name);
        players.admit(source);
    }
    let names =
        |players: &Players| players.all().iter().map(|player| player.name.clone()).collect::<Vec<_>>();
    assert_eq!(names(&players), ["Module, notes 36-40", "Pad"]);
    assert_eq!(players.at(1, 9, SNARE).map(|id| id.to_string()).as_deref(), Some("P3"));
    assert_eq!(names(&players), ["Module, notes 36-40", "Pad", "Bells"]);
}

#[test]
fn who_has_pedals_alone_keeps_the_pulse_and_is_there_with_one_of_several() {
    let mut players = listed(&[
        ("beat", vec![place("Ped", None, Touch::Pedal(64)), place("Keys", None, Touch::Pedal(4))]),
        ("K1", vec![place("Pad", None, Touch::AnyNote), place("Ped", None, Touch::Pedal(66))]),
    ]);
    let state = |players: &Players| {
        players.all().iter().map(|player| (player.is_there, player.keeps_pulse)).collect::<Vec<_>>()
    };
    assert_eq!(state(&players), [(false, true), (false, false)]);
    let pad = players.enter(SourceKind::Port, "Pad");
    assert_eq!(state(&players), [(false, true), (true, false)]);
    players.mark(pad, false);
    players.enter(SourceKind::Port, "Keys");
    assert_eq!(state(&players), [(true, true), (false, false)]);
}

#[test]
fn two_devices_of_one_name_are_two() {
    let mut players = listed(&[
        ("K1", vec![place("Pad", None, Touch::AnyNote)]),
        ("K2", vec![place("Pad #2", None, Touch::AnyNote)]),
    ]);
    let (first, second) = (players.enter(SourceKind::Port, "Pad"), players.enter(SourceKind::Port, "Pad"));
    let third = players.enter(SourceKind::Port, "Pad");
    let names: Vec<_> = players.sources().iter().map(|source| source.name.as_str()).collect();
    assert_eq!(names, ["Pad", "Pad #2", "Pad #3"]);
    let mut label = |source| players.at(source, 0, SNARE).expect("a note").to_string();
    assert_eq!([label(first), label(second), label(third)], ["P1", "P2", "P3"]);
}

/// A whole name is meant before a part of one, in whatever order devices are found.
#[test]
fn the_whole_name_is_meant_before_a_part_of_it() {
    for names in [["Pad", "Pad Two"], ["Pad Two", "Pad"]] {
        let mut players = listed(&[("K1", vec![place("Pad", None, Touch::AnyNote)])]);
        let sources = names.map(|name| players.enter(SourceKind::Port, name));
        for (name, source) in names.into_iter().zip(sources) {
            let label = players.at(source, 0, SNARE).expect("a note").to_string();
            assert_eq!(label, if name == "Pad" { "P1" } else { "P2" }, "{names:?}");
        }
    }
}

proptest! {
    /// Whoever's place is the smallest set of touches with the struck one in it has the stroke: reckoned here by counting
    /// the touches of every place.
    #[test]
    fn the_narrowest_place_has_the_stroke(
        places in prop::collection::vec((prop::option::of(0u8..3), prop::option::of((0u8..8, 0u8..8))), 1..8),
        struck in prop::collection::vec((0u8..3, 0u8..8), 1..20),
    ) {
        let mut entries: Vec<Entry> = Vec::new();
        for (index, (channel, range)) in places.into_iter().enumerate() {
            let touch = range.map_or(Touch::AnyNote, |(a, b)| notes(a.min(b), a.max(b)));
            let entry = Entry::new(&format!("K{index}"), vec![place("Pad", channel, touch)]);
            // Those that cross one that is there are left out, as the list demands.
            let with: Vec<Entry> = entries.iter().cloned().chain([entry]).collect();
            if Roster::new(with.clone()).is_ok() {
                entries = with;
            }
        }
        let size = |place: &Place| {
            (0..16u8).flat_map(|channel| (0..128u8).map(move |note| (channel, note)))
                .filter(|&(channel, note)| place.holds(channel, Touched::Note(note)))
                .count()
        };
        let mut players = Players::listed(Grouping::ByPort, Roster::new(entries.clone()).expect("apart"));
        let source = players.enter(SourceKind::Port, "Pad");
        for (channel, note) in struck {
            let id = players.at(source, channel, Touched::Note(note)).expect("a note");
            let expected = (0u16..).zip(&entries)
                .filter(|(_, entry)| entry.places[0].holds(channel, Touched::Note(note)))
                .min_by_key(|(_, entry)| size(&entry.places[0]))
                .map_or(number(entries.len()), |(index, _)| index);
            prop_assert_eq!(id.index(), expected);
        }
    }
}
