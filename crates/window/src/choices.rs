//! What the teacher has set, and how a key or a button moves it.

use judge::limits::TOLERANCE_MS;
use rhythm::Rhythm;
use sequencer::limits::COUNT_IN_BARS;
use sequencer::{Choice, Each, Levels, Plan};
use timebase::{Ratio, Seconds};

use crate::WindowSettings;

/// A place between left and right goes in steps of this many hundredths.
const PAN_STEP: i32 = 20;
/// A level goes in steps of this many hundredths.
const LEVEL_STEP: i32 = 10;
/// The tolerance goes in steps of this many ms.
const TOLERANCE_STEP_MS: i64 = 5;
/// The loudest that something can be asked for: 12 dB above as it was made.
const GAIN_MOST: f32 = 4.0;
/// How many steps larger or smaller the notes can be.
const SIZES: (i32, i32) = (-4, 8);
/// How much larger a step is.
const SIZE_STEP: f32 = 1.15;

/// How loud something is, in hundredths: 0 is silent, 100 as it was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Level(u16);

impl Level {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "hundredths of a level from 0 to 4 fit, and anything else is brought within them first"
    )]
    fn of(level: f32) -> Self {
        Self((level.clamp(0.0, GAIN_MOST) * 100.0).round() as u16)
    }

    /// Louder than it was made only where it was asked to be from the start.
    fn moved(self, steps: i32) -> Self {
        let most = i32::from(self.0.max(100));
        let moved = i32::from(self.0).saturating_add(steps.saturating_mul(LEVEL_STEP)).clamp(0, most);
        Self(u16::try_from(moved).unwrap_or(self.0))
    }

    fn factor(self) -> f32 {
        f32::from(self.0) / 100.0
    }
}

/// As it stands beside its buttons: `50 %`, `off`.
impl std::fmt::Display for Level {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.0 == 0 { f.write_str("off") } else { write!(f, "{} %", self.0) }
    }
}

/// Where something is heard, in hundredths from −100, left, to 100, right.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Side(i8);

impl Side {
    #[expect(clippy::cast_possible_truncation, reason = "hundredths of a place within the sides fit")]
    fn of(pan: f32) -> Self {
        Self((pan.clamp(-1.0, 1.0) * 100.0).round() as i8)
    }

    pub(crate) fn moved(self, steps: i32) -> Self {
        let moved = i32::from(self.0).saturating_add(steps.saturating_mul(PAN_STEP)).clamp(-100, 100);
        Self(i8::try_from(moved).unwrap_or(self.0))
    }
}

/// As it stands beside its buttons: `middle`, `20 % left`.
impl std::fmt::Display for Side {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.0 {
            0 => f.write_str("middle"),
            left @ ..0 => write!(f, "{} % left", left.unsigned_abs()),
            right => write!(f, "{right} % right"),
        }
    }
}

/// How one kind of sound is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Strip {
    pub(crate) level: Level,
    pub(crate) side: Side,
    pub(crate) muted: bool,
}

impl Strip {
    /// A step louder or softer; what was muted is heard again.
    pub(crate) fn step(&mut self, steps: i32) {
        self.level = self.level.moved(steps);
        self.muted = false;
    }
}

/// As it stands beside its buttons: the level, or that it is muted.
impl std::fmt::Display for Strip {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.muted { f.write_str("muted") } else { self.level.fmt(f) }
    }
}

/// How many findings are told of a drill, of one player or of the section as a whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Told {
    /// The most useful, for a beginner.
    One,
    /// The three most useful.
    #[default]
    Three,
    /// All of them.
    All,
}

impl Told {
    pub(crate) const ALL: [Self; 3] = [Self::One, Self::Three, Self::All];

    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::One => "the most useful",
            Self::Three => "three",
            Self::All => "all",
        }
    }

    pub(crate) fn next(self) -> Self {
        match self {
            Self::One => Self::Three,
            Self::Three => Self::All,
            Self::All => Self::One,
        }
    }

    /// The most that are told.
    pub(crate) fn most(self) -> usize {
        match self {
            Self::One => 1,
            Self::Three => 3,
            Self::All => usize::MAX,
        }
    }
}

/// What the pins lean against.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(crate) enum Lean {
    /// The player's own steady pulse.
    #[default]
    OwnPulse,
    /// The click.
    Click,
    /// The section's middle.
    Section,
}

impl Lean {
    pub(crate) const ALL: [Self; 3] = [Self::OwnPulse, Self::Click, Self::Section];

    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::OwnPulse => "own pulse",
            Self::Click => "click",
            Self::Section => "section",
        }
    }

    pub(crate) fn next(self) -> Self {
        match self {
            Self::OwnPulse => Self::Click,
            Self::Click => Self::Section,
            Self::Section => Self::OwnPulse,
        }
    }
}

/// Everything that can be set.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Choices {
    /// Beats a minute; `None` as the rhythm says.
    pub(crate) bpm: Option<Ratio<u32>>,
    pub(crate) count_in: u32,
    /// What sounds, and how.
    pub(crate) choice: Choice,
    pub(crate) strips: Each<Strip>,
    pub(crate) told: Told,
    pub(crate) judge: judge::Settings,
    pub(crate) lean: Lean,
    /// The section as a whole instead of rows; `None` where nobody has said: then with several players.
    pub(crate) class_view: Option<bool>,
    pub(crate) keep_takes: bool,
    pub(crate) colours: bool,
    pub(crate) large_print: bool,
    size: i32,
}

fn strips(levels: Levels) -> Each<Strip> {
    let Levels { click, count, clap, tone, pan, muted } = levels;
    let strip = |level, side, muted| Strip { level: Level::of(level), side: Side::of(side), muted };
    Each {
        click: strip(click, pan.click, muted.click),
        count: strip(count, pan.count, muted.count),
        clap: strip(clap, pan.clap, muted.clap),
        tone: strip(tone, pan.tone, muted.tone),
    }
}

impl Choices {
    pub(crate) fn of(settings: &WindowSettings) -> Self {
        Self {
            bpm: settings.bpm,
            count_in: settings.count_in_bars,
            choice: settings.choice,
            strips: strips(settings.levels),
            told: Told::default(),
            judge: settings.judge,
            lean: Lean::default(),
            class_view: None,
            keep_takes: settings.keep_takes,
            colours: true,
            large_print: false,
            size: 0,
        }
    }

    /// Whether the section is shown as a whole, with so many players.
    pub(crate) fn is_class_view(&self, players: usize) -> bool {
        self.class_view.unwrap_or(players > 1)
    }

    pub(crate) fn set_levels(&mut self, levels: Levels) {
        self.strips = strips(levels);
    }

    pub(crate) fn levels(&self) -> Levels {
        let Each { click, count, clap, tone } = self.strips;
        let pan = |strip: Strip| f32::from(strip.side.0) / 100.0;
        Levels {
            click: click.level.factor(),
            count: count.level.factor(),
            clap: clap.level.factor(),
            tone: tone.level.factor(),
            pan: Each { click: pan(click), count: pan(count), clap: pan(clap), tone: pan(tone) },
            muted: Each { click: click.muted, count: count.muted, clap: clap.muted, tone: tone.muted },
        }
    }

    pub(crate) fn move_count_in(&mut self, bars: i32) {
        let moved = i64::from(self.count_in).saturating_add(i64::from(bars));
        let moved = moved.clamp(COUNT_IN_BARS.least, COUNT_IN_BARS.most);
        self.count_in = u32::try_from(moved).unwrap_or(self.count_in);
    }

    pub(crate) fn move_tolerance(&mut self, steps: i32) {
        let now = self.judge.tolerance().as_nanos() / 1_000_000;
        let moved = now.saturating_add(i64::from(steps) * TOLERANCE_STEP_MS);
        let moved = Seconds::from_millis(moved.clamp(TOLERANCE_MS.least, TOLERANCE_MS.most));
        self.judge = self.judge.with_tolerance(moved).unwrap_or(self.judge);
    }

    /// The tolerance beside its buttons.
    pub(crate) fn tolerance_words(&self) -> String {
        format!("±{} ms", self.judge.tolerance().as_millis_f64())
    }

    /// How it is to be played.
    pub(crate) fn plan(&self, rhythm: &Rhythm) -> Plan {
        let plan = Plan::of(rhythm).with_choice(self.choice);
        let plan = self.bpm.and_then(|bpm| plan.beginning_at(bpm, rhythm).ok()).unwrap_or(plan);
        plan.with_count_in(self.count_in).unwrap_or(plan)
    }

    /// A beat a minute more or less; between whole numbers, to the next whole one.
    pub(crate) fn move_tempo(&mut self, rhythm: &Rhythm, steps: i32) {
        let now = self.plan(rhythm).tempo().bpm();
        let whole = if steps < 0 { now.ceil() } else { now.floor() }.to_integer();
        if let Some(bpm) = whole.checked_add_signed(steps)
            && self.plan(rhythm).beginning_at(bpm.into(), rhythm).is_ok()
        {
            self.bpm = Some(bpm.into());
        }
    }

    /// Larger or smaller notes; 0 is as usual.
    pub(crate) fn move_size(&mut self, steps: i32) {
        self.size = if steps == 0 { 0 } else { (self.size + steps).clamp(SIZES.0, SIZES.1) };
    }

    /// How much larger than usual the notes are.
    pub(crate) fn size(&self) -> f32 {
        SIZE_STEP.powi(self.size)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn choices() -> Choices {
        Choices::of(&WindowSettings::default())
    }

    #[test]
    fn levels_stay_between_off_and_as_made() {
        let mut choices = choices();
        assert_eq!(choices.levels(), Levels::default());
        choices.strips.click.step(-3);
        assert_eq!(choices.strips.click.to_string(), "50 %");
        choices.strips.click.step(-30);
        assert_eq!((choices.strips.click.to_string().as_str(), choices.levels().click), ("off", 0.0));
        choices.strips.click.step(300);
        assert_eq!(choices.levels().click, 1.0);
        // What was asked for louder from the start may stay so, and comes down by steps.
        let louder =
            WindowSettings { levels: Levels { clap: 2.0, ..Levels::default() }, ..WindowSettings::default() };
        let mut choices = Choices::of(&louder);
        assert_eq!(choices.levels().clap, 2.0);
        choices.strips.clap.step(-1);
        assert_eq!(choices.strips.clap.to_string(), "190 %");
    }

    #[test]
    fn what_is_muted_keeps_its_level_and_is_heard_again_when_it_is_moved() {
        let mut choices = choices();
        assert_eq!(choices.strips.tone.to_string(), "muted");
        assert!(choices.levels().muted.tone && choices.levels().tone > 0.0);
        choices.strips.tone.step(1);
        assert!(!choices.levels().muted.tone);
    }

    #[test]
    fn places_go_from_one_side_to_the_other() {
        let mut side = Side::default();
        let mut check = |steps, expected: &str| {
            side = side.moved(steps);
            assert_eq!(side.to_string(), expected);
        };
        check(0, "middle");
        check(-1, "20 % left");
        check(-9, "100 % left");
        check(6, "20 % right");
        let mut choices = choices();
        choices.strips.count.side = side;
        assert_eq!(choices.levels().pan, Each { count: 0.2, ..Each::default() });
        assert!(choices.levels().is_stereo());
    }

    #[test]
    fn tempo_moves_in_whole_beats_within_its_limit() {
        let rhythm = rhythm::text::read("tempo: quarter = 87.5\n| 1 2 3 4 |").rhythm.expect("a rhythm");
        let mut choices = choices();
        let mut check = |steps, expected: &str| {
            choices.move_tempo(&rhythm, steps);
            assert_eq!(choices.plan(&rhythm).tempo().to_string(), expected);
        };
        check(1, "quarter = 88");
        check(-1, "quarter = 87");
        check(-67, "quarter = 20");
        check(-1, "quarter = 20");
    }

    #[test]
    fn tolerance_and_count_in_keep_their_limits() {
        let mut choices = choices();
        assert_eq!(choices.tolerance_words(), "±50 ms");
        choices.move_tolerance(-100);
        assert_eq!(choices.tolerance_words(), "±5 ms");
        choices.move_tolerance(1);
        assert_eq!(choices.tolerance_words(), "±10 ms");
        choices.move_count_in(-5);
        assert_eq!(choices.count_in, 0);
        choices.move_count_in(100);
        assert_eq!(choices.count_in, 8);
    }

    #[test]
    fn one_player_has_a_row_and_several_only_when_asked() {
        let mut choices = choices();
        assert!(!choices.is_class_view(1));
        assert!(choices.is_class_view(4));
        choices.class_view = Some(false);
        assert!(!choices.is_class_view(4));
    }
}
