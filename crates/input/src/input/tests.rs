use super::*;
use crate::StrokeKind;

const MS: Seconds = Seconds::from_millis(1);

fn at(ms: i64) -> HostTime {
    HostTime::from_nanos(ms * 1_000_000)
}

#[test]
fn a_replayed_take_comes_out_as_strokes() {
    let input = Input::new(&InputSettings::default());
    let (mut a, mut b) = (input.replay("take, track 1"), input.replay("take, track 2"));
    a.send(&[0x99, 38, 100], at(0), MS);
    b.send(&[0x99, 38, 90], at(3), MS);
    a.send(&[0x89, 38, 0, 0x99, 38, 20], at(10), MS);
    a.send(&[0x99, 38, 80], at(500), MS);
    let strokes: Vec<_> = input.strokes().try_iter().collect();
    let told: Vec<_> = strokes
        .iter()
        .map(|stroke| (stroke.player.to_string(), stroke.kind, stroke.velocity, stroke.retrigger))
        .collect();
    assert_eq!(
        told,
        [
            ("P1".to_owned(), StrokeKind::On, 100, false),
            ("P2".to_owned(), StrokeKind::On, 90, false),
            ("P1".to_owned(), StrokeKind::Off, 0, false),
            ("P1".to_owned(), StrokeKind::On, 20, true),
            ("P1".to_owned(), StrokeKind::On, 80, false),
        ]
    );
    assert_eq!(input.lost(), 0);
    assert_eq!(input.players().all()[1].name, "take, track 2");
}

#[test]
fn channels_of_a_replay_are_players_where_asked_for() {
    let settings = InputSettings { grouping: Grouping::ByChannel, ..InputSettings::default() };
    let mut input = Input::new(&settings);
    input.strike_key(at(0), MS);
    let mut take = input.replay("take");
    take.send(&[0x91, 38, 100, 0x90, 38, 100, 0x91, 40, 100], at(1), MS);
    let players: Vec<_> = input.strokes().try_iter().map(|stroke| stroke.player.to_string()).collect();
    assert_eq!(players, ["P1", "P2", "P3", "P2"]);
}

#[test]
fn the_keyboard_is_one_player() {
    let mut input = Input::new(&InputSettings::default());
    let resolution = Seconds::from_millis(17);
    let first = input.strike_key(at(1), resolution);
    assert_eq!(input.strike_key(at(2), resolution), first);
    let stroke = input.strokes().try_recv().expect("a stroke");
    assert_eq!((stroke.stamp, stroke.resolution, stroke.is_attack()), (at(1), resolution, true));
}

#[test]
fn without_a_system_there_are_no_ports() {
    let input = Input::new(&InputSettings::default());
    assert_eq!(input.ports(), Err(Error::NotAttached));
    assert_eq!(input.open_all(), Err(Error::NotAttached));
    assert_eq!(input.system_name(), None);
}
