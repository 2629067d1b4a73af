use std::sync::Arc;

use counting::TimedCount;
use rhythm::{AttackId, Deed};
use timebase::{Moment, Seconds};

use crate::alignment::{self, Alignment, align};
use crate::findings::{Evidence, Found, findings};
use crate::ornaments::{ornaments, settle_mains};
use crate::place::{Standing, standings};
use crate::trend::{Trend, trend};
use crate::written::{Written, nanos};
use crate::{Delay, Finding, Played, Presence, Settings, Split, Sums, Task, TempoOf};

/// What is said of one attack.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// Further ahead of the player's own pulse than the tolerance.
    Early,
    /// Within the tolerance, both ends included.
    OnTime,
    /// Further behind than the tolerance.
    Late,
    /// It answers no written attack.
    Extra,
    /// It is one of the strokes that a grace or a roll is made of, beside the one that answers the note.
    Ornament,
}

impl Verdict {
    /// Its stable name, as it stands in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Early => "early",
            Self::OnTime => "on-time",
            Self::Late => "late",
            Self::Extra => "extra",
            Self::Ornament => "ornament",
        }
    }
}

/// One attack of the player and what it answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Attack {
    /// As it was given.
    pub played: Played,
    /// Which of the given attacks it is.
    pub index: usize,
    /// The written attack it answers; `None` for an extra one.
    pub answer: Option<Answer>,
    /// The count of a rest or a hold that an extra attack fell on, if it fell on one.
    pub fell_on: Option<(AttackId, Deed)>,
    /// The note whose grace or roll it belongs to; such a stroke is no extra one.
    pub ornament: Option<AttackId>,
    /// Whether it belongs to a passage that was played once more than written.
    pub again: bool,
}

/// Which written attack is answered, and how closely.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Answer {
    /// The written attack.
    pub id: AttackId,
    /// When it is written.
    pub written: Moment,
    /// Played minus written minus [`Self::shift`]; negative is early. Where the player was elsewhere in the music than the click (a bar
    /// skipped, a beat late, half the speed), this is how far from the place where the note lay for him.
    pub offset: Seconds,
    /// How much later than written the note lay for the player: zero unless he left the written course; negative where he was ahead.
    pub shift: Seconds,
    /// The offset minus the player's bias; the offset itself where no bias is claimed.
    pub lean: Seconds,
    /// How far it may lean and be on time: the set tolerance or a third of the shortest neighbouring interval between
    /// written attacks, whichever is less, rounded down to the nanosecond.
    pub tolerance: Seconds,
    /// Whether it is early, on time or late. Never [`Verdict::Extra`].
    pub verdict: Verdict,
    /// Whether it was played as part of something else than is written, which a finding names: its offset then says
    /// nothing of the player's timing and takes no part in the sums.
    pub misread: bool,
}

impl Attack {
    /// What is said of it.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        match (self.answer, self.ornament) {
            (Some(answer), _) => answer.verdict,
            (None, Some(_)) => Verdict::Ornament,
            (None, None) => Verdict::Extra,
        }
    }
}

/// One written attack and what became of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Note {
    /// Which it is.
    pub id: AttackId,
    /// When it is written.
    pub at: Moment,
    /// What became of it.
    pub fate: Fate,
}

/// What became of a written attack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// Answered by this attack, an index into [`Judgement::attacks`].
    Struck(usize),
    /// Not answered, and the time for it has passed.
    Missed,
    /// Not answered, and nobody can say yet that it was missed: its time has not passed, or did not before the drill was
    /// stopped, or the player's device was not there.
    Pending,
}

/// What one player did with one rhythm.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    attacks: Vec<Attack>,
    notes: Vec<Note>,
    sums: Sums,
    tempo_ratio: Option<f64>,
    found: Found,
    /// Where each of the notes stands in beat and bar.
    standings: Arc<[Standing]>,
    /// The pulse that bends or breaks off, where that is told.
    bent: Option<Trend>,
    task: Task,
    /// Whether it is known where the click lies among the strokes.
    placed: bool,
    delay: Delay,
}

impl Judgement {
    /// Every attack played, in order of time.
    #[must_use]
    pub fn attacks(&self) -> &[Attack] {
        &self.attacks
    }

    /// Every written attack, in order of time.
    #[must_use]
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// The written attacks that were not answered and no longer can be, in order of time.
    pub fn missed(&self) -> impl Iterator<Item = &Note> {
        self.notes.iter().filter(|note| note.fate == Fate::Missed)
    }

    /// Bias, spread and drift.
    #[must_use]
    pub fn sums(&self) -> &Sums {
        &self.sums
    }

    /// What the player was to strike.
    #[must_use]
    pub fn task(&self) -> Task {
        self.task
    }

    /// How many times as fast as written the player played, where there was no click ([`crate::TempoOf::Player`]); `None` with too few
    /// strokes to say.
    #[must_use]
    pub fn tempo_ratio(&self) -> Option<f64> {
        self.tempo_ratio
    }

    /// The offsets split into what they are, each with its interval; `resolution` is what the stamps are worth
    /// ([`Split::DEFAULT_RESOLUTION`] where nothing is known). Worked out anew at every call.
    #[must_use]
    pub fn split(&self, resolution: Seconds) -> Split {
        let split = Split::of(self, &self.standings, resolution);
        Split { bias: split.bias.filter(|_| self.placed), ..split }
    }

    /// Whether it is known where a click lies among the strokes, so that a distance from it can be told: not without one
    /// ([`TempoOf::Player`]), and not where its place had to be assumed ([`TempoOf::Written`]).
    #[must_use]
    pub fn is_placed(&self) -> bool {
        self.placed
    }

    /// What was known of the equipment's delay: unless it was taken off, a distance from the click is not the player's alone.
    #[must_use]
    pub fn delay(&self) -> Delay {
        self.delay
    }

    /// The same judgement with these findings: where the teacher has overruled one, or one may not be told.
    #[must_use]
    pub fn with_findings(self, findings: Vec<Finding>) -> Self {
        Self { found: Found { findings, ..self.found }, ..self }
    }

    /// What a teacher would say, the most useful first: the first finding of every kind in the order of
    /// [`crate::FindingKind`], then the others as they come.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.found.findings
    }

    /// What may have been besides, each likelier wrong than right, in the same order: for whoever asks for everything. It
    /// counts for nothing. Most takes have none; many where much went wrong at once.
    #[must_use]
    pub fn doubtful(&self) -> &[Finding] {
        &self.found.doubtful
    }

    /// The pulse that bends or breaks off, where that is told.
    pub(crate) fn bent(&self) -> Option<&Trend> {
        self.bent.as_ref()
    }

    /// Whether the take does not fit the rhythm.
    pub(crate) fn is_of_another_rhythm(&self) -> bool {
        self.found.is_of_another_rhythm()
    }

    pub(crate) fn found(&self) -> &Found {
        &self.found
    }
}

/// Judges a whole take.
///
/// `counts` are all counts of the performed rhythm in order of time, as [`counting::CountLine::timed`] gives them;
/// `played` the attacks of one player, in any order, from the same zero. Takes time and memory in proportion to both,
/// as long as no more than a few attacks fall within a gate's width.
#[must_use]
pub fn judge(counts: &[TimedCount], played: &[Played], settings: &Settings) -> Judgement {
    judge_within(counts, played, &Presence::default(), settings)
}

/// Judges what has been heard up to `now`: what may still be struck is [`Fate::Pending`], not missed.
///
/// Every verdict is provisional and may be revised by later attacks; once `now` lies beyond the last gate it is the
/// same as [`judge`]'s.
#[must_use]
pub fn judge_so_far(counts: &[TimedCount], played: &[Played], now: Moment, settings: &Settings) -> Judgement {
    judge_within(counts, played, &Presence { until: Some(now), absent: Vec::new() }, settings)
}

/// Judges a player who could be heard at some times only, as [`judge`] does who could be heard throughout.
#[must_use]
pub fn judge_within(
    counts: &[TimedCount],
    played: &[Played],
    presence: &Presence,
    settings: &Settings,
) -> Judgement {
    let counts = settings.task().counts(counts);
    let (written, heard) = (Written::new(&counts), Heard::new(played));
    let absent = presence.absent_nanos();
    let heard_when = alignment::Heard { until: presence.until.map(nanos), absent: &absent };
    let alignment = aligned(&written, &heard, heard_when, settings);
    let standings = standings(&written).into();
    judgement(&written, &heard, &alignment, settings, standings, None)
}

/// Strokes and counts brought together, the main strokes of flams and drags answering their notes.
pub(crate) fn aligned(
    written: &Written<'_>,
    heard: &Heard,
    when: alignment::Heard<'_>,
    settings: &Settings,
) -> Alignment {
    let mut alignment = align(written, &heard.strokes, when, settings);
    settle_mains(written, &heard.played, &mut alignment);
    alignment
}

/// The strokes of one player in order of time.
#[derive(Clone, Debug, Default)]
pub(crate) struct Heard {
    pub(crate) played: Vec<Played>,
    /// When each fell, in nanoseconds; rising.
    pub(crate) strokes: Vec<i64>,
    /// Which of the strokes as they were given each is.
    order: Vec<usize>,
}

impl Heard {
    pub(crate) fn new(given: &[Played]) -> Self {
        let mut order: Vec<usize> = (0..given.len()).collect();
        order.sort_by_key(|&index| given[index].at);
        let played: Vec<Played> = order.iter().map(|&index| given[index]).collect();
        let strokes = played.iter().map(|played| nanos(played.at)).collect();
        Self { played, strokes, order }
    }

    /// The stroke given as number `index` has been let go.
    pub(crate) fn release(&mut self, index: usize, released: Moment) {
        if let Some(place) = self.order.iter().rposition(|&given| given == index) {
            self.played[place].released = Some(released);
        }
    }

    /// The stroke given as number `index` is another one, that fell a little later or earlier.
    pub(crate) fn restrike(&mut self, index: usize, played: Played) {
        let Some(mut place) = self.order.iter().rposition(|&given| given == index) else { return };
        self.played[place] = played;
        self.strokes[place] = nanos(played.at);
        let swap = |heard: &mut Self, one: usize, other: usize| {
            heard.played.swap(one, other);
            heard.strokes.swap(one, other);
            heard.order.swap(one, other);
        };
        while place + 1 < self.strokes.len() && self.strokes[place + 1] < self.strokes[place] {
            swap(self, place, place + 1);
            place += 1;
        }
        while place > 0 && self.strokes[place - 1] > self.strokes[place] {
            swap(self, place, place - 1);
            place -= 1;
        }
    }

    /// The strokes as they were given.
    pub(crate) fn given(&self) -> Vec<Played> {
        let mut given: Vec<(usize, Played)> =
            self.order.iter().copied().zip(self.played.iter().copied()).collect();
        given.sort_by_key(|&(index, _)| index);
        given.into_iter().map(|(_, played)| played).collect()
    }

    /// One more, given last. Where it stands now: behind every other that did not come later.
    pub(crate) fn insert(&mut self, played: Played) -> usize {
        let place = self.played.partition_point(|other| other.at <= played.at);
        self.order.insert(place, self.played.len());
        self.strokes.insert(place, nanos(played.at));
        self.played.insert(place, played);
        place
    }
}

/// What an alignment says of a take. Findings are made anew where none are `told` already.
pub(crate) fn judgement(
    written: &Written<'_>,
    heard: &Heard,
    alignment: &Alignment,
    settings: &Settings,
    standings: Arc<[Standing]>,
    told: Option<Found>,
) -> Judgement {
    let strokes = &heard.strokes;
    let misread = misread(alignment);

    let timed = |&n: &usize| {
        let offset = strokes[alignment.strokes[n].filter(|_| !misread[n])?] - alignment.moved[n];
        Some((alignment.moved[n], offset))
    };
    let matches: Vec<(i64, i64)> = written.notes.iter().filter_map(timed).collect();
    let (sums, pulse) = Sums::of(&matches);
    // Without a click there is nothing to be ahead of.
    let sums = if alignment.tempo.is_some() { Sums { bias: None, drift: None, ..sums } } else { sums };

    let (mut attacks, notes) = answered(written, heard, alignment, &misread, &sums, settings);
    ornaments(written, alignment, &mut attacks);
    // Where the click's place is not known, where the player's pulse lies against it is not either.
    let placed = settings.tempo_of() == TempoOf::Click;
    let sums = Sums { bias: sums.bias.filter(|_| placed), ..sums };
    let bent =
        if told.is_some() { None } else { trend(written, alignment, &matches).filter(|trend| trend.bends) };
    let found = told.unwrap_or_else(|| {
        findings(&Evidence {
            written,
            alignment,
            misread: &misread,
            strokes,
            attacks: &attacks,
            notes: &notes,
            matches: &matches,
            sums: &sums,
            pulse: &pulse,
            bent,
            settings,
            complete: alignment.due.iter().zip(&alignment.unheard).all(|(due, unheard)| *due || *unheard),
        })
    });
    let bent = bent.filter(|_| found.findings.iter().any(Finding::tells_a_bend));
    let sums = as_told(sums, &found, bent.as_ref(), &matches, alignment.tempo.is_some());
    let (tempo_ratio, task, delay) = (alignment.tempo, settings.task(), settings.delay());
    Judgement { attacks, notes, sums, tempo_ratio, found, standings, bent, task, placed, delay }
}

/// The sums that go with what is told: none of a take of another rhythm, and where the pulse is told to bend or to break off the drift is
/// that one, and the spread lies about it.
fn as_told(sums: Sums, found: &Found, bent: Option<&Trend>, matches: &[(i64, i64)], own_tempo: bool) -> Sums {
    if found.is_of_another_rhythm() {
        return Sums { bias: None, spread: None, drift: None, ..sums };
    }
    let Some(bent) = bent else { return sums };
    let drift = (!own_tempo).then(|| bent.drift());
    Sums { spread: Some(bent.spread(matches)), drift, ..sums }
}

/// Which attack answers which note, and what became of each note.
fn answered(
    written: &Written<'_>,
    heard: &Heard,
    alignment: &Alignment,
    misread: &[bool],
    sums: &Sums,
    settings: &Settings,
) -> (Vec<Attack>, Vec<Note>) {
    let counts = written.counts;
    let strokes = heard.played.iter().zip(&heard.order).zip(&alignment.again);
    let mut attacks: Vec<Attack> = strokes
        .map(|((&played, &index), &again)| Attack {
            played,
            index,
            answer: None,
            fell_on: None,
            ornament: None,
            again,
        })
        .collect();
    for (count, stroke) in counts.iter().zip(&alignment.strokes) {
        if let (Some(stroke), Deed::Hold | Deed::Rest) = (*stroke, count.deed) {
            attacks[stroke].fell_on = Some((count.id, count.deed));
        }
    }
    let bias = sums.bias.unwrap_or(Seconds::ZERO);
    let mut notes = Vec::with_capacity(written.notes.len());
    for (place, &n) in written.notes.iter().enumerate() {
        let count = &counts[n];
        let fate = match alignment.strokes[n] {
            Some(stroke) => {
                let neighbour = |other: Option<&usize>| other.map(|&o| (counts[o].at - count.at).abs());
                let before = neighbour(place.checked_sub(1).and_then(|before| written.notes.get(before)));
                let shortest = before.into_iter().chain(neighbour(written.notes.get(place + 1))).min();
                let offset = Seconds::from_nanos(heard.strokes[stroke].saturating_sub(alignment.moved[n]));
                let answer = answer(count, offset, bias, shortest, settings);
                let shift = Seconds::from_nanos(alignment.moved[n] - written.at[n]);
                attacks[stroke].answer = Some(Answer { misread: misread[n], shift, ..answer });
                Fate::Struck(stroke)
            }
            None if alignment.due[n] => Fate::Missed,
            None => Fate::Pending,
        };
        notes.push(Note { id: count.id, at: count.at, fate });
    }
    (attacks, notes)
}

/// For each count, whether it was read as part of something else.
fn misread(alignment: &Alignment) -> Vec<bool> {
    let mut misread = vec![false; alignment.strokes.len()];
    for &note in alignment.readings.iter().flat_map(|reading| &reading.notes) {
        misread[note] = true;
    }
    misread
}

/// The answer to `count` so far from it; `shortest` is the shortest interval to a neighbouring written attack.
fn answer(
    count: &TimedCount,
    offset: Seconds,
    bias: Seconds,
    shortest: Option<Seconds>,
    settings: &Settings,
) -> Answer {
    let lean = offset - bias;
    // Whole nanoseconds: a lean is at most a third of the interval exactly when it is at most the third rounded down.
    let tolerance =
        shortest.map_or(settings.tolerance(), |interval| settings.tolerance().min(interval.divided_by(3)));
    let verdict = if lean.abs() <= tolerance {
        Verdict::OnTime
    } else if lean < Seconds::ZERO {
        Verdict::Early
    } else {
        Verdict::Late
    };
    Answer {
        id: count.id,
        written: count.at,
        shift: Seconds::ZERO,
        offset,
        lean,
        tolerance,
        verdict,
        misread: false,
    }
}
