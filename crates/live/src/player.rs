use std::ops::Range;
use std::sync::Arc;

use counting::TimedCount;
use input::{Gathered, Gathering, Instrument, Pad, Stroke};
use judge::{Attack, Judgement, Live, Played, Releases, Settings, Task};
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
    pub(crate) missing: Vec<String>,
    /// What the stamps of the player's strokes are worth, the coarsest of them.
    resolution: Option<Seconds>,
    instrument: Instrument,
    gathering: Gathering,
    /// What was heard, judged as it comes, and each attack, in the order they were heard.
    live: Live,
    struck: Vec<Struck>,
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

/// One attack, as far as what comes after it has to know.
#[derive(Clone, Copy, Debug)]
struct Struck {
    pad: Pad,
    at: Moment,
    is_released: bool,
    kept: Option<Kept>,
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
            missing: Vec::new(),
            resolution: None,
            instrument,
            gathering: Gathering::new(instrument, closest),
            live,
            struck: Vec::new(),
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

    /// Takes an attack in: one of its own, a note of the chord before, or the main stroke of which the one before was the
    /// grace. Says what it is, and where the grace stands in the take that is none of its own any more.
    pub(crate) fn strike(
        &mut self,
        stroke: &Stroke,
        played: Played,
        kept: Option<Kept>,
    ) -> (Role, Option<Kept>) {
        self.resolution = self.resolution.max(Some(stroke.resolution));
        self.live.stamped(stroke.resolution);
        let gathered = self.gathering.take(stroke);
        let struck = Struck { pad: stroke.pad(), at: played.at, is_released: false, kept };
        let mut grace = None;
        match (gathered, self.struck.len().checked_sub(1)) {
            (Gathered::Chord, Some(_)) => return (Role::Chord, None),
            (Gathered::Grace, Some(_)) => return (Role::Grace, None),
            (Gathered::Main, Some(last)) => {
                grace = std::mem::replace(&mut self.struck[last], struck).kept;
                self.live.restrike(last, played);
                self.told = self.told.min(last);
            }
            _ => {
                self.struck.push(struck);
                self.live.strike(played);
            }
        }
        self.due = Due::AtOnce;
        (Role::Attack, grace)
    }

    /// A key was let go. Says whether that is judged: not on pads, which know no length.
    pub(crate) fn release(&mut self, pad: Pad, at: Moment) -> bool {
        if self.instrument != Instrument::Keys {
            return false;
        }
        let Some(index) = self.struck.iter().rposition(|struck| struck.pad == pad) else { return false };
        // Nothing is let go twice, or before it was struck.
        let struck = &mut self.struck[index];
        if struck.is_released || at < struck.at {
            return false;
        }
        struck.is_released = true;
        self.live.release(index, at);
        self.due = self.due.max(Due::Now);
        true
    }

    /// A stroke that is none of the player's hands.
    pub(crate) fn mark(&mut self, stroke: &Stroke) {
        if stroke.crosstalk {
            self.shaken += 1;
        } else {
            self.bounced += 1;
        }
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
        if self.live.awaits(now) || self.is_to_be_revised(now) || self.told < self.struck.len() {
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
        !self.struck.is_empty()
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
            missing: self.missing.clone(),
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
        player.strike(&stroke, Played::new(self::at(ms)).with_velocity(velocity), Some(kept))
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
