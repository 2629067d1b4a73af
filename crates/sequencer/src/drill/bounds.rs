//! How long a drill lasts at least and at most, over everything its rounds may become.

use std::collections::{BTreeMap, HashMap};

use timebase::{Position, Seconds, Span};

use super::lay::Geometry;
use super::rounds::Place;
use super::{Drill, Outcome};

/// Every place that can be reached, in the order of the list, with the shortest and the longest way there. Places of one
/// exercise that differ in nothing are one, so the work grows with the rounds and the tempos and not with their combinations.
pub(super) fn bounds(drill: &Drill) -> (Seconds, Seconds) {
    let mut lengths = Lengths { drill, known: HashMap::new() };
    let mut reached = BTreeMap::from([(drill.first(), (Seconds::ZERO, Seconds::ZERO))]);
    let mut over: Option<(Seconds, Seconds)> = None;
    let is_open = drill.depends_on_outcomes();
    while let Some((place, (least, most))) = reached.pop_first() {
        if place.is_over {
            over = Some(join(over, (least, most)));
            continue;
        }
        let length = lengths.of(&place);
        let ways = (least + length, most + length);
        let outcomes = if is_open { &[Outcome::Good, Outcome::Bad][..] } else { &[Outcome::Good][..] };
        for outcome in outcomes {
            let next = drill.after(&place, Some(*outcome));
            let known = reached.get(&next).copied();
            reached.insert(next, join(known, ways));
        }
    }
    over.unwrap_or((Seconds::ZERO, Seconds::ZERO))
}

fn join(known: Option<(Seconds, Seconds)>, ways: (Seconds, Seconds)) -> (Seconds, Seconds) {
    known.map_or(ways, |(least, most)| (least.min(ways.0), most.max(ways.1)))
}

struct Lengths<'a> {
    drill: &'a Drill,
    known: HashMap<Key, Seconds>,
}

/// What the length of a round depends on: the exercise, the step, the bars counted in, what the round before left.
type Key = (usize, Option<timebase::Ratio<u32>>, u32, Option<Span>);

impl Lengths<'_> {
    fn of(&mut self, place: &Place) -> Seconds {
        let order = self.drill.order(place, 0, 0, 0);
        let tail =
            place.before.map(|(exercise, _)| self.drill.tail(&Place { exercise, before: None, ..*place }));
        let key = (place.exercise, place.bpm, order.counted_in, tail);
        let drill = self.drill;
        *self.known.entry(key).or_insert_with(|| {
            let geometry = Geometry::of(drill.plan(), &order, tail);
            let map = geometry.map(&order);
            let start = Position::ZERO + geometry.start();
            map.moment_at(geometry.end()) - map.moment_at(start)
        })
    }
}
