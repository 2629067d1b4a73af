//! Where the player was in the music: speed, moves, or nowhere.

use super::{Evidence, confidence, of_places};
use crate::alignment::Speed;
use crate::moves::{Move, MoveKind};
use crate::{Fate, Finding, FindingKind, wording};

/// Strokes below which a take is not called another rhythm.
const FEWEST: usize = 6;
/// Below this share of strokes and notes that belong together a take is one of another rhythm: strokes at random moments reach more in dense rhythms only.
const FITTING: f64 = 0.45;
/// Below this share it is one if its notes and strokes are also dear to explain, and many strokes answer nothing or it is very dear.
const HALF_FITTING: f64 = 0.77;
/// What every note of a take costs on average, in misses, from which it is another rhythm even where half of the strokes lie
/// near some note; and from which it is, whatever becomes of the strokes. Of takes of the rhythm that simulated players
/// of 20 ms played with mistakes, none in 480 came below the share and above the lesser cost.
const COSTLY: f64 = 0.46;
const VERY_COSTLY: f64 = 0.65;

/// So many beats beside its time a beginning may come and have come at once.
const AT_ONCE: f64 = 0.3;

impl Evidence<'_> {
    /// A take that does not fit the rhythm anywhere.
    pub(super) fn other_rhythm(&self) -> Option<Finding> {
        let (strokes, notes) = (self.attacks.len(), self.notes.len());
        if !self.complete || strokes < FEWEST {
            return None;
        }
        if notes == 0 {
            return self.not_silent();
        }
        // What lies behind the last stroke was not played, whatever the rhythm.
        let last = self
            .notes
            .iter()
            .rposition(|note| matches!(note.fate, Fate::Struck(_)))
            .map_or(0, |last| last + 1);
        let struck = self.notes.iter().filter(|note| matches!(note.fate, Fate::Struck(_))).count();
        let struck = struck - self.alignment.paired.min(struck);
        let again = self.attacks.iter().filter(|attack| attack.again || attack.ornament.is_some()).count();
        let skipped = self.written.notes[..last].iter().filter(|&&note| self.alignment.skipped[note]).count();
        let heard = (strokes - again) + (last - skipped).saturating_sub(self.unheard_before(last));
        let fitting = 2.0 * struck as f64 / heard.max(1) as f64;
        let unplayed = (notes - last) as f64;
        let cost = (self.alignment.cost - unplayed).max(0.0) / last.max(strokes) as f64;
        // Beats or counts struck instead of the rhythm are told as that.
        let another = fitting < FITTING
            || (fitting < HALF_FITTING && cost >= COSTLY && (cost >= VERY_COSTLY || self.strays_many()));
        if self.alignment.instead.is_some() || !another {
            return None;
        }
        let nearest = self.nearest_bar();
        let says = match nearest {
            Some((_, ref bar)) => format!(
                "this take does not fit this rhythm: {struck} of {} written attacks were struck, and {} strokes answer none; nearest is {bar}",
                notes,
                strokes - struck
            ),
            None => format!(
                "this take does not fit this rhythm: none of {strokes} strokes answers a written attack"
            ),
        };
        let mut finding = Finding::of_all(FindingKind::OtherRhythm, says);
        finding.place = nearest.map(|(id, _)| id);
        finding.confidence = confidence(2.0 * (1.0 - fitting).max(0.3)).clamp(0.5, 0.99);
        Some(finding)
    }

    /// Where nothing but silence is written: most strokes fell on none of its counts.
    fn not_silent(&self) -> Option<Finding> {
        let strokes = self.attacks.len();
        let beside = self.attacks.iter().filter(|attack| attack.fell_on.is_none()).count();
        let says = format!(
            "this take does not fit this rhythm: only rests are written, and {strokes} strokes were struck"
        );
        (beside * 2 > strokes).then(|| Finding::of_all(FindingKind::OtherRhythm, says))
    }

    fn strays_many(&self) -> bool {
        let strays = self
            .attacks
            .iter()
            .filter(|a| a.answer.is_none() && a.fell_on.is_none() && a.ornament.is_none() && !a.again);
        strays.count() * 8 > self.attacks.len()
    }

    /// The bar of which most was struck.
    fn nearest_bar(&self) -> Option<(rhythm::AttackId, String)> {
        let best = self
            .notes
            .chunk_by(|a, b| (a.id.bar, a.id.pass) == (b.id.bar, b.id.pass))
            .map(|bar| {
                let struck = bar.iter().filter(|note| matches!(note.fate, Fate::Struck(_))).count();
                (struck * 1_000 / bar.len().max(1), struck, bar[0].id)
            })
            .max_by_key(|&(share, struck, id)| (share, struck, std::cmp::Reverse((id.bar, id.pass))))?;
        (best.1 > 0).then(|| (best.2, wording::bar(best.2)))
    }

    /// Speed and moves.
    pub(super) fn course(&self, found: &mut Vec<Finding>) {
        match self.alignment.speed {
            Speed::Written => {}
            Speed::Half => found.push(Self::speed(
                FindingKind::HalfSpeed,
                "all was played at half the speed: every value twice as long as written",
            )),
            Speed::Double => found.push(Self::speed(
                FindingKind::DoubleSpeed,
                "all was played at twice the speed: every value half as long as written",
            )),
        }
        found.extend(self.altered());
        let mut pauses: Vec<&Move> = Vec::new();
        let mut moves = &self.alignment.moves[..];
        while let Some(made) = moves.first() {
            let together = moves.get(1).and_then(|next| self.undone(made, next));
            moves = &moves[if together.is_some() { 2 } else { 1 }..];
            if let Some(finding) = together {
                found.push(finding);
                continue;
            }
            let stood_still = || self.stands_still_for_bars(made) || !self.struck_within(made);
            if made.kind == MoveKind::Pause && self.is_bar_line(made.to) && stood_still() {
                pauses.push(made);
            } else {
                found.extend(self.moved(made));
            }
        }
        found.extend(self.pauses(&pauses));
    }

    /// Whether something was struck between the last note before the time that was put in and the next: a beat too many and
    /// no standing still. What follows its note at once is a bounce.
    fn struck_within(&self, made: &Move) -> bool {
        let beat = self.written.beat_nanos(made.to);
        let notes = &self.written.notes;
        let next = notes.partition_point(|&note| note < made.to);
        let stroke = |note: &usize| self.alignment.strokes[*note];
        let from = notes[..next].iter().rev().find_map(stroke).map_or(0, |stroke| stroke + 1);
        let end = notes[next..].iter().find_map(stroke).unwrap_or(from);
        (from..end).any(|stroke| {
            let attack = &self.attacks[stroke];
            let bounces = stroke > 0 && self.strokes[stroke] - self.strokes[stroke - 1] < beat / 5;
            attack.answer.is_none() && attack.ornament.is_none() && !bounces
        })
    }

    /// Whether the time put in is whole bars: whoever stops struck one stroke more, if any, and did not put in beats.
    fn stands_still_for_bars(&self, made: &Move) -> bool {
        made.to < self.written.counts.len() && self.whole_bars_long(made.to, made.beats).is_some()
    }

    /// Another speed is taken only where it saves three misses, so it is as sure as that at least.
    fn speed(kind: FindingKind, says: &str) -> Finding {
        Finding { confidence: confidence(3.0), ..Finding::of_all(kind, says.to_owned()) }
    }

    fn is_bar_line(&self, count: usize) -> bool {
        self.written.bars.binary_search_by_key(&count, |bar| bar.start).is_ok() && count > 0
    }

    fn moved(&self, made: &Move) -> Option<Finding> {
        let counts = self.written.counts;
        let size = self.length(made.to.min(counts.len() - 1), made.beats);
        let (kind, place, says) = match made.kind {
            MoveKind::Start => {
                let (kind, side) = if made.beats < 0.0 {
                    (FindingKind::PhraseEarly, "early")
                } else {
                    (FindingKind::PhraseLate, "late")
                };
                (kind, 0, format!("the whole phrase came {size} {side}"))
            }
            MoveKind::Skip => {
                let (first, last) =
                    (made.from.min(counts.len() - 1), made.to.min(counts.len()).checked_sub(1)?);
                let (_, bar, _) = self.count_place(first);
                if self.is_whole_repeat(made) {
                    (FindingKind::RepeatNotTaken, first, self.not_taken(made.from))
                } else if let Some((again, what)) = self.straight_into_an_ending(made) {
                    (FindingKind::RepeatNotTaken, again, what)
                } else if self.whole_bars(made.from, made.to) {
                    let (_, to_bar, _) = self.count_place(last);
                    let what = if bar == to_bar {
                        format!("{} was skipped", wording::the_bar(counts[first].id))
                    } else if counts[last].id.bar < counts[first].id.bar {
                        format!("the {size} from {bar} on were skipped")
                    } else {
                        format!("{bar} to {to_bar} were skipped")
                    };
                    (FindingKind::BarSkipped, first, what)
                } else {
                    let (_, _, on) = self.count_place(first);
                    (
                        FindingKind::BeatDropped,
                        first,
                        format!("{bar}: {size} left out at {on}; what follows came that much earlier"),
                    )
                }
            }
            MoveKind::Again => {
                let first = made.to.min(counts.len() - 1);
                let last = made.from.min(counts.len()).checked_sub(1)?;
                let ((_, bar, on), (_, to_bar, _)) = (self.count_place(first), self.count_place(last));
                if let Some((begins, what)) = self.repeat_too_often(made) {
                    (FindingKind::BarRepeated, begins, what)
                } else if let Some(what) = self.begun_again(made) {
                    (FindingKind::BarRepeated, first, what)
                } else if self.whole_bars(made.to, made.from) {
                    let what = if bar == to_bar {
                        format!("{bar} was played twice")
                    } else if counts[last].id.bar < counts[first].id.bar {
                        format!("the {size} from {bar} on were played twice")
                    } else {
                        format!("{bar} to {to_bar} were played twice")
                    };
                    (FindingKind::BarRepeated, first, what)
                } else {
                    (
                        FindingKind::BeatAdded,
                        first,
                        format!("{bar}: {size} played again from {on}; what follows came that much later"),
                    )
                }
            }
            MoveKind::Pause => {
                let first = made.to.min(counts.len() - 1);
                let (_, bar, on) = self.count_place(first);
                let says = if self.stands_still_for_bars(made) {
                    format!("{bar}: stopped before {on}, and went on {size} later")
                } else {
                    format!("{bar}: {size} too many before {on}; what follows came that much later")
                };
                (FindingKind::BeatAdded, first, says)
            }
        };
        let mut finding = Finding::at(kind, counts[place].id, says);
        finding.confidence = confidence(made.gain).clamp(0.5, 0.999);
        Some(finding)
    }

    fn pauses(&self, pauses: &[&Move]) -> Option<Finding> {
        let first = pauses.first()?;
        let (_, bar, _) = self.count_place(first.to);
        let ids: Vec<_> = pauses.iter().map(|made| self.written.counts[made.to].id).collect();
        let size = self.length(first.to, first.beats);
        let more = wording::also("before", &ids);
        let says = if self.stands_still_for_bars(first) {
            format!("stopped at the bar line before {bar}, and went on {size} later{more}")
        } else {
            format!(
                "a pause of {size} at the bar line before {bar}{more}; go over bar lines as over any other place"
            )
        };
        Some(of_places(FindingKind::PauseAtBarLine, ids, Vec::new(), confidence(first.gain), says))
    }

    /// Whether counts from `from` to before `to` are whole bars, at most a beat off at each end where nothing is struck.
    pub(super) fn whole_bars(&self, from: usize, to: usize) -> bool {
        let starts = |count: usize| {
            count == self.written.counts.len()
                || self.written.bars.binary_search_by_key(&count, |bar| bar.start).is_ok()
        };
        from < to && starts(from) && starts(to)
    }

    /// What is said of who went back to the beginning from behind the first bar: whoever does that begins again, at once or after a while.
    fn begun_again(&self, made: &Move) -> Option<String> {
        let (counts, bars) = (self.written.counts, &self.written.bars);
        let pickup = usize::from(counts[bars[0].start].id.bar == 0);
        let to = bars.iter().take(1 + pickup).any(|bar| bar.start == made.to);
        let behind_a_bar = bars.get(pickup).is_some_and(|bar| made.from >= bar.end);
        if !to || !behind_a_bar || made.from >= counts.len() {
            return None;
        }
        let beginning = wording::the_bar(counts[made.to].id);
        let beat = self.written.beat_nanos(made.to) as f64;
        let played = (self.written.at[made.from] - self.written.at[made.to]) as f64 / beat;
        let waited = made.beats - played;
        let later = if waited.abs() < AT_ONCE {
            String::new()
        } else {
            format!(", {} {}", self.length(made.to, waited), if waited > 0.0 { "later" } else { "too early" })
        };
        Some(if self.is_bar_line(made.from) {
            let before = wording::the_bar(counts[made.from - 1].id);
            format!("stopped after {before}, and began again from {beginning}{later}")
        } else {
            let (_, _, on) = self.count_place(made.from);
            let bar = wording::the_bar(counts[made.from].id);
            format!("stopped before {on} in {bar}, and began again from {beginning}{later}")
        })
    }

    /// What is said of who did not go back where a repeat with endings does, but from one of its bars straight on to what is written
    /// behind it: where the time that was passed over begins.
    fn straight_into_an_ending(&self, made: &Move) -> Option<(usize, String)> {
        let counts = self.written.counts;
        let (from, to) = (made.from, made.to);
        let next = counts.get(to)?.id;
        let before = counts[from.checked_sub(1)?].id;
        let goes_back = |n: &usize| {
            counts[*n].id.pass > 1
                && counts[*n].id.bar <= counts[*n - 1].id.bar
                && counts[*n].id.pass != counts[*n - 1].id.pass
        };
        let again = (from..to).find(goes_back)?;
        // What was played goes forward on the page, and no bar was passed over twice.
        let mut bars: Vec<u32> =
            counts[from..to].chunk_by(|a, b| a.id.bar == b.id.bar).map(|bar| bar[0].id.bar).collect();
        let passed = bars.len();
        bars.sort_unstable();
        bars.dedup();
        if !self.whole_bars(from, to) || next.bar <= before.bar || bars.len() < passed {
            return None;
        }
        let (after, into) = (wording::the_bar(before), next.bar);
        Some((again, format!("{}, from {after} straight into bar {into}", self.not_taken(again))))
    }

    /// Whether what was passed over is one whole time through a repeated passage, the second or a later one.
    fn is_whole_repeat(&self, made: &Move) -> bool {
        let counts = self.written.counts;
        let (Some(first), Some(before)) =
            (counts.get(made.from), made.from.checked_sub(1).map(|n| &counts[n]))
        else {
            return false;
        };
        let place = |count: &counting::TimedCount| (count.id.bar, count.id.at);
        let goes_back = first.id.pass > 1 && place(first) <= place(before) && made.from < made.to;
        // It ends where the next time, or what follows, begins.
        goes_back
            && counts
                .get(made.to)
                .is_none_or(|next| next.id.pass != first.id.pass || next.id.bar > before.id.bar)
    }
}
