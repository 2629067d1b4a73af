//! What was waited before every bar line.

use super::sure::no_chance;
use super::{Evidence, of_places};
use crate::{Finding, FindingKind};

impl Evidence<'_> {
    /// Tells waits before every bar line as the one habit they are, with all bars that came late by them.
    pub(super) fn waiting(&self, found: &mut Vec<Finding>) {
        let Some(waiting) = self.alignment.waiting else { return };
        let bars = &self.written.bars[waiting.first..];
        let notes: Vec<usize> = bars
            .iter()
            .filter_map(|bar| bar.clone().find(|&count| self.alignment.strokes[count].is_some()))
            .collect();
        let strokes = notes.iter().filter_map(|&note| self.alignment.strokes[note]).collect();
        let ids = notes.iter().map(|&note| self.written.counts[note].id).collect();
        let drifts = self.alignment.tempo.is_none() && self.drift_to_tell().is_some();
        let inside = if drifts { "" } else { "; inside the bars the tempo was kept" };
        let says = format!(
            "a wait of about {} before every bar line{inside}; go over bar lines as over any other place",
            self.ms(to_tens(waiting.ms))
        );
        let sure = no_chance(waiting.ms / waiting.error_ms, 1);
        found.push(of_places(FindingKind::PauseAtBarLine, ids, strokes, sure, says));
    }
}

/// Waits differ from bar line to bar line: their mean is told in whole tens.
fn to_tens(ms: f64) -> f64 {
    (ms / 10.0).round() * 10.0
}
