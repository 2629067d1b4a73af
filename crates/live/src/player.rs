use std::ops::Range;
use std::sync::Arc;

use counting::TimedCount;
use input::{Gathered, Gathering, Instrument, Pad, Stroke};
use judge::{Attack, Delay, Judgement, Live, Played, Releases, Settings, Task};
use take::{Origin, Role};
use timebase::{Moment, Seconds};

use crate::PlayerState;

/// How often everything is weighed anew while strokes come, at most: after so much time, and after so large a part of the take
/// has come to it, since weighing takes the longer the longer the take is. A stroke's own verdict does not wait for it.
const REVISE_EVERY: Seconds = Seconds::from_millis(2_000);
const REVISE_PART: i64 = 16;

/// Before anything is due.
const LONG_BEFORE: Seconds = Seconds::from_millis(4_000_000_000);

/// A player before anything was struck.
#[derive(Debug)]
pub(crate) struct Who {
    pub(crate) id: input::PlayerId,
    pub(crate) label: String,
    pub(crate) source: String,
    pub(crate) instrument: Instrument,
    pub(crate) keeps_pulse: bool,
}

impl Who {
    /// How the player is judged, where everybody is judged by these settings.
    fn settings(&self, settings: Settings) -> Settings {
        let settings = match self.instrument {
            Instrument::Keys => settings.with_releases(Releases::OfKeys),
            Instrument::Pad => settings,
        };
        if self.keeps_pulse { settings.with_task(Task::Pulse) } else { settings }
    }

    /// As the take keeps it.
    pub(crate) fn plays_on(&self) -> take::Instrument {
        match self.instrument {
            _ if self.keeps_pulse => take::Instrument::Pedal,
            Instrument::Keys => take::Instrument::Keys,
            Instrument::Pad => take::Instrument::Pads,
        }
    }
}

/// What of a player's devices is not there.
#[derive(Clone, Debug)]
pub(crate) struct Lacks {
    devices: Vec<String>,
    /// Whether any other is.
    is_there: bool,
}

impl Lacks {
    pub(crate) fn of(player: Option<&input::Player>) -> Self {
        player.map_or_else(Self::default, |player| Self {
            devices: player.missing.clone(),
            is_there: player.is_there,
        })
    }
}

impl Default for Lacks {
    fn default() -> Self {
        Self { devices: Vec::new(), is_there: true }
    }
}

/// Where a stroke stands in the take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Kept {
    /// Whose it is there.
    pub(crate) player: usize,
    pub(crate) at: Moment,
    pub(crate) note: u8,
    pub(crate) origin: Origin,
}

impl Kept {
    /// The key as the take knows it.
    pub(crate) const fn key(&self) -> (Option<Origin>, u8) {
        (Some(self.origin), self.note)
    }
}

/// One player of a running drill.
#[derive(Debug)]
pub(crate) struct Player {
    pub(crate) id: input::PlayerId,
    /// Those who play at this row too, where somebody's turn is at whichever pad.
    pub(crate) others: Vec<input::PlayerId>,
    pub(crate) label: String,
    pub(crate) source: String,
    /// The devices of the player that are not there.
    pub(crate) lacks: Lacks,
    /// Devices that are held back just now, each with the number of its flood.
    pub(crate) held: Vec<(u64, String)>,
    /// What the stamps of the player's strokes are worth, the coarsest of them.
    resolution: Option<Seconds>,
    instrument: Instrument,
    closest: Seconds,
    gathering: Gathering,
    /// What was heard, judged as it comes.
    live: Live,
    /// What hands struck, in the order it was heard, and which of it are attacks.
    hands: Vec<Hand>,
    attacks: Vec<usize>,
    /// Up to when everything was weighed, and of how many strokes.
    revised: Option<(Moment, usize)>,
    /// Strokes that were marked as the pad's own bouncing, and as another pad's blow.
    bounced: usize,
    shaken: usize,
    /// Whether strokes were held back of a device that sent more than hands can strike.
    pub(crate) flooded: bool,
    /// Whether the judgement is to be made anew, and when it last was.
    pub(crate) due: Due,
    pub(crate) judged: u64,
    /// How many attacks were told of.
    told: usize,
    judgement: Arc<Judgement>,
}

/// Whether a player's judgement is to be made anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Due {
    /// It stands.
    Not,
    /// Time has passed.
    Now,
    /// The player has struck.
    AtOnce,
}

/// What a hand struck, as far as it is known.
#[derive(Clone, Copy, Debug)]
struct Hand {
    stroke: Stroke,
    at: Moment,
    kept: Option<Kept>,
    role: Role,
    /// When it was let go, of an attack on a key.
    released: Option<Moment>,
}

impl Player {
    pub(crate) fn new(who: Who, counts: Arc<[TimedCount]>, closest: Seconds, settings: Settings) -> Self {
        let settings = who.settings(settings);
        let Who { id, label, source, instrument, .. } = who;
        let mut live = Live::new(counts, settings);
        let judgement = Arc::new(live.provisional(Moment::ZERO - LONG_BEFORE));
        Self {
            id,
            others: Vec::new(),
            label,
            source,
            lacks: Lacks::default(),
            held: Vec::new(),
            resolution: None,
            instrument,
            closest,
            gathering: Gathering::new(instrument, closest),
            live,
            hands: Vec::new(),
            attacks: Vec::new(),
            revised: None,
            bounced: 0,
            shaken: 0,
            flooded: false,
            due: Due::Not,
            judged: 0,
            told: 0,
            judgement,
        }
    }

    /// Everybody who plays at this row.
    pub(crate) fn ids(&self) -> Vec<input::PlayerId> {
        std::iter::once(self.id).chain(self.others.iter().copied()).collect()
    }

    /// All the times at which nobody could be heard here, from count 1 of bar 1.
    pub(crate) fn went_unheard(&mut self, absent: Vec<Range<Moment>>) {
        self.live.went_unheard(absent);
        self.due = self.due.max(Due::Now);
    }

    /// What the stamp of the stroke that comes next is worth, and what is known of its delay.
    pub(crate) fn stamped(&mut self, resolution: Seconds, delay: Delay) {
        self.resolution = self.resolution.max(Some(resolution));
        self.live.stamped(resolution, delay);
    }

    /// Takes an attack in: one of its own, a note of the chord before, or the main stroke of which the one before was the
    /// grace. Says what it is, and where the grace stands in the take that is none of its own any more.
    pub(crate) fn strike(&mut self, stroke: &Stroke, at: Moment, kept: Option<Kept>) -> (Role, Option<Kept>) {
        let (role, grace) =
            self.gather(Hand { stroke: *stroke, at, kept, role: Role::Attack, released: None });
        if role == Role::Attack {
            self.due = Due::AtOnce;
        }
        (role, grace.and_then(|grace| self.hands[grace].kept))
    }

    /// Says what the next stroke of the hands is, and of which one before it is the main stroke.
    fn gather(&mut self, hand: Hand) -> (Role, Option<usize>) {
        let played = Played::new(hand.at).with_velocity(hand.stroke.velocity);
        let index = self.hands.len();
        let mut grace = None;
        let role = match (self.gathering.take(&hand.stroke), self.attacks.len().checked_sub(1)) {
            (Gathered::Chord, Some(_)) => Role::Chord,
            (Gathered::Grace, Some(_)) => Role::Grace,
            (Gathered::Main, Some(last)) => {
                let before = std::mem::replace(&mut self.attacks[last], index);
                self.hands[before].role = Role::Grace;
                grace = Some(before);
                self.live.restrike(last, played);
                self.told = self.told.min(last);
                Role::Attack
            }
            _ => {
                self.attacks.push(index);
                self.live.strike(played);
                Role::Attack
            }
        };
        self.hands.push(Hand { role, ..hand });
        (role, grace)
    }

    /// Takes strokes out again that a pad gone wild has sent, and looks at the others as if those had never been. Says which strokes of the
    /// take are something else now, and what.
    pub(crate) fn withdraw(&mut self, is_wild: impl Fn(&Stroke) -> bool) -> Vec<(Kept, Role)> {
        if !self.hands.iter().any(|hand| is_wild(&hand.stroke)) {
            return Vec::new();
        }
        let told = self.attacks.iter().take(self.told).filter(|&&hand| !is_wild(&self.hands[hand].stroke));
        let told = told.count();
        let before = std::mem::take(&mut self.hands);
        self.attacks.clear();
        self.live.hear_again();
        self.gathering = Gathering::new(self.instrument, self.closest);
        let (wild, hands): (Vec<Hand>, Vec<Hand>) =
            before.into_iter().partition(|hand| is_wild(&hand.stroke));
        for hand in &hands {
            self.gather(Hand { released: None, ..*hand });
        }
        for (index, hand) in self.attacks.iter().enumerate() {
            if let Some(released) = hands[*hand].released {
                self.hands[*hand].released = Some(released);
                self.live.release(index, released);
            }
        }
        // As after a bounce, the key that is let go is the one that was struck before.
        for (pad, at) in wild.iter().filter_map(|hand| Some((hand.stroke.pad(), hand.released?))) {
            self.release(pad, at);
        }
        (self.told, self.revised, self.due) = (told.min(self.attacks.len()), None, Due::AtOnce);
        let now = self.hands.iter().zip(&hands).filter(|(now, before)| now.role != before.role);
        let changed = now.filter_map(|(now, _)| Some((now.kept?, now.role)));
        wild.iter().filter_map(|hand| Some((hand.kept?, Role::Wild))).chain(changed).collect()
    }

    /// A key was let go. Says whether that is judged: not on pads, which know no length.
    pub(crate) fn release(&mut self, pad: Pad, at: Moment) -> bool {
        if self.instrument != Instrument::Keys {
            return false;
        }
        let is_on_it = |&hand: &usize| self.hands[hand].stroke.pad() == pad;
        let Some(index) = self.attacks.iter().rposition(is_on_it) else { return false };
        // Nothing is let go twice, or before it was struck.
        let hand = &mut self.hands[self.attacks[index]];
        if hand.released.is_some() || at < hand.at {
            return false;
        }
        hand.released = Some(at);
        self.live.release(index, at);
        self.due = self.due.max(Due::Now);
        true
    }

    /// A stroke that is none of the player's hands.
    pub(crate) fn mark(&mut self, role: Role) {
        self.bounced += usize::from(role == Role::Bounce);
        self.shaken += usize::from(role == Role::Crosstalk);
    }

    /// How many strokes were another pad's blow; of a device that sends what nobody strikes, that says nothing of its pads.
    const fn shaken(&self) -> usize {
        if self.flooded { 0 } else { self.shaken }
    }

    /// What a person should know of the strokes that were marked.
    pub(crate) fn marked(&self) -> Option<String> {
        (self.shaken() > 0).then(|| {
            format!(
                "{}: {} strokes were taken for another pad's blow and not judged; they are kept in the take. Raise the \
                 module's cross-talk setting, or put the pads apart",
                self.label, self.shaken
            )
        })
    }

    /// Says that the judgement is to be made anew, if time alone may have changed it since it was made.
    pub(crate) fn time_has_passed(&mut self, now: Moment) {
        if self.live.awaits(now) || self.is_to_be_revised(now) || self.told < self.attacks.len() {
            self.due = self.due.max(Due::Now);
        }
    }

    /// Whether everything is to be weighed anew: enough strokes have come since it was.
    fn is_to_be_revised(&self, now: Moment) -> bool {
        let enough = REVISE_EVERY.max(now.since_zero().divided_by(REVISE_PART));
        let new = self.revised.is_none_or(|(at, of)| of != self.live.strokes() && now - at >= enough);
        new && self.live.gains_by_revision()
    }

    /// Judges what has been heard up to `now`: at once where the player has just struck, else with everything weighed from
    /// time to time. Says whether that is something else than before.
    pub(crate) fn judge_due(&mut self, now: Moment) -> bool {
        let due = std::mem::replace(&mut self.due, Due::Not);
        let judgement = if due == Due::Now && self.is_to_be_revised(now) {
            self.revised = Some((now, self.live.strokes()));
            self.live.revised(now)
        } else {
            self.live.provisional(now)
        };
        let changed = judgement != *self.judgement;
        if changed {
            self.judgement = Arc::new(judgement);
        }
        changed
    }

    /// Judges the whole, or what has been heard up to `now`, with everything weighed.
    pub(crate) fn judge_for_good(&mut self, now: Option<Moment>) {
        self.judgement = Arc::new(match now {
            Some(now) => self.live.revised(now),
            None => self.live.whole(),
        });
    }

    /// What is made of the attacks heard since this was last asked. One that answers nothing may be the grace of what comes next, so
    /// it waits as long as a flam may be.
    pub(crate) fn new_attacks(&mut self, now: Moment) -> Vec<Attack> {
        let new = |attack: &&Attack| attack.index >= self.told;
        let mut attacks: Vec<Attack> = self.judgement.attacks().iter().filter(new).copied().collect();
        attacks.sort_by_key(|attack| attack.index);
        let waits = |attack: &Attack| {
            self.instrument == Instrument::Pad
                && attack.answer.is_none()
                && (now - attack.played.at).abs() <= Gathering::FLAM
        };
        let ready = attacks.iter().position(waits).unwrap_or(attacks.len());
        attacks.truncate(ready);
        self.told = attacks.last().map_or(self.told, |last| last.index + 1);
        attacks
    }

    pub(crate) fn has_struck(&self) -> bool {
        !self.attacks.is_empty()
    }

    /// What stamps are worth, the coarsest of them.
    pub(crate) fn resolution(&self) -> Option<Seconds> {
        self.resolution
    }

    pub(crate) fn judgement(&self) -> &Judgement {
        &self.judgement
    }

    pub(crate) fn state(&self) -> PlayerState {
        PlayerState {
            label: self.label.clone(),
            source: self.source.clone(),
            missing: self.lacks.devices.clone(),
            is_there: self.lacks.is_there,
            held: self.held.iter().map(|(_, device)| device.clone()).collect(),
            resolution: self.resolution,
            shaken: self.shaken(),
            judgement: Arc::clone(&self.judgement),
        }
    }
}

#[cfg(test)]
mod tests {
    use input::PlayerId;
    use timebase::HostTime;

    use super::*;

    fn player(instrument: Instrument) -> Player {
        let (label, source) = ("K1".to_owned(), "Pad".to_owned());
        let who = Who { id: PlayerId::new(0), label, source, instrument, keeps_pulse: false };
        Player::new(who, Arc::new([]), Seconds::from_millis(250), Settings::default())
    }

    fn heard(player: &Player) -> Vec<Played> {
        let whole = player.live.whole();
        let mut attacks = whole.attacks().to_vec();
        attacks.sort_by_key(|attack| attack.index);
        attacks.into_iter().map(|attack| attack.played).collect()
    }

    fn strike(player: &mut Player, ms: i64, note: u8, velocity: u8) -> (Role, Option<Kept>) {
        let at = HostTime::from_nanos(ms * 1_000_000);
        let stroke = Stroke { note, velocity, ..Stroke::of_key(player.id, 0, at, Seconds::ZERO) };
        let kept = kept(ms, note);
        player.strike(&stroke, self::at(ms), Some(kept))
    }

    fn kept(ms: i64, note: u8) -> Kept {
        Kept { player: 0, at: at(ms), note, origin: Origin { device: 0, channel: 0 } }
    }

    /// A key of the keyboard that [`strike`] strikes.
    fn key(note: u8) -> Pad {
        Pad { source: 0, channel: 0, note }
    }

    fn at(ms: i64) -> Moment {
        Moment::ZERO + Seconds::from_millis(ms)
    }

    #[test]
    fn a_flam_is_judged_by_its_main_stroke() {
        let mut player = player(Instrument::Pad);
        strike(&mut player, 0, 38, 100);
        strike(&mut player, 450, 38, 40);
        let grace = kept(450, 38);
        assert_eq!(strike(&mut player, 500, 38, 110), (Role::Attack, Some(grace)));
        let places: Vec<_> = heard(&player).iter().map(|played| played.at).collect();
        assert_eq!(places, [at(0), at(500)]);
        assert!(!player.release(key(38), at(520)), "a pad knows no length");
    }

    #[test]
    fn a_chord_is_one_attack_and_keys_are_let_go() {
        let mut player = player(Instrument::Keys);
        strike(&mut player, 0, 60, 80);
        assert_eq!(strike(&mut player, 20, 64, 90), (Role::Chord, None));
        strike(&mut player, 500, 60, 80);
        assert!(!player.release(key(64), at(480)), "the chord's first note is the one that is judged");
        assert!(player.release(key(60), at(900)));
        assert!(!player.release(key(60), at(950)), "nothing is let go twice");
        let lengths: Vec<_> = heard(&player).iter().map(|played| played.released).collect();
        assert_eq!(lengths, [None, Some(at(900))]);
    }

    /// A pad went wild with a stroke that was taken for the head of a chord, and with one that was taken for a grace: what the hands struck
    /// with them stands by itself.
    #[test]
    fn what_a_wild_pad_sent_is_taken_out_again() {
        let mut player = player(Instrument::Pad);
        strike(&mut player, 0, 38, 100);
        strike(&mut player, 500, 45, 100);
        assert_eq!(strike(&mut player, 506, 38, 90), (Role::Chord, None));
        strike(&mut player, 950, 45, 40);
        assert_eq!(strike(&mut player, 1_000, 38, 110), (Role::Attack, Some(kept(950, 45))));
        let changed = player.withdraw(|stroke| stroke.note == 45);
        let wild = [(kept(500, 45), Role::Wild), (kept(950, 45), Role::Wild)];
        assert_eq!(changed, [wild[0], wild[1], (kept(506, 38), Role::Attack)]);
        let places: Vec<_> = heard(&player).iter().map(|played| played.at).collect();
        assert_eq!(places, [at(0), at(506), at(1_000)]);
        assert_eq!(player.withdraw(|stroke| stroke.note == 45), []);
        assert!(player.judge_due(at(2_000)));
    }

    /// The release that a wild key's stroke was given is that of the stroke before, where that is still held; others stay as they were.
    #[test]
    fn what_was_let_go_stays_so() {
        let mut player = player(Instrument::Keys);
        strike(&mut player, 0, 60, 80);
        player.release(key(60), at(400));
        strike(&mut player, 500, 62, 80);
        strike(&mut player, 700, 62, 81);
        player.release(key(62), at(900));
        player.withdraw(|stroke| stroke.velocity == 81);
        let lengths: Vec<_> = heard(&player).iter().map(|played| played.released).collect();
        assert_eq!(lengths, [Some(at(400)), Some(at(900))]);
    }

    /// Two keyboards, and two channels of one: a release ends nothing on another.
    #[test]
    fn a_key_is_let_go_where_it_was_struck() {
        let mut player = player(Instrument::Keys);
        strike(&mut player, 0, 60, 80);
        for other in [Pad { source: 1, ..key(60) }, Pad { channel: 1, ..key(60) }, key(62)] {
            assert!(!player.release(other, at(200)), "{other:?}");
        }
        assert!(player.release(key(60), at(400)));
    }
}
