use std::borrow::Borrow;
use std::collections::BTreeMap;

use rhythm::AttackId;
use timebase::{Moment, Seconds};

use crate::common_pulse::{CommonPulse, Course, common_pulse};
use crate::estimate::{deviation, hang_together, median};
use crate::limits::FEWEST_FOR_BIAS;
use crate::{Estimate, Fate, Judgement, Task};

/// How close the players of a section fell at one written attack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Together {
    /// The written attack.
    pub id: AttackId,
    /// When it is written.
    pub at: Moment,
    /// How many players struck it, meant as it is written and where it is written.
    pub players: usize,
    /// The standard deviation of their attacks about their mean (divided by n − 1); `None` below two players.
    pub spread: Option<Seconds>,
    /// From the first of them to the last; `None` below two players.
    pub range: Option<Seconds>,
}

/// How close the players fell, at each written attack in order of time.
///
/// The judgements are of one rhythm; who keeps the pulse plays another and is left out, and so is what was misread or played
/// elsewhere in the music. The attacks are taken as they fell and not from each player's own bias: being
/// together is what is heard, and two steady players 60 ms apart are not together.
#[must_use]
pub fn section<J: Borrow<Judgement>>(judgements: &[J]) -> Vec<Together> {
    let judgements: Vec<&Judgement> = judgements.iter().map(Borrow::borrow).collect();
    let together = |(&(at, id), struck): (&(Moment, AttackId), &Vec<Struck>)| together(id, at, struck);
    places(&judgements).iter().map(together).collect()
}

/// Several players who played one rhythm at one time.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// How close they fell at each written attack, in order of time; as [`section`] gives it.
    pub together: Vec<Together>,
    /// Each player against the section's common moments, in the order given.
    pub members: Vec<Member>,
    /// The section's common moments against the click.
    pub with_click: Option<WithClick>,
    /// How far the players fall from each other: the standard deviation about the common moment, all attacks
    /// together. It knows nothing of the click: a section may be together and late. For comparison: trios of recorders 30,
    /// of reeds 27 to 37 and of strings 37 to 49 ms between two players (Rasch 1979, second-hand), which is √2 of this.
    pub with_each_other: Option<Estimate<Seconds>>,
    /// The pulse they have in common, where two or more struck, in order of time.
    pub pulse: Vec<CommonPulse>,
}

/// One player in a section. A common moment is the mean of at least two who struck. Who misread, or was elsewhere in the music
/// (a beat late, a bar on), is not counted among them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Member {
    /// How many attacks fell at a common moment.
    pub attacks: usize,
    /// The median distance from the common moments: negative leads, positive follows. `None` with too few (at the least 6). He is
    /// one of those who make the moment, so from the others he is farther by n/(n − 1).
    pub distance: Option<Estimate<Seconds>>,
    /// How steadily he keeps that distance: the standard deviation about it. From [`FEWEST_FOR_BIAS`] attacks on.
    pub steadiness: Option<Estimate<Seconds>>,
}

/// How a section's common moments lie to the click.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WithClick {
    /// How many there are.
    pub attacks: usize,
    /// Their median distance; negative is ahead of the click.
    pub bias: Estimate<Seconds>,
    /// Their standard deviation about it.
    pub spread: Estimate<Seconds>,
}

impl Section {
    /// The section of these players. The judgements are of one rhythm and one recording; who keeps the pulse is a member of whom
    /// nothing is said. What was misread or played elsewhere in the music has no part in it. Where there was no click
    /// ([`crate::TempoOf::Player`]) nothing is said of one.
    #[must_use]
    pub fn of(judgements: &[&Judgement]) -> Self {
        let places = places(judgements);
        let together = places.iter().map(|(&(at, id), struck)| together(id, at, struck)).collect();
        let mut of_players = vec![Vec::new(); judgements.len()];
        let mut means = Vec::new();
        let (mut squares, mut freedom) = (0.0, 0.0);
        for struck in places.values() {
            let read: Vec<&Struck> = struck.iter().filter(|stroke| !stroke.astray).collect();
            if read.len() < 2 {
                continue;
            }
            let mean = mean_ms(read.iter().copied());
            means.push(mean);
            freedom += read.len() as f64 - 1.0;
            for stroke in read {
                let distance = stroke.offset.as_millis_f64() - mean;
                squares += distance * distance;
                of_players[stroke.player].push(distance);
            }
        }
        let members: Vec<Member> = of_players.iter().map(|distances| Member::of(distances)).collect();
        let with_each_other =
            (means.len() >= FEWEST_FOR_BIAS).then(|| deviation((squares / freedom).sqrt(), freedom));
        let courses: Vec<Course> = (0..judgements.len())
            .map(|player| {
                let own = places.iter().filter_map(|(&(at, _), struck)| {
                    let stroke = struck.iter().find(|stroke| stroke.player == player && !stroke.astray)?;
                    Some((at, stroke.offset.as_millis_f64()))
                });
                Course::of(&own.collect::<Vec<_>>(), middle(&of_players[player]))
            })
            .collect();
        let pulse = common_pulse(places.keys().copied(), &courses);
        let placed = judgements.iter().all(|judgement| judgement.is_placed());
        let with_click = if placed { WithClick::of(&means) } else { None };
        Self { together, members, with_click, with_each_other, pulse }
    }
}

impl Member {
    fn of(distances: &[f64]) -> Self {
        let (distance, steadiness) = about_median(distances);
        Self { attacks: distances.len(), distance, steadiness }
    }

    /// Whether he is ahead of the section for certain.
    #[must_use]
    pub fn leads(&self) -> bool {
        self.distance.is_some_and(|distance| distance.high < Seconds::ZERO)
    }

    /// Whether he is behind it for certain.
    #[must_use]
    pub fn follows(&self) -> bool {
        self.distance.is_some_and(|distance| distance.low > Seconds::ZERO)
    }
}

impl WithClick {
    fn of(means: &[f64]) -> Option<Self> {
        let (bias, spread) = about_median(means);
        Some(Self { attacks: means.len(), bias: bias?, spread: spread? })
    }
}

/// The median of some distances and the standard deviation about it.
fn about_median(distances: &[f64]) -> (Option<Estimate<Seconds>>, Option<Estimate<Seconds>>) {
    let middle = middle(distances);
    let from: Vec<f64> = distances.iter().map(|distance| distance - middle).collect();
    let correlation = hang_together(&from);
    let squared = correlation * correlation;
    let freedom = from.len() as f64 - 1.0;
    let spread = (from.len() >= FEWEST_FOR_BIAS).then(|| {
        let squares: f64 = from.iter().map(|distance| distance * distance).sum();
        deviation((squares / freedom).sqrt(), freedom * (1.0 - squared) / (1.0 + squared))
    });
    (median(distances, correlation), spread)
}

/// The median; 0 of none.
pub(crate) fn middle(numbers: &[f64]) -> f64 {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    match sorted.len() {
        0 => 0.0,
        count => f64::midpoint(sorted[(count - 1) / 2], sorted[count / 2]),
    }
}

/// One player's stroke at a written attack.
#[derive(Clone, Copy, Debug)]
struct Struck {
    player: usize,
    /// Played minus written.
    offset: Seconds,
    /// Misread, or played elsewhere in the music.
    astray: bool,
}

/// Who struck each written attack.
fn places(judgements: &[&Judgement]) -> BTreeMap<(Moment, AttackId), Vec<Struck>> {
    let mut places: BTreeMap<(Moment, AttackId), Vec<Struck>> = BTreeMap::new();
    // What answers a rhythm that it does not fit does so by chance.
    let play_it = judgements
        .iter()
        .enumerate()
        .filter(|(_, judgement)| judgement.task() == Task::Rhythm && !judgement.is_of_another_rhythm());
    for (player, judgement) in play_it {
        for note in judgement.notes() {
            let struck = places.entry((note.at, note.id)).or_default();
            if let Fate::Struck(attack) = note.fate {
                let attack = &judgement.attacks()[attack];
                // At a tempo of the player's own every note lies elsewhere than written.
                let is_free = judgement.tempo_ratio().is_some();
                let astray = attack
                    .answer
                    .is_some_and(|answer| answer.misread || (answer.shift != Seconds::ZERO && !is_free));
                struck.push(Struck { player, offset: attack.played.at - note.at, astray });
            }
        }
    }
    places
}

fn mean_ms<'a>(struck: impl ExactSizeIterator<Item = &'a Struck>) -> f64 {
    let count = struck.len() as f64;
    struck.map(|stroke| stroke.offset.as_millis_f64()).sum::<f64>() / count
}

fn together(id: AttackId, at: Moment, struck: &[Struck]) -> Together {
    let struck: Vec<&Struck> = struck.iter().filter(|stroke| !stroke.astray).collect();
    let players = struck.len();
    let offsets = || struck.iter().map(|stroke| stroke.offset);
    let range = match (offsets().min(), offsets().max()) {
        (Some(first), Some(last)) if players >= 2 => Some(last - first),
        _ => None,
    };
    let spread = range.map(|_| {
        let mean = mean_ms(struck.iter().copied());
        let squares: f64 = offsets().map(|offset| (offset.as_millis_f64() - mean).powi(2)).sum();
        Seconds::from_millis_f64((squares / (players as f64 - 1.0)).sqrt())
    });
    Together { id, at, players, spread, range }
}
