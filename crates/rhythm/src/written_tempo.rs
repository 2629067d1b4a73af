//! The tempo of the bars as they are written, each once, and then as they are played.

use timebase::limits::TEMPO_BPM;
use timebase::{Position, Ratio, Span, Tempo, TempoChange, TempoMap};

use crate::{Bar, Error, Performance, Rhythm, TempoMark};

/// The written bars one behind the other, count 1 of bar 1 at zero.
pub(crate) struct WrittenTempo {
    map: TempoMap,
    /// Where each written bar begins, and where the last ends.
    starts: Vec<Position>,
}

impl WrittenTempo {
    /// The tempos of `rhythm` when it begins at `tempo`; its changes keep their proportion to that.
    pub(crate) fn of(rhythm: &Rhythm, tempo: Tempo) -> Self {
        let mut at = Position::ZERO - rhythm.pickup_length();
        let mut starts = vec![at];
        starts.extend(rhythm.bars().iter().map(|bar| {
            at += bar.length();
            at
        }));
        let faster = wholes(tempo) / wholes(rhythm.tempo());
        let played = |written: Tempo| if written == rhythm.tempo() { tempo } else { scaled(written, faster) };
        let mut map = TempoMap::constant(tempo);
        let mut written = rhythm.tempo();
        for (index, bar) in rhythm.bars().iter().enumerate() {
            let Some(mark) = bar.tempo_mark() else { continue };
            // Every mark was followed when the rhythm was made.
            written = mark.after(written, bar.meter()).unwrap_or(written);
            let change = TempoChange { at: starts[index].max(Position::ZERO), tempo: played(written) };
            map = match mark {
                TempoMark::Gradual { bars, .. } => {
                    let until = starts[end_of(rhythm.bars(), index, bars)];
                    map.with_gradual(change, until).expect("it comes to its end behind where it begins")
                }
                // What stands before bar 1 holds for the count-in too.
                _ if change.at == Position::ZERO => TempoMap::constant(change.tempo),
                _ => map.with_change(change),
            };
        }
        Self { map, starts }
    }

    /// The tempo at the beginning of each written bar.
    pub(crate) fn tempos(&self) -> impl Iterator<Item = Tempo> {
        let bars = &self.starts[..self.starts.len() - 1];
        bars.iter().map(|at| self.map.tempo_at((*at).max(Position::ZERO)))
    }

    /// The same as it is played: each run of bars that follow one another on paper brings its tempo along.
    pub(crate) fn played(self, performance: &Performance) -> TempoMap {
        let bars = performance.bars();
        let steady = self.map.changes().nth(1).is_none();
        if steady || bars.windows(2).all(|pair| pair[1].index == pair[0].index + 1) {
            return self.map;
        }
        let mut map = TempoMap::constant(self.map.tempo_at(Position::ZERO));
        let runs = bars.chunk_by(|before, bar| bar.index == before.index + 1);
        for run in runs {
            let (first, last) = (run[0], run[run.len() - 1]);
            let at = first.start.max(Position::ZERO);
            let from = self.starts[first.index] + (at - first.start);
            map = map.then(at, &self.map, from..self.starts[last.index + 1]);
        }
        map
    }
}

/// What is wrong with the marks of tempo, if anything is: a tempo out of its limits, or a gradual change that does not come
/// to its end before the next mark or the last bar line.
pub(crate) fn check(rhythm: &Rhythm) -> Result<(), Error> {
    let bars = rhythm.bars();
    let mut tempo = rhythm.tempo();
    for (index, bar) in bars.iter().enumerate() {
        let Some(mark) = bar.tempo_mark() else { continue };
        tempo = mark.after(tempo, bar.meter()).ok_or(Error::TempoMark { bar: bar.number() })?;
        if let TempoMark::Gradual { bars: many, .. } = mark {
            let end = end_of(bars, index, many);
            let last = u64::from(bar.number()) + u64::from(many) - 1;
            let comes_to_its_end = u64::from(bars[end - 1].number()) == last;
            let undisturbed = bars[index + 1..end].iter().all(|bar| bar.tempo_mark().is_none());
            if bar.is_pickup() || !comes_to_its_end || !undisturbed {
                return Err(Error::GradualTempo { bar: bar.number(), bars: many });
            }
        }
    }
    Ok(())
}

/// Whether a change of tempo leaves the limits when `rhythm` begins at `tempo`.
pub(crate) fn can_begin_at(rhythm: &Rhythm, tempo: Tempo) -> Result<(), Error> {
    let [slowest, fastest] =
        [TEMPO_BPM.least, TEMPO_BPM.most].map(|bpm| Ratio::from_integer(i128::from(bpm)));
    let faster = wholes(tempo) / wholes(rhythm.tempo());
    let own = wide(rhythm.tempo().bpm());
    let (mut least, mut most) = (slowest, fastest);
    let mut outside = None;
    let mut written = rhythm.tempo();
    for bar in rhythm.bars() {
        let Some(mark) = bar.tempo_mark() else { continue };
        written = mark.after(written, bar.meter()).unwrap_or(written);
        let bpm = wide(written.bpm());
        least = least.max(own * slowest / bpm);
        most = most.min(own * fastest / bpm);
        let played = bpm * faster;
        if !(slowest..=fastest).contains(&played) {
            outside.get_or_insert((bar.number(), written, played));
        }
    }
    let told = |bpm: Ratio<i128>| {
        let hundredths = bpm.to_integer();
        let text = format!("{}.{:02}", hundredths / 100, hundredths % 100);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    let (Some((bar, written, played)), hundred) = (outside, Ratio::from_integer(100)) else { return Ok(()) };
    Err(Error::BeginningTempo {
        given: tempo,
        bar,
        written,
        played: told((played * hundred).round()).into(),
        // Inside the limits, whatever is rounded.
        allowed: format!("{} to {}", told((least * hundred).ceil()), told((most * hundred).floor())).into(),
    })
}

/// The index behind the last of so many bars from `index` on; a bar in two halves is one.
fn end_of(bars: &[Bar], index: usize, many: u32) -> usize {
    let behind = u64::from(bars[index].number()) + u64::from(many);
    index + bars[index..].iter().take_while(|bar| u64::from(bar.number()) < behind).count()
}

/// How many whole notes a minute a tempo plays.
fn wholes(tempo: Tempo) -> Ratio<i128> {
    wide(tempo.bpm()) * wide_signed(tempo.beat())
}

fn wide(ratio: Ratio<u32>) -> Ratio<i128> {
    Ratio::new(i128::from(*ratio.numer()), i128::from(*ratio.denom()))
}

fn wide_signed(span: Span) -> Ratio<i128> {
    Ratio::new(i128::from(span.numerator()), i128::from(span.denominator()))
}

/// `tempo` so many times faster, to a thousandth of a beat a minute.
fn scaled(tempo: Tempo, faster: Ratio<i128>) -> Tempo {
    let exact = wide(tempo.bpm()) * faster;
    let bpm = if *exact.denom() <= 1_000 { exact } else { (exact * 1_000).round() / 1_000 };
    let (least, most) = (timebase::limits::TEMPO_BPM.least, timebase::limits::TEMPO_BPM.most);
    let bpm = bpm.clamp(Ratio::from_integer(least.into()), Ratio::from_integer(most.into()));
    let parts = (u32::try_from(*bpm.numer()), u32::try_from(*bpm.denom()));
    match parts {
        (Ok(numerator), Ok(denominator)) => {
            tempo.with_bpm(Ratio::new(numerator, denominator)).unwrap_or(tempo)
        }
        _ => tempo,
    }
}
