use timebase::limits::Limit;

use super::Pace;
use crate::limits::{
    AGAIN, BREATH_BEATS, COUNT_IN_BARS, HARD_TIMES, PHRASE_BARS, PLAYERS, REST_BEATS, SILENT_BARS, TIMES,
};
use crate::{Entry, Error};

/// A drill as a teacher plans it. The default is call and response of the whole rhythm, once, after a bar of count-in.
///
/// Every rhythm of the list comes in turn: its model, if one is wished; its hard bars by themselves; then its
/// phrases, [`DrillPlan::bars`] at a time. A **round** is one of these: the count-in where one is due, the
/// call, and the response or, in turns, the responses.
#[derive(Clone, Debug, PartialEq)]
pub struct DrillPlan {
    /// How many bars are called at once; `None` calls the whole rhythm. Within [`PHRASE_BARS`].
    pub bars: Option<u32>,
    /// What is counted before a round.
    pub count_in: CountIn,
    /// Whether a rhythm is called before it is answered; else players play along from the first round on.
    pub is_called: bool,
    /// What is heard, and when.
    pub heard: Heard,
    /// Whether the notation is to be hidden while a rhythm is called.
    pub is_hidden_in_call: bool,
    /// Felt beats between a call and its response, and between the responses of a round; 0 runs on. Within [`BREATH_BEATS`].
    pub breath: u32,
    /// Felt beats between a round and the next; 0 runs on. Within [`REST_BEATS`].
    pub rest: u32,
    /// Who sounds the pickup of a response.
    pub pickup_by: PickupBy,
    /// One tempo, or steps.
    pub pace: Pace,
    /// Bars that are practised by themselves before the phrases of their rhythm.
    pub hard: Vec<HardBar>,
    /// How often a round that was bad is played again before the next, 0 for never. Within [`AGAIN`].
    pub again: u32,
    /// How often the whole list is gone through. Within [`TIMES`].
    pub times: u32,
    /// Where the click falls silent.
    pub silent: SilentClick,
    /// Who answers.
    pub turns: Turns,
}

impl Default for DrillPlan {
    fn default() -> Self {
        Self {
            bars: None,
            count_in: CountIn::default(),
            is_called: true,
            heard: Heard::default(),
            is_hidden_in_call: false,
            breath: 0,
            rest: 0,
            pickup_by: PickupBy::Call,
            pace: Pace::Own,
            hard: Vec::new(),
            again: 0,
            times: 1,
            silent: SilentClick::default(),
            turns: Turns::default(),
        }
    }
}

/// The bars counted before a round, and before which rounds. A count-in is always clicked and counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CountIn {
    /// Full bars, within [`COUNT_IN_BARS`]; before a pickup the counts up to it are added.
    pub bars: u32,
    /// Before which rounds.
    pub when: CountInWhen,
    /// What is said on its last two beats.
    pub entry: Entry,
}

impl Default for CountIn {
    fn default() -> Self {
        Self { bars: 1, when: CountInWhen::Changes, entry: Entry::Numbers }
    }
}

/// Before which rounds is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CountInWhen {
    /// The first, and those in which the pulse is another than before: another tempo, meter or rhythm.
    Changes,
    /// Only the first, and those at another tempo, which nobody could find.
    Start,
    /// Every one.
    Rounds,
}

/// What is heard of a rhythm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Audible {
    /// The click of the felt beats.
    pub click: bool,
    /// The spoken counts.
    pub count: bool,
    /// The claps of the attacks.
    pub clap: bool,
    /// A tone as long as each note. Where no section asks for one, a tone goes with every clap, and the levels say whether it
    /// is heard.
    pub tone: bool,
}

impl Audible {
    /// Click, count and clap.
    pub const ALL: Self = Self { click: true, count: true, clap: true, tone: false };
    /// The click alone.
    pub const CLICK: Self = Self { click: true, count: false, clap: false, tone: false };
    /// Nothing.
    pub const NOTHING: Self = Self { click: false, count: false, clap: false, tone: false };
}

/// What is heard, and when.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heard {
    /// Of the whole rhythm before its first round; `None` gives no model.
    pub model: Option<Audible>,
    /// Of a call.
    pub call: Audible,
    /// Of a response, and during a breath.
    pub response: Audible,
}

impl Default for Heard {
    /// No model; everything in the call, the click alone in the response.
    fn default() -> Self {
        Self { model: None, call: Audible::ALL, response: Audible::CLICK }
    }
}

impl Heard {
    /// Whether a section asks for a tone.
    #[must_use]
    pub fn names_tone(&self) -> bool {
        self.call.tone || self.response.tone || self.model.is_some_and(|model| model.tone)
    }

    /// The same with a tone wherever there are claps, too.
    #[must_use]
    pub fn with_tone_at_claps(self) -> Self {
        let held = |heard: Audible| Audible { tone: heard.tone || heard.clap, ..heard };
        Self { model: self.model.map(held), call: held(self.call), response: held(self.response) }
    }
}

/// Who sounds the pickup of a response, which falls inside the last bar of the call where the two run on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PickupBy {
    /// Whoever calls leads the players in: the pickup sounds as the call does, and players are asked from the bar line on.
    Call,
    /// The players: it sounds as the response does, and they are asked from their pickup on.
    Players,
    /// Both: it sounds as the call does, and players are asked too.
    Both,
}

/// A bar that is hard, practised by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HardBar {
    /// Which rhythm of the list, from 0.
    pub rhythm: usize,
    /// The bar's written number.
    pub bar: u32,
    /// How often, within [`HARD_TIMES`].
    pub times: u32,
}

/// Where the click falls silent, so that the pulse must be kept inside. Count-in and model always have their click.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SilentClick {
    /// So many bars with the click and so many without it, by turns through calls and responses. Each within [`SILENT_BARS`].
    pub by_turns: Option<(u32, u32)>,
    /// The numbers of written bars whose response has no click.
    pub bars: Vec<u32>,
}

/// Who answers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Turns {
    /// The players who take turns; with none or one everybody answers every time. Within [`PLAYERS`].
    pub players: Vec<String>,
    /// How they take turns.
    pub order: TurnOrder,
}

/// How players take turns.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum TurnOrder {
    /// A call, player 1 answers; the next call, player 2 answers.
    #[default]
    ByRound,
    /// A call, player 1 answers, then player 2 answers the same.
    WithinRound,
}

impl DrillPlan {
    /// What is outside its limits, if anything is.
    pub(super) fn check(&self) -> Result<(), Error> {
        within(self.bars.unwrap_or(1), PHRASE_BARS)?;
        within(self.count_in.bars, COUNT_IN_BARS)?;
        within(self.breath, BREATH_BEATS)?;
        within(self.rest, REST_BEATS)?;
        within(self.again, AGAIN)?;
        within(self.times, TIMES)?;
        for hard in &self.hard {
            within(hard.times, HARD_TIMES)?;
        }
        if let Some((sounding, silent)) = self.silent.by_turns {
            within(sounding, SILENT_BARS)?;
            within(silent, SILENT_BARS)?;
        }
        within(u32::try_from(self.turns.players.len()).unwrap_or(u32::MAX), PLAYERS)?;
        self.pace.check()
    }
}

pub(super) fn within(given: u32, limit: Limit) -> Result<(), Error> {
    if limit.holds(i64::from(given)) { Ok(()) } else { Err(Error::OutOfRange { given, limit }) }
}
