//! A take judged again: what is said of it is what was said when it was played.

use std::ops::Range;

use counting::TimedCount;
use input::{Gathered, Gathering, PlayerId};
use judge::{Delay, Judgement, Played, Presence, Releases, Settings, Task, judge_within};
use take::{Drilled, DrilledResponse, Instrument, Player, PlayerNote, Role, Stroke, Take};
use timebase::{HostTime, Moment, Seconds};

use crate::is_asked;
use crate::run::together;

/// A player of a take, and what is known beside the strokes.
#[derive(Clone, Copy, Debug)]
pub struct StoredPlayer<'a> {
    player: &'a Player,
    note: Option<&'a PlayerNote>,
    until: Option<Moment>,
}

impl<'a> StoredPlayer<'a> {
    /// Everybody in a take.
    #[must_use]
    pub fn all(take: &'a Take) -> Vec<Self> {
        let until = take.heard_until();
        let note = |player: &Player| take.header().players.iter().find(|note| note.label == player.label);
        take.players().iter().map(|player| Self { player, note: note(player), until }).collect()
    }

    /// A player of whom a file tells nothing but the strokes.
    #[must_use]
    pub const fn of(player: &'a Player) -> Self {
        Self { player, note: None, until: None }
    }

    /// What the player is called.
    #[must_use]
    pub fn label(&self) -> &'a str {
        &self.player.label
    }

    fn instrument(&self) -> Option<Instrument> {
        self.note.and_then(|note| note.instrument)
    }

    /// The strokes that are judged, in order of time, each with the release that counts: a chord is its first note, a flam its main
    /// stroke, and what a pad did by itself is nothing.
    #[must_use]
    pub fn strokes(&self) -> Vec<Stroke> {
        let mut judged: Vec<Stroke> = Vec::with_capacity(self.player.strokes.len());
        for stroke in &self.player.strokes {
            if stroke.role == Role::Attack {
                judged.push(*stroke);
            } else if let (true, Some(released)) = (stroke.role.is_of_the_pad(), stroke.released) {
                // A key that bounced is let go once, and that ends the stroke before.
                let before = judged.iter_mut().rfind(|before| before.key() == stroke.key());
                if let Some(before) = before {
                    before.released.get_or_insert(released);
                }
            }
        }
        if matches!(self.instrument(), Some(Instrument::Pads | Instrument::Pedal)) {
            judged.iter_mut().for_each(|stroke| stroke.released = None);
        }
        judged
    }

    /// How the player is judged, whose settings are else these.
    #[must_use]
    pub fn settings(&self, settings: Settings) -> Settings {
        let settings = match self.instrument() {
            Some(Instrument::Keys) => settings.with_releases(Releases::OfKeys),
            Some(Instrument::Pedal) => settings.with_task(Task::Pulse),
            Some(Instrument::Pads) | None => settings,
        };
        let known = self.note.and_then(|note| note.latency).is_some();
        let settings = if known { settings.with_delay(Delay::TakenOff) } else { settings };
        let resolution = self.note.and_then(|note| note.resolution);
        resolution.map_or(settings, |resolution| settings.with_resolution(resolution))
    }

    /// When the player could be heard, count 1 of bar 1 falling at `bar_one` of the take.
    #[must_use]
    pub fn presence(&self, bar_one: Moment) -> Presence {
        let in_rhythm = |at: Moment| Moment::ZERO + (at - bar_one);
        let moved = |absence: Range<Moment>| in_rhythm(absence.start)..in_rhythm(absence.end);
        Presence { until: self.until.map(in_rhythm), absent: self.absent().into_iter().map(moved).collect() }
    }

    /// In the take's own time.
    fn absent(&self) -> Vec<Range<Moment>> {
        let absences = self.note.into_iter().flat_map(|note| &note.absent);
        absences
            .map(|absence| absence.from..absence.to.unwrap_or(Moment::ZERO + crate::asked::NEVER))
            .collect()
    }

    /// Judges the player, whose strokes are these (of [`Self::strokes`], from count 1 of bar 1), as it was judged live.
    #[must_use]
    pub fn judged(
        &self,
        counts: &[TimedCount],
        strokes: &[Played],
        bar_one: Moment,
        settings: Settings,
    ) -> Judgement {
        judge_within(counts, strokes, &self.presence(bar_one), &self.settings(settings))
    }
}

/// A player of whom a file tells nothing but the strokes, with those gathered that are one attack, as they are live: the notes of a
/// chord, and a flam's grace with its main stroke. `counts` is what was asked, `on_keys` whether it was played on a keyboard.
#[must_use]
pub fn gathered(player: &Player, on_keys: bool, counts: &[TimedCount]) -> Player {
    let instrument = if on_keys { input::Instrument::Keys } else { input::Instrument::Pad };
    let mut gathering = Gathering::new(instrument, crate::asked::closest(counts));
    let mut strokes: Vec<Stroke> = Vec::with_capacity(player.strokes.len());
    let within = BOUNCES.min(crate::asked::closest(counts).divided_by(2));
    // In a roll and before a drag the same pad is struck softly again.
    let rolled = counts.iter().any(|count| count.marks.roll.is_some() || count.marks.grace.strokes() > 0);
    // Which of them the last attack is.
    let mut attack = 0;
    for (index, stroke) in player.strokes.iter().enumerate() {
        let mut before =
            strokes[index.saturating_sub(NEAR)..].iter().filter(|before| before.role == Role::Attack);
        if !on_keys && !rolled && before.any(|before| is_of_the_pad(before, stroke, within)) {
            strokes.push(Stroke { role: Role::Bounce, ..*stroke });
            continue;
        }
        let stamp = HostTime::from_nanos(stroke.at.since_zero().as_nanos());
        let of_key = input::Stroke::of_key(PlayerId::new(0), 0, stamp, Seconds::ZERO);
        let heard = input::Stroke { note: stroke.note, velocity: stroke.velocity, ..of_key };
        let role = match gathering.take(&heard) {
            Gathered::Attack => Role::Attack,
            // A grace that falls with its main stroke is not the attack.
            Gathered::Chord
                if !on_keys && strokes.get(attack).is_some_and(|a| is_plainly_softer(a, stroke)) =>
            {
                strokes.get_mut(attack).into_iter().for_each(|softer: &mut Stroke| softer.role = Role::Chord);
                Role::Attack
            }
            Gathered::Chord => Role::Chord,
            Gathered::Grace => Role::Grace,
            Gathered::Main => {
                strokes.get_mut(attack).into_iter().for_each(|grace: &mut Stroke| grace.role = Role::Grace);
                Role::Attack
            }
        };
        if role == Role::Attack {
            attack = strokes.len();
        }
        strokes.push(Stroke { role, ..*stroke });
    }
    Player { label: player.label.clone(), strokes }
}

/// What a pad does by itself, its own bouncing or another pad's blow felt through the rack, comes within so much.
const BOUNCES: Seconds = Seconds::from_millis(60);
/// So many strokes back are looked at: several pads may be struck at once.
const NEAR: usize = 8;

/// Whether a stroke is the pads' doing after another one, and no hand's: less than two fifths as hard. A double stroke is harder.
fn is_of_the_pad(before: &Stroke, stroke: &Stroke, within: Seconds) -> bool {
    let after = stroke.at - before.at;
    let near = after >= Seconds::ZERO && after <= within;
    near && u16::from(stroke.velocity) * 5 <= u16::from(before.velocity) * 2
}

/// Whether the softer of two strokes at once is a grace beside the harder one: the hand and the loudness are then those of the harder.
fn is_plainly_softer(one: &Stroke, other: &Stroke) -> bool {
    u16::from(one.velocity) * 4 <= u16::from(other.velocity) * 3
}

/// A stroke as the judge takes it, count 1 of bar 1 falling at `bar_one`.
#[must_use]
pub fn played(stroke: &Stroke, bar_one: Moment) -> Played {
    let in_rhythm = |at: Moment| Moment::ZERO + (at - bar_one);
    let played = Played::new(in_rhythm(stroke.at)).with_velocity(stroke.velocity);
    stroke.released.map_or(played, |released| played.with_release(in_rhythm(released)))
}

/// Judges a response of a take of a drill plan again: everybody who was asked in it, `counts` being its own.
#[must_use]
pub fn response_judged(
    take: &Take,
    drilled: &Drilled,
    response: &DrilledResponse,
    counts: &[TimedCount],
    settings: Settings,
) -> Vec<(String, Judgement)> {
    let everybody = StoredPlayer::all(take);
    let labels: Vec<String> = everybody.iter().map(|player| player.label().to_owned()).collect();
    let who = response.player.as_deref();
    let asked = |player: &&StoredPlayer<'_>| is_asked(player.label(), who, &drilled.players, &labels);
    let asked: Vec<&StoredPlayer<'_>> = everybody.iter().filter(asked).collect();
    match who {
        // Whoever's turn it is has one row, at whichever pad.
        Some(who) => {
            let judged = together_judged(&asked, response, counts, settings);
            judged.map(|judgement| (who.to_owned(), judgement)).into_iter().collect()
        }
        None => {
            let judged = |player: &&StoredPlayer<'_>| {
                let judgement = together_judged(&[*player], response, counts, settings)?;
                Some((player.label().to_owned(), judgement))
            };
            asked.iter().filter_map(judged).collect()
        }
    }
}

/// These players as one; nobody where there are none.
fn together_judged(
    players: &[&StoredPlayer<'_>],
    response: &DrilledResponse,
    counts: &[TimedCount],
    settings: Settings,
) -> Option<Judgement> {
    let within = |at: Moment| response.from <= at && at < response.to;
    let first = players.first()?;
    let strokes: Vec<Played> = players
        .iter()
        .flat_map(|player| player.strokes())
        .filter(|stroke| within(stroke.at))
        // What is let go after the response is over is not heard of in it.
        .map(|stroke| Stroke { released: stroke.released.filter(|at| within(*at)), ..stroke })
        .map(|stroke| played(&stroke, response.bar_one))
        .collect();
    let absent = |player: &&StoredPlayer<'_>| player.presence(response.bar_one).absent;
    let absent = players.iter().map(absent).reduce(|one, other| together(&one, &other));
    let presence = Presence {
        // A response that was over is judged as a whole.
        until: first
            .until
            .filter(|until| *until < response.to)
            .map(|until| Moment::ZERO + (until - response.bar_one)),
        absent: absent.unwrap_or_default(),
    };
    Some(judge_within(counts, &strokes, &presence, &first.settings(settings)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One quarter after the other, at 100 to the minute; `strokes` as marks are over the first.
    fn counts(strokes: &str) -> Vec<TimedCount> {
        let text = format!("meter: 4/4\ntempo: quarter = 100\n\n| 1 2 3 4 |\nstrokes: | {strokes} . . . |\n");
        let piece = rhythm::text::read_piece(&text).piece.expect("a rhythm text");
        let rhythm = &piece.parts()[0].rhythm;
        let performance = rhythm.performance();
        counting::count(rhythm).timed(rhythm, &performance, &rhythm.tempo_map(&performance, rhythm.tempo()))
    }

    fn roles(counts: &[TimedCount], strokes: &[(i64, u8, u8)]) -> Vec<Role> {
        let stroke = |&(ms, note, velocity): &(i64, u8, u8)| Stroke {
            at: Moment::ZERO + Seconds::from_millis(ms),
            note,
            velocity,
            released: None,
            origin: None,
            role: Role::Attack,
        };
        let player = Player { label: "P".to_owned(), strokes: strokes.iter().map(stroke).collect() };
        gathered(&player, false, counts).strokes.iter().map(|stroke| stroke.role).collect()
    }

    #[test]
    fn what_a_pad_does_by_itself_in_a_file_of_anybodys_is_no_attack() {
        let check = |second: (i64, u8, u8), role| {
            assert_eq!(roles(&counts("."), &[(0, 38, 80), second]), [Role::Attack, role], "{second:?}");
        };
        check((20, 38, 25), Role::Bounce);
        check((45, 38, 22), Role::Bounce);
        check((20, 40, 25), Role::Bounce);
        // A stroke of a hand: as hard, or later.
        check((45, 38, 60), Role::Attack);
        check((80, 38, 25), Role::Attack);
    }

    #[test]
    fn where_soft_strokes_are_written_none_is_the_pads() {
        for strokes in ["z", "drag"] {
            assert_eq!(roles(&counts(strokes), &[(0, 38, 80), (45, 38, 25)]), [Role::Attack, Role::Attack]);
        }
    }

    #[test]
    fn of_two_strokes_at_once_the_plainly_harder_one_is_the_attack() {
        assert_eq!(roles(&counts("flam"), &[(0, 40, 45), (8, 38, 100)]), [Role::Chord, Role::Attack]);
        assert_eq!(roles(&counts("flam"), &[(0, 40, 90), (8, 38, 100)]), [Role::Attack, Role::Chord]);
    }
}
