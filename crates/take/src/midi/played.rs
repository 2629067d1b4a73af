use std::collections::BTreeSet;

use midly::num::{u15, u24};
use midly::{Format, Header, MetaMessage, Timing};
use timebase::{Moment, Seconds};

use super::track::{Track, write};
use super::{ACCENT_VELOCITY, ACCENTED_CLICK_KEY, BAR_ONE, CLICK_KEY, CLICK_TRACK, CLICK_VELOCITY};
use crate::limits::{TAKE_SECONDS, UNRELEASED};
use crate::played::Labels;
use crate::{Click, Error, Player, Stroke};

/// A played take as a MIDI file holds it. All moments count from the beginning of the take.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MidiTake {
    /// The title, if it has one.
    pub title: Option<String>,
    /// Where count 1 of bar 1 falls, if the file says so.
    pub bar_one: Option<Moment>,
    /// The click as it sounded, in order of time.
    pub clicks: Vec<Click>,
    /// Everyone who struck.
    pub players: Vec<Player>,
    /// The labels of those who play on another channel than the percussion one: on keys, as far as is known. Nobody, where the
    /// file was not read from somewhere else.
    pub on_keys: BTreeSet<String>,
    /// How long the take lasts.
    pub end: Moment,
}

/// Half a second a quarter, the tempo a MIDI file has when it sets none.
const MICROS_PER_QUARTER: u32 = 500_000;
/// So a tick is 20 µs: five times finer than strokes are known.
const TICKS_PER_QUARTER: u16 = 25_000;
const NANOS_PER_TICK: i64 = 20_000;
const CLICK_LENGTH: Seconds = Seconds::from_millis(30);

/// A played take as a Standard MIDI file of format 1, on the take's own time.
///
/// Tick 0 is the beginning of the take and a tick lasts 20 µs, so a moment is off by 10 µs at most. The bar lines of
/// another program mean nothing in it: what was played has no meter. Its tracks: one with the title, the tempo and
/// the marker [`BAR_ONE`]; `click`, the click as it sounded; one a player, named by the label, with every stroke on
/// the percussion channel, except those marked as a pad's own bouncing or another pad's blow. A MIDI file must end each note: where the release is not known it is written 50 ms after
/// the stroke, and at the latest where the same key is struck again.
///
/// # Errors
/// If a moment lies before the beginning or more than a day after it.
pub fn write_take(take: &MidiTake) -> Result<Vec<u8>, Error> {
    write_played(take.title.as_deref(), take.bar_one, &take.clicks, &take.players, take.end)
}

/// The same of what stands elsewhere. Only one player's track is made at a time.
pub(crate) fn write_played(
    title: Option<&str>,
    bar_one: Option<Moment>,
    clicks: &[Click],
    players: &[Player],
    end: Moment,
) -> Result<Vec<u8>, Error> {
    let mut conductor = title.map_or_else(Track::default, Track::named);
    conductor.meta(0, MetaMessage::Tempo(u24::from(MICROS_PER_QUARTER)));
    if let Some(bar_one) = bar_one {
        conductor.meta(tick(bar_one)?, MetaMessage::Marker(BAR_ONE.as_bytes()));
    }
    let mut labels = Labels::default();
    let label =
        |(index, player): (usize, &Player)| labels.fit(&player.label, &format!("player {}", index + 1));
    let labels: Vec<String> = players.iter().enumerate().map(label).collect();
    let played = players.iter().zip(&labels).map(|(player, label)| strokes(&player.strokes, label, tick));
    let tracks = [Ok(conductor), click(clicks)].into_iter().chain(played);
    let header = Header::new(Format::Parallel, Timing::Metrical(u15::from(TICKS_PER_QUARTER)));
    write(header, tracks, tick(end)?)
}

/// The nearest tick, a half up.
fn tick(moment: Moment) -> Result<u64, Error> {
    let nanos = moment.since_zero().as_nanos();
    let seconds = nanos.div_euclid(1_000_000_000);
    let ticks = nanos.saturating_add(NANOS_PER_TICK / 2).div_euclid(NANOS_PER_TICK);
    match u64::try_from(ticks) {
        Ok(ticks) if TAKE_SECONDS.holds(seconds.max(0)) => Ok(ticks),
        _ => Err(Error::OutOfRange { given: seconds, limit: TAKE_SECONDS }),
    }
}

fn click(clicks: &[Click]) -> Result<Track<'static>, Error> {
    let mut track = Track::named(CLICK_TRACK);
    for click in clicks {
        let (key, velocity) =
            if click.accented { (ACCENTED_CLICK_KEY, ACCENT_VELOCITY) } else { (CLICK_KEY, CLICK_VELOCITY) };
        let on = tick(click.at)?;
        track.note(on, tick(click.at + CLICK_LENGTH)?, key, velocity);
    }
    Ok(track)
}

/// One player's strokes as a track, each moment at the tick that `tick` gives.
pub(super) fn strokes<'a>(
    strokes: &[Stroke],
    label: &'a str,
    tick: impl Fn(Moment) -> Result<u64, Error>,
) -> Result<Track<'a>, Error> {
    let mut track = Track::named(label);
    // From the last stroke to the first, so that the next stroke of each key is known.
    let mut next: [Option<Moment>; 128] = [None; 128];
    for &Stroke { at, note, velocity, released, .. } in
        strokes.iter().rev().filter(|s| !s.role.is_of_the_pad())
    {
        let struck_again = &mut next[usize::from(note.min(127))];
        let off = released.unwrap_or(at + UNRELEASED).max(at);
        let off = struck_again.filter(|again| *again > at).map_or(off, |again| off.min(again));
        *struck_again = Some(at);
        track.note(tick(at)?, tick(off)?, note, velocity);
    }
    Ok(track)
}

#[cfg(test)]
mod tests {
    use super::super::read_take;
    use super::*;
    use crate::Role;
    use proptest::prelude::*;

    fn moment() -> impl Strategy<Value = Moment> {
        (0i64..700_000_000).prop_map(|micros| Moment::ZERO + Seconds::from_micros(micros))
    }

    fn player(label: String) -> impl Strategy<Value = Player> {
        let stroke = (moment(), 0u8..128, 1u8..128).prop_map(|(at, note, velocity)| Stroke {
            at,
            note,
            velocity,
            released: None,
            origin: None,
            role: Role::Attack,
        });
        prop::collection::vec(stroke, 1..60).prop_map(move |mut strokes| {
            strokes.sort_by_key(|stroke| stroke.at);
            Player { label: label.clone(), strokes }
        })
    }

    fn take() -> impl Strategy<Value = MidiTake> {
        let clicks = prop::collection::vec((moment(), any::<bool>()), 0..30);
        (player("pad A".to_owned()), player("pad B".to_owned()), prop::option::of(moment()), clicks).prop_map(
            |(a, b, bar_one, clicks)| {
                let mut clicks: Vec<_> =
                    clicks.into_iter().map(|(at, accented)| Click { at, accented }).collect();
                clicks.sort_by_key(|click| click.at);
                let end = Moment::ZERO + Seconds::from_millis(701_000);
                MidiTake {
                    title: Some("Tin Roof".to_owned()),
                    bar_one,
                    clicks,
                    players: vec![a, b],
                    end,
                    ..MidiTake::default()
                }
            },
        )
    }

    fn near(a: Moment, b: Moment) -> bool {
        (a - b).abs() <= Seconds::from_micros(10)
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_again_within_ten_microseconds(take in take()) {
            let read = read_take(&write_take(&take).expect("within a day")).expect("our own file");
            prop_assert_eq!(&read.title, &take.title);
            prop_assert_eq!(read.bar_one.is_some(), take.bar_one.is_some());
            prop_assert!(read.bar_one.zip(take.bar_one).is_none_or(|(a, b)| near(a, b)));
            prop_assert!(near(read.end, take.end));
            prop_assert_eq!(read.clicks.len(), take.clicks.len());
            for (read, written) in read.clicks.iter().zip(&take.clicks) {
                prop_assert!(near(read.at, written.at));
            }
            prop_assert_eq!(read.players.len(), take.players.len());
            for (read, written) in read.players.iter().zip(&take.players) {
                prop_assert_eq!(&read.label, &written.label);
                prop_assert_eq!(read.strokes.len(), written.strokes.len());
                for (read, written) in read.strokes.iter().zip(&written.strokes) {
                    prop_assert!(near(read.at, written.at));
                    prop_assert!(read.released.is_some_and(|released| released > read.at));
                }
                let keys = |player: &Player| {
                    let mut keys: Vec<_> = player.strokes.iter().map(|s| (s.note, s.velocity)).collect();
                    keys.sort_unstable();
                    keys
                };
                prop_assert_eq!(keys(read), keys(written));
            }
        }
    }

    #[test]
    fn a_known_release_is_kept_and_a_second_stroke_ends_the_first() {
        let at = |ms| Moment::ZERO + Seconds::from_millis(ms);
        let stroke = |on, released: Option<i64>| Stroke {
            at: at(on),
            note: 38,
            velocity: 64,
            released: released.map(at),
            origin: None,
            role: Role::Attack,
        };
        let strokes =
            vec![stroke(100, Some(180)), stroke(300, Some(900)), stroke(500, None), stroke(600, None)];
        let take = MidiTake {
            players: vec![Player { label: "A".to_owned(), strokes }],
            end: at(1_000),
            ..MidiTake::default()
        };
        let read = read_take(&write_take(&take).expect("within a day")).expect("our own file");
        let released: Vec<_> = read.players[0].strokes.iter().map(|stroke| stroke.released).collect();
        assert_eq!(released, [Some(at(180)), Some(at(500)), Some(at(550)), Some(at(650))]);
    }

    #[test]
    fn moments_outside_a_day_are_refused() {
        for at in [Seconds::from_millis(-1), Seconds::from_millis(90_000_000)] {
            let take = MidiTake { bar_one: Some(Moment::ZERO + at), ..MidiTake::default() };
            let error = write_take(&take).expect_err("outside").to_string();
            assert!(error.contains("from 0 to 86400"), "{error}");
        }
    }
}
