//! Whether findings are right as often as they say: of those said with confidence c about c should be.

use std::fmt::Write as _;

use super::score::Told;

/// Where the bins of confidence begin; the last ends at 1.
const BINS: [f64; 8] = [0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 0.99];

/// The findings of one bin.
#[derive(Clone, Copy, Debug, Default)]
struct Bin {
    told: usize,
    said: f64,
    right: usize,
}

fn sorted(told: &[(Told, bool)]) -> [Bin; BINS.len()] {
    let mut bins = [Bin::default(); BINS.len()];
    for (told, is_true) in told {
        let bin = &mut bins[BINS.iter().rposition(|from| told.confidence >= *from).unwrap_or(0)];
        bin.told += 1;
        bin.said += told.confidence;
        bin.right += usize::from(*is_true);
    }
    bins
}

/// The mean distance between what was said and what was right, each bin weighed by its findings: the expected calibration error.
pub(crate) fn error(told: &[(Told, bool)]) -> f64 {
    sorted(told).iter().map(|bin| (bin.said - bin.right as f64).abs()).sum::<f64>() / told.len().max(1) as f64
}

/// A table of what was said and what was right, bin by bin.
pub(crate) fn bins(told: &[(Told, bool)]) -> String {
    let mut text = "  confidence    told    said   right\n".to_owned();
    let bins = sorted(told);
    for (index, bin) in bins.iter().enumerate().filter(|(_, bin)| bin.told > 0) {
        let (said, right) = (bin.said / bin.told as f64, bin.right as f64 / bin.told as f64);
        let until = BINS.get(index + 1).copied().unwrap_or(1.0);
        let _ = writeln!(text, "  {:.2} to {until:.2}  {:5}   {said:.3}   {right:.3}", BINS[index], bin.told);
    }
    let all = bins.iter().map(|bin| bin.right).sum::<usize>() as f64 / told.len().max(1) as f64;
    let _ = writeln!(text, "  expected calibration error {:.4}; of all {all:.3} are right", error(told));
    text
}
