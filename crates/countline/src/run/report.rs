//! A judgement as a person reads it in a terminal.

use std::collections::HashMap;
use std::fmt::Write as _;

use counting::TimedCount;
use judge::{
    Attack, CommonPulse, Delay, Estimate, Fate, FindingKind, Judgement, Place, Section, Sums, Task, Verdict,
};
use rhythm::AttackId;
use timebase::Seconds;

/// What is shown of a player unless all is asked for.
pub(crate) const FINDINGS: usize = 3;
/// So many places are named of a player, those with the most to tell.
const PLACES: usize = 2;
/// A distance below this is not told: a displaced tone is noticed from 10 ms on, or later (Friberg and Sundberg 1992, their cautious figure).
const LEAST_MS: f64 = 10.0;
/// A place is told where it is off by so many standard errors: there are eight of them, and in a hundred takes one would be told by chance.
const SURE: f64 = 3.3;
/// A common pulse that moves less than this against the click, in ms, keeps to it.
const WANDERS_MS: f64 = 60.0;

/// An attack where nothing is counted.
const EXTRA: &str = "[extra]";
/// A stroke of a written grace or roll, beside the one that is the note.
const ORNAMENT: &str = "[ornament]";

/// Everybody: sums, findings, and every attack bar by bar.
/// `most` findings of each player; no figure finer than the stamps' `resolution`.
pub(crate) fn report(
    counts: &[TimedCount],
    players: &[(&str, &Judgement)],
    most: usize,
    resolution: Seconds,
) -> String {
    let mut text = String::new();
    for (label, judgement) in players {
        let _ = writeln!(text, "{}: {}", head(label, judgement), sums(judgement));
        text.push_str(&split(judgement, resolution));
        let (told, more) = told(judgement, most);
        for finding in told {
            let _ = writeln!(text, "  {finding}");
        }
        if more > 0 {
            let _ = writeln!(text, "  ({more} more: judge --findings all)");
        }
        text.push_str(&end(counts, judgement));
        text.push_str(&bars(counts, judgement));
        text.push('\n');
    }
    if players.iter().filter(|(_, judgement)| judgement.task() == Task::Rhythm).count() > 1 {
        text.push_str(&together(counts, players, resolution));
    }
    text.push_str(
        "offsets in ms: − early, + late; \"!\" is beyond the tolerance about the player's own bias\n",
    );
    text
}

/// Who it is, and what the player has to do where that is not the rhythm.
pub(crate) fn head(label: &str, judgement: &Judgement) -> String {
    match judgement.task() {
        Task::Rhythm => label.to_owned(),
        Task::Pulse => format!("{label}, keeps the pulse"),
    }
}

/// At most so many findings as sentences, and how many more there are. What is likelier wrong than right is told with all the
/// others only, and last.
pub(crate) fn told(judgement: &Judgement, most: usize) -> (Vec<String>, usize) {
    let (findings, doubtful) = (judge::together(judgement.findings()), judgement.doubtful());
    let mut told: Vec<String> = findings.iter().take(most).map(|finding| sentence(&finding.says)).collect();
    if most == usize::MAX {
        told.extend(doubtful.iter().map(|finding| sentence(&format!("perhaps: {}", finding.says))));
    }
    let more = findings.len() + doubtful.len() - told.len();
    (told, more)
}

/// One stroke as it falls: `P1  bar 2  2 &  +12 ms`.
pub(crate) fn stroke(label: &str, attack: &Attack, words: &Words) -> String {
    match &attack.answer {
        Some(answer) => {
            let mark = if answer.verdict == Verdict::OnTime { "" } else { " !" };
            format!("{label}  {}  {} ms{mark}", words.place(answer.id), signed(answer.offset))
        }
        None => match attack.fell_on {
            Some((id, _)) => format!("{label}  {}  struck, nothing is written to strike", words.place(id)),
            None => format!("{label}  extra"),
        },
    }
}

pub(crate) fn sums(judgement: &Judgement) -> String {
    let sums: &Sums = judgement.sums();
    if let Some(ratio) = judgement.tempo_ratio() {
        let spread = sums
            .spread
            .map_or_else(String::new, |spread| format!(", spread {:.0} ms", spread.as_millis_f64()));
        return format!("in a tempo of its own, {:.0} % of the written one{spread}", ratio * 100.0);
    }
    // Where the click's place is not known there is no distance from it, but all the rest.
    if let (Some(spread), false) = (sums.spread, judgement.is_placed()) {
        let text = format!("{} matched, spread {:.0} ms", attacks(sums.matched), spread.as_millis_f64());
        return text + &drift(sums);
    }
    let Some(bias) = sums.bias else {
        let few = sums.matched < judge::limits::FEWEST_FOR_BIAS;
        let why = if few { "too few to say more" } else { "which says nothing of bias, spread and drift" };
        return format!("{} matched, {why}", attacks(sums.matched));
    };
    let side = match (bias.as_millis_f64().round(), judgement.delay()) {
        (_, Delay::Unknown) => " (delay not measured)",
        (ms, Delay::TakenOff) if ms < 0.0 => " (ahead of the click)",
        (ms, Delay::TakenOff) if ms > 0.0 => " (behind the click)",
        _ => "",
    };
    let mut text = format!("bias {} ms{side}", signed(bias));
    if let Some(spread) = sums.spread {
        let _ = write!(text, ", spread {:.0} ms", spread.as_millis_f64());
    }
    text + &drift(sums)
}

fn drift(sums: &Sums) -> String {
    sums.drift.map_or_else(String::new, |drift| {
        let word = match (drift.sure, drift.percent > 0.0) {
            (false, _) => "steady",
            (true, true) => "faster",
            (true, false) => "slower",
        };
        let percent = format!("{:+.1}", drift.percent).replace('-', "−");
        format!(", drift {percent} % ({word})")
    })
}

/// How well bias and spread are known, and what belongs to a place.
fn split(judgement: &Judgement, resolution: Seconds) -> String {
    let mut text = String::new();
    let split = judgement.split(resolution);
    // Without a click there is nothing to be ahead of.
    let bias = split.bias.filter(|_| judgement.is_placed());
    let known: Vec<String> = [("bias", bias, true), ("spread", split.spread, false)]
        .into_iter()
        .filter_map(|(word, estimate, sign)| {
            let shown = estimate?.shown(split.resolution);
            let end = |end: Seconds| if sign { signed(end) } else { unsigned(end) };
            Some(format!("{word} {} to {} ms", end(shown.low), end(shown.high)))
        })
        .collect();
    if !known.is_empty() {
        let _ = writeln!(text, "  most likely within: {}", known.join(", "));
    }
    let mut places: Vec<_> = split
        .places
        .iter()
        .filter(|place| {
            let size = place.offset.value.as_millis_f64().abs();
            size >= LEAST_MS && size > SURE * place.error.as_millis_f64()
        })
        .collect();
    places.sort_by_key(|place| -place.offset.value.abs().as_nanos());
    let told: Vec<String> = places
        .iter()
        .take(PLACES)
        .map(|place| {
            format!("{} {}", side(place.offset, "early", "late", resolution), place_in_words(place.place))
        })
        .collect();
    if !told.is_empty() {
        let _ = writeln!(text, "  against the player's own beats: {}", told.join("; "));
    }
    text
}

const fn place_in_words(place: Place) -> &'static str {
    match place {
        Place::OnBeat => "on the beats",
        Place::Half => "half-way between them",
        Place::FirstQuarter => "a quarter of the way to the next",
        Place::LastQuarter => "three quarters of the way to the next",
        Place::FirstThird => "a third of the way to the next",
        Place::SecondThird => "two thirds of the way to the next",
        Place::AfterRest => "after a rest",
        Place::AfterLong => "after a long note",
        Place::BarLine => "on count 1",
    }
}

/// A distance, to which side, and within what: `12 ms late (8 to 16)`.
fn side(estimate: Estimate<Seconds>, before: &str, behind: &str, resolution: Seconds) -> String {
    let shown = estimate.shown(resolution);
    let ahead = shown.value < Seconds::ZERO;
    let (low, high) =
        if ahead { (Seconds::ZERO - shown.high, Seconds::ZERO - shown.low) } else { (shown.low, shown.high) };
    let word = if ahead { before } else { behind };
    format!("{} ms {word} ({} to {})", unsigned(shown.value.abs()), signless(low, 0), signless(high, 0))
}

/// Where a take ends that was broken off, so that nothing is asked of what follows.
fn end(counts: &[TimedCount], judgement: &Judgement) -> String {
    let notes = judgement.notes();
    let absent = judgement.findings().iter().any(|finding| finding.kind == FindingKind::NotThere);
    let asked = notes.iter().rposition(|note| note.fate != Fate::Pending);
    let (Some(last), false) = (asked.filter(|last| last + 1 < notes.len()), absent) else {
        return String::new();
    };
    let words = Words::of(counts);
    let (last, left) = (words.place(notes[last].id), notes.len() - last - 1);
    format!(
        "  The take ends behind {}: nothing is said of the {} after it.\n",
        last.replace("  ", ", "),
        attacks(left)
    )
}

/// Every written attack in order, bar by bar, with what became of it, and the extra ones where they fell.
fn bars(counts: &[TimedCount], judgement: &Judgement) -> String {
    let words = Words::of(counts);
    let mut cells: Vec<(i64, (u32, u32), String)> = Vec::new();
    for note in judgement.notes() {
        let word = words.word(note.id);
        let cell = match note.fate {
            Fate::Struck(index) => judgement.attacks()[index].answer.map_or(word.clone(), |answer| {
                let mark = if answer.verdict == Verdict::OnTime { "" } else { "!" };
                format!("{word} {}{mark}", signed(answer.offset))
            }),
            Fate::Missed => format!("{word} missed"),
            Fate::Pending => format!("{word} …"),
        };
        cells.push((note.at.since_zero().as_nanos(), (note.id.bar, note.id.pass), cell));
    }
    for attack in judgement.attacks().iter().filter(|attack| attack.answer.is_none()) {
        let at = attack.played.at;
        let fell = counts.iter().rev().find(|count| count.at <= at).or(counts.first());
        let bar = attack.fell_on.map(|(id, _)| id).or(fell.map(|count| count.id));
        let cell = match attack.fell_on {
            Some((id, _)) => format!("[{} struck]", words.word(id)),
            None if attack.ornament.is_some() => ORNAMENT.to_owned(),
            None => EXTRA.to_owned(),
        };
        cells.push((at.since_zero().as_nanos(), bar.map_or((0, 1), |id| (id.bar, id.pass)), cell));
    }
    cells.sort_by_key(|(at, ..)| *at);
    let mut text = String::new();
    for bar in cells.chunk_by(|a, b| a.1 == b.1) {
        // Several extra attacks in a row are told together.
        let row: Vec<String> = bar
            .chunk_by(|a, b| a.2 == b.2 && (a.2 == EXTRA || a.2 == ORNAMENT))
            .map(|alike| match (alike.len(), alike[0].2.as_str()) {
                (1, only) => only.to_owned(),
                (many, ORNAMENT) => format!("[{many} of the ornament]"),
                (many, _) => format!("[{many} extra]"),
            })
            .collect();
        let _ = writeln!(text, "  {:<12}{}", words.bar(bar[0].1), row.join("   "));
    }
    text
}

/// How close the section falls, where it is widest.
fn together(counts: &[TimedCount], players: &[(&str, &Judgement)], resolution: Seconds) -> String {
    let words = Words::of(counts);
    let judgements: Vec<&Judgement> = players.iter().map(|(_, judgement)| *judgement).collect();
    let mut spreads: Vec<(AttackId, Seconds)> = judge::section(&judgements)
        .iter()
        .filter_map(|together| Some((together.id, together.spread?)))
        .collect();
    if spreads.is_empty() {
        return String::new();
    }
    spreads.sort_by_key(|(_, spread)| *spread);
    let (_, middle) = spreads[spreads.len() / 2];
    let (widest, most) = spreads[spreads.len() - 1];
    let mut text = format!(
        "the section: at half of the written attacks the players fall within a spread of {:.0} ms; the widest is {} with {:.0} ms\n",
        middle.as_millis_f64(),
        words.place(widest).replace("  ", ", "),
        most.as_millis_f64()
    );
    let labels: Vec<&str> = players.iter().map(|(label, _)| *label).collect();
    let free = judgements.iter().any(|judgement| judgement.tempo_ratio().is_some());
    text.push_str(&section(&Section::of(&judgements), &labels, &words, resolution, free));
    text.push('\n');
    text
}

/// How the section keeps together, how it keeps to the click, who is ahead and who is behind, and where the common
/// pulse goes: what there is enough to say of.
fn section(section: &Section, labels: &[&str], words: &Words, resolution: Seconds, free: bool) -> String {
    let mut text = String::new();
    if let Some(each_other) = section.with_each_other {
        let shown = each_other.shown(resolution);
        let [value, low, high] = [shown.value, shown.low, shown.high].map(unsigned);
        let _ = writeln!(text, "  with each other: within {value} ms of the common moment ({low} to {high})");
    }
    if let Some(click) = section.with_click {
        let bias = side(click.bias, "ahead of it", "behind it", resolution);
        let spread = unsigned(click.spread.value);
        let _ = writeln!(text, "  with the click: the common moment {bias}, spread {spread} ms");
    }
    let far = |distance: &Estimate<Seconds>| distance.value.as_millis_f64().abs() >= LEAST_MS;
    let led: Vec<String> = labels
        .iter()
        .zip(&section.members)
        .filter(|(_, member)| member.leads() || member.follows())
        .filter_map(|(label, member)| {
            let distance = member.distance.filter(far)?;
            Some(format!("{label} {}", side(distance, "ahead", "behind", resolution)))
        })
        .collect();
    if !led.is_empty() {
        let _ = writeln!(text, "  against the common moment: {}", led.join("; "));
    }
    let steadiness = |member: &judge::Member| member.steadiness.map(|steadiness| steadiness.value);
    let steadiest = labels.iter().zip(&section.members).filter_map(|(l, m)| Some((l, steadiness(m)?)));
    if let (true, Some((label, spread))) = (labels.len() > 2, steadiest.min_by_key(|(_, spread)| *spread)) {
        let _ = writeln!(
            text,
            "  steadiest beside the others: {label}, whose distance from the common moment varies by {} ms",
            unsigned(spread)
        );
    }
    text + &pulse(section, words, free)
}

/// Where the common pulse goes: against the click, or without one how fast and how evenly.
fn pulse(section: &Section, words: &Words, free: bool) -> String {
    let line = if free { line_through(&section.pulse) } else { Some((0.0, 0.0)) };
    let Some((from, slope)) = line else { return String::new() };
    let off = |pulse: &CommonPulse| {
        let along = pulse.at.since_zero().as_millis_f64();
        Seconds::from_millis_f64(pulse.offset.as_millis_f64() - from - slope * along)
    };
    let mut text = String::new();
    if free {
        let _ = writeln!(text, "  the common tempo is {:.0} % of the written one", 100.0 / (1.0 + slope));
    }
    let pulse = || section.pulse.iter();
    if let (Some(first), Some(last)) = (pulse().min_by_key(|p| off(p)), pulse().max_by_key(|p| off(p))) {
        let (first, last) = if first.at <= last.at { (first, last) } else { (last, first) };
        if (off(last) - off(first)).abs().as_millis_f64() > WANDERS_MS {
            let moves = if free { "wavers about it" } else { "moves against the click" };
            let _ = writeln!(
                text,
                "  the common pulse {moves}: {} ms at {}, {} ms at {}",
                signed(off(first)),
                words.place(first.id),
                signed(off(last)),
                words.place(last.id)
            );
        }
    }
    text
}

/// The straight line through a pulse, in ms at the written zero and ms a written ms; `None` through less than two places.
fn line_through(pulse: &[CommonPulse]) -> Option<(f64, f64)> {
    let points = || pulse.iter().map(|p| (p.at.since_zero().as_millis_f64(), p.offset.as_millis_f64()));
    let count = pulse.len() as f64;
    let (x, y) = points().fold((0.0, 0.0), |(x, y), point| (x + point.0 / count, y + point.1 / count));
    let (xx, xy) =
        points().fold((0.0, 0.0), |(xx, xy), p| (xx + (p.0 - x) * (p.0 - x), xy + (p.0 - x) * (p.1 - y)));
    (xx > 0.0).then(|| (y - xy / xx * x, xy / xx))
}

pub(crate) fn sentence(says: &str) -> String {
    let mut letters = says.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}

fn signed(length: Seconds) -> String {
    format!("{:+.0}", length.as_millis_f64()).replace('-', "−")
}

fn unsigned(length: Seconds) -> String {
    format!("{:.0}", length.as_millis_f64())
}

/// In ms with so many decimals, below zero with its sign, above without.
pub(crate) fn signless(length: Seconds, decimals: usize) -> String {
    format!("{:.decimals$}", length.as_millis_f64()).replace('-', "−")
}

fn attacks(count: usize) -> String {
    if count == 1 { "1 attack".to_owned() } else { format!("{count} attacks") }
}

/// How places are called.
pub(crate) struct Words {
    words: HashMap<AttackId, String>,
    passes: bool,
}

impl Words {
    pub(crate) fn of(counts: &[TimedCount]) -> Self {
        let mut words = HashMap::new();
        let mut beat = String::new();
        for count in counts {
            let said = count.say.as_ref().map_or("·", |word| word.as_str());
            let word = if count.on_beat { said.to_owned() } else { format!("{beat}{said}") };
            if count.on_beat {
                said.clone_into(&mut beat);
            }
            words.insert(count.id, word);
        }
        Self { words, passes: counts.iter().any(|count| count.id.pass > 1) }
    }

    fn word(&self, id: AttackId) -> String {
        self.words.get(&id).cloned().unwrap_or_else(|| id.at.to_string())
    }

    fn bar(&self, (bar, pass): (u32, u32)) -> String {
        match (bar, self.passes) {
            (0, _) => "pickup".to_owned(),
            (bar, false) => format!("bar {bar}"),
            (bar, true) => format!("bar {bar} ({pass})"),
        }
    }

    pub(crate) fn place(&self, id: AttackId) -> String {
        format!("{}  {}", self.bar((id.bar, id.pass)), self.word(id))
    }
}
