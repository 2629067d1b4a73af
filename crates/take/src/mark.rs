use sequencer::Sequence;
use timebase::Position;

/// A place that a file marks for whoever opens it in another program.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// Where, from count 1 of bar 1.
    pub at: Position,
    /// What stands there: `count-in`, `pickup`, `bar 3`, `bar 3 pass 2`.
    pub label: String,
}

/// Where the count-in, the pickup and every bar begin as they are played, in order.
#[must_use]
pub fn marks(sequence: &Sequence) -> Vec<Mark> {
    let bars = sequence.performance().bars();
    let counted_in = bars.first().filter(|first| sequence.start() < first.start);
    let count_in = counted_in.map(|_| Mark { at: sequence.start(), label: "count-in".to_owned() });
    let bars = bars.iter().map(|bar| {
        let name = if bar.number == 0 { "pickup".to_owned() } else { format!("bar {}", bar.number) };
        let label = if bar.pass > 1 { format!("{name} pass {}", bar.pass) } else { name };
        Mark { at: bar.start, label }
    });
    count_in.into_iter().chain(bars).collect()
}

#[cfg(test)]
mod tests {
    use sequencer::{Plan, sequence};

    use super::*;

    fn check(text: &str, count_in: u32, expected: &[(&str, &str)]) {
        let rhythm = rhythm::text::read(text).rhythm.unwrap_or_else(|| panic!("{text}"));
        let plan = Plan::of(&rhythm).with_count_in(count_in).expect("in range");
        let found = marks(&sequence(&rhythm, &counting::count(&rhythm), &plan));
        let found: Vec<(String, &str)> =
            found.iter().map(|mark| (mark.at.to_string(), mark.label.as_str())).collect();
        let expected: Vec<(String, &str)> =
            expected.iter().map(|&(at, label)| (at.to_owned(), label)).collect();
        assert_eq!(found, expected, "{text}");
    }

    #[test]
    fn bars_are_marked_where_they_begin_as_they_are_played() {
        check("meter: 4/4\n| 1 2 3 4 | 1 2 3 4 |", 1, &[("-1", "count-in"), ("0", "bar 1"), ("1", "bar 2")]);
        check("meter: 4/4\n4 & | 1 2 3 4 |", 0, &[("-1/4", "pickup"), ("0", "bar 1")]);
        check("meter: 2/4\n|: 1 2 :| 1 & 2 |", 0, &[("0", "bar 1"), ("1/2", "bar 1 pass 2"), ("1", "bar 2")]);
    }
}
