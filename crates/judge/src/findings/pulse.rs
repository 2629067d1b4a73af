//! The pulse: rushing, dragging, unsteady, single attacks; and what is no fault.

use std::collections::{BTreeMap, BTreeSet};

use rhythm::{AttackId, Deed};
use timebase::Seconds;

use super::Evidence;
use super::sure::{beyond, no_chance};
use crate::alignment::Speed;
use crate::estimate::student;
use crate::limits::FEWEST_FOR_DRIFT;
use crate::trend::{Trend, ValueTrend, in_values};
use crate::{Delay, Drift, Fate, Finding, FindingKind, Note, Task, wording};

/// A single attack is a finding of its own only beyond so many standard deviations of the player's own scatter:
/// one in two thousand does that by chance.
const OUTLYING: f64 = 3.75;
/// The least that is told of a single attack, as a share of the tolerance: what lies at its edge is one attack among others.
const LEAST_SINGLE: f64 = 1.35;
/// The share of its distance by which a single attack must lie off its neighbours too: where they lie off with it, the pulse was there.
const SINGLE: f64 = 0.7;
/// How far a drift must have carried the player, in tolerances and in standard deviations of his own: a wander that comes back goes as
/// far as one tolerance.
const CARRIED: f64 = 1.6;
const CARRIED_SCATTERS: f64 = 3.5;
/// The most, in percent, that a tempo of its own in some values is told of.
const MOST_IN_VALUES: f64 = 22.0;
/// What a player is taken to scatter before anything is known, in ms, and how many attacks that weighs: few attacks that lie close by
/// chance are no steady player, and few that do not are no loose one.
const USUAL_SCATTER_MS: f64 = 22.0;
const WEIGHT: f64 = 8.0;
/// A scatter beyond this share of the tolerance is unsteady: one attack in eight is then out of it.
const UNSTEADY: f64 = 2.0 / 3.0;
/// So many attacks at a place in the beat say where it lies for the player.
const FEWEST_IN_PLACE: usize = 3;
/// What people scatter who are not unsteady, in ms; the spread that [`crate::course::believed`] starts from.
const STEADY_SCATTER_MS: f64 = 25.0;
/// A take is good where so many of ten attacks are on time: at the scatter from which on a player is unsteady nearly nine of ten
/// are, and of 30 attacks fewer than 24 by chance in one take of forty.
const GOOD_OF_TEN: usize = 8;
/// How many neighbours to either side make the pulse around an attack.
const AROUND: usize = 4;
/// A bias smaller than this is not worth a word, in ms.
const LEAST_BIAS_MS: f64 = 20.0;
/// Up to here a steady bias is what people do, in ms: taps lead a click by 30 to 50 ms (Aschersleben and Prinz 1995).
const USUAL_BIAS_MS: f64 = 60.0;
/// So far ahead of the place they mean, or behind it, people lie who are half a beat off, in ms: taps lead.
const MOST_AHEAD_MS: f64 = 75.0;
const MOST_BEHIND_MS: f64 = 35.0;
/// The most that equipment delays, in ms: wireless loudspeakers take 100 to 300.
const MOST_DELAY_MS: f64 = 300.0;

impl Evidence<'_> {
    /// Rushing, dragging, unsteady, single attacks.
    pub(super) fn pulse(&self, found: &mut Vec<Finding>) {
        let places = found.iter().any(Finding::is_habit_of_place);
        // What is so much too fast is no tempo but another figure, and &s that are late make every half of a beat long.
        let values = in_values(self.written, self.alignment, self.strokes, self.misread)
            .filter(|value| value.percent.abs() <= MOST_IN_VALUES && !places);
        if let Some(value) = &values {
            found.push(self.in_the_values(value));
        } else if let Some(drift) = self.drift_to_tell() {
            found.push(self.throughout(drift));
        } else if let Some(trend) = self.late_trend() {
            found.push(self.bending(&trend));
        }
        // What a tempo of its own in some values adds up to is no scatter, nor what lies off for the place it stands in.
        let explained = values.is_some_and(|value| value.scatter_ms <= self.loose_from())
            || places && self.scatter_beside(found) <= self.loose_from();
        if let (true, Some(spread)) = (self.is_unsteady() && !explained, self.spread_ms()) {
            let confidence = beyond(spread, self.loose_from(), self.matches.len());
            let spread = self.ms(spread);
            let says = format!("unsteady: the attacks scatter by {spread} about the pulse");
            found.push(Finding { confidence, ..Finding::of_all(FindingKind::Unsteady, says) });
        }
        self.single_attacks(found);
        found.extend(self.half_a_beat_off().and_then(HalfBeat::told));
    }

    fn throughout(&self, drift: Drift) -> Finding {
        if let Some(trend) = self.turn() {
            return self.bending(&trend);
        }
        let speed = wording::percent(drift.percent, drift.error_percent);
        let carried = self.ms(drift.carried.as_millis_f64());
        let bars = self.bars_played();
        let (kind, says) = if drift.percent > 0.0 {
            (FindingKind::Rushing, format!("rushing: {speed} faster than written, {carried} gained{bars}"))
        } else {
            (FindingKind::Dragging, format!("dragging: {speed} slower than written, {carried} lost{bars}"))
        };
        let confidence = no_chance(drift.percent / drift.error_percent, 1);
        Finding { confidence, ..Finding::of_all(kind, says) }
    }

    fn in_the_values(&self, value: &ValueTrend) -> Finding {
        let (kind, word, side) = if value.percent > 0.0 {
            (FindingKind::Rushing, "rushing", "faster")
        } else {
            (FindingKind::Dragging, "dragging", "slower")
        };
        let (speed, called) = (wording::percent(value.percent, value.error_percent), &value.called);
        let says = format!("{word} in the {called}: {speed} {side} there; the other values are steady");
        let confidence = no_chance(value.percent / value.error_percent, value.among);
        Finding { confidence, ..Finding::of_all(kind, says) }
    }

    fn bending(&self, trend: &Trend) -> Finding {
        let (id, bar, _) = self.count_place(trend.from);
        let (speed, carried) =
            (wording::percent(trend.percent, trend.error_percent), self.ms(trend.carried_ms));
        let (kind, word, side, moved) = if trend.percent > 0.0 {
            (FindingKind::Rushing, "rushing", "faster", "gained")
        } else {
            (FindingKind::Dragging, "dragging", "slower", "lost")
        };
        // Without a click nothing but the rest of the take says how fast it should be.
        let than = match (self.alignment.tempo, trend.found_again) {
            (None, _) => "written",
            (Some(_), false) => "before",
            (Some(_), true) => "afterwards",
        };
        let speed = format!("{speed} {side} than {than}, {carried} {moved}");
        let says = if trend.found_again {
            let to = self.up_to(trend.from);
            format!("{word} up to {to}: {speed}; there the pulse is found again")
        } else {
            format!("{word} from {bar} on: {speed}; steady before")
        };
        let confidence = no_chance(trend.percent / trend.error_percent, self.written.bars.len());
        Finding { confidence, ..Finding::at(kind, id, says) }
    }

    /// A place as one goes up to it: a bar, or a count in a bar where it is not the bar's first note.
    fn up_to(&self, count: usize) -> String {
        let (_, bar, on) = self.count_place(count);
        let begins = self.written.bars[self.written.bar_of(count)].start;
        let is_first = !(begins..count).any(|earlier| self.written.deed(earlier) == Deed::Attack);
        if is_first { bar } else { format!("{on} in {bar}") }
    }

    /// A drift that is no chance and has carried the player out of the tolerance. Less is not heard as rushing.
    pub(super) fn drift_to_tell(&self) -> Option<Drift> {
        let drift = self.sums.drift.filter(|drift| drift.sure)?;
        self.is_carried_away(drift.carried.as_millis_f64()).then_some(drift)
    }

    /// Whether a pulse moved so far that it is no wander.
    fn is_carried_away(&self, by_ms: f64) -> bool {
        let tolerance = self.settings.tolerance().as_millis_f64();
        by_ms.abs() >= (CARRIED * tolerance).max(CARRIED_SCATTERS * self.scatter())
    }

    /// Where a drift begins, if it does not go on throughout.
    fn turn(&self) -> Option<Trend> {
        self.bent
    }

    /// A drift that begins so late that the whole take does not show it.
    fn late_trend(&self) -> Option<Trend> {
        self.turn().filter(|trend| trend.sure && self.is_carried_away(trend.carried_ms))
    }

    /// Where the player's pulse lies at a written time, in ms after the click: steady, drifting throughout, or from somewhere on.
    pub(super) fn pulse_at(&self, written: i64) -> f64 {
        self.bent.map_or_else(|| self.pulse.at(written), |trend| trend.at(written))
    }

    /// How far the matches lie from that pulse, in ms.
    fn distances(&self) -> Vec<f64> {
        self.matches.iter().map(|&(at, offset)| offset as f64 / 1e6 - self.pulse_at(at)).collect()
    }

    /// The standard deviation about that pulse, outliers left aside, in ms.
    fn scatter(&self) -> f64 {
        crate::sums::scatter(self.distances())
    }

    /// The same without one attack so far off, drawn towards the usual: by what it would have to be beyond to be no chance.
    fn scatter_without(&self, distance: f64, distances: &[f64]) -> f64 {
        let mut others = distances.to_vec();
        if let Some(own) = others.iter().position(|other| (other - distance).abs() < 1e-6) {
            others.swap_remove(own);
        }
        let own = (others.len() as f64 - 1.0).max(0.0);
        let squares = own * crate::sums::scatter(others).powi(2) + WEIGHT * USUAL_SCATTER_MS.powi(2);
        (squares / (own + WEIGHT)).sqrt()
    }

    /// The spread of the sums, or about the pulse where it bends, in ms.
    fn spread_ms(&self) -> Option<f64> {
        let spread = self.sums.spread?.as_millis_f64();
        if self.bent.is_none() {
            return Some(spread);
        }
        let squares: f64 =
            self.matches.iter().map(|&(at, offset)| (offset as f64 / 1e6 - self.pulse_at(at)).powi(2)).sum();
        Some(spread.min((squares / (self.matches.len() as f64 - 3.0).max(1.0)).sqrt()))
    }

    fn bars_played(&self) -> String {
        let struck = |note: &&Note| matches!(note.fate, Fate::Struck(_));
        let first = self.notes.iter().find(struck).map(|note| wording::bar(note.id));
        let last = self.notes.iter().rfind(struck).map(|note| wording::bar(note.id));
        match (first, last) {
            (Some(first), Some(last)) if first != last => format!(" from {first} to {last}"),
            _ => String::new(),
        }
    }

    /// Scatter is told by the standard deviation with and without outliers, so that one slip among steady
    /// attacks is not called unsteady.
    pub(super) fn is_unsteady(&self) -> bool {
        let Some(spread) = self.spread_ms().filter(|_| self.matches.len() >= FEWEST_FOR_DRIFT) else {
            return false;
        };
        let limit = self.loose_from();
        let loose = spread > limit && self.scatter() > limit && self.scatter_without_furthest() > limit;
        // A quarter off the pulse is unsteady too, where notes are close and the tolerance is a third of their interval.
        let off = self.off_pulse().count() * 4 > self.sums.matched && self.scatter() > self.heard_from();
        (loose || off) && self.is_loose_locally(limit)
    }

    /// The scatter without the attack that lies furthest off: among few attacks a single one makes all look loose.
    fn scatter_without_furthest(&self) -> f64 {
        let mut distances = self.distances();
        distances.sort_unstable_by(|a, b| a.abs().total_cmp(&b.abs()));
        distances.pop();
        crate::sums::scatter(distances)
    }

    /// Whether attacks scatter about what goes on around them: not where a drift that bends, a tempo of its own in some
    /// values or the place in the beat explains where they fall.
    fn is_loose_locally(&self, limit: f64) -> bool {
        let mut places: BTreeMap<(Option<i64>, Option<bool>), Vec<f64>> = BTreeMap::new();
        let mut placed = Vec::new();
        for (note, &count) in self.written.notes.iter().enumerate() {
            let Some(answer) = self.answer(note).filter(|answer| !answer.misread) else { continue };
            let offset = answer.offset.as_millis_f64() - self.pulse_at(self.alignment.moved[count]);
            let part = self.written.part(count);
            let after_rest = count > 0 && self.written.deed(count - 1) == Deed::Rest;
            for place in [(part, None), (part, Some(after_rest))] {
                places.entry(place).or_default().push(offset);
            }
            placed.push((part, after_rest, offset));
        }
        // About the median of their place in the beat, so that a habit of place is no scatter; after a rest, where there are
        // enough, it is a place of its own.
        let centre = |part: Option<i64>, after_rest: bool| {
            let of = |place| places.get(&place).filter(|each| each.len() >= FEWEST_IN_PLACE);
            of((part, Some(after_rest))).or_else(|| of((part, None))).map_or(0.0, |each| middle(each))
        };
        let offsets: Vec<f64> =
            placed.iter().map(|&(part, after_rest, offset)| offset - centre(part, after_rest)).collect();
        // About the median of the neighbours, so that a bending pulse is none either.
        let residuals: Vec<f64> = offsets
            .iter()
            .enumerate()
            .map(|(index, offset)| {
                let near = &offsets[index.saturating_sub(AROUND)..(index + AROUND + 1).min(offsets.len())];
                offset - middle(near)
            })
            .collect();
        // Medians of nine take some of the scatter with them: about an eighth.
        let mut sizes = residuals.clone();
        let robust = 1.4826 * crate::drift::median_size(&mut sizes);
        robust * 1.1 > limit * 0.8
    }

    /// The notes that were struck further from the pulse of the take than their tolerance, and how far in ms.
    fn off_pulse(&self) -> impl Iterator<Item = (usize, f64)> {
        (0..self.notes.len()).filter_map(|index| {
            let answer = self.answer(index).filter(|answer| !answer.misread)?;
            let at = self.alignment.moved[self.written.notes[index]];
            let distance = answer.offset.as_millis_f64() - self.pulse_at(at);
            (distance.abs() > answer.tolerance.as_millis_f64()).then_some((index, distance))
        })
    }

    /// The scatter in ms from which on a player is unsteady.
    fn loose_from(&self) -> f64 {
        (UNSTEADY * self.settings.tolerance().as_millis_f64()).max(self.heard_from())
    }

    /// The scatter in ms up to which nobody is unsteady, however narrow the tolerance: what steady players scatter, and
    /// what is not heard.
    fn heard_from(&self) -> f64 {
        STEADY_SCATTER_MS.max(self.just_noticeable_ms())
    }

    /// Attacks far off by the player's own standard.
    fn single_attacks(&self, found: &mut Vec<Finding>) {
        if self.sums.bias.is_none() || self.is_unsteady() {
            return;
        }
        let least = (LEAST_SINGLE * self.settings.tolerance().as_millis_f64())
            .max(2.0 * self.settings.resolution().as_millis_f64());
        let outlying = student(OUTLYING, self.matches.len() as f64 - 2.0 + WEIGHT);
        let distances = self.distances();
        // What is told as a habit is not told again.
        let habits = found.iter().filter(|finding| finding.is_habit_of_place());
        let told: BTreeMap<AttackId, bool> = habits
            .flat_map(|finding| {
                let late = matches!(finding.kind, FindingKind::AndsSwung | FindingKind::LateAttack);
                finding.notes.iter().map(move |&note| (note, late))
            })
            .collect();
        let mut singles = Vec::new();
        let single = |note: usize, distance: f64| {
            distance.abs() > least
                && (distance - self.beside(note)) * distance.signum() > SINGLE * distance.abs()
        };
        for (note, distance) in self.off_pulse().filter(|&(note, distance)| single(note, distance)) {
            let scatter = self.scatter_without(distance, &distances);
            if distance.abs() <= outlying * scatter {
                continue;
            }
            let count = self.written.notes[note];
            // Where a figure is mostly read as another, what lies between the two is neither early nor late.
            if self.alignment.half_read.contains(&count) {
                continue;
            }
            if told.get(&self.notes[note].id).is_some_and(|&late| late == (distance > 0.0)) {
                continue;
            }
            // What is no chance and lies where another figure has it was read for that.
            if let Some(reading) = self.maybe_read(count) {
                if !singles.iter().any(|told: &Finding| told.kind == reading.kind) {
                    singles.push(reading);
                }
                continue;
            }
            let (id, bar, place) = self.place_of(note);
            let amount = self.ms(distance);
            let after_rest = count > 0 && self.written.deed(count - 1) == Deed::Rest;
            let (kind, says) = match (distance < 0.0, after_rest) {
                (true, true) => (
                    FindingKind::EarlyEntry,
                    format!("{bar}: the entry on {place} came {amount} early, before the rest was over"),
                ),
                (true, false) => {
                    (FindingKind::EarlyAttack, format!("{bar}: the attack on {place} came {amount} early"))
                }
                (false, _) => {
                    (FindingKind::LateAttack, format!("{bar}: the attack on {place} came {amount} late"))
                }
            };
            let strokes = self.alignment.strokes[count].into_iter().collect();
            singles.push(Finding {
                notes: vec![id],
                strokes,
                confidence: no_chance(distance / scatter, self.matches.len()),
                ..Finding::at(kind, id, says)
            });
        }
        found.extend(singles);
    }

    /// The scatter of the attacks that no habit is told of, in ms.
    fn scatter_beside(&self, found: &[Finding]) -> f64 {
        let habits: BTreeSet<AttackId> = found
            .iter()
            .filter(|finding| finding.is_habit_of_place())
            .flat_map(|finding| finding.notes.iter().copied())
            .collect();
        let others = (0..self.notes.len()).filter(|&note| !habits.contains(&self.notes[note].id));
        let distances = others.filter_map(|note| {
            let answer = self.answer(note).filter(|answer| !answer.misread)?;
            let at = self.alignment.moved[self.written.notes[note]];
            Some(answer.offset.as_millis_f64() - self.pulse_at(at))
        });
        crate::sums::scatter(distances.collect())
    }

    /// Where the attacks beside a note lie, two to either side: the median of their distances from the pulse, in ms.
    fn beside(&self, note: usize) -> f64 {
        let near = (note.saturating_sub(2)..(note + 3).min(self.notes.len())).filter(|&other| other != note);
        let distances: Vec<f64> = near
            .filter_map(|other| {
                let answer = self.answer(other).filter(|answer| !answer.misread)?;
                let at = self.alignment.moved[self.written.notes[other]];
                Some(answer.offset.as_millis_f64() - self.pulse_at(at))
            })
            .collect();
        middle(&distances)
    }

    /// What is said where nothing went wrong that has a name: a good take, or one that is not on time though all was struck.
    ///
    /// Where fewer than [`GOOD_OF_TEN`] of ten attacks are on time it is none, whatever scattered them; where they are off by less
    /// than is heard, for the tolerance is that narrow, it is steady and not called good.
    pub(super) fn good_take(&self, found: &mut Vec<Finding>) {
        let complete = (0..self.notes.len()).all(|note| self.is_struck(note))
            && self.attacks.iter().all(|attack| attack.answer.is_some() || attack.ornament.is_some());
        let (Some(spread), true, true) = (self.spread_ms(), complete, found.is_empty()) else {
            return;
        };
        let (all, struck_well) =
            (self.sums.matched, |off: usize, all: usize| (all - off) * 10 >= all * GOOD_OF_TEN);
        let off = self.off_pulse().count();
        let on_time = all - off;
        let (what, struck) = match self.settings.task() {
            Task::Rhythm => ("a good take", "attacks"),
            Task::Pulse => ("the pulse was kept", "beats"),
        };
        let told = format!("all {all} {struck} were struck and nothing else");
        let scatter = self.ms(spread);
        if struck_well(off, all) {
            let says = format!("{what}: {told}, {on_time} of them on time, spread {scatter}");
            found.push(Finding::of_all(FindingKind::GoodTake, says));
            return;
        }
        let heard = self.heard_from() / UNSTEADY;
        if struck_well(self.off_pulse().filter(|(_, distance)| distance.abs() > heard).count(), all) {
            let says = format!(
                "{told}, spread {scatter}, which is steady; {on_time} of them are on time by so narrow a tolerance"
            );
            found.push(Finding::of_all(FindingKind::GoodTake, says));
            return;
        }
        let says =
            format!("{told}, but only {on_time} of them on time, spread {scatter}: the pulse is not kept");
        // Of a player at the limit one attack in eight is off.
        let by_chance = all as f64 / 8.0;
        let evidence = no_chance((off as f64 - by_chance) / (by_chance * 7.0 / 8.0).sqrt(), 1);
        found.push(Finding {
            confidence: evidence,
            evidence,
            ..Finding::of_all(FindingKind::Unsteady, says)
        });
    }

    /// Whether all lies half a beat from the click (in beats of three perhaps a third), as near as people lie to what they mean.
    fn half_a_beat_off(&self) -> Option<HalfBeat> {
        let first = *self.written.notes.first()?;
        // Where he was elsewhere in the music, or went at another speed, that is what is told.
        let as_written = self.alignment.moves.is_empty()
            && self.alignment.speed == Speed::Written
            && self.alignment.altered.is_none()
            && self.alignment.instead.is_none();
        let bias_ms = self.steady_bias_ms().filter(|_| as_written)?;
        let beat_ms = self.written.beat_nanos(first) as f64 / 1e6;
        let parts = if self.written.divides_in_three(first) {
            [(3.0, "a third of a beat", ""), (2.0, "half a beat", "")]
        } else {
            [(2.0, "half a beat", ", on the &s"); 2]
        };
        let (_, size, on) = parts.into_iter().find(|(part, ..)| {
            // What is late lies ahead of where it is meant as well as what is early does.
            let beside = bias_ms - beat_ms / part * bias_ms.signum();
            (-MOST_AHEAD_MS..=MOST_BEHIND_MS).contains(&beside)
        })?;
        let place = self.written.counts[0].id;
        let delay = self.settings.delay();
        (bias_ms.abs() > USUAL_BIAS_MS).then_some(HalfBeat { place, bias_ms, size, on, delay })
    }

    /// The distance from the click, in ms, where the pulse keeps one: not where it moves from bar to bar.
    fn steady_bias_ms(&self) -> Option<f64> {
        // Who waits at every bar line has no steady distance from the click.
        let steady = self.drift_to_tell().is_none()
            && self.bent.is_none()
            && self.alignment.waiting.is_none()
            && !self.is_unsteady();
        self.sums.bias.filter(|_| steady).map(Seconds::as_millis_f64)
    }

    /// A steady distance from the click, where it is heard and is no chance: not where the pulse is said not to be steady, or is not.
    pub(super) fn bias(&self, found: &mut Vec<Finding>) {
        let unsteady = |finding: &Finding| {
            matches!(finding.kind, FindingKind::Rushing | FindingKind::Dragging | FindingKind::Unsteady)
        };
        let Some(bias) = self.steady_bias_ms().filter(|_| !found.iter().any(unsteady)) else {
            return;
        };
        let half_beat = self.half_a_beat_off();
        if half_beat.as_ref().is_some_and(|half_beat| !half_beat.may_be_a_delay()) {
            return;
        }
        // The standard error of a median is 1.25 times that of a mean.
        let error = 1.2533 * self.scatter() / (self.sums.matched as f64).sqrt();
        let least =
            LEAST_BIAS_MS.max(self.just_noticeable_ms()).max(self.settings.resolution().as_millis_f64());
        if bias.abs() < least || bias.abs() <= 3.0 * error {
            return;
        }
        let known = self.settings.delay() == Delay::TakenOff;
        let (kind, side) = match (bias < 0.0, known) {
            (true, true) => (FindingKind::SteadyLead, "ahead of"),
            (true, false) => (FindingKind::SteadyLead, "before"),
            (false, true) => (FindingKind::SteadyLag, "behind"),
            (false, false) => (FindingKind::SteadyLag, "after"),
        };
        let remark = match half_beat {
            _ if known && bias.abs() <= USUAL_BIAS_MS => {
                "steady, some tens of milliseconds are no fault".to_owned()
            }
            _ if known => "steady, but so much is heard".to_owned(),
            _ if bias.abs() <= USUAL_BIAS_MS => {
                "how much of that is the equipment's delay was not measured, so nothing is said of the player"
                    .to_owned()
            }
            Some(HalfBeat { size, on, .. }) => {
                format!(
                    "so much may be the equipment's delay, so measure that first; if it is not, all came {size} late{on}"
                )
            }
            None => "so much may be the equipment's delay, so measure that first".to_owned(),
        };
        let says = format!("the attacks fall {} {side} the click throughout; {remark}", self.ms(bias));
        found.push(Finding::of_all(kind, says));
    }

    /// The least displacement that is heard, at the median interval between notes: 6 ms below 240 ms, 2.5 % above
    /// (Friberg and Sundberg 1995).
    fn just_noticeable_ms(&self) -> f64 {
        let mut intervals: Vec<f64> =
            self.notes.windows(2).map(|pair| (pair[1].at - pair[0].at).as_millis_f64()).collect();
        (0.025 * crate::drift::median_size(&mut intervals)).max(6.0)
    }
}

/// A take all of which lies half a beat from the click.
#[derive(Clone, Copy, Debug)]
struct HalfBeat {
    place: AttackId,
    bias_ms: f64,
    size: &'static str,
    on: &'static str,
    delay: Delay,
}

impl HalfBeat {
    /// Whether a loudspeaker or a pad may be so late; nothing sounds before it is struck.
    fn may_be_a_delay(&self) -> bool {
        self.delay == Delay::Unknown && (0.0..MOST_DELAY_MS).contains(&self.bias_ms)
    }

    /// It as a mistake, where it can be nothing else.
    fn told(self) -> Option<Finding> {
        let Self { size, on, .. } = self;
        let (kind, says) = if self.bias_ms < 0.0 {
            (FindingKind::PhraseEarly, format!("the whole phrase came {size} early{on}"))
        } else {
            let unless = match self.delay {
                Delay::Unknown => "; should the equipment delay so much, measure that first",
                Delay::TakenOff => "",
            };
            (FindingKind::PhraseLate, format!("the whole phrase came {size} late{on}{unless}"))
        };
        (!self.may_be_a_delay()).then(|| Finding::at(kind, self.place, says))
    }
}

/// The median, of an even number the mean of the two in the middle; 0 of none.
fn middle(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let half = sorted.len() / 2;
    match sorted.len() {
        0 => 0.0,
        odd if odd % 2 == 1 => sorted[half],
        _ => f64::midpoint(sorted[half - 1], sorted[half]),
    }
}
