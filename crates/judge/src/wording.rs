use counting::TimedCount;
use rhythm::AttackId;
use timebase::Seconds;

/// The bar a place lies in, as a sentence begins: `bar 3`, `pickup`, `bar 3, second time`.
pub(crate) fn bar(id: AttackId) -> String {
    let bar = if id.bar == 0 { "pickup".to_owned() } else { format!("bar {}", id.bar) };
    match id.pass {
        0 | 1 => bar,
        pass => format!("{bar}, {}", time(pass)),
    }
}

/// The same in running text: `the pickup`.
pub(crate) fn the_bar(id: AttackId) -> String {
    if id.bar == 0 { format!("the {}", bar(id)) } else { bar(id) }
}

/// One of several times through a passage: `second time`.
pub(crate) fn time(pass: u32) -> String {
    match pass {
        0 | 1 => "first time".to_owned(),
        2 => "second time".to_owned(),
        3 => "third time".to_owned(),
        pass => format!("time {pass}"),
    }
}

/// A count as one says it: `3`, `the & of 2`; `the place after the e of 2` where there is no word for it.
pub(crate) fn count(counts: &[TimedCount], index: usize) -> String {
    let here = &counts[index];
    let same_bar = |other: &usize| {
        let other = counts[*other].id;
        (other.bar, other.pass) == (here.id.bar, here.id.pass)
    };
    let mut before = (0..index).rev().take_while(same_bar);
    match &here.say {
        Some(word) if here.on_beat => word.to_string(),
        Some(word) => {
            match before.find(|&other| counts[other].on_beat).and_then(|beat| counts[beat].say.as_ref()) {
                Some(beat) => format!("the {word} of {beat}"),
                // A pickup may begin between the beats.
                None => format!("the {word}"),
            }
        }
        None => match before.find(|&other| counts[other].say.is_some()) {
            Some(other) => format!("the place after {}", count(counts, other)),
            None => "the first place".to_owned(),
        },
    }
}

/// The bars of all places but the first, as they are gone through: `; also in bars 4, 9 and 12`, `; also in 5 more places, in bars 1 and
/// 2` where there are several in a bar. So many bars that nobody would read them are not named.
pub(crate) fn also_in(places: &[AttackId]) -> String {
    also("in", places)
}

/// The same in or before bars.
pub(crate) fn also(preposition: &str, places: &[AttackId]) -> String {
    let [first, others @ ..] = places else { return String::new() };
    let (more, first) = (others.len(), (first.bar, first.pass));
    let bars = others.chunk_by(|one, next| (one.bar, one.pass) == (next.bar, next.pass));
    let bars: Vec<AttackId> = bars.map(|alike| alike[0]).collect();
    let once_each = bars.len() == more && bars.iter().all(|id| (id.bar, id.pass) != first);
    match (once_each, bars.len()) {
        (_, 0) => String::new(),
        (true, ..=MOST_BARS) => format!("; also {preposition} {}", these_bars(&bars)),
        (_, 1) if more == 1 => "; also in 1 more place of the bar".to_owned(),
        (_, ..=MOST_BARS) => format!("; also in {more} more places, {preposition} {}", these_bars(&bars)),
        _ => format!("; also in {more} more places"),
    }
}

/// So many bars are named at most.
const MOST_BARS: usize = 6;

/// `bar 4`, `bars 4, 9 and 12`; those of a second time through say so each.
fn these_bars(bars: &[AttackId]) -> String {
    let numbers = bars.len() > 1 && bars.iter().all(|id| id.bar > 0 && id.pass <= 1);
    let name = |id: &AttackId| if numbers { id.bar.to_string() } else { the_bar(*id) };
    match bars {
        [] => String::new(),
        [bar] => name(bar),
        [before @ .., last] => {
            let before: Vec<String> = before.iter().map(name).collect();
            let bars = if numbers { "bars " } else { "" };
            format!("{bars}{} and {}", before.join(", "), name(last))
        }
    }
}

/// So many of something: `1 attack`, `3 attacks`.
pub(crate) fn attacks(number: usize) -> String {
    if number == 1 { "1 attack".to_owned() } else { format!("{number} attacks") }
}

/// A length in whole milliseconds, without its sign.
pub(crate) fn ms(length_ms: f64) -> String {
    format!("{:.0} ms", length_ms.abs())
}

/// The same in whole steps of what the stamps are worth, one at least where they are worth more than a millisecond.
pub(crate) fn ms_in(length_ms: f64, resolution: Seconds) -> String {
    let step = resolution.as_millis_f64();
    if step <= 1.0 {
        return ms(length_ms);
    }
    format!("about {:.0} ms", (length_ms.abs() / step).round().max(1.0) * step)
}

/// A percentage without its sign, no finer than its error.
pub(crate) fn percent(percent: f64, error: f64) -> String {
    let decimals = if error >= 0.5 {
        0
    } else if error >= 0.05 {
        1
    } else {
        2
    };
    format!("{:.decimals$} %", percent.abs())
}

/// A number of felt beats, without its sign: `a beat`, `2 beats`, `half a beat`, `about 1.3 beats`.
pub(crate) fn beats(beats: f64) -> String {
    let size = beats.abs();
    let halves = (size * 2.0).round();
    if (size - halves / 2.0).abs() > 0.12 {
        return format!("about {size:.1} beats");
    }
    match crate::written::rounded(halves) {
        1 => "half a beat".to_owned(),
        2 => "a beat".to_owned(),
        3 => "a beat and a half".to_owned(),
        halves if halves % 2 == 0 => format!("{} beats", halves / 2),
        halves => format!("{} and a half beats", halves / 2),
    }
}

#[cfg(test)]
mod tests {
    use timebase::Span;

    use super::*;

    #[test]
    fn the_bars_of_more_places_are_named() {
        let places = |bars: &[(u32, u32)]| -> Vec<AttackId> {
            bars.iter().map(|&(bar, pass)| AttackId { bar, pass, at: Span::ZERO }).collect()
        };
        for (bars, expected) in [
            (&[(2, 1)][..], ""),
            (&[(2, 1), (4, 1)], "; also in bar 4"),
            (&[(2, 1), (4, 1), (9, 1), (12, 1)], "; also in bars 4, 9 and 12"),
            (&[(2, 1), (0, 2), (4, 2)], "; also in the pickup, second time and bar 4, second time"),
            (&[(2, 1), (2, 1)], "; also in 1 more place of the bar"),
            (&[(1, 1), (1, 1), (2, 1), (2, 1)], "; also in 3 more places, in bars 1 and 2"),
            (&[(1, 1), (2, 1), (2, 1)], "; also in 2 more places, in bar 2"),
            (&[(1, 1), (2, 1), (3, 1), (4, 1), (5, 1), (6, 1), (7, 1), (8, 1)], "; also in 7 more places"),
        ] {
            assert_eq!(also_in(&places(bars)), expected, "{bars:?}");
        }
    }

    #[test]
    fn no_length_is_finer_than_the_clock() {
        for (length_ms, resolution_ms, expected) in [
            (-71.6, 1, "72 ms"),
            (-71.6, 17, "about 68 ms"),
            (3.0, 17, "about 17 ms"),
            (40.0, 10, "about 40 ms"),
        ] {
            assert_eq!(ms_in(length_ms, Seconds::from_millis(resolution_ms)), expected, "{length_ms}");
        }
    }
}
