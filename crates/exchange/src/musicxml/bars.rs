use rhythm::limits::DEFAULT_BPM;
use rhythm::{Meter, TempoMark};
use timebase::{Span, Tempo};

use super::score::{Score, ScoreBar, Sign, TempoSign, Time};
use super::unkept::Losses;
use crate::Error;

/// Where one bar of a file stands in the piece; the same for all its parts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plan {
    pub(super) number: u32,
    pub(super) meter: Meter,
    /// Where it begins and ends, from where the full bar begins.
    pub(super) start: Span,
    pub(super) end: Span,
    pub(super) tempo: Option<TempoMark>,
}

/// What the parts of a file say together of one bar.
#[derive(Clone, Copy, Debug, Default)]
struct Facts<'a> {
    /// The first of the chosen parts that has this bar, else the first of all.
    bar: Option<&'a ScoreBar>,
    time: Option<Time>,
    time_after: Option<Time>,
    /// How far the notes reach of the chosen parts, and of all.
    chosen: Span,
    any: Span,
    rest: Option<Span>,
    /// How far the chosen parts pass over silence, but in the last bar: some close an incomplete last bar so.
    passed: Span,
}

/// How much longer than its meter a bar may be by sloppy durations before it counts as a longer bar.
const SLACK: Span = Span::new(1, 64);

/// Plans the bars of a file as the `chosen` of its parts fill them. The second value is the tempo at the head.
pub(super) fn plan(
    score: &Score,
    chosen: &[usize],
    losses: &mut Losses,
) -> Result<(Vec<Plan>, Option<Tempo>), Error> {
    let facts = facts(score, chosen);
    let mut plans: Vec<Plan> = Vec::with_capacity(score.bars);
    let mut time: Option<Time> = None;
    let mut printed_apart = false;
    for facts in &facts {
        let number = plans.last().map_or(1, |before| before.number + 1);
        let before = plans.last().copied();
        time = facts.time.or(time);
        if let (Some(Time::Meter(meter)), Some(bar)) = (time, facts.bar) {
            time = Some(Time::Meter(felt(meter, bar, number, losses)));
        }
        let said = facts.bar.and_then(|bar| bar.implicit);
        let implicit = said == Some(true);
        let (meter, length) = match time {
            Some(Time::Meter(meter)) => length_in(meter, facts, implicit, number, losses)?,
            _ => {
                let longest = [facts.chosen, facts.rest.unwrap_or(Span::ZERO), facts.any];
                let length = longest.into_iter().find(|length| length.is_positive()).unwrap_or(Span::WHOLE);
                losses.add("a bar without a meter (read as one of its own length)", number);
                (fit(length, Meter::COMMON, facts)?, length)
            }
        };
        let full = meter.bar_length();
        let length = even(length).min(full);
        let cut_before = before.filter(|b| b.number > 0 && b.end < b.meter.bar_length() && b.meter == meter);
        let (number, start) = match cut_before {
            // Who says that its number counts means a bar of its own.
            _ if length == full || said == Some(false) => (number, Span::ZERO),
            None if before.is_none() && time.is_some_and(|time| time != Time::Free) => (0, full - length),
            Some(first) if first.end + length == full || implicit && first.end + length <= full => {
                (first.number, first.end)
            }
            _ => (number, Span::ZERO),
        };
        if let Some(bar) = facts.bar
            && !printed_apart
            && !implicit
            && number > 0
            && bar.printed.parse() != Ok(number)
            && !bar.printed.is_empty()
        {
            printed_apart = true;
            losses.add(
                format!("the printed numbers of bars (the bar printed {} is numbered here)", bar.printed),
                number,
            );
        }
        plans.push(Plan { number, meter, start, end: start + length, tempo: None });
        time = facts.time_after.or(time);
    }
    let head = tempos(score, &mut plans, losses);
    Ok((plans, head))
}

fn facts<'a>(score: &'a Score, chosen: &[usize]) -> Vec<Facts<'a>> {
    let mut facts = vec![Facts::default(); score.bars];
    // Some write the meter in one part alone; where the chosen parts write theirs, the others' do not count.
    let tells_time = |&index: &usize| score.parts[index].bars.iter().any(|bar| bar.time.is_some());
    let own_times = chosen.iter().any(tells_time);
    let others = (0..score.parts.len()).filter(|index| !chosen.contains(index));
    let parts = chosen.iter().map(|&index| (index, true)).chain(others.map(|index| (index, false)));
    for (index, is_chosen) in parts {
        for bar in &score.parts[index].bars {
            let known = &mut facts[bar.index];
            known.bar = known.bar.or(Some(bar));
            if is_chosen || !own_times {
                known.time = known.time.or(bar.time);
                known.time_after = known.time_after.or(bar.time_after);
            }
            known.any = known.any.max(bar.length);
            if is_chosen {
                known.chosen = known.chosen.max(bar.length);
                known.rest = known.rest.max(bar.rest_length);
                if bar.index + 1 < score.bars {
                    known.passed = known.passed.max(bar.reach);
                }
            }
        }
    }
    facts
}

/// The meter as it is felt from this bar on, by the words over it.
fn felt(meter: Meter, bar: &ScoreBar, number: u32, losses: &mut Losses) -> Meter {
    bar.signs.iter().fold(meter, |meter, sign| {
        let felt = match sign {
            Sign::Felt { beats } => meter.felt_in(*beats),
            Sign::ByGroup => meter.counted_by_group(),
            _ => return meter,
        };
        felt.unwrap_or_else(|_| {
            losses.add("words that name another felt beat than the meter has", number);
            meter
        })
    })
}

/// How long a bar lasts in its meter, and the meter it is read in.
fn length_in(
    meter: Meter,
    facts: &Facts<'_>,
    implicit: bool,
    number: u32,
    losses: &mut Losses,
) -> Result<(Meter, Span), Error> {
    let full = meter.bar_length();
    let Facts { chosen, any, rest, passed, .. } = *facts;
    if chosen == Span::ZERO {
        // Silent here: as long as the other parts' bar, else full. A rest of a bar tells its length only where the bar
        // is said to be incomplete, for many write it four quarters long in any meter.
        let told = rest.filter(|rest| implicit && rest.is_positive() && *rest < full);
        let length = if any.is_positive() && any < full { any } else { told.unwrap_or(full) };
        return Ok((meter, length));
    }
    if chosen <= full {
        let others = any.max(rest.unwrap_or(Span::ZERO)).max(passed).min(full);
        return Ok((meter, chosen.max(others)));
    }
    if chosen - full < SLACK {
        return Ok((meter, full));
    }
    let longer = fit(chosen, meter, facts)?;
    losses.add(format!("a bar of {chosen} in {meter} (read as a bar of {longer})"), number);
    Ok((longer, chosen))
}

/// The meter that a bar of this length fills, or of which it leaves as little as possible.
fn fit(length: Span, like: Meter, facts: &Facts<'_>) -> Result<Meter, Error> {
    let units = [like.unit(), 4, 8, 16, 32, 2, 1];
    let beats = |unit: u32| length.in_units_of(Span::new(1, i64::from(unit)));
    let of = |unit: u32| {
        let beats = u32::try_from(beats(unit).ceil().to_integer()).ok()?;
        Meter::new(beats, unit).ok()
    };
    let exact = units.iter().find_map(|&unit| of(unit).filter(|meter| meter.bar_length() == length));
    let nearest = || units.iter().filter_map(|&unit| of(unit)).min_by_key(|meter| meter.bar_length());
    exact.or_else(nearest).ok_or_else(|| Error::LongBar {
        bar: facts.bar.map(|bar| bar.printed.to_string()).unwrap_or_default(),
        length: length.to_string(),
    })
}

/// The length of a bar in sixty-fourths or their thirds: a bar that ends elsewhere is filled up with silence.
fn even(length: Span) -> Span {
    if 192 % length.denominator() == 0 {
        return length;
    }
    let units = length.in_units_of(SLACK).ceil().to_integer();
    SLACK.checked_mul(units).unwrap_or(length)
}

/// Gives every bar its change of tempo and returns the one at the head: of all parts, the first that tells.
fn tempos(score: &Score, plans: &mut [Plan], losses: &mut Losses) -> Option<Tempo> {
    let mut signs: Vec<Vec<(Span, TempoSign)>> = vec![Vec::new(); plans.len()];
    for part in &score.parts {
        for bar in &part.bars {
            let here = &mut signs[bar.index];
            if !here.is_empty() {
                continue;
            }
            here.extend(bar.signs.iter().filter_map(|sign| match sign {
                Sign::Tempo { at, tempo } => Some((*at, *tempo)),
                _ => None,
            }));
        }
    }
    let mut head = None;
    let mut now = None;
    let mut moved: Option<TempoSign> = None;
    for (index, plan) in plans.iter_mut().enumerate() {
        let (begins, later): (Vec<_>, Vec<_>) = signs[index].iter().partition(|(at, _)| !at.is_positive());
        let is_written = |sign: &TempoSign| !matches!(sign, TempoSign::Played(_));
        let any_written = begins.iter().any(|(_, sign)| is_written(sign));
        let mut begins: Vec<TempoSign> = begins
            .into_iter()
            .map(|(_, sign)| sign)
            .filter(|sign| !any_written || is_written(sign))
            .collect();
        if begins.is_empty() {
            begins.extend(moved);
        }
        moved = later.last().map(|(_, sign)| *sign);
        for (at, sign) in &later {
            losses.add(
                format!("{} at {at} in the bar (read at the beginning of the next)", said(*sign)),
                plan.number,
            );
        }
        let default = || Tempo::new(plan.meter.felt_beat(), DEFAULT_BPM.into()).ok();
        let mut first = begins.into_iter();
        if index == 0 {
            match first.next() {
                Some(TempoSign::Beats(tempo) | TempoSign::Played(tempo)) => head = Some(tempo),
                Some(other) => first = std::iter::once(other).chain(first).collect::<Vec<_>>().into_iter(),
                None => {}
            }
            now = head.or_else(default);
        }
        let Some(sign) = first.next() else { continue };
        for extra in first {
            losses.add(format!("{} beside another tempo", said(extra)), plan.number);
        }
        let mark = match sign {
            TempoSign::Played(tempo) if Some(tempo) == now => continue,
            TempoSign::Beats(tempo) | TempoSign::Played(tempo) => TempoMark::Beats(tempo),
            TempoSign::Equal { before, after } => TempoMark::Equal { before, after },
            TempoSign::Gradual { tempo, bars } => TempoMark::Gradual { tempo, bars },
        };
        match now.and_then(|now| mark.after(now, plan.meter)) {
            Some(tempo) => (now, plan.tempo) = (Some(tempo), Some(mark)),
            None => losses.add(format!("{} (it leaves the tempos from 20 to 300)", said(sign)), plan.number),
        }
    }
    drop_what_never_gets_there(plans, losses);
    head
}

/// A gradual change holds only where its bars are there and no other tempo stands in them.
fn drop_what_never_gets_there(plans: &mut [Plan], losses: &mut Losses) {
    for index in 0..plans.len() {
        let number = plans[index].number;
        let Some(mark @ TempoMark::Gradual { bars, .. }) = plans[index].tempo else { continue };
        // A bar in two halves is one.
        let behind = number.saturating_add(bars);
        let many = plans[index..].iter().take_while(|plan| plan.number < behind).count();
        let inside = &plans[index + 1..index + many.max(1)];
        let gets_there = inside.last().map_or(number, |last| last.number) + 1 == behind;
        if number == 0 || !gets_there || inside.iter().any(|plan| plan.tempo.is_some()) {
            losses.add(format!("the tempo {mark} (its bars are not there, or have another tempo)"), number);
            plans[index].tempo = None;
        }
    }
}

fn said(sign: TempoSign) -> String {
    match sign {
        TempoSign::Beats(tempo) | TempoSign::Played(tempo) => format!("the tempo {tempo}"),
        TempoSign::Equal { before, after } => format!("the equation {}", TempoMark::Equal { before, after }),
        TempoSign::Gradual { tempo, bars } => format!("the tempo {}", TempoMark::Gradual { tempo, bars }),
    }
}
