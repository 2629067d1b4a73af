use rhythm::Meter;
use timebase::{Moment, Position, Ratio, Span, Tempo, TempoChange, TempoMap};

use super::BAR_ONE;
use super::clock::{Clock, Division};
use super::read::File;
use crate::Error;

/// The tempo, the meters and the bars that a MIDI file says it has.
#[derive(Clone, Debug, PartialEq)]
pub struct MidiGrid {
    /// The tempo, from count 1 of bar 1.
    pub tempo: TempoMap,
    /// When count 1 of bar 1 falls, from the beginning of the file.
    pub bar_one: Moment,
    /// The meters, each with the number of the bar from which it holds; the first from bar 1.
    pub meters: Vec<(i64, Meter)>,
    /// Whether the file says a meter at all; where it does not, 4/4 is what the format supposes.
    pub says_meter: bool,
}

/// Reads the grid of any Standard MIDI file of format 0 or 1; `None` for a file in SMPTE time, which has none.
///
/// Count 1 of bar 1 is where the marker `bar 1` stands; else behind a first bar that is shorter than the second, which
/// is a pickup; else the beginning of the file. A change of meter inside a bar holds from the next bar on. Tempos are
/// rounded to a thousandth of a beat a minute, or to the whole number that the file's microseconds come from (one more or less
/// is no other tempo).
///
/// # Errors
/// As [`read_take`](super::read_take), and if a tempo or a meter cannot be written.
pub fn read_grid(bytes: &[u8]) -> Result<Option<MidiGrid>, Error> {
    let file = File::read(bytes)?;
    let Division::Quarter(ticks) = file.division else { return Ok(None) };
    let span = |tick: u64| {
        let outside = || Error::OutOfRange { given: i64::MAX, limit: timebase::limits::MUSICAL_TIME };
        let tick = i64::try_from(tick).map_err(|_| outside())?;
        Span::checked_new(tick, 4 * i64::from(ticks)).ok_or_else(outside)
    };
    let mut signatures: Vec<(Span, Meter)> = Vec::new();
    let mut in_order = file.meters;
    in_order.sort_by_key(|(tick, ..)| *tick);
    for (tick, beats, power) in in_order {
        let unit = 1_u32.checked_shl(u32::from(power));
        let meter = unit.and_then(|unit| Meter::new(u32::from(beats), unit).ok());
        let meter = meter.ok_or(Error::MidiMeter { beats, power })?;
        let at = span(tick)?;
        // Of several at one place the last holds; they stand in order.
        signatures.pop_if(|(other, _)| *other == at);
        signatures.push((at, meter));
    }
    let says_meter = !signatures.is_empty();
    if signatures.first().is_none_or(|(at, _)| at.is_positive()) {
        signatures.insert(0, (Span::ZERO, Meter::COMMON));
    }
    let marker = file.markers.iter().find(|(_, text)| text.trim().eq_ignore_ascii_case(BAR_ONE));
    let (bar_one_tick, bar_one) = match marker {
        Some((tick, _)) => (*tick, span(*tick)?),
        None => pickup(&signatures).map_or((0, Span::ZERO), |length| {
            let ticks = length.in_units_of(Span::new(1, 4 * i64::from(ticks)));
            (u64::try_from(ticks.to_integer()).unwrap_or(0), length)
        }),
    };
    let clock = Clock::new(file.division, file.tempi.clone());
    let meters = bars(&signatures, bar_one);
    let felt = meters[0].1.felt_beat();
    let mut tempi: Vec<(Span, Tempo)> = Vec::new();
    let mut in_order = file.tempi;
    in_order.sort_by_key(|(tick, _)| *tick);
    for (tick, micros) in [(0, super::clock::UNSET_MICROS)].into_iter().chain(in_order) {
        // What held before count 1 holds there.
        let at = (span(tick)? - bar_one).max(Span::ZERO);
        tempi.pop_if(|(other, _)| *other == at);
        tempi.push((at, tempo(micros, felt)?));
    }
    tempi.dedup_by(|later, before| later.1 == before.1);
    let changes: Vec<TempoChange> =
        tempi.into_iter().map(|(at, tempo)| TempoChange { at: Position::ZERO + at, tempo }).collect();
    let constant = TempoMap::constant(changes[0].tempo);
    let tempo = TempoMap::new(&changes).unwrap_or(constant);
    Ok(Some(MidiGrid { tempo, bar_one: clock.moment(bar_one_tick)?, meters, says_meter }))
}

/// The length of a first bar that is shorter than the second and followed by it: a pickup.
fn pickup(signatures: &[(Span, Meter)]) -> Option<Span> {
    let [(_, first), (at, second), ..] = signatures else { return None };
    let short = *at == first.bar_length() && *at < second.bar_length();
    short.then_some(*at)
}

/// The bars from `bar_one` on at which the meter is another than before.
fn bars(signatures: &[(Span, Meter)], bar_one: Span) -> Vec<(i64, Meter)> {
    let holds_at = |at: Span| {
        let after = signatures.partition_point(|(from, _)| *from <= at);
        signatures[after.saturating_sub(1)].1
    };
    let mut meters = vec![(1, holds_at(bar_one))];
    let (mut number, mut at) = (1_i64, bar_one);
    for &(from, meter) in signatures.iter().filter(|(from, _)| *from > bar_one) {
        let length = meters[meters.len() - 1].1.bar_length();
        let ahead = (from - at).in_units_of(length).ceil().to_integer();
        number += ahead;
        at += length * ahead;
        // A later change at the same bar takes its place.
        meters.pop_if(|(bar, _)| *bar == number);
        meters.push((number, meter));
    }
    meters.dedup_by(|later, before| later.1 == before.1);
    meters
}

/// A tempo of so many microseconds a quarter, in the felt beat, or in another where that leaves the limits.
fn tempo(micros: u32, felt: Span) -> Result<Tempo, Error> {
    let beats = [felt, Span::QUARTER, Span::HALF, Span::EIGHTH, Span::WHOLE, Span::SIXTEENTH];
    let found = beats.into_iter().find_map(|beat| {
        // A minute over the beat's microseconds.
        let quarters = beat.in_units_of(Span::QUARTER);
        let exact = Ratio::new(
            60_000_000 * i128::from(*quarters.denom()),
            i128::from(micros) * i128::from(*quarters.numer()),
        );
        let whole = exact.round();
        // Whole microseconds, and the next to the nearest too, where a file keeps to the exact time by them, tell a tempo to within one
        // part in as many.
        let off = (exact / whole.max(Ratio::from_integer(1)) - 1) * i128::from(micros);
        let near = -Ratio::from_integer(1) <= off && off <= Ratio::from_integer(1);
        let bpm = if near { whole } else { (exact * 1_000).round() / 1_000 };
        let bpm = Ratio::new(u32::try_from(*bpm.numer()).ok()?, u32::try_from(*bpm.denom()).ok()?);
        Tempo::new(beat, bpm).ok()
    });
    found.ok_or(Error::MidiSpeed { micros })
}

#[cfg(test)]
mod tests {
    use midly::num::{u15, u24};
    use midly::{Format, Header, MetaMessage, Timing};

    use super::super::track::{Track, write};
    use super::*;

    fn file(meters: &[(u64, u8, u8)], tempi: &[(u64, u32)], bar_one: Option<u64>) -> Vec<u8> {
        let mut track = Track::default();
        for &(tick, beats, power) in meters {
            track.meta(tick, MetaMessage::TimeSignature(beats, power, 24, 8));
        }
        for &(tick, micros) in tempi {
            track.meta(tick, MetaMessage::Tempo(u24::from(micros)));
        }
        if let Some(tick) = bar_one {
            track.meta(tick, MetaMessage::Marker(BAR_ONE.as_bytes()));
        }
        track.note(0, 10, 60, 100);
        let header = Header::new(Format::Parallel, Timing::Metrical(u15::from(480)));
        write(header, [Ok(track)], 100_000).expect("a file")
    }

    fn check(bytes: &[u8], bar_one_ms: f64, meters: &[(i64, &str)], tempi: &[(&str, &str)]) {
        let grid = read_grid(bytes).expect("a file").expect("a grid");
        assert_eq!(grid.bar_one.as_millis_f64(), bar_one_ms);
        let found: Vec<(i64, String)> =
            grid.meters.iter().map(|(bar, meter)| (*bar, meter.to_string())).collect();
        let expected: Vec<(i64, String)> =
            meters.iter().map(|(bar, meter)| (*bar, (*meter).to_owned())).collect();
        assert_eq!(found, expected);
        let found: Vec<(String, String)> =
            grid.tempo.changes().map(|change| (change.at.to_string(), change.tempo.to_string())).collect();
        let expected: Vec<(String, String)> =
            tempi.iter().map(|(at, tempo)| ((*at).to_owned(), (*tempo).to_owned())).collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn a_files_own_bars_are_found() {
        check(&file(&[], &[], None), 0.0, &[(1, "4/4")], &[("0", "quarter = 120")]);
        // 681,818 µs a quarter are 88 beats a minute, to the microsecond; dotted quarter = 80 is 500,000.
        check(&file(&[(0, 3, 2)], &[(0, 681_818)], None), 0.0, &[(1, "3/4")], &[("0", "quarter = 88")]);
        check(
            &file(&[(0, 6, 3)], &[(0, 500_000)], None),
            0.0,
            &[(1, "6/8")],
            &[("0", "dotted quarter = 80")],
        );
        // One quarter, then 3/4: a pickup. Two bars later 4/4, and a new tempo with it.
        let bytes = file(&[(0, 1, 2), (480, 3, 2), (480 * 7, 4, 2)], &[(480 * 7, 1_000_000)], None);
        check(&bytes, 500.0, &[(1, "3/4"), (3, "4/4")], &[("0", "quarter = 120"), ("3/2", "quarter = 60")]);
        // A marker decides; the change inside bar 2 holds from bar 3 on.
        let bytes = file(&[(0, 4, 2), (480 * 13, 3, 2)], &[], Some(480 * 8));
        check(&bytes, 4_000.0, &[(1, "4/4"), (3, "3/4")], &[("0", "quarter = 120")]);
    }

    #[test]
    fn meters_and_tempos_that_cannot_be_written_are_told() {
        let error = |bytes: &[u8]| read_grid(bytes).expect_err("no grid").to_string();
        let said = error(&file(&[(0, 0, 2)], &[], None));
        assert!(said.contains("0/2^2") && said.contains("1 to 32"), "{said}");
        assert!(error(&file(&[(0, 4, 200)], &[], None)).contains("4/2^200"));
        let said = error(&file(&[], &[(0, 1_000)], None));
        assert!(said.contains("1000 microseconds"), "{said}");
    }
}
