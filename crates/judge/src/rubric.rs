//! What a teacher makes of a judgement: the right rhythm and a steady pulse, each a line of its own.

use std::fmt::Write as _;

use rhythm::Deed;
use timebase::Seconds;

use crate::limits::{FEWEST_FOR_BIAS, FEWEST_FOR_DRIFT};
use crate::trend::Trend;
use crate::wording::{attacks, ms, percent};
use crate::{Answer, Fate, Finding, FindingKind, Judgement, Verdict};

/// What counts and how much, and how the result is called. The default is a start, not a norm: no published weights
/// for beginners were found.
#[derive(Clone, Debug, PartialEq)]
pub struct Rubric {
    /// The right rhythm: what was struck and what was not.
    pub rhythm: RhythmWeights,
    /// A steady pulse: when it was struck.
    pub pulse: PulseWeights,
    /// How the result is called.
    pub scale: Scale,
}

/// How many written attacks each of these is worth; 0 counts nothing. All are from 0 to 100 ([`crate::limits::WEIGHT`]).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RhythmWeights {
    /// A written attack that was not struck.
    pub missed: f64,
    /// An attack where nothing is counted, or a second one for a note.
    pub extra: f64,
    /// An attack on a rest.
    pub rest_struck: f64,
    /// An attack on a held or tied note.
    pub hold_struck: f64,
    /// An attack of a figure that was read as another.
    pub misread: f64,
    /// An attack that came early after a rest or a long note, by too much to be a matter of the pulse.
    pub early_entry: f64,
    /// A move: a bar or a beat left out, added or repeated, a pause at a bar line, a phrase a beat early or late, another speed.
    pub moved: f64,
    /// An attack with the other hand than written.
    pub wrong_hand: f64,
    /// An accent that was missed or added.
    pub accent: f64,
    /// A note let go early or held into a rest.
    pub length: f64,
}

/// What makes a pulse steady. The parts are weighed against each other; a part of which nothing can be said takes no
/// part. All weights are from 0 to 100.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PulseWeights {
    /// The share of attacks on time, about the player's own bias, or about the pulse where it surely drifts: the drift counts by itself.
    pub on_time: f64,
    /// The spread, from full to nothing between two multiples of the tolerance.
    pub spread: f64,
    /// The drift, from full to nothing between two percentages; a drift that may be chance is none.
    pub drift: f64,
    /// How far ahead of the click or behind it, from full at one tolerance to nothing at three; only where the latency is known.
    pub click: f64,
    /// The spread in tolerances at which nothing is taken off, and from which on nothing is left.
    pub spread_range: (f64, f64),
    /// The same of the drift in percent.
    pub drift_range: (f64, f64),
}

/// How a result is called.
#[derive(Clone, Debug, PartialEq)]
pub enum Scale {
    /// By the highest of these levels that is reached; the last reaches down to 0.
    Levels(Vec<Level>),
    /// As so many points of this number, to the half point.
    Points(u32),
}

/// A level and where it begins.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// What the teacher calls it.
    pub name: String,
    /// From how many hundredths on.
    pub from: f64,
}

impl Default for Rubric {
    fn default() -> Self {
        let level = |(name, from): (&str, f64)| Level { name: name.to_owned(), from };
        let levels = [("secure", 90.0), ("nearly there", 75.0), ("on the way", 50.0), ("not yet", 0.0)];
        Self {
            rhythm: RhythmWeights::default(),
            pulse: PulseWeights::default(),
            scale: Scale::Levels(levels.map(level).into()),
        }
    }
}

impl Default for RhythmWeights {
    fn default() -> Self {
        Self {
            missed: 1.0,
            extra: 0.5,
            rest_struck: 1.0,
            hold_struck: 1.0,
            misread: 0.5,
            early_entry: 0.5,
            moved: 2.0,
            wrong_hand: 0.0,
            accent: 0.0,
            length: 0.0,
        }
    }
}

impl Default for PulseWeights {
    fn default() -> Self {
        Self {
            on_time: 2.0,
            spread: 1.0,
            drift: 1.0,
            click: 0.0,
            spread_range: (0.5, 1.5),
            drift_range: (1.0, 6.0),
        }
    }
}

/// What is known beside the judgement.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// The tolerance it was judged with.
    pub tolerance: Seconds,
    /// Whether the latency of pad and speaker is known and taken out. Else the distance from the click is not the player's.
    pub calibrated: bool,
    /// Which findings the teacher has overruled, by their index; those behind its end are not.
    pub overruled: &'a [bool],
}

/// One take of one player by a rubric.
#[derive(Clone, Debug, PartialEq)]
pub struct Scored {
    /// The right rhythm.
    pub rhythm: Line,
    /// A steady pulse.
    pub pulse: Line,
    /// How far the pulse lies from the click.
    pub click: Click,
}

/// One line of a rubric.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Hundredths, 0 to 100; `None` where nothing can be said.
    pub hundredths: Option<f64>,
    /// What that is called; `None` where nothing can be said.
    pub called: Option<String>,
    /// Why, without a capital and a full stop.
    pub why: String,
}

/// What may be said of the distance from the click.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Click {
    /// The bias; negative is ahead.
    Bias(Seconds),
    /// Nothing, because the latency of pad and speaker is not known.
    Uncalibrated,
    /// Nothing, because too few attacks were matched.
    TooFew,
}

/// A complete judgement by a rubric.
#[must_use]
pub fn score(judgement: &Judgement, rubric: &Rubric, known: &Known<'_>) -> Scored {
    let deeds = Deeds::of(judgement, known.overruled);
    let click = match (known.calibrated, judgement.sums().bias) {
        (false, _) => Click::Uncalibrated,
        (true, None) => Click::TooFew,
        (true, Some(bias)) => Click::Bias(bias),
    };
    let line = |(hundredths, why): (Option<f64>, String)| {
        let called = hundredths.map(|hundredths| rubric.scale.called(hundredths));
        Line { hundredths, called, why }
    };
    Scored {
        rhythm: line(deeds.rhythm(&rubric.rhythm)),
        pulse: line(deeds.pulse(judgement, &rubric.pulse, known)),
        click,
    }
}

impl Scale {
    fn called(&self, hundredths: f64) -> String {
        match self {
            Self::Levels(levels) => {
                // Sums of weights such as 0.1 must not miss a level by their last binary digit.
                let reached = levels.iter().find(|level| hundredths + 1e-9 >= level.from).or(levels.last());
                reached.map_or_else(String::new, |level| level.name.clone())
            }
            Self::Points(most) => {
                let halves = (hundredths / 100.0 * f64::from(*most) * 2.0 + 1e-9).round();
                format!("{} of {most}", halves / 2.0)
            }
        }
    }
}

/// What was done, counted once each: what an overruled finding is about is not there, what a move is about counts with it.
#[derive(Debug, Default)]
struct Deeds {
    written: usize,
    missed: usize,
    extra: usize,
    rests: usize,
    holds: usize,
    misread: usize,
    entries: usize,
    moves: usize,
    hands: usize,
    accents: usize,
    lengths: usize,
    /// Attacks that answer a note by the player's own pulse, and those of them on time.
    timed: usize,
    on_time: usize,
    /// Whether that is about a pulse that drifts.
    drifts: bool,
    /// Findings the teacher overruled.
    overruled: usize,
    /// What of the pulse is not counted because a finding on it was overruled.
    no_drift: bool,
    no_spread: bool,
    other_rhythm: bool,
}

fn is_move(kind: FindingKind) -> bool {
    use FindingKind::{
        BarExchanged, BarRepeated, BarSkipped, BeatAdded, BeatDropped, DoubleSpeed, HalfSpeed,
        PauseAtBarLine, PhraseEarly, PhraseLate, RepeatNotTaken,
    };
    matches!(
        kind,
        HalfSpeed
            | DoubleSpeed
            | PhraseEarly
            | PhraseLate
            | RepeatNotTaken
            | BarSkipped
            | BarRepeated
            | BarExchanged
            | BeatDropped
            | PauseAtBarLine
            | BeatAdded
    )
}

impl Deeds {
    fn of(judgement: &Judgement, overruled: &[bool]) -> Self {
        let is_overruled = |index: usize| overruled.get(index).copied().unwrap_or(false);
        let (out, kept): (Vec<_>, Vec<_>) =
            judgement.findings().iter().enumerate().partition(|(index, _)| is_overruled(*index));
        let out: Vec<&Finding> = out.into_iter().map(|(_, finding)| finding).collect();
        let kept: Vec<&Finding> = kept.into_iter().map(|(_, finding)| finding).collect();
        let has = |kinds: &[FindingKind]| out.iter().any(|finding| kinds.contains(&finding.kind));
        let mut deeds = Self {
            written: judgement.notes().iter().filter(|note| note.fate != Fate::Pending).count(),
            overruled: out.len(),
            no_drift: has(&[FindingKind::Rushing, FindingKind::Dragging]),
            no_spread: has(&[FindingKind::Unsteady]),
            other_rhythm: kept.iter().any(|finding| finding.kind == FindingKind::OtherRhythm),
            ..Self::default()
        };
        let moves: Vec<&Finding> = kept.iter().copied().filter(|finding| is_move(finding.kind)).collect();
        deeds.moves = moves.len();
        // A note or a stroke that one of these findings is about is not counted by itself.
        let by_note = |findings: &[&Finding], id| findings.iter().any(|finding| finding.notes.contains(&id));
        let by_stroke =
            |findings: &[&Finding], n| findings.iter().any(|finding| finding.strokes.contains(&n));
        let entries: Vec<&Finding> = kept
            .iter()
            .copied()
            .filter(|finding| matches!(finding.kind, FindingKind::EarlyEntry | FindingKind::CutShort))
            .collect();
        deeds.missed = judgement
            .notes()
            .iter()
            .filter(|note| note.fate == Fate::Missed && !by_note(&out, note.id) && !by_note(&moves, note.id))
            .count();
        let course = Course::of(judgement);
        deeds.drifts = course.is_some();
        for (index, attack) in judgement.attacks().iter().enumerate() {
            let excused = by_stroke(&out, index);
            if let Some(answer) = attack.answer {
                if answer.misread {
                    if by_note(&entries, answer.id) {
                        deeds.entries += 1;
                    } else if !excused {
                        deeds.misread += 1;
                    }
                } else {
                    deeds.timed += 1;
                    let on_time = course.as_ref().map_or(answer.verdict == Verdict::OnTime, |course| {
                        (answer.offset.as_millis_f64() - course.at(&answer)).abs()
                            <= answer.tolerance.as_millis_f64()
                    });
                    deeds.on_time += usize::from(excused || on_time);
                }
            } else if attack.verdict() == Verdict::Extra
                && !excused
                && !attack.again
                && !by_stroke(&moves, index)
            {
                match attack.fell_on {
                    Some((_, Deed::Rest)) => deeds.rests += 1,
                    Some((_, Deed::Hold)) => deeds.holds += 1,
                    _ => deeds.extra += 1,
                }
            }
        }
        for finding in kept {
            let places = finding.notes.len().max(1);
            match finding.kind {
                FindingKind::WrongHand => deeds.hands += places,
                FindingKind::AccentMissed | FindingKind::AccentAdded => deeds.accents += places,
                FindingKind::ReleasedEarly | FindingKind::HeldThroughRest => deeds.lengths += places,
                _ => {}
            }
        }
        deeds
    }

    fn rhythm(&self, weights: &RhythmWeights) -> (Option<f64>, String) {
        if self.other_rhythm {
            return (None, "this take does not fit this rhythm".to_owned());
        }
        if self.written == 0 {
            return (None, "no attack is written".to_owned());
        }
        let lost: f64 = [
            (self.missed, weights.missed),
            (self.extra, weights.extra),
            (self.rests, weights.rest_struck),
            (self.holds, weights.hold_struck),
            (self.misread, weights.misread),
            (self.entries, weights.early_entry),
            (self.moves, weights.moved),
            (self.hands, weights.wrong_hand),
            (self.accents, weights.accent),
            (self.lengths, weights.length),
        ]
        .iter()
        .map(|&(times, weight)| times as f64 * weight)
        .sum();
        let hundredths = (100.0 * (1.0 - lost / self.written as f64)).max(0.0);
        let mut why = match self.missed {
            0 => format!("none of {} missed", attacks(self.written)),
            missed => format!("{missed} of {} missed", attacks(self.written)),
        };
        why.push_str(&match self.rests {
            0 => ", no rest struck".to_owned(),
            1 => ", a rest struck once".to_owned(),
            rests => format!(", rests struck {rests} times"),
        });
        for (times, one, several, weight) in [
            (self.holds, "held note struck again", "held notes struck again", weights.hold_struck),
            (self.extra, "extra attack", "extra attacks", weights.extra),
            (self.misread, "attack of another figure", "attacks of other figures", weights.misread),
            (self.entries, "early entry", "early entries", weights.early_entry),
            (self.moves, "move in the music", "moves in the music", weights.moved),
            (self.hands, "attack with the other hand", "attacks with the other hand", weights.wrong_hand),
            (self.accents, "accent missed or added", "accents missed or added", weights.accent),
            (self.lengths, "length not kept", "lengths not kept", weights.length),
        ] {
            if times > 0 && weight > 0.0 {
                let _ = write!(why, ", {times} {}", if times == 1 { one } else { several });
            }
        }
        match self.overruled {
            0 => {}
            1 => why.push_str(" (1 finding overruled)"),
            more => {
                let _ = write!(why, " ({more} findings overruled)");
            }
        }
        (Some(hundredths), why)
    }

    fn pulse(
        &self,
        judgement: &Judgement,
        weights: &PulseWeights,
        known: &Known<'_>,
    ) -> (Option<f64>, String) {
        if self.other_rhythm {
            return (None, "this take does not fit this rhythm".to_owned());
        }
        if self.timed < FEWEST_FOR_BIAS {
            let why = format!("{} matched, {FEWEST_FOR_BIAS} are needed to say", attacks(self.timed));
            return (None, why);
        }
        let sums = judgement.sums();
        let tolerance = known.tolerance.as_millis_f64();
        let mut parts: Vec<(f64, f64)> = Vec::new();
        let about = if self.drifts { " about the drifting pulse" } else { "" };
        let mut why =
            format!("{} of {} on time (±{}{about})", self.on_time, attacks(self.timed), ms(tolerance));
        parts.push((self.on_time as f64 / self.timed as f64, weights.on_time));
        if let Some(spread) = sums.spread.map(Seconds::as_millis_f64) {
            let _ = write!(why, ", spread {}", ms(spread));
            if !self.no_spread {
                parts.push((share(spread / tolerance, weights.spread_range), weights.spread));
            }
        }
        match sums.drift {
            None => {
                let _ = write!(
                    why,
                    ", nothing said of a drift: {FEWEST_FOR_DRIFT} attacks in the right figures are needed"
                );
            }
            Some(drift) => {
                let _ = match (drift.sure, drift.percent > 0.0) {
                    (false, _) => write!(why, ", no drift"),
                    (true, faster) => {
                        let side = if faster { "faster" } else { "slower" };
                        write!(why, ", {} {side}", percent(drift.percent, drift.error_percent))
                    }
                };
                if !self.no_drift {
                    let size = if drift.sure { drift.percent.abs() } else { 0.0 };
                    parts.push((share(size, weights.drift_range), weights.drift));
                }
            }
        }
        if let (true, Some(bias)) = (known.calibrated, sums.bias) {
            parts.push((share(bias.as_millis_f64().abs() / tolerance, (1.0, 3.0)), weights.click));
        }
        let all: f64 = parts.iter().map(|(_, weight)| weight).sum();
        if all <= 0.0 {
            return (None, format!("nothing of it counts in this rubric: {why}"));
        }
        let got: f64 = parts.iter().map(|(share, weight)| share * weight).sum();
        (Some(100.0 * got / all), why)
    }
}

/// A pulse that drifts: whoever rushes leaves his one bias, and the drift counts as what it is and not once more as attacks that
/// are not on time.
#[derive(Clone, Copy, Debug)]
enum Course {
    /// Ms of offset a ms of time, and from where.
    Line { slope: f64, level_ms: f64 },
    /// From somewhere on, or up to somewhere.
    Bent(Trend),
}

impl Course {
    /// The pulse of a take whose drift is sure.
    fn of(judgement: &Judgement) -> Option<Self> {
        if let Some(&bent) = judgement.bent() {
            return Some(Self::Bent(bent));
        }
        let drift = judgement.sums().drift.filter(|drift| drift.sure)?;
        let slope = 1.0 / (1.0 + drift.percent / 100.0) - 1.0;
        let answers = judgement.attacks().iter().filter_map(|attack| attack.answer.filter(|a| !a.misread));
        let mut levels: Vec<f64> =
            answers.map(|answer| answer.offset.as_millis_f64() - slope * when_ms(&answer)).collect();
        levels.sort_unstable_by(f64::total_cmp);
        Some(Self::Line { slope, level_ms: *levels.get(levels.len() / 2)? })
    }

    /// Where it lies at an answer, in ms after the click.
    fn at(&self, answer: &Answer) -> f64 {
        match self {
            Self::Line { slope, level_ms } => level_ms + slope * when_ms(answer),
            Self::Bent(trend) => trend.at((answer.written + answer.shift).since_zero().as_nanos()),
        }
    }
}

/// When a note lay for the player, in ms.
fn when_ms(answer: &Answer) -> f64 {
    (answer.written + answer.shift).since_zero().as_millis_f64()
}

/// How much is left of a whole at `size`: all up to the first bound, nothing from the second on, evenly less between.
fn share(size: f64, (full, nothing): (f64, f64)) -> f64 {
    if size <= full {
        1.0
    } else if size >= nothing {
        0.0
    } else {
        (nothing - size) / (nothing - full)
    }
}

#[cfg(test)]
mod tests;
