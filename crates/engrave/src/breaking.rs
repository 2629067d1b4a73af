//! Where systems end: over the whole piece, as lines of text are broken by least badness, not one by one.

use crate::Layout;
use crate::placing::{closing, signs, told};
use crate::plan::gaps::Gap;
use crate::plan::{Joined, Plan};

/// How much room bars take.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Width {
    /// Signs and bar lines, which do not stretch.
    rigid: f64,
    /// What the clef and a meter add where the bar is the first of its system.
    first: f64,
    /// The gaps as they want to be.
    pub(crate) natural: f64,
    /// The gaps at the narrowest.
    least: f64,
    /// What is told behind the bar where it is the last of its system: the meter that the next begins with.
    pub(crate) told: f64,
}

impl Width {
    pub(crate) fn of(plan: &Plan, next: Option<&Plan>, layout: &Layout) -> Self {
        let gaps = |width: fn(&Gap) -> f64| plan.gaps.iter().map(width).sum::<f64>();
        let rigid = signs(plan, false, layout);
        Self {
            rigid: rigid + closing(plan),
            first: signs(plan, true, layout) - rigid,
            natural: gaps(|gap| gap.at(1.0)),
            least: gaps(|gap| gap.least),
            told: next.map_or(0.0, |next| told(next, layout)),
        }
    }

    /// These bars and one more before them.
    fn after(self, before: Self) -> Self {
        Self {
            rigid: before.rigid + self.rigid,
            first: before.first,
            natural: before.natural + self.natural,
            least: before.least + self.least,
            told: self.told,
        }
    }

    pub(crate) fn of_system(bars: &[Self]) -> Self {
        bars.iter().copied().rev().reduce(Self::after).unwrap_or_default()
    }

    /// All of a system that does not stretch.
    pub(crate) fn rigid(self) -> f64 {
        self.rigid + self.first + self.told
    }

    /// Whether nothing touches in so much room.
    fn fits(self, room: f64) -> bool {
        self.rigid() + self.least <= room
    }

    /// 0 where a system fits exactly; tight is worse than loose, and a last system may stay short.
    fn badness(self, room: f64, is_last: bool) -> f64 {
        let off = (room - self.rigid() - self.natural) / room;
        match (off < 0.0, is_last) {
            (true, _) => 4.0 * off * off,
            (false, true) => 0.3 * off * off,
            (false, false) => off * off,
        }
    }
}

/// Where each system begins, and the number of bars as the last: the sum of the squares of what each leaves free, or
/// has too much, is the least of all divisions.
///
/// Bars are kept whole, and bars of rest drawn as one are not parted. A system that does not fit holds one bar, or one
/// such rest. The work for a bar grows with the bars of one system, not of the piece.
pub(crate) fn breaks(plans: &[Plan], widths: &[Width], room: f64) -> Vec<usize> {
    let parted = |joined: Option<Joined>| joined.is_none_or(|joined| joined.index == 1);
    divide(widths, |index| plans.get(index).is_none_or(|plan| parted(plan.joined)), room)
}

/// `may_begin` tells whether a system may begin with a bar, and the one before it so end.
fn divide(widths: &[Width], may_begin: impl Fn(usize) -> bool, room: f64) -> Vec<usize> {
    let bars = widths.len();
    let (mut cost, mut first_of) = (vec![f64::INFINITY; bars + 1], vec![0; bars + 1]);
    cost[0] = 0.0;
    for end in (1..=bars).filter(|&end| may_begin(end)) {
        let mut system = Width::default();
        let mut holds_one = false;
        for first in (0..end).rev() {
            system = if first + 1 == end { widths[first] } else { system.after(widths[first]) };
            if holds_one && !system.fits(room) {
                break;
            }
            if !may_begin(first) {
                continue;
            }
            holds_one = true;
            let total = cost[first] + system.badness(room, end == bars);
            if total < cost[end] {
                (cost[end], first_of[end]) = (total, first);
            }
        }
    }
    let mut ends = vec![bars];
    while let Some(&end) = ends.last().filter(|&&end| end > 0) {
        ends.push(first_of[end]);
    }
    ends.reverse();
    ends
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const ROOM: f64 = 40.0;

    fn bar(natural: f64) -> Width {
        Width { rigid: 0.2, first: 6.0, natural, least: natural * 0.6, told: 0.0 }
    }

    fn total(widths: &[Width], ends: &[usize]) -> f64 {
        let system = |pair: &[usize]| (Width::of_system(&widths[pair[0]..pair[1]]), pair[1] == widths.len());
        ends.windows(2).map(system).map(|(system, is_last)| system.badness(ROOM, is_last)).sum()
    }

    /// Every way to divide so many bars into systems that fit, or hold one bar.
    fn all(widths: &[Width]) -> Vec<Vec<usize>> {
        let inner = widths.len() - 1;
        let ways = (0u32..1 << inner).map(|cuts| {
            let cut = (1..=inner).filter(|index| cuts >> (index - 1) & 1 == 1);
            [0].into_iter().chain(cut).chain([widths.len()]).collect::<Vec<_>>()
        });
        let fits =
            |pair: &[usize]| pair[1] - pair[0] == 1 || Width::of_system(&widths[pair[0]..pair[1]]).fits(ROOM);
        ways.filter(|ends| ends.windows(2).all(fits)).collect()
    }

    /// As text is set line by line: another bar is taken while there is room for it.
    fn greedy(widths: &[Width]) -> Vec<usize> {
        let mut ends = vec![0];
        for end in 1..widths.len() {
            let first = ends[ends.len() - 1];
            let longer = Width::of_system(&widths[first..=end]);
            if longer.rigid() + longer.natural > ROOM {
                ends.push(end);
            }
        }
        ends.push(widths.len());
        ends
    }

    proptest! {
        /// Held against all divisions there are.
        #[test]
        fn no_division_is_better(naturals in proptest::collection::vec(2.0f64..60.0, 1..11)) {
            let widths: Vec<Width> = naturals.into_iter().map(bar).collect();
            let least = all(&widths).iter().map(|ends| total(&widths, ends)).fold(f64::INFINITY, f64::min);
            let found = divide(&widths, |_| true, ROOM);
            prop_assert!((total(&widths, &found) - least).abs() < 1e-9, "{found:?}");
        }

        #[test]
        fn what_is_joined_is_not_parted(many in 2usize..8, before in 0usize..5, behind in 0usize..5) {
            let joined = before + 1..before + many;
            let widths = vec![bar(12.0); before + many + behind];
            let ends = divide(&widths, |index| !joined.contains(&index), ROOM);
            prop_assert!(!ends.iter().any(|end| joined.contains(end)), "{ends:?}");
            prop_assert!(ends.windows(2).all(|pair| pair[0] < pair[1]));
        }
    }

    /// Line by line the second system would be left with one short bar before a bar that is wide; a little tighter, the
    /// first takes it too.
    #[test]
    fn systems_are_not_filled_one_by_one() {
        let widths: Vec<Width> = [10.0, 10.0, 10.0, 5.0, 32.0, 20.0].map(bar).into();
        let (found, line_by_line) = (divide(&widths, |_| true, ROOM), greedy(&widths));
        assert_eq!(line_by_line, [0, 3, 4, 5, 6]);
        assert_eq!(found, [0, 4, 5, 6]);
        assert!(total(&widths, &found) < total(&widths, &line_by_line) / 2.0);
    }
}
