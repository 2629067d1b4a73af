//! How long something is, in the words a teacher has for it.

use timebase::Span;

use super::Evidence;
use crate::wording;
use crate::written::rounded;

impl Evidence<'_> {
    /// So many felt beats at a count, without their sign: whole bars as bars, thirds of a beat of three as the notes they are.
    pub(super) fn length(&self, count: usize, beats: f64) -> String {
        if let Some(bars) = self.whole(beats, self.bar_beats(count)) {
            return if bars == 1 { "a bar".to_owned() } else { format!("{bars} bars") };
        }
        let beat = self.written.counts[count].beat;
        let thirds = beats.abs() * 3.0;
        let whole = rounded(thirds);
        if beat.numerator() == 3 && whole % 3 != 0 && (thirds - whole as f64).abs() < 0.35 {
            return notes(whole, Span::new(1, beat.denominator())).unwrap_or_else(|| wording::beats(beats));
        }
        wording::beats(beats)
    }

    /// How many bars so many beats at a count are, if they are whole ones.
    pub(super) fn whole_bars_long(&self, count: usize, beats: f64) -> Option<i64> {
        self.whole(beats, self.bar_beats(count))
    }

    fn whole(&self, beats: f64, bar: f64) -> Option<i64> {
        let bars = beats.abs() / bar;
        // Within a tenth of a beat a bar: players drift while they stand still.
        ((bars - bars.round()).abs() * bar < 0.25 && bars.round() >= 1.0).then(|| rounded(bars))
    }

    /// How many felt beats the bar of a count has; a pickup as many as the bar behind it.
    fn bar_beats(&self, count: usize) -> f64 {
        let bars = &self.written.bars;
        let in_bar = |bar: usize| {
            let range = bars.get(bar)?.clone();
            let ends = self.written.at.get(range.end).copied();
            let beat = self.written.beat_nanos(range.start);
            let beats = || self.written.counts[range.clone()].iter().filter(|count| count.on_beat).count();
            Some(match ends {
                Some(end) => (end - self.written.at[range.start]) as f64 / beat as f64,
                None => beats() as f64,
            })
        };
        let bar = self.written.bar_of(count);
        let bar = if self.written.counts[count].id.bar == 0 { bar + 1 } else { bar };
        in_bar(bar).filter(|&beats| beats >= 1.0).unwrap_or(f64::MAX)
    }
}

/// So many notes of a value, by its name.
pub(super) fn notes(number: i64, value: Span) -> Option<String> {
    let name = match (value.numerator(), value.denominator()) {
        (1, 2) => "half note",
        (1, 4) => "quarter",
        (1, 8) => "eighth",
        (1, 16) => "sixteenth",
        _ => return None,
    };
    Some(match (number, name) {
        (1, "eighth") => "an eighth".to_owned(),
        (1, name) => format!("a {name}"),
        (number, name) => format!("{number} {name}s"),
    })
}
