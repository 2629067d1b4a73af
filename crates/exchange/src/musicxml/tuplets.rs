use rhythm::{Deed, Event, Tuplet};
use timebase::{Ratio, Span};

use super::score::Bracket;

/// What a file says of the tuplet that an event stands in.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Member<'a> {
    /// `actual` in the time of `normal`, all levels together.
    pub(super) ratio: Option<(u32, u32)>,
    pub(super) brackets: &'a [Bracket],
}

/// A bracket from one event to another.
#[derive(Clone, Copy, Debug)]
struct Group {
    first: usize,
    last: usize,
    /// The how-manieth bracket of the bar it is.
    order: usize,
    ratio: Option<(u32, u32)>,
}

/// The tuplets of a bar in order, an outer before its inner: as its brackets say, and where there are none, as the
/// time modification of its notes lets them fill whole values. The second value tells whether one was left out
/// because it is not whole: as long as so many of one note value.
pub(super) fn gather(events: &[Event], members: &[Member<'_>]) -> (Vec<Tuplet>, bool) {
    let members = &silence_joined(events, members);
    let groups = brackets(members);
    let mut covered = vec![false; events.len()];
    let mut tuplets = Vec::new();
    for (index, group) in groups.iter().enumerate() {
        let inside = |other: &Group| group.first <= other.first && other.last <= group.last;
        let is_inner =
            groups[..index].iter().any(|outer| outer.first <= group.first && group.last <= outer.last);
        if is_inner {
            continue;
        }
        let inner: Vec<&Group> = groups[index + 1..].iter().filter(|other| inside(other)).collect();
        let is_deeper = |place: usize| inner.iter().any(|other| (other.first..=other.last).contains(&place));
        let plain =
            (group.first..=group.last).find(|&place| !is_deeper(place) && members[place].ratio.is_some());
        let total = plain.and_then(|place| members[place].ratio);
        let first_ratio = members[group.first..=group.last].iter().find_map(|member| member.ratio);
        let Some(outer) = total.or(group.ratio).or(if inner.is_empty() { first_ratio } else { None }) else {
            continue;
        };
        tuplets.push(tuplet(events, group.first, group.last, outer));
        covered[group.first..=group.last].fill(true);
        for other in inner {
            let whole = members[other.first..=other.last].iter().find_map(|member| member.ratio);
            let Some(ratio) = whole.map(|whole| parted(whole, outer)) else { continue };
            let own = other.ratio.filter(|&(actual, normal)| fraction((actual, normal)) == fraction(ratio));
            if fraction(ratio) != Ratio::from_integer(1) {
                tuplets.push(tuplet(events, other.first, other.last, own.unwrap_or(ratio)));
            }
        }
    }
    runs(events, members, &covered, &mut tuplets);
    tuplets.sort_by_key(|tuplet| (tuplet.at, std::cmp::Reverse(tuplet.length)));
    let many = tuplets.len();
    let whole = whole(tuplets);
    let left_out = whole.len() < many;
    (whole, left_out)
}

/// Silence that nobody wrote belongs to the tuplet beside it where no plain value is so long.
fn silence_joined<'a>(events: &[Event], members: &[Member<'a>]) -> Vec<Member<'a>> {
    let mut joined = members.to_vec();
    for index in 0..joined.len() {
        let event = &events[index];
        let is_odd = event.deed == Deed::Rest && event.length.denominator().count_ones() > 1;
        if is_odd && joined[index].ratio.is_none() {
            let before = index.checked_sub(1).and_then(|before| joined[before].ratio);
            let after = joined.get(index + 1).and_then(|after| after.ratio);
            joined[index].ratio =
                if event.at.denominator().count_ones() > 1 { before.or(after) } else { after };
        }
    }
    joined
}

/// The tuplets, in order, that last as long as `actual` of one note value, and with each that does not, those in it.
fn whole(tuplets: Vec<Tuplet>) -> Vec<Tuplet> {
    let mut kept: Vec<Tuplet> = Vec::with_capacity(tuplets.len());
    let mut left_out_to = Span::ZERO;
    for tuplet in tuplets {
        if tuplet.at < left_out_to {
            continue;
        }
        let outer = kept.iter().rev().find(|outer| outer.holds(tuplet.at, tuplet.end()));
        let times = |tuplet: &Tuplet| Ratio::new(i64::from(tuplet.actual), i64::from(tuplet.normal));
        let ratio = outer.map_or(Ratio::from_integer(1), times) * times(&tuplet);
        let one = tuplet.length.in_units_of(Span::WHOLE) * ratio / i64::from(tuplet.actual);
        if one.numer().count_ones() == 1 && one.denom().count_ones() == 1 {
            kept.push(tuplet);
        } else {
            left_out_to = tuplet.end();
        }
    }
    kept
}

/// The brackets that begin and end in the bar, in the order of their beginnings, longer ones first.
fn brackets(members: &[Member<'_>]) -> Vec<Group> {
    let mut open: Vec<(u8, Group)> = Vec::new();
    let mut groups = Vec::new();
    let mut begun = 0;
    for (index, member) in members.iter().enumerate() {
        // A note may end one tuplet and begin another with the same number only in the order they are written.
        for bracket in member.brackets {
            if bracket.begins {
                open.push((
                    bracket.number,
                    Group { first: index, last: index, order: begun, ratio: bracket.ratio },
                ));
                begun += 1;
            } else if let Some(found) = open.iter().rposition(|(number, ..)| *number == bracket.number) {
                let (_, group) = open.remove(found);
                groups.push(Group { last: index, ..group });
            }
        }
    }
    groups.sort_by_key(|group| (group.first, std::cmp::Reverse(group.last), group.order));
    groups
}

/// Gathers what stands under no bracket: notes of one ratio up to where they fill whole values again.
fn runs(events: &[Event], members: &[Member<'_>], covered: &[bool], tuplets: &mut Vec<Tuplet>) {
    let ratio_at = |index: usize| if covered[index] { None } else { members[index].ratio };
    let mut index = 0;
    while index < events.len() {
        let Some((actual, normal)) = ratio_at(index) else {
            index += 1;
            continue;
        };
        let (first, mut smallest, mut sum) = (index, Span::WHOLE, Span::ZERO);
        while index < events.len() && ratio_at(index) == Some((actual, normal)) {
            let length = events[index].length;
            let written = length.scaled(Ratio::new(i64::from(actual), i64::from(normal)));
            smallest = smallest.min(Span::new(1, written.denominator()));
            sum += length;
            index += 1;
            // A whole number of times `normal` of the smallest value it holds.
            if index - first > 1 && sum.is_multiple_of(smallest * i64::from(normal)) {
                break;
            }
        }
        tuplets.push(tuplet(events, first, index - 1, (actual, normal)));
    }
}

fn tuplet(events: &[Event], first: usize, last: usize, (actual, normal): (u32, u32)) -> Tuplet {
    let at = events[first].at;
    Tuplet { at, length: events[last].end() - at, actual, normal }
}

fn fraction((actual, normal): (u32, u32)) -> Ratio<u64> {
    Ratio::new(u64::from(actual), u64::from(normal))
}

/// What is left of a ratio inside an outer one.
fn parted(whole: (u32, u32), outer: (u32, u32)) -> (u32, u32) {
    let left = fraction(whole) / fraction(outer);
    let part = |number: &u64| u32::try_from(*number).unwrap_or(u32::MAX);
    (part(left.numer()), part(left.denom()))
}
