use midly::num::u15;
use midly::{Format, Header, MetaMessage, Timing};
use rhythm::Meter;
use sequencer::{Cue, Cued, Each, Sequence, Struck, struck};
use timebase::{Moment, Position, Ratio, Span, TempoMap};

use super::played::strokes;
use super::tempo::tempo_events;
use super::track::{Track, write};
use super::{
    BAR_ONE, CLAP_KEY, CLICK_TRACK, COUNTS_TRACK, RHYTHM_TRACK, TONE_CHANNEL, TONE_KEY, TONE_PROGRAM,
    TONE_TRACK, attack_velocity, click_note, stroke_velocity,
};
use crate::limits::{CLICK_LENGTH, TAKE_SECONDS};
use crate::mark::{Mark, marks};
use crate::played::Labels;
use crate::{Error, Player};

/// Ticks a quarter unless the rhythm needs others: thirty-seconds of triplets and quintuplets fall on whole ticks.
const USUAL_TICKS: u32 = 960;
/// The finest division that is a multiple of the usual one and fits the 15 bits of a MIDI file.
const FINEST_TICKS: u32 = 32_640;

/// A sequence as a Standard MIDI file of format 1.
///
/// The file begins where the sequence does, at the first count of the count-in. Its tracks: one with the title,
/// tempo, meter and the marker [`BAR_ONE`]; `click`, high and low wood block; `rhythm`, a hand clap for each attack and for the
/// strokes of flams, drags, ruffs and rolls, held until the next or as long as the note and what is tied to it (which hand strikes is not
/// said: General MIDI has one hand clap); `counts`, each count as a lyric event where it is said (a track
/// of its own, because counts also stand on holds and rests, where the rhythm has no note); and where tones sound `tone`, a note for
/// each from its attack to its end, on a channel of its own.
///
/// Every place is a whole number of ticks: 960 a quarter, or a multiple where the rhythm needs it. (Only where the
/// file format has no such division, beyond 32,767, places are rounded to the nearest of 32,640 ticks a quarter.)
/// The tempo is in whole microseconds a quarter whatever the felt beat, as the format has it; where the exact tempo is
/// no whole number of them, it is put right now and then by one microsecond, and a gradual change is written in steps, so that times
/// read from the file are within 0.1 ms of the exact ones however long the piece is. A marker stands where the count-in, the
/// pickup and every bar begin, named as [`marks`] has it.
/// A meter stands wherever the length of bars changes: a pickup without a count-in, and every bar that is cut, is a short bar of its own
/// meter, so that the bar lines of other programs fall where they are written.
///
/// What is `left_out` has no track: `click`, `clap` (the track `rhythm`), `count` and `tone`. A sequence always has its tones: what
/// usually sounds leaves them out ([`Levels::default`](sequencer::Levels)).
///
/// # Errors
/// If the tempo is slower than the format can say ([`QUARTER_MICROS`](crate::limits::QUARTER_MICROS)), or two events lie further
/// apart than it can.
pub fn write_sequence(
    sequence: &Sequence,
    title: Option<&str>,
    left_out: Each<bool>,
) -> Result<Vec<u8>, Error> {
    write_tracks(sequence, title, left_out, (&[], Moment::ZERO), Grid::of(sequence))
}

/// The same with what was played to it: a track a player more, in the musical time of the sequence, so that another
/// program shows the strokes against its bar lines.
///
/// `bar_one` is when count 1 of bar 1 falls in the time of the strokes. A tick is as short as the format allows here, 31 µs at 60
/// quarters a minute, and strokes stand on the nearest; one before the beginning of the file stands there. Names, releases and a
/// pad's own bouncing are written as [`write_take`](super::write_take) does.
///
/// # Errors
/// As [`write_sequence`], and if a stroke falls more than a day from count 1 of bar 1.
pub fn write_sequence_played(
    sequence: &Sequence,
    title: Option<&str>,
    left_out: Each<bool>,
    players: &[Player],
    bar_one: Moment,
) -> Result<Vec<u8>, Error> {
    write_tracks(sequence, title, left_out, (players, bar_one), Grid::of(sequence).finest())
}

fn write_tracks(
    sequence: &Sequence,
    title: Option<&str>,
    left_out: Each<bool>,
    (players, bar_one): (&[Player], Moment),
    grid: Grid,
) -> Result<Vec<u8>, Error> {
    let mut names = Labels::default();
    // A player is not called as one of our own tracks is.
    for own in [RHYTHM_TRACK, COUNTS_TRACK, TONE_TRACK] {
        names.fit(own, own);
    }
    let named = players.iter().enumerate();
    let names: Vec<String> =
        named.map(|(index, player)| names.fit(&player.label, &format!("player {}", index + 1))).collect();
    let marks = marks(sequence);
    let mut tracks = vec![conductor(sequence, title, &marks, grid)?];
    let ticks = Ticks { grid, tempo: sequence.tempo(), before: None };
    tracks.extend(heard([(sequence.cues(), sequence.end(), ticks)], left_out));
    for (player, name) in players.iter().zip(&names) {
        tracks.push(strokes(&player.strokes, name, |at| {
            grid.tick_at(sequence.tempo(), Moment::ZERO + (at - bar_one))
        })?);
    }
    let header = Header::new(Format::Parallel, Timing::Metrical(grid.division()));
    write(header, tracks.into_iter().map(Ok), grid.tick(sequence.end()))
}

/// Where a position falls in ticks.
#[derive(Clone, Copy, Debug)]
pub(super) struct Grid {
    pub(super) start: Position,
    /// On which tick `start` falls.
    pub(super) offset: u64,
    pub(super) ticks_per_quarter: u32,
}

impl Grid {
    fn of(sequence: &Sequence) -> Self {
        let start = sequence.start();
        let cues = places(sequence.cues()).map(|at| at - start);
        let tempi = sequence.tempo().changes().map(|change| change.at - start);
        let meters = sequence.bar_lines().iter().map(|(at, _)| *at - start);
        let ends = [sequence.end() - start, Position::ZERO - start];
        let places = cues.chain(tempi).chain(meters).chain(ends);
        Self { start, offset: 0, ticks_per_quarter: ticks_per_quarter(places) }
    }

    /// The nearest tick, a half up; places before the file's beginning are taken to it.
    pub(super) fn tick(self, at: Position) -> u64 {
        self.offset.saturating_add_signed(self.nearest(at - self.start))
    }

    pub(super) fn ticks(self, length: Span) -> u64 {
        u64::try_from(self.nearest(length)).unwrap_or(0)
    }

    fn nearest(self, length: Span) -> i64 {
        (length.in_units_of(self.length()) + Ratio::new(1, 2)).floor().to_integer()
    }

    /// The same with as many ticks as the format allows.
    fn finest(self) -> Self {
        let most = u32::from(u15::max_value().as_int());
        Self { ticks_per_quarter: self.ticks_per_quarter * (most / self.ticks_per_quarter).max(1), ..self }
    }

    /// How long a tick is.
    pub(super) fn length(self) -> Span {
        Span::QUARTER / i64::from(self.ticks_per_quarter)
    }

    /// The tick nearest to a moment, counted from position zero: found by halving, since a tempo says when a place falls and
    /// not the other way about.
    pub(super) fn tick_at(self, tempo: &TempoMap, moment: Moment) -> Result<u64, Error> {
        let seconds = moment.since_zero().as_nanos() / 1_000_000_000;
        if !TAKE_SECONDS.holds(seconds.abs()) {
            return Err(Error::OutOfRange { given: seconds, limit: TAKE_SECONDS });
        }
        let falls = |tick: i64| tempo.moment_at(self.start + self.length() * tick);
        let (mut before, mut after) = (0, i64::from(self.ticks_per_quarter));
        if moment <= falls(before) {
            return Ok(self.offset);
        }
        while falls(after) < moment {
            (before, after) = (after, 2 * after);
        }
        while after - before > 1 {
            let middle = before + (after - before) / 2;
            if falls(middle) < moment {
                before = middle;
            } else {
                after = middle;
            }
        }
        let nearest = if falls(after) - moment <= moment - falls(before) { after } else { before };
        Ok(self.offset + nearest.unsigned_abs())
    }

    pub(super) fn division(self) -> u15 {
        u16::try_from(self.ticks_per_quarter)
            .ok()
            .and_then(u15::try_from)
            .expect("the finest division fits 15 bits")
    }
}

/// Where what sounds falls in ticks, also where it leads into a stretch while the one before it still goes on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ticks<'a> {
    pub(super) grid: Grid,
    pub(super) tempo: &'a TempoMap,
    /// The tempo and the ticks of the stretch before, which a file has up to where this one begins.
    pub(super) before: Option<(&'a TempoMap, Grid)>,
}

impl Ticks<'_> {
    /// The tick of a place in the music: of one that lies before the stretch that which falls when it does.
    pub(super) fn at(self, place: Position) -> u64 {
        if place < self.grid.start && self.before.is_some() {
            return self.at_moment(self.tempo.moment_at(place)).unwrap_or(self.grid.offset);
        }
        self.grid.tick(place)
    }

    /// The tick nearest to a moment.
    pub(super) fn at_moment(self, moment: Moment) -> Result<u64, Error> {
        match self.before {
            Some((tempo, grid)) if moment < self.tempo.moment_at(self.grid.start) => {
                grid.tick_at(tempo, moment)
            }
            _ => self.grid.tick_at(self.tempo, moment),
        }
    }
}

/// Where what sounds begins and ends.
pub(super) fn places(cues: &[Cue]) -> impl Iterator<Item = Position> {
    cues.iter().flat_map(|cue| {
        let length = match cue.cued {
            Cued::Clap { length, .. } | Cued::Tone { length, .. } => length,
            Cued::Click { .. } | Cued::Division | Cued::Count { .. } => Span::ZERO,
        };
        [cue.at, cue.at + length]
    })
}

/// The fewest ticks a quarter, a multiple of the usual ones, for which every place is a whole tick.
pub(super) fn ticks_per_quarter(places: impl Iterator<Item = Span>) -> u32 {
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

fn conductor<'a>(
    sequence: &Sequence,
    title: Option<&'a str>,
    marks: &'a [Mark],
    grid: Grid,
) -> Result<Track<'a>, Error> {
    let mut track = title.map_or_else(Track::default, Track::named);
    for (at, micros) in tempo_events(sequence.tempo(), sequence.start(), sequence.end(), grid.length())? {
        track.meta(grid.tick(at), MetaMessage::Tempo(micros));
    }
    let mut signatures = Signatures::default();
    for (at, signature) in signatures.of(sequence.bar_lines(), sequence.end()) {
        track.meta(grid.tick(at), signature);
    }
    for mark in marks {
        track.meta(grid.tick(mark.at), MetaMessage::Marker(mark.label.as_bytes()));
    }
    // Whoever reads the file again looks for this one.
    if !marks.iter().any(|mark| mark.at == Position::ZERO && mark.label == BAR_ONE) {
        track.meta(grid.tick(Position::ZERO), MetaMessage::Marker(BAR_ONE.as_bytes()));
    }
    Ok(track)
}

/// The meters of a file as they change from bar to bar.
#[derive(Debug, Default)]
pub(super) struct Signatures {
    /// How long the last bar was, and its meter; `None` where a bar could not be said, so that the next says its own again.
    last: Option<(Span, Meter)>,
}

impl Signatures {
    /// What must be said of these bars, the last of which ends at `end`, so that other programs draw their lines where they are: a
    /// signature wherever a bar is longer or shorter than the one before it or in another meter. A bar that is cut has one of its own
    /// length; it cannot have one where no whole number of notes is so long.
    pub(super) fn of(
        &mut self,
        lines: &[(Position, Meter)],
        end: Position,
    ) -> Vec<(Position, MetaMessage<'static>)> {
        let ends = lines.iter().skip(1).map(|(at, _)| *at).chain([end]);
        let mut signatures = Vec::new();
        for (&(at, meter), next) in lines.iter().zip(ends) {
            let length = next - at;
            if self.last == Some((length, meter)) {
                continue;
            }
            let signature = if length == meter.bar_length() {
                Some(time_signature(meter))
            } else {
                bar_of(length, meter)
            };
            self.last = signature.is_some().then_some((length, meter));
            signatures.extend(signature.map(|signature| (at, signature)));
        }
        signatures
    }
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

/// The signature of a bar in `meter` that is so long, where there is one.
fn bar_of(length: Span, meter: Meter) -> Option<MetaMessage<'static>> {
    if !length.is_positive() {
        return None;
    }
    let unit = i64::from(meter.unit()).max(length.denominator());
    let beats = length.in_units_of(Span::new(1, unit));
    let beats = beats.is_integer().then(|| u32::try_from(beats.to_integer()).ok()).flatten()?;
    let unit = u32::try_from(unit).ok().filter(|unit| unit.is_power_of_two())?;
    (beats <= 255).then(|| signature(beats, unit, meter.felt_beat()))
}

/// What is to be heard: its cues, where they end and on which ticks they fall.
pub(super) type Stretch<'a> = (&'a [Cue], Position, Ticks<'a>);

/// What is heard of these stretches, each with where it ends, without what is left out: clicks, attacks, counts and, where any sound,
/// tones, a track each.
pub(super) fn heard<'a>(
    stretches: impl IntoIterator<Item = Stretch<'a>>,
    left_out: Each<bool>,
) -> Vec<Track<'a>> {
    let (mut struck, mut held) = (Vec::new(), Vec::new());
    let [mut clicks, mut attacks, mut counts] = [CLICK_TRACK, RHYTHM_TRACK, COUNTS_TRACK].map(Track::named);
    for (cues, end, ticks) in stretches {
        add_clicks(&mut clicks, cues, end, ticks);
        struck.extend(strokes_of(cues, ticks));
        held.extend(tones_of(cues, ticks));
        add_counts(&mut counts, cues, ticks);
    }
    add_strokes(&mut attacks, &struck);
    let tracks = [
        (left_out.click, clicks),
        (left_out.clap, attacks),
        (left_out.count, counts),
        (left_out.tone || held.is_empty(), tones(&held)),
    ];
    tracks.into_iter().filter_map(|(is_left_out, track)| (!is_left_out).then_some(track)).collect()
}

fn add_clicks(track: &mut Track<'_>, cues: &[Cue], end: Position, ticks: Ticks<'_>) {
    let clicks =
        cues.iter().filter_map(|cue| click_note(&cue.cued).map(|(key, velocity)| (cue.at, key, velocity)));
    let clicks = clicks.collect::<Vec<_>>();
    let nexts = clicks.iter().skip(1).map(|(at, ..)| *at).chain([end]);
    for (&(at, key, velocity), next) in clicks.iter().zip(nexts) {
        let length = ticks.grid.ticks(CLICK_LENGTH).min(ticks.grid.ticks(next - at) / 2);
        track.note(ticks.at(at), ticks.at(at) + length, key, velocity);
    }
}

/// The strokes of attacks: from which tick to which, and how hard. A stroke without a place in the music stands on the nearest tick,
/// one that would come before the file on its first.
fn strokes_of(cues: &[Cue], ticks: Ticks<'_>) -> Vec<(u64, u64, u8)> {
    let on = |stroke: &Struck| match stroke.place {
        Some(place) => ticks.at(place),
        // A sequence is far shorter than a take may be, so that its moments have ticks.
        None => ticks.at_moment(stroke.at).unwrap_or(ticks.grid.offset),
    };
    let strokes = struck(cues, ticks.tempo);
    strokes.iter().map(|stroke| (on(stroke), ticks.at(stroke.until), stroke_velocity(stroke.db))).collect()
}

/// One key cannot sound twice at once, so each stroke ends where the next begins.
fn add_strokes(track: &mut Track<'_>, strokes: &[(u64, u64, u8)]) {
    let nexts = strokes.iter().skip(1).map(|(on, ..)| *on).chain([u64::MAX]);
    for (&(on, off, velocity), next) in strokes.iter().zip(nexts) {
        track.note(on, off.min(next), CLAP_KEY, velocity);
    }
}

/// The tones, as [`strokes_of`] has the strokes.
fn tones_of(cues: &[Cue], ticks: Ticks<'_>) -> impl Iterator<Item = (u64, u64, u8)> {
    cues.iter().filter_map(move |cue| match cue.cued {
        Cued::Clap { length, marks, louder, held: true, .. } | Cued::Tone { length, marks, louder } => {
            let velocity = attack_velocity(marks.accent, louder);
            Some((ticks.at(cue.at), ticks.at(cue.at + length), velocity))
        }
        _ => None,
    })
}

fn tones(held: &[(u64, u64, u8)]) -> Track<'static> {
    let mut track = Track::named(TONE_TRACK);
    track.program(TONE_CHANNEL, TONE_PROGRAM);
    let nexts = held.iter().skip(1).map(|(on, ..)| *on).chain([u64::MAX]);
    for (&(on, off, velocity), next) in held.iter().zip(nexts) {
        track.note_on_channel(TONE_CHANNEL, (on, off.min(next)), TONE_KEY, velocity);
    }
    track
}

fn add_counts<'a>(track: &mut Track<'a>, cues: &'a [Cue], ticks: Ticks<'_>) {
    for cue in cues {
        if let Cued::Count { say, .. } = &cue.cued {
            track.meta(ticks.at(cue.at), MetaMessage::Lyric(say.as_str().as_bytes()));
        }
    }
}

#[cfg(test)]
mod tests;
