//! The curve from a finding's own evidence to its confidence, fitted to simulated takes: logistic regression by Newton's
//! method. What it prints are the numbers that stand in `findings/calibration.rs`.

use std::fmt::Write as _;

use judge::FindingKind;

use super::score::Told;

/// Kinds whose evidence is of one sort, as in `findings/calibration.rs`.
const GROUPS: [&str; 6] = ["course", "figure", "stroke", "single", "pulse", "touch"];
/// Beside the groups: the own evidence, other kinds beside it, what is left unexplained.
const BESIDE: [&str; 3] = ["evidence", "beside", "left"];
const COLUMNS: usize = GROUPS.len() + BESIDE.len();
/// A little is held against every number but zero, so that a group of which nearly nothing is told gets none that is wild.
const RIDGE: f64 = 0.5;

type Row = [f64; COLUMNS];

fn group(kind: FindingKind) -> usize {
    use FindingKind as K;
    match kind {
        kind if kind <= K::CountsStruck => 0,
        K::HoldStruck | K::RestStruck | K::AttackMissed | K::ExtraAttack | K::Unclear => 2,
        K::EarlyEntry | K::CutShort | K::EarlyAttack | K::LateAttack => 3,
        K::ReleasedEarly | K::HeldThroughRest => 5,
        K::Rushing | K::Dragging | K::Unsteady => 4,
        kind if kind <= K::AndsBunched => 1,
        _ => 5,
    }
}

fn row(told: &Told) -> Row {
    let mut row = [0.0; COLUMNS];
    row[group(told.kind)] = 1.0;
    row[GROUPS.len()] = (told.evidence / (1.0 - told.evidence)).ln();
    row[GROUPS.len() + 1] = -(told.understood.beside.min(4) as f64);
    row[GROUPS.len() + 2] = -told.understood.left.min(0.4);
    row
}

/// The numbers that make these findings likeliest.
pub(crate) fn fitted(told: &[(Told, bool)]) -> String {
    let rows: Vec<(Row, f64)> =
        told.iter().map(|(told, right)| (row(told), f64::from(u8::from(*right)))).collect();
    let mut numbers = [0.0; COLUMNS];
    for _ in 0..40 {
        let mut matrix = [[0.0; COLUMNS]; COLUMNS];
        let mut slope = [0.0; COLUMNS];
        for column in 0..COLUMNS {
            matrix[column][column] = RIDGE;
            slope[column] = -RIDGE * numbers[column];
        }
        for (row, right) in &rows {
            let odds: f64 = row.iter().zip(&numbers).map(|(x, number)| x * number).sum();
            let share = 1.0 / (1.0 + (-odds).exp());
            for i in 0..COLUMNS {
                slope[i] += (right - share) * row[i];
                for j in 0..COLUMNS {
                    matrix[i][j] += share * (1.0 - share) * row[i] * row[j];
                }
            }
        }
        let step = solved(matrix, slope);
        numbers.iter_mut().zip(step).for_each(|(number, step)| *number += step);
    }
    let mut text = format!("\nfitted to {} findings\n", rows.len());
    for (name, number) in GROUPS.iter().chain(&BESIDE).zip(numbers) {
        let _ = writeln!(text, "  {name:12} {number:7.3}");
    }
    text
}

/// The solution of a system whose matrix is positive definite (Gauss).
fn solved(mut matrix: [Row; COLUMNS], mut right: Row) -> Row {
    for k in 0..COLUMNS {
        for i in k + 1..COLUMNS {
            let above = matrix[k];
            let factor = matrix[i][k] / above[k];
            matrix[i].iter_mut().zip(above).skip(k).for_each(|(entry, above)| *entry -= factor * above);
            right[i] -= factor * right[k];
        }
    }
    for k in (0..COLUMNS).rev() {
        let known: f64 = matrix[k].iter().zip(right).skip(k + 1).map(|(entry, known)| entry * known).sum();
        right[k] = (right[k] - known) / matrix[k][k];
    }
    right
}
