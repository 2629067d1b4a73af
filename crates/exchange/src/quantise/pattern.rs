//! Every way in which attacks may lie in one cell, and how likely each is before anything is heard.

use std::collections::BTreeMap;

use super::vocabulary::{Cell, Taught, Vocabulary};

/// Parts of a cell in which places are counted: a common multiple of all that a cell divides into.
pub(super) const TICKS: u32 = 120;

/// What is remembered of the cells before: how the last one sounded, and whether the player is in threes.
pub(super) const MEMORIES: usize = 6;
/// At the beginning: nothing struck, not in threes.
pub(super) const SILENT: usize = 2;

/// Where in the bar a cell stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Strength {
    /// At its beginning.
    Downbeat,
    /// Later.
    Other,
    /// Not known yet.
    Unknown,
}

/// What happened last: index into the tables of priors, with 3 added in threes.
const ON_BEAT: usize = 0;
const OFF_BEAT: usize = 1;

/// What has not been taught may still be a slip of the list; it costs this many nats.
const UNTAUGHT: f64 = 8.0;
/// The weight of a syncopation within a cell that has been taught.
const SYNCOPATED: f64 = 0.5;

/// One way in which attacks lie in a cell.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Pattern {
    /// The places struck, in 120ths of the cell, rising.
    pub(super) ticks: Vec<u32>,
    /// The same as indices into [`Patterns::places`].
    pub(super) at: Vec<usize>,
    /// Into how many parts the cell must be divided for it.
    parts: u32,
}

/// All patterns of one kind of cell.
#[derive(Clone, Debug)]
pub(super) struct Patterns {
    pub(super) list: Vec<Pattern>,
    /// Every place that some pattern strikes, as a fraction of the cell, rising.
    pub(super) places: Vec<f64>,
    /// The most attacks a pattern has.
    pub(super) most: usize,
    /// Log probabilities: strength, then memory, then pattern.
    priors: [[Vec<f64>; MEMORIES]; 3],
    in_three: bool,
}

impl Patterns {
    /// Every pattern of this cell that uses only what was taught.
    pub(super) fn of(cell: Cell, vocabulary: Vocabulary) -> Self {
        let parts = vocabulary.parts(cell);
        // The fewest parts that show a set of places come first and stay.
        let mut found: BTreeMap<Vec<u32>, u32> = BTreeMap::new();
        for &parts in &parts {
            for set in 0..1_u32 << parts {
                let ticks: Vec<u32> = (0..parts)
                    .filter(|part| set >> part & 1 == 1)
                    .map(|part| part * (TICKS / parts))
                    .collect();
                // Five are only heard as five if most of them are struck.
                if parts != 5 || ticks.len() >= 3 {
                    found.entry(ticks).or_insert(parts);
                }
            }
        }
        let mut ticks: Vec<u32> = found.keys().flatten().copied().collect();
        ticks.sort_unstable();
        ticks.dedup();
        let list: Vec<Pattern> = found
            .into_iter()
            .map(|(struck, parts)| {
                let at = struck.iter().filter_map(|tick| ticks.binary_search(tick).ok()).collect();
                Pattern { ticks: struck, at, parts }
            })
            .collect();
        let places = ticks.iter().map(|&tick| f64::from(tick) / f64::from(TICKS)).collect();
        let most = list.iter().map(|pattern| pattern.ticks.len()).max().unwrap_or(0);
        let priors = Prior { cell, vocabulary, parts: &parts, list: &list }.tables();
        Self { list, places, most, priors, in_three: cell.in_three }
    }

    /// The log probability of every pattern in a cell that stands so, after what is remembered.
    pub(super) fn priors(&self, strength: Strength, memory: usize) -> &[f64] {
        &self.priors[strength_index(strength)][memory]
    }

    /// What is remembered after `pattern`.
    pub(super) fn remembered(&self, pattern: usize, memory: usize) -> usize {
        let pattern = &self.list[pattern];
        let last = match pattern.ticks.last() {
            None => SILENT,
            Some(0) => ON_BEAT,
            Some(_) => OFF_BEAT,
        };
        let threes = match pattern.parts {
            _ if self.in_three => 0,
            1 => memory / 3,
            3 | 6 | 12 => 1,
            _ => 0,
        };
        last + 3 * threes
    }

    /// The shortest distance between two places of one division, as a fraction of the cell.
    pub(super) fn finest(&self) -> f64 {
        let parts = self.list.iter().map(|pattern| pattern.parts).max().unwrap_or(1);
        1.0 / f64::from(parts)
    }
}

fn strength_index(strength: Strength) -> usize {
    match strength {
        Strength::Downbeat => 0,
        Strength::Other => 1,
        Strength::Unknown => 2,
    }
}

/// What the prior is made of.
struct Prior<'a> {
    cell: Cell,
    vocabulary: Vocabulary,
    parts: &'a [u32],
    list: &'a [Pattern],
}

impl Prior<'_> {
    fn tables(&self) -> [[Vec<f64>; MEMORIES]; 3] {
        let inside: Vec<f64> = self.list.iter().map(|pattern| self.inside(pattern)).collect();
        [Strength::Downbeat, Strength::Other, Strength::Unknown].map(|strength| {
            std::array::from_fn(|memory| {
                let mut logs: Vec<f64> = self
                    .list
                    .iter()
                    .zip(&inside)
                    .map(|(pattern, inside)| inside + self.joined(pattern, strength, memory))
                    .collect();
                let sum = log_sum(logs.iter().copied());
                logs.iter_mut().for_each(|log| *log -= sum);
                logs
            })
        })
    }

    /// What speaks for a pattern by itself: how far the cell is divided, and which of the parts are struck.
    fn inside(&self, pattern: &Pattern) -> f64 {
        let division: f64 = match (self.cell.in_three, pattern.parts) {
            (false, 1) => 0.40,
            (false, 2) => 0.30,
            (false, 3) => 0.08,
            (false, 4) => 0.18,
            (false, 8) => 0.02,
            (true, 1) => 0.30,
            (true, 3) => 0.50,
            (true, 6) => 0.17,
            _ => 0.01,
        };
        let mut log = division.ln();
        let step = TICKS / pattern.parts;
        let coarser = self.coarser(pattern.parts);
        let struck = |part: u32| pattern.ticks.binary_search(&(part * step)).is_ok();
        for part in 1..pattern.parts {
            // A coarser place is mostly struck where a finer one is; of the finest at least one is.
            let chance: f64 = match pattern.parts {
                5 => 0.85,
                parts if part.is_multiple_of(parts / coarser) => 0.8,
                _ => 0.55,
            };
            log += if struck(part) { chance.ln() } else { (1.0 - chance).ln() };
        }
        let (syncopated, dotted) = self.kinds(pattern);
        if syncopated {
            log += if self.vocabulary.has(Taught::Syncopation) { SYNCOPATED.ln() } else { -UNTAUGHT };
        }
        if dotted && !self.vocabulary.has(Taught::Dotted) {
            log -= UNTAUGHT;
        }
        log
    }

    /// The next coarser of the divisions that hold this one.
    fn coarser(&self, parts: u32) -> u32 {
        self.parts
            .iter()
            .copied()
            .filter(|&other| other < parts && parts.is_multiple_of(other))
            .max()
            .unwrap_or(1)
    }

    /// Whether a pattern is syncopated within the cell, and whether it needs a dotted note there.
    ///
    /// Syncopated after Longuet-Higgins & Lee, "The rhythmic interpretation of monophonic music" (Music Perception 1,
    /// 1984): an attack on a weaker place, and nothing struck on a stronger one before the next attack.
    fn kinds(&self, pattern: &Pattern) -> (bool, bool) {
        let level = |part: u32| {
            // 0 is the strongest: the coarsest division that has this place.
            let place = part * (TICKS / pattern.parts);
            self.parts
                .iter()
                .position(|&parts| place.is_multiple_of(TICKS / parts) && pattern.parts.is_multiple_of(parts))
        };
        let step = TICKS / pattern.parts;
        let parts: Vec<u32> = pattern.ticks.iter().map(|tick| tick / step).collect();
        let ends = parts.iter().copied().skip(1).chain([pattern.parts]);
        let (mut syncopated, mut dotted) = (false, false);
        for (&from, to) in parts.iter().zip(ends) {
            syncopated |= from > 0 && (from + 1..to).any(|between| level(between) < level(from));
            let in_twos = pattern.parts.is_multiple_of(2);
            dotted |= in_twos && to - from == 3;
        }
        (syncopated, dotted)
    }

    /// What speaks for a pattern after the cells before: whether its beginning is struck, and threes after threes.
    fn joined(&self, pattern: &Pattern, strength: Strength, memory: usize) -> f64 {
        let (last, threes) = (memory % 3, memory / 3 == 1);
        let short = !self.cell.in_three && self.cell.length < timebase::Span::QUARTER;
        let mut struck: f64 = match strength {
            Strength::Downbeat => 0.93,
            Strength::Other => 0.85,
            Strength::Unknown => 0.87,
        };
        if last == SILENT {
            // Silence and long notes go on.
            struck -= 0.15;
        }
        if short {
            struck -= 0.1;
        }
        let mut log = if pattern.ticks.first() == Some(&0) {
            struck.ln()
        } else {
            let across = match last {
                OFF_BEAT if !self.vocabulary.has(Taught::Syncopation) => 0.2,
                ON_BEAT if !pattern.ticks.is_empty() && !self.vocabulary.has(Taught::Dotted) => 0.3,
                _ => 1.0_f64,
            };
            (1.0 - struck).ln() + across.ln()
        };
        if !self.cell.in_three {
            log += match (threes, pattern.parts) {
                (_, 1) => 0.0,
                (true, 3 | 6) => 1.2,
                (true, _) => -0.4,
                (false, 3 | 6) => -0.3,
                (false, _) => 0.0,
            };
        }
        log
    }
}

/// The logarithm of a sum of what is given by its logarithms.
pub(super) fn log_sum(logs: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = logs.clone().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY { most } else { most + logs.map(|log| (log - most).exp()).sum::<f64>().ln() }
}

#[cfg(test)]
mod tests {
    use rhythm::Meter;

    use super::*;

    fn patterns(taught: &str, beats: u32, unit: u32) -> Patterns {
        let cell = Cell::of(Meter::new(beats, unit).expect("a meter"));
        Patterns::of(cell, Vocabulary::parse(taught).expect(taught))
    }

    #[test]
    fn every_set_of_places_stands_once() {
        let check = |taught: &str, beats, unit, many: usize| {
            let patterns = patterns(taught, beats, unit);
            assert_eq!(patterns.list.len(), many, "{taught}");
            for strength in [Strength::Downbeat, Strength::Other, Strength::Unknown] {
                for memory in 0..MEMORIES {
                    let sum: f64 = patterns.priors(strength, memory).iter().map(|log| log.exp()).sum();
                    assert!((sum - 1.0).abs() < 1e-9, "{taught}: probabilities add up to {sum}");
                }
            }
        };
        check("quarters", 4, 4, 2);
        check("eighths", 4, 4, 4);
        check("sixteenths", 4, 4, 16);
        // Eight sets of thirds, two of them (nothing, the beat) among the halves.
        check("sixteenths, triplets", 4, 4, 16 + 8 - 2);
        check("sixteenths", 6, 8, 64);
        // 256 eighths of the beat; 64 sixths share nothing, 0, 1/2 and both with them.
        check("thirty-seconds, sextuplets", 4, 4, 256 + 64 - 4);
    }

    /// Longuet-Higgins & Lee: eighth, quarter, eighth is a syncopation, dotted eighth and sixteenth is none.
    #[test]
    fn what_is_syncopated_and_dotted() {
        let check = |beats, unit, ticks: &[u32], expected: (bool, bool)| {
            let cell = Cell::of(Meter::new(beats, unit).expect("a meter"));
            let vocabulary = Vocabulary::default();
            let patterns = Patterns::of(cell, vocabulary);
            let parts = vocabulary.parts(cell);
            let prior = Prior { cell, vocabulary, parts: &parts, list: &patterns.list };
            let pattern = patterns.list.iter().find(|pattern| pattern.ticks == ticks).expect("a pattern");
            assert_eq!(prior.kinds(pattern), expected, "{ticks:?}");
        };
        check(4, 4, &[0, 60], (false, false));
        check(4, 4, &[0, 30, 90], (true, false));
        check(4, 4, &[0, 90], (false, true));
        check(4, 4, &[0, 30], (true, true));
        check(4, 4, &[0, 30, 60], (false, false));
        check(4, 4, &[0, 80], (false, false));
        check(6, 8, &[0, 80], (false, false));
        check(6, 8, &[0, 60, 80], (false, true));
    }
}
