use midly::num::{u15, u24};
use midly::{Format, Header, MetaMessage, Timing};
use rhythm::Meter;
use sequencer::{Cued, Sequence};
use timebase::{Position, Ratio, Span, Tempo};

use super::track::{Track, write};
use super::{ACCENTED_CLICK_KEY, BAR_ONE, CLAP_KEY, CLICK_KEY, CLICK_TRACK, COUNTS_TRACK, RHYTHM_TRACK};
use crate::Error;
use crate::limits::{CLICK_LENGTH, QUARTER_MICROS};

/// Ticks a quarter unless the rhythm needs others: thirty-seconds of triplets and quintuplets fall on whole ticks.
const USUAL_TICKS: u32 = 960;
/// The finest division that is a multiple of the usual one and fits the 15 bits of a MIDI file.
const FINEST_TICKS: u32 = 32_640;

const CLICK_VELOCITY: u8 = 90;
const ACCENT_VELOCITY: u8 = 120;
const CLAP_VELOCITY: u8 = 100;

/// A sequence as a Standard MIDI file of format 1.
///
/// The file begins where the sequence does, at the first count of the count-in. Its tracks: one with the title,
/// tempo, meter and the marker [`BAR_ONE`]; `click`, high and low wood block; `rhythm`, a hand clap for each attack,
/// held as long as the note and what is tied to it; `counts`, each count as a lyric event where it is said (a track
/// of its own, because counts also stand on holds and rests, where the rhythm has no note).
///
/// Every place is a whole number of ticks: 960 a quarter, or a multiple where the rhythm needs it. (Only where the
/// file format has no such division, beyond 32,767, places are rounded to the nearest of 32,640 ticks a quarter.)
/// The tempo is in whole microseconds a quarter whatever the felt beat, as the format has it, so the tempo read from
/// the file is off by up to half a microsecond a quarter: 0.5 ms after a thousand quarters, nothing in the ticks.
/// A rhythm that begins with a pickup and no count-in begins with a short bar of its own meter, so that the bar
/// lines of other programs fall where they are written.
///
/// # Errors
/// If the tempo is slower than the format can say ([`QUARTER_MICROS`]), or two events lie further apart than it can.
pub fn write_sequence(sequence: &Sequence, title: Option<&str>) -> Result<Vec<u8>, Error> {
    let grid = Grid::of(sequence);
    let tracks = vec![
        conductor(sequence, title, grid)?,
        click(sequence, grid),
        rhythm(sequence, grid),
        counts(sequence, grid),
    ];
    let header = Header::new(Format::Parallel, Timing::Metrical(grid.division()));
    write(header, tracks, grid.tick(sequence.end()))
}

/// Where a position falls in ticks.
#[derive(Clone, Copy, Debug)]
struct Grid {
    start: Position,
    ticks_per_quarter: u32,
}

impl Grid {
    fn of(sequence: &Sequence) -> Self {
        let start = sequence.start();
        let cues = sequence.cues().iter().flat_map(|cue| {
            let length = match cue.cued {
                Cued::Clap { length, .. } => length,
                Cued::Click { .. } | Cued::Division | Cued::Count { .. } => Span::ZERO,
            };
            [cue.at - start, cue.at + length - start]
        });
        let tempi = sequence.tempo().changes().map(|change| change.at - start);
        let meters = sequence.meters().iter().map(|(at, _)| *at - start);
        let ends = [sequence.end() - start, Position::ZERO - start];
        let places = cues.chain(tempi).chain(meters).chain(ends);
        Self { start, ticks_per_quarter: ticks_per_quarter(places) }
    }

    /// The nearest tick, a half up; places before the file's beginning are taken to it.
    fn tick(self, at: Position) -> u64 {
        self.ticks(at - self.start)
    }

    fn ticks(self, length: Span) -> u64 {
        let ticks = length.in_units_of(Span::QUARTER / i64::from(self.ticks_per_quarter));
        let whole = (ticks + Ratio::new(1, 2)).floor().to_integer();
        u64::try_from(whole).unwrap_or(0)
    }

    fn division(self) -> u15 {
        u16::try_from(self.ticks_per_quarter)
            .ok()
            .and_then(u15::try_from)
            .expect("the finest division fits 15 bits")
    }
}

/// The fewest ticks a quarter, a multiple of the usual ones, for which every place is a whole tick.
fn ticks_per_quarter(places: impl Iterator<Item = Span>) -> u32 {
    let mut ticks = i64::from(USUAL_TICKS);
    for place in places {
        let parts = *place.in_units_of(Span::QUARTER).denom();
        // The denominator of parts/ticks in lowest terms is what the ticks still lack.
        let Some(enough) = ticks.checked_mul(*Ratio::new(ticks, parts).denom()) else {
            return FINEST_TICKS;
        };
        ticks = enough;
        if ticks > i64::from(u15::max_value().as_int()) {
            return FINEST_TICKS;
        }
    }
    u32::try_from(ticks).unwrap_or(FINEST_TICKS)
}

fn conductor<'a>(sequence: &Sequence, title: Option<&'a str>, grid: Grid) -> Result<Track<'a>, Error> {
    let mut track = title.map_or_else(Track::default, Track::named);
    for change in sequence.tempo().changes() {
        // The first tempo stands at bar 1 and holds for the count-in too.
        let tick = if change.at <= Position::ZERO { 0 } else { grid.tick(change.at) };
        track.meta(tick, MetaMessage::Tempo(micros_per_quarter(change.tempo)?));
    }
    for (index, (at, meter)) in sequence.meters().iter().enumerate() {
        if index > 0 {
            track.meta(grid.tick(*at), time_signature(*meter));
            continue;
        }
        let pickup = (Position::ZERO - grid.start).modulo(meter.bar_length());
        if let Some(signature) = short_bar(pickup, *meter) {
            track.meta(0, signature);
        }
        let bar_one = if pickup.is_positive() { grid.tick(Position::ZERO) } else { 0 };
        track.meta(bar_one, time_signature(*meter));
    }
    track.meta(grid.tick(Position::ZERO), MetaMessage::Marker(BAR_ONE.as_bytes()));
    Ok(track)
}

/// Microseconds a quarter, to the nearest: `FF 51` counts quarters whatever the felt beat.
fn micros_per_quarter(tempo: Tempo) -> Result<u24, Error> {
    let (beats, minutes) = (i128::from(*tempo.bpm().numer()), i128::from(*tempo.bpm().denom()));
    let beat = tempo.beat();
    let exact = Ratio::new(
        60_000_000 * minutes * i128::from(beat.denominator()),
        4 * beats * i128::from(beat.numerator()),
    );
    let micros = exact.round().to_integer();
    let fits =
        u32::try_from(micros).ok().filter(|&m| QUARTER_MICROS.holds(i64::from(m))).and_then(u24::try_from);
    fits.ok_or(Error::OutOfRange { given: i64::try_from(micros).unwrap_or(i64::MAX), limit: QUARTER_MICROS })
}

/// `FF 58`: numerator, denominator as a power of two, MIDI clocks (24 a quarter) a click, thirty-seconds a quarter.
fn time_signature(meter: Meter) -> MetaMessage<'static> {
    signature(meter.beats(), meter.unit(), meter.felt_beat())
}

fn signature(beats: u32, unit: u32, felt_beat: Span) -> MetaMessage<'static> {
    let clocks = |span: Span| {
        let clocks = span.in_units_of(Span::QUARTER / 24);
        clocks.is_integer().then(|| u8::try_from(clocks.to_integer()).ok()).flatten()
    };
    // A felt beat of more than 255 clocks, or of part of one, cannot be said: then the click is the unit of the meter.
    let click = clocks(felt_beat).or_else(|| clocks(Span::new(1, i64::from(unit)))).unwrap_or(24);
    let beats = u8::try_from(beats).expect("the upper number of a meter fits a byte");
    let power = u8::try_from(unit.trailing_zeros()).expect("a power of two of a u32 fits a byte");
    MetaMessage::TimeSignature(beats, power, click, 8)
}

/// The meter of a first bar that is only as long as the pickup, where a meter can be that short.
fn short_bar(pickup: Span, meter: Meter) -> Option<MetaMessage<'static>> {
    if !pickup.is_positive() {
        return None;
    }
    let unit = i64::from(meter.unit()).max(pickup.denominator());
    let beats = pickup.in_units_of(Span::new(1, unit));
    let beats = beats.is_integer().then(|| u32::try_from(beats.to_integer()).ok()).flatten()?;
    let unit = u32::try_from(unit).ok().filter(|unit| unit.is_power_of_two())?;
    (beats <= 255).then(|| signature(beats, unit, meter.felt_beat()))
}

fn click(sequence: &Sequence, grid: Grid) -> Track<'static> {
    let mut track = Track::named(CLICK_TRACK);
    let clicks = sequence.cues().iter().filter_map(|cue| match cue.cued {
        Cued::Click { accented, .. } => Some((cue.at, accented)),
        Cued::Division | Cued::Count { .. } | Cued::Clap { .. } => None,
    });
    let clicks = clicks.collect::<Vec<_>>();
    let nexts = clicks.iter().skip(1).map(|(at, _)| *at).chain([sequence.end()]);
    for (&(at, accented), next) in clicks.iter().zip(nexts) {
        let length = grid.ticks(CLICK_LENGTH).min(grid.ticks(next - at) / 2);
        let (key, velocity) =
            if accented { (ACCENTED_CLICK_KEY, ACCENT_VELOCITY) } else { (CLICK_KEY, CLICK_VELOCITY) };
        track.note(grid.tick(at), grid.tick(at) + length, key, velocity);
    }
    track
}

fn rhythm(sequence: &Sequence, grid: Grid) -> Track<'static> {
    let mut track = Track::named(RHYTHM_TRACK);
    for cue in sequence.cues() {
        if let Cued::Clap { length, .. } = cue.cued {
            track.note(grid.tick(cue.at), grid.tick(cue.at + length), CLAP_KEY, CLAP_VELOCITY);
        }
    }
    track
}

fn counts(sequence: &Sequence, grid: Grid) -> Track<'_> {
    let mut track = Track::named(COUNTS_TRACK);
    for cue in sequence.cues() {
        if let Cued::Count { say, .. } = &cue.cued {
            track.meta(grid.tick(cue.at), MetaMessage::Lyric(say.as_str().as_bytes()));
        }
    }
    track
}

#[cfg(test)]
mod tests;
