//! Which beat is count 1, and how many make a bar, when nothing but the beats is known.

use std::collections::BTreeMap;

use super::course::Plan;
use super::heard::Heard;
use super::posterior::Way;

/// How likely the first stroke is count 1: most exercises have no pickup.
const BEGINS_ON_ONE: f64 = 0.93;

/// What one cell sounds like.
struct Sounding {
    pattern: usize,
    struck: bool,
    velocity: Option<f64>,
    /// How many cells the stroke on its beginning lasts; 0 where there is none.
    lasts: usize,
}

/// For each place of a bar of `cells` cells, what speaks for the first bar line standing before that cell, in nats.
pub(super) fn downbeats(heard: &Heard, plan: &Plan<'_>, way: &Way, cells: usize) -> Vec<f64> {
    let sounding = sounding(heard, plan, way);
    let again = again(&sounding, cells);
    (0..cells).map(|phase| again + weight(&sounding, cells, phase)).collect()
}

fn sounding(heard: &Heard, plan: &Plan<'_>, way: &Way) -> Vec<Sounding> {
    let mut sounding: Vec<Sounding> = way
        .iter()
        .enumerate()
        .map(|(cell, (from, step))| {
            let pattern = &plan.patterns(cell).list[step.pattern];
            let struck = pattern.ticks.first() == Some(&0);
            let velocity = if struck { heard.velocity.get(*from).copied().flatten() } else { None };
            let lasts = usize::from(struck);
            Sounding { pattern: step.pattern, struck, velocity: velocity.map(f64::from), lasts }
        })
        .collect();
    // From the last to the first: a stroke goes on through cells in which nothing is struck.
    let mut silent = 0;
    for (cell, (_, step)) in way.iter().enumerate().rev() {
        let pattern = &plan.patterns(cell).list[step.pattern];
        if pattern.ticks.is_empty() {
            silent += 1;
            continue;
        }
        if pattern.ticks.as_slice() == [0] {
            sounding[cell].lasts = 1 + silent;
        }
        silent = 0;
    }
    sounding
}

/// How strong the places of a bar are.
fn level(place: usize, cells: usize) -> u32 {
    match (place, cells) {
        (0, _) => 3,
        (2, 4) => 2,
        _ => 1,
    }
}

fn weight(sounding: &[Sounding], cells: usize, phase: usize) -> f64 {
    let place = |cell: usize| (cell + cells - phase) % cells;
    let mut log = if phase == 0 {
        BEGINS_ON_ONE.ln()
    } else {
        ((1.0 - BEGINS_ON_ONE) / (cells.max(2) - 1) as f64).ln()
    };
    let (mut loud, mut all) = (Vec::new(), Vec::new());
    for (cell, here) in sounding.iter().enumerate() {
        let first = place(cell) == 0;
        let chance: f64 = if first { 0.93 } else { 0.85 };
        log += if here.struck { (chance / 0.87).ln() } else { ((1.0 - chance) / 0.13).ln() };
        // A long note begins on a strong place (Povel & Essens 1985; Longuet-Higgins & Lee 1984).
        for later in 1..here.lasts.min(cells) {
            if cell + later < sounding.len() && level(place(cell + later), cells) > level(place(cell), cells)
            {
                log -= 0.8;
            }
        }
        if here.lasts >= 2 && cell + here.lasts < sounding.len() {
            log += 0.2 * f64::from(level(place(cell), cells));
        }
        if let Some(velocity) = here.velocity {
            all.push(velocity);
            if first {
                loud.push(velocity);
            }
        }
    }
    if sounding.last().is_some_and(|last| last.struck) && place(sounding.len() - 1) == 0 {
        log += 0.5;
    }
    log + louder(&loud, &all)
}

/// What speaks for a downbeat that is struck louder than the rest: half the square of its distance in standard errors.
fn louder(loud: &[f64], all: &[f64]) -> f64 {
    if loud.len() < 2 || all.len() < 4 {
        return 0.0;
    }
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let middle = mean(all);
    let variance = all.iter().map(|v| (v - middle).powi(2)).sum::<f64>() / all.len() as f64;
    let error = (variance / loud.len() as f64).sqrt();
    if error < 0.5 {
        return 0.0;
    }
    let errors = (mean(loud) - middle) / error;
    (0.5 * errors * errors.abs()).clamp(-8.0, 8.0)
}

/// What speaks for bars of so many cells because they come again, one or two bars later: more cells alike than by chance.
fn again(sounding: &[Sounding], cells: usize) -> f64 {
    let mut often: BTreeMap<usize, f64> = BTreeMap::new();
    for here in sounding {
        *often.entry(here.pattern).or_default() += 1.0;
    }
    let all = sounding.len() as f64;
    let chance: f64 = often.values().map(|many| (many / all).powi(2)).sum();
    let after = |later: usize| {
        let pairs = sounding.iter().zip(sounding.iter().skip(later));
        let alike = pairs.filter(|(a, b)| a.pattern == b.pattern).count() as f64;
        alike - chance * sounding.len().saturating_sub(later) as f64
    };
    after(cells).max(after(2 * cells))
}
