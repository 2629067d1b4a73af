use std::path::PathBuf;
use std::sync::Arc;

use input::{Order, TouchedAt};
use judge::{Attack, Judgement};
use take::Ended;
use timebase::{Moment, SampleRate, Seconds};

use crate::{Part, Phase, RoundOver};

/// One player and what is judged of the strokes so far.
#[derive(Clone, Debug, PartialEq)]
pub struct PlayerState {
    /// What the player is called: `P1`, or the name in a replayed take.
    pub label: String,
    /// What is played on.
    pub source: String,
    /// The player's devices that are not there, by their names. Strokes already heard stay; the player goes on when they are
    /// back.
    pub missing: Vec<String>,
    /// Whether any device of the player is there: on it the player goes on.
    pub is_there: bool,
    /// The player's devices that send more than hands can strike just now and are held back, by their names.
    pub held: Vec<String>,
    /// What the stamps of the strokes are worth, the coarsest of them; `None` before the first. No figure may be told finer.
    pub resolution: Option<Seconds>,
    /// Strokes that were taken for another pad's blow, felt through the rack, and are not judged.
    pub shaken: usize,
    /// What is judged so far; provisional until the drill has ended.
    pub judgement: Arc<Judgement>,
}

impl PlayerState {
    /// What stands under the label at the head of the player's row: that the player's devices are gone, which one is not there or held
    /// back where there is another, or that its pad is shaken by others; empty where there is nothing to say. What became of it
    /// comes first, for a long name may be cut.
    #[must_use]
    pub fn state(&self) -> String {
        if !self.missing.is_empty() && !self.is_there {
            "gone".to_owned()
        } else if !self.missing.is_empty() {
            format!("not there: {}", self.missing.join(" and "))
        } else if !self.held.is_empty() {
            format!("held back: {}", self.held.join(" and "))
        } else if self.shaken > 0 {
            "cross-talk".to_owned()
        } else {
            String::new()
        }
    }
}

/// A take that could not be written down to its end: the disk was full, or a file could not grow.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CutOff {
    /// The take's folder.
    pub dir: PathBuf,
    /// Up to where it is kept, from count 1 of bar 1.
    pub until: Moment,
    /// How much that is from the take's beginning.
    pub length: Seconds,
    /// Whether the strokes are kept up to there only, and everything else with them; else it is the sound alone.
    pub strokes: bool,
}

impl CutOff {
    /// It in a sentence; `place` says up to where, `bar 2, 3`.
    #[must_use]
    pub fn says(&self, place: &str) -> String {
        let dir = self.dir.display();
        if self.strokes {
            format!(
                "the take in {dir} is kept up to {place} only, nothing after it could be written down: what was struck later stands in \
                 this report alone"
            )
        } else {
            format!(
                "the sound of the take in {dir} is kept up to {place} only; its strokes are kept to the end"
            )
        }
    }

    /// Up to where it is kept, in seconds from the take's beginning.
    #[must_use]
    pub fn after(&self) -> String {
        format!("{:.1} s after its beginning", self.length.as_secs_f64())
    }
}

/// What happens, in order. Sent by the rig's thread.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// Another phase of the drill began.
    Phase(Phase),
    /// Another stretch of a drill plan is heard: a call, a response, the beats between. What is judged from a response on is that
    /// response.
    Part(Arc<Part>),
    /// The responses of a round of a drill plan have been judged for good.
    Round(Arc<RoundOver>),
    /// A stroke of this player fell and was judged; `players` in the [`Event::Judged`] that follows holds the whole.
    Struck {
        /// The player's index among the players.
        player: usize,
        /// The stroke and what it answers, provisionally.
        attack: Attack,
    },
    /// Who plays, at the beginning of a drill; then, that the judgement changed: a stroke fell, or the time for a written attack passed.
    Judged(Arc<[PlayerState]>),
    /// Sound was lost or stamps are unsure; the take is marked there.
    Disturbed {
        /// What happened.
        why: String,
    },
    /// Something a person should know of: a device went or came back, the take can no longer be written.
    Notice(String),
    /// The drill is over.
    Ended {
        /// Played to its end, or stopped.
        ended: Ended,
        /// Everybody's final judgement; in a drill plan, of its last response.
        players: Arc<[PlayerState]>,
        /// The folder of the take, if one was kept.
        take: Option<PathBuf>,
        /// How often sound was lost. A take with any is disturbed.
        disturbances: usize,
        /// What of the take could not be written down to its end.
        cut: Option<CutOff>,
    },
    /// A pad, a pedal or a key asked for this. A drill has already stopped when it asked to stop; everything else is for the
    /// audience to do.
    Order(Order),
    /// This was struck or trodden on while [`Rig::ask_touches`](crate::Rig::ask_touches) was on: no stroke and no order.
    Touched(TouchedAt),
    /// The sound device has gone; a drill that ran has ended, its take whole. It is looked for once a second, and
    /// [`Event::SoundBack`] tells when it plays again.
    SoundGone {
        /// What the driver said.
        why: String,
    },
    /// A sound device plays again: the same or, where none was named, the system's present default.
    SoundBack {
        /// Its name.
        name: String,
        /// Its rate, which may be another than before.
        rate: SampleRate,
    },
}
