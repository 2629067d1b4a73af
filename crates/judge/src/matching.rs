use timebase::{Moment, Seconds};

use crate::lattice::{Pulse, Row, RowKind, Rule, best_path};

/// Which of two rows of moments belong together: as many pairs as can be with both `window` apart at most (ends included)
/// and in the same order in both rows; among the ways to do that, the one with the least sum of squared distances.
///
/// Both rows must rise. Pairs are indices into the two, in order. This is the yardstick by which onsets are
/// compared (precision, recall, F); to judge a player use [`crate::judge`], which follows the player.
#[must_use]
pub fn matching(written: &[Moment], played: &[Moment], window: Seconds) -> Vec<(usize, usize)> {
    let width = window.as_nanos().max(0);
    let nanos = |moment: &Moment| moment.since_zero().as_nanos();
    let rows: Vec<_> =
        written.iter().map(|moment| Row::new(nanos(moment), RowKind::Due, width, width)).collect();
    let strokes: Vec<_> = played.iter().map(nanos).collect();
    let path = best_path(&rows, &strokes, Rule::Most, Pulse::Known(&vec![0; rows.len()]));
    path.strokes.iter().enumerate().filter_map(|(row, stroke)| Some((row, (*stroke)?))).collect()
}
