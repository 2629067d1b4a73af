//! Counting in a system whose words go by the place in the beat.

use rhythm::{Bar, BarsOfRest, Deed, Event};
use timebase::Span;

use crate::beats::{Beat, is_before};
use crate::table::{Places, Row, Table, gcd};
use crate::{Count, Say, Settings, Voicing, Word};

/// Counts bar by bar; keeps its room from one to the next.
#[derive(Debug)]
pub(crate) struct Counter {
    settings: Settings,
    holds: Voicing,
    rests: Voicing,
    plans: Vec<Plan>,
    /// Where in its beat each event begins, as numerator and denominator.
    parts: Vec<(i64, i64)>,
}

/// What happens in one beat.
#[derive(Clone, Copy, Debug)]
struct Plan {
    /// The first event that begins in it, and the first behind it, as indices.
    first: usize,
    behind: usize,
    /// Into how many parts it is divided by what begins in it.
    level: i64,
}

impl Counter {
    pub(crate) fn new(table: &Table, settings: Settings) -> Self {
        let holds = settings.holds.unwrap_or(table.holds);
        let rests = settings.rests.unwrap_or(table.rests);
        Self { settings, holds, rests, plans: Vec::new(), parts: Vec::new() }
    }

    /// The counts of `bar`, of whose meter `beats` are the beats of a full bar.
    pub(crate) fn count(&mut self, bar: &Bar, beats: &[Beat], places: &Places) -> Vec<Count> {
        self.plan(bar, beats);
        if self.settings.say == Say::Divisions {
            self.divide(beats);
        }
        let mut counts = Vec::with_capacity(beats.len() + bar.events().len());
        for (beat, plan) in beats.iter().zip(&self.plans) {
            self.count_beat(bar, beat, *plan, places, &mut counts);
        }
        counts
    }

    /// Which events begin in which beat, and where in it.
    fn plan(&mut self, bar: &Bar, beats: &[Beat]) {
        let events = bar.events();
        self.plans.clear();
        self.parts.clear();
        let end = bar.end();
        let mut next = 0;
        for beat in beats {
            if !is_before(beat.at, end) {
                break;
            }
            let first = next;
            let mut level = 1;
            while let Some(event) = events.get(next)
                && is_before(event.at, beat.end)
            {
                let part = if event.at == beat.at { (0, 1) } else { beat.part(event.at) };
                // A level that nobody counts any more is not made exact.
                level = if level % part.1 == 0 {
                    level
                } else {
                    (level / gcd(level, part.1)).saturating_mul(part.1)
                };
                self.parts.push(part);
                next += 1;
            }
            self.plans.push(Plan { first, behind: next, level });
        }
    }

    /// Makes beats that are divided as usual all as fine as the finest of them.
    fn divide(&mut self, beats: &[Beat]) {
        let usual = |beat: &Beat, plan: &Plan| beat.kind.is_usual(plan.level);
        let depth = |beat: &Beat, plan: &Plan| {
            let halvings =
                (plan.level / beat.kind.prime()).checked_ilog2().map_or(0, |halvings| halvings + 1);
            halvings.saturating_sub(beat.doubled)
        };
        let both = || beats.iter().zip(&self.plans);
        let deepest = both().filter(|(b, p)| usual(b, p)).map(|(b, p)| depth(b, p)).max().unwrap_or(0);
        let levels: Vec<i64> = both()
            .map(|(beat, plan)| match (usual(beat, plan), deepest) {
                (false, _) | (true, 0) => plan.level,
                (true, _) => beat.kind.prime() << (deepest + beat.doubled - 1).min(8),
            })
            .collect();
        for (plan, level) in self.plans.iter_mut().zip(levels) {
            plan.level = level;
        }
    }

    fn count_beat(&self, bar: &Bar, beat: &Beat, plan: Plan, places: &Places, counts: &mut Vec<Count>) {
        let (events, parts) = (&bar.events()[plan.first..plan.behind], &self.parts[plan.first..plan.behind]);
        let rows = places.rows(beat.kind);
        let against = is_divided_against(bar, beat);
        let row = if self.settings.say == Say::Divisions {
            rows.choose(std::iter::once(plan.level), against)
        } else {
            rows.choose(parts.iter().map(|part| part.1), against)
        };
        // What goes on from before the beat, until something begins in it.
        let mut going = plan.first.checked_sub(1).map(|before| going_on(bar.events()[before].deed));
        let word = |(numerator, denominator)| {
            rows.word(row, numerator, denominator).or(places.elsewhere.as_ref()).cloned()
        };

        let mut begun = events.iter().zip(parts).peekable();
        let on_beat = begun.next_if(|(_, part)| part.0 == 0).map(|(event, _)| event.deed);
        if let Some(deed) = on_beat.or(going) {
            if self.settings.say != Say::Attacks || deed == Deed::Attack {
                counts.push(self.beat(bar, beat, row, deed));
            }
            going = Some(going_on(deed));
        }
        if self.settings.say != Say::Divisions {
            for (event, &part) in begun {
                let say = self.is_counted(event).then(|| word(part));
                counts.extend(say.and_then(|say| self.between(event.at, say, event.deed)));
            }
            return;
        }
        // Divisions and what begins between them, in order.
        let level = if plan.level <= FINEST { plan.level } else { 1 };
        let mut division = 1;
        let end = bar.end();
        while division < level || begun.peek().is_some() {
            let next = begun.peek().map(|(_, part)| **part);
            let earlier = next.is_none_or(|(n, d)| division * d < n * level);
            if division < level && earlier {
                let divisor = gcd(division, level);
                let part = (division / divisor, level / divisor);
                let at = beat.place(part.0, part.1);
                division += 1;
                if let Some(deed) = going.filter(|_| at < end)
                    && let Some(say) = word(part)
                {
                    counts.extend(self.between(at, Some(say), deed));
                }
            } else if let Some((event, &part)) = begun.next() {
                if part.0 * level == division * part.1 {
                    division += 1;
                }
                counts.extend(self.between(event.at, word(part), event.deed));
                going = Some(going_on(event.deed));
            }
        }
    }

    /// Whether what begins between the beats is counted, leaving aside divisions.
    fn is_counted(&self, event: &Event) -> bool {
        match event.deed {
            Deed::Attack => true,
            Deed::Rest => self.settings.say == Say::Beats,
            Deed::Hold => false,
        }
    }

    fn beat(&self, bar: &Bar, beat: &Beat, row: &Row, deed: Deed) -> Count {
        let (word, voicing) = match bar.rest() {
            Some(BarsOfRest { index, .. }) => rest_count(beat, index, self.rests),
            None => (row.beat(&beat.number).clone(), self.voicing(deed)),
        };
        count(beat.at, Some(word), voicing, deed, true)
    }

    /// A count between the beats; `None` for a rest or a hold that says nothing.
    fn between(&self, at: Span, say: Option<Word>, deed: Deed) -> Option<Count> {
        let count = count(at, say, self.voicing(deed), deed, false);
        (deed == Deed::Attack || count.say.is_some()).then_some(count)
    }

    fn voicing(&self, deed: Deed) -> Voicing {
        match deed {
            Deed::Attack => Voicing::Said,
            Deed::Hold => self.holds,
            Deed::Rest => self.rests,
        }
    }
}

/// The finest division that is counted; no row of words is finer.
const FINEST: i64 = crate::limits::ROW_PARTS.most;

/// What is done while an event goes on past its beginning.
pub(crate) fn going_on(deed: Deed) -> Deed {
    if deed == Deed::Attack { Deed::Hold } else { deed }
}

/// The word of a beat in one of several bars of rest that are written as one, and how it is said: numbers in every system,
/// the first of them the bar's (common practice, no source). A system that is silent in rests thinks them.
pub(crate) fn rest_count(beat: &Beat, index: u32, rests: Voicing) -> (Word, Voicing) {
    let word = if beat.at == Span::ZERO { Word::number(index) } else { beat.number.clone() };
    (word, if rests == Voicing::Silent { Voicing::Parentheses } else { rests })
}

/// A count that says nothing where it is silent, and is silent where it says nothing.
pub(crate) fn count(at: Span, say: Option<Word>, voicing: Voicing, deed: Deed, on_beat: bool) -> Count {
    match say.filter(|_| voicing != Voicing::Silent) {
        Some(word) => Count { at, say: Some(word), voicing, deed, on_beat },
        None => Count { at, say: None, voicing: Voicing::Silent, deed, on_beat },
    }
}

/// Whether the author divided the beat in two, four or eight though it divides in three: a duplet, a quadruplet.
fn is_divided_against(bar: &Bar, beat: &Beat) -> bool {
    beat.kind.prime() == 3
        && bar
            .tuplets()
            .iter()
            .any(|tuplet| tuplet.actual.is_power_of_two() && tuplet.holds(beat.at, beat.end))
}
