use counting::TimedCount;
use judge::Played;
use rhythm::{Bar, Deed, Event, Form, Meter, Repeat, Rhythm};
use timebase::{Moment, Seconds, Span, Tempo, TempoMap};

/// The counts of bars of 4/4 at `bpm` quarters a minute. A bar is written on a grid that divides it evenly: `x` is struck,
/// `-` goes on, `.` is silent: `x.x-x...` is 1 (&) 2 3 (& 4 &).
pub(crate) fn counts(bars: &[&str], bpm: u32) -> Vec<TimedCount> {
    timed(&rhythm(bars, vec![]), bpm)
}

/// The same with a passage played more than once.
pub(crate) fn repeated(bars: &[&str], times: u32, bpm: u32) -> Vec<TimedCount> {
    timed(&rhythm(bars, vec![Repeat::new(0..bars.len(), times)]), bpm)
}

fn rhythm(bars: &[&str], repeats: Vec<Repeat>) -> Rhythm {
    let bars = (1..).zip(bars).map(|(number, grid)| bar(number, grid)).collect();
    Rhythm::new(None, None, bars, repeats).expect("a rhythm")
}

fn bar(number: u32, grid: &str) -> Bar {
    let unit = Span::new(1, i64::try_from(grid.len()).expect("short"));
    let mut events: Vec<Event> = Vec::new();
    for (place, sign) in (0..).zip(grid.bytes()) {
        let deed = match sign {
            b'x' => Deed::Attack,
            b'.' => Deed::Rest,
            _ => Deed::Hold,
        };
        match events.last_mut() {
            Some(last) if deed == Deed::Hold || (deed == Deed::Rest && last.deed == Deed::Rest) => {
                last.length += unit;
            }
            _ => events.push(Event::new(unit * place, unit, deed)),
        }
    }
    Bar::new(number, Meter::COMMON, Form::Counts, events).expect("a filled bar")
}

fn timed(rhythm: &Rhythm, bpm: u32) -> Vec<TimedCount> {
    let map = TempoMap::constant(Tempo::new(Span::QUARTER, bpm.into()).expect("a tempo"));
    counting::count(rhythm).timed(rhythm, &rhythm.performance(), &map)
}

/// The counts of the first part of a rhythm text at its own tempo.
pub(crate) fn of_text(text: &str) -> Vec<TimedCount> {
    let piece = rhythm::text::read_piece(text).piece.expect("a rhythm text");
    let rhythm = &piece.parts()[0].rhythm;
    let performance = rhythm.performance();
    counting::count(rhythm).timed(rhythm, &performance, &rhythm.tempo_map(&performance, rhythm.tempo()))
}

/// When count 1 of every performed bar falls, in ms.
pub(crate) fn bars_ms(counts: &[TimedCount]) -> Vec<f64> {
    let bars = counts.chunk_by(|a, b| (a.id.bar, a.id.pass) == (b.id.bar, b.id.pass));
    bars.map(|bar| bar[0].at.as_millis_f64()).collect()
}

/// When the attacks are written, in ms.
pub(crate) fn written_ms(counts: &[TimedCount]) -> Vec<f64> {
    let attacks = counts.iter().filter(|count| count.deed == Deed::Attack);
    attacks.map(|count| count.at.as_millis_f64()).collect()
}

/// Attacks at these moments in ms.
pub(crate) fn played(at_ms: impl IntoIterator<Item = f64>) -> Vec<Played> {
    at_ms.into_iter().map(|ms| Played::new(Moment::ZERO + Seconds::from_millis_f64(ms))).collect()
}

/// Every written attack struck, so many ms off: the offsets are gone through again and again.
pub(crate) fn struck(counts: &[TimedCount], offsets_ms: &[f64]) -> Vec<Played> {
    played(written_ms(counts).into_iter().zip(offsets_ms.iter().cycle()).map(|(at, offset)| at + offset))
}
