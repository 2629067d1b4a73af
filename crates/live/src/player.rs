use std::sync::Arc;

use input::{Gathered, Gathering, Instrument, Stroke};
use judge::{Attack, Judgement, Played, Settings, judge, judge_so_far};
use timebase::{Moment, Seconds};

use crate::PlayerState;
use counting::TimedCount;

/// One player of a running drill.
#[derive(Debug)]
pub(crate) struct Player {
    pub(crate) id: input::PlayerId,
    pub(crate) label: String,
    pub(crate) source: String,
    /// The player's number in the take.
    pub(crate) recorded: Option<usize>,
    /// The devices of the player that are not there.
    pub(crate) missing: Vec<String>,
    instrument: Instrument,
    gathering: Gathering,
    /// Attacks in the order they were heard, and the note of each.
    played: Vec<Played>,
    notes: Vec<u8>,
    /// Strokes that were marked as the pad's own bouncing, and as another pad's blow.
    bounced: usize,
    shaken: usize,
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

impl Player {
    pub(crate) fn new(
        id: input::PlayerId,
        label: String,
        source: String,
        instrument: Instrument,
        closest: Seconds,
        settings: &Settings,
    ) -> Self {
        Self {
            id,
            label,
            source,
            recorded: None,
            missing: Vec::new(),
            instrument,
            gathering: Gathering::new(instrument, closest),
            played: Vec::new(),
            notes: Vec::new(),
            bounced: 0,
            shaken: 0,
            due: Due::Not,
            judged: 0,
            told: 0,
            judgement: Arc::new(judge(&[], &[], settings)),
        }
    }

    /// Takes an attack in: one of its own, a note of the chord before, or the main stroke of which the one before was the
    /// grace.
    pub(crate) fn strike(&mut self, stroke: &Stroke, played: Played) -> Gathered {
        let gathered = self.gathering.take(stroke);
        self.due = Due::AtOnce;
        match (gathered, self.played.last_mut(), self.notes.last_mut()) {
            (Gathered::Chord | Gathered::Grace, Some(_), _) => {}
            (Gathered::Main, Some(last), Some(note)) => {
                *last = played;
                *note = stroke.note;
                self.told = self.told.min(self.played.len() - 1);
            }
            _ => {
                self.played.push(played);
                self.notes.push(stroke.note);
            }
        }
        gathered
    }

    /// A key was let go. Says whether that is judged: not on pads, which know no length.
    pub(crate) fn release(&mut self, note: u8, at: Moment) -> bool {
        if self.instrument != Instrument::Keys {
            return false;
        }
        let Some(index) = self.notes.iter().rposition(|struck| *struck == note) else { return false };
        let played = &mut self.played[index];
        // Nothing is let go twice, or before it was struck.
        if played.released.is_some() || at < played.at {
            return false;
        }
        *played = played.with_release(at);
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

    /// What a person should know of the strokes that were marked.
    pub(crate) fn marked(&self) -> Option<String> {
        (self.shaken > 0).then(|| {
            format!(
                "{}: {} strokes were taken for another pad's blow and not judged; they are kept in the take. Raise the \
                 module's cross-talk setting, or put the pads apart",
                self.label, self.shaken
            )
        })
    }

    /// Judges what has been heard up to `now`; says whether that is something else than before.
    pub(crate) fn judge_so_far(&mut self, counts: &[TimedCount], now: Moment, settings: &Settings) -> bool {
        let judgement = judge_so_far(counts, &self.played, now, settings);
        let changed = judgement != *self.judgement;
        if changed {
            self.judgement = Arc::new(judgement);
        }
        changed
    }

    /// Judges the whole.
    pub(crate) fn judge(&mut self, counts: &[TimedCount], settings: &Settings) {
        self.judgement = Arc::new(judge(counts, &self.played, settings));
    }

    /// What is made of the attacks heard since this was last asked.
    pub(crate) fn new_attacks(&mut self) -> Vec<Attack> {
        let from = std::mem::replace(&mut self.told, self.played.len());
        let mut attacks: Vec<Attack> =
            self.judgement.attacks().iter().filter(|attack| attack.index >= from).copied().collect();
        attacks.sort_by_key(|attack| attack.index);
        attacks
    }

    pub(crate) fn judgement(&self) -> &Judgement {
        &self.judgement
    }

    pub(crate) fn state(&self) -> PlayerState {
        PlayerState {
            label: self.label.clone(),
            source: self.source.clone(),
            missing: self.missing.clone(),
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
        let closest = Seconds::from_millis(250);
        let settings = Settings::default();
        Player::new(PlayerId::new(0), "K1".to_owned(), "Pad".to_owned(), instrument, closest, &settings)
    }

    fn strike(player: &mut Player, ms: i64, note: u8, velocity: u8) -> Gathered {
        let at = HostTime::from_nanos(ms * 1_000_000);
        let stroke = Stroke { note, velocity, ..Stroke::of_key(player.id, 0, at, Seconds::ZERO) };
        player.strike(&stroke, Played::new(Moment::ZERO + Seconds::from_millis(ms)).with_velocity(velocity))
    }

    fn at(ms: i64) -> Moment {
        Moment::ZERO + Seconds::from_millis(ms)
    }

    #[test]
    fn a_flam_is_judged_by_its_main_stroke() {
        let mut player = player(Instrument::Pad);
        strike(&mut player, 0, 38, 100);
        strike(&mut player, 450, 38, 40);
        assert_eq!(strike(&mut player, 500, 38, 110), Gathered::Main);
        let places: Vec<_> = player.played.iter().map(|played| played.at).collect();
        assert_eq!(places, [at(0), at(500)]);
        assert!(!player.release(38, at(520)), "a pad knows no length");
    }

    #[test]
    fn a_chord_is_one_attack_and_keys_are_let_go() {
        let mut player = player(Instrument::Keys);
        strike(&mut player, 0, 60, 80);
        assert_eq!(strike(&mut player, 20, 64, 90), Gathered::Chord);
        strike(&mut player, 500, 60, 80);
        assert!(!player.release(64, at(480)), "the chord's first note is the one that is judged");
        assert!(player.release(60, at(900)));
        assert!(!player.release(60, at(950)), "nothing is let go twice");
        let lengths: Vec<_> = player.played.iter().map(|played| played.released).collect();
        assert_eq!(lengths, [None, Some(at(900))]);
    }
}
