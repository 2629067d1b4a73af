//! A teacher's drill plan, read from its file.

mod form;

use std::io::Read as _;
use std::ops::Range;
use std::path::{Path, PathBuf};

use rhythm::text::{Diagnostic, Severity};
use sequencer::drill::{
    Audible, CountIn, CountInWhen, DrillPlan, HardBar, Heard, Pace, PickupBy, SilentClick, Steps, TurnOrder,
    Turns,
};
use sequencer::limits::{
    AGAIN, BREATH_BEATS, COUNT_IN_BARS, HARD_TIMES, PHRASE_BARS, PLAYERS, REST_BEATS, RHYTHMS, SILENT_BARS,
    STEP_AFTER, TIMES,
};
use sequencer::{Aside, Choice, ClickOn, CountOn, Entry, Levels};
use timebase::limits::{Limit, TEMPO_BPM};
use timebase::{Ratio, Span, Tempo};
use toml::Spanned;

use crate::failure::Failure;
use crate::flags::sounds;
use crate::{output, rhythm_file};
use form::{ClickForm, DrillForm, EachForm, HardForm, SoundForm, TempoForm};

/// A plan to start from, with every line explained.
pub(crate) const TEMPLATE: &str = include_str!("drill_file/template.drill");

/// Bytes of a plan's file.
const DRILL_BYTES: Limit = Limit { what: "size of a drill plan in bytes", least: 0, most: 1 << 20 };

/// Bars of a rhythm, as a plan may name them.
const BAR: Limit = Limit { what: "number of a bar", least: 0, most: 200_000 };

/// Where to look for what may stand in a plan.
const SEE: &str = "`countline drill --template` prints a whole one, with every line explained";

/// A plan, and what it names.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct DrillFile {
    pub(crate) title: Option<String>,
    /// As they are written, from the plan's folder.
    pub(crate) rhythms: Vec<PathBuf>,
    pub(crate) voice: Option<String>,
    /// The counting system, by its name or file, and its variants; numbers without.
    pub(crate) counting: Option<String>,
    pub(crate) variants: Vec<String>,
    /// Which part of rhythms with several.
    pub(crate) part: Option<String>,
    /// What sounds of a rhythm; the words for the entry are the plan's.
    pub(crate) choice: Choice,
    pub(crate) levels: Levels,
    /// Whether a tone sounds with all claps.
    pub(crate) has_tone: bool,
    pub(crate) plan: DrillPlan,
    pub(crate) steps: StepsAsked,
    /// Where each hard bar is named.
    hard: Vec<Range<usize>>,
    text: String,
}

/// What is said of the tempo's steps, before it is known what is left out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct StepsAsked {
    pub(crate) at: Option<Ratio<u32>>,
    pub(crate) step: Option<Ratio<u32>>,
    pub(crate) slowest: Option<Ratio<u32>>,
    pub(crate) fastest: Option<Ratio<u32>>,
    pub(crate) up_after: Option<u32>,
    pub(crate) down_after: Option<u32>,
    pub(crate) until_fastest: bool,
}

impl StepsAsked {
    /// The pace they ask for, where the first rhythm's own tempo is `own`.
    pub(crate) fn pace(&self, own: Tempo) -> Result<Pace, String> {
        let Some(by) = self.step else {
            let only = [
                (self.slowest.is_some(), "a slowest tempo"),
                (self.fastest.is_some(), "a fastest tempo"),
                (self.up_after.is_some(), "a number of rounds before a step up"),
                (self.down_after.is_some(), "a number of rounds before a step down"),
                (self.until_fastest, "an end at the fastest tempo"),
            ];
            if let Some((_, what)) = only.iter().find(|(said, _)| *said) {
                return Err(format!(
                    "{what} is given, and the tempo does not step: give the size of a step too (--step, or `step` under [tempo])"
                ));
            }
            return Ok(self.at.map_or(Pace::Own, Pace::Steady));
        };
        let from = self.at.unwrap_or_else(|| own.bpm());
        let least = self.slowest.unwrap_or(from);
        let most = self.fastest.unwrap_or_else(|| own.bpm().max(from));
        let ways = "begin at another tempo (--tempo, or `at` in a plan), or give another fastest or slowest (--fastest, --slowest, \
                    or `fastest`, `slowest` in a plan)";
        let wrong = if from > most {
            format!("it begins at {}, which is faster than its fastest, {}", told_bpm(from), told_bpm(most))
        } else if from < least {
            format!("it begins at {}, which is slower than its slowest, {}", told_bpm(from), told_bpm(least))
        } else if least == most && !self.until_fastest {
            format!(
                "the tempo has nowhere to step: its slowest and its fastest are {}, where it begins",
                told_bpm(from)
            )
        } else {
            let (up_after, down_after) = (self.up_after.unwrap_or(2), self.down_after.unwrap_or(1));
            let ends_at_most = self.until_fastest;
            return Ok(Pace::Stepping(Steps { from, by, up_after, down_after, least, most, ends_at_most }));
        };
        Err(format!("{wrong}: {ways}"))
    }
}

/// A tempo in beats a minute as it is written: `72.5`.
fn told_bpm(bpm: Ratio<u32>) -> String {
    let told = f64::from(*bpm.numer()) / f64::from(*bpm.denom());
    format!("{:.3}", told).trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl DrillFile {
    /// Tells what is wrong with the plan beside its rhythms: pointed at where it names a hard bar that is not there.
    pub(crate) fn tell(&self, path: &Path, error: &sequencer::Error) -> Failure {
        let named = match error {
            sequencer::Error::NoBar { rhythm, bar, .. } => {
                self.plan.hard.iter().position(|hard| hard.rhythm + 1 == *rhythm && hard.bar == *bar)
            }
            sequencer::Error::NoRhythm { given, .. } => {
                self.plan.hard.iter().position(|hard| hard.rhythm + 1 == *given)
            }
            _ => None,
        };
        match named.and_then(|index| self.hard.get(index)) {
            Some(span) => {
                let help = "name a bar of one of the rhythms above, by its written number".to_owned();
                told(&wrong(span.clone(), error.to_string(), help), &self.text, path)
            }
            None => Failure::Job(format!("{}: {error}", path.display())),
        }
    }
}

/// Reads the plan at `path`. What is wrong in it is printed with its place.
pub(crate) fn read(path: &Path) -> Result<DrillFile, Failure> {
    let most = u64::try_from(DRILL_BYTES.most).unwrap_or(u64::MAX);
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(most + 1).read_to_end(&mut bytes))
        .map_err(|error| Failure::file("read", path, &error))?;
    if !DRILL_BYTES.holds(i64::try_from(bytes.len()).unwrap_or(i64::MAX)) {
        return Err(Failure::Job(format!(
            "{} has more than {} bytes: is this the right file? {SEE}",
            path.display(),
            DRILL_BYTES.most
        )));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        Failure::Job(format!(
            "{} is not UTF-8 text: byte {} belongs to no character. A drill plan is a plain text file; save it as UTF-8",
            path.display(),
            error.utf8_error().valid_up_to()
        ))
    })?;
    parse(&text).map_err(|diagnostic| told(&diagnostic, &text, path))
}

fn told(diagnostic: &Diagnostic, text: &str, path: &Path) -> Failure {
    let name = path.display().to_string();
    output::note(&rhythm_file::rendered(diagnostic, text, &name, output::is_watched()));
    Failure::Told
}

/// The plan in this text, or what is wrong with it.
pub(crate) fn parse(text: &str) -> Result<DrillFile, Diagnostic> {
    let form: DrillForm = toml::from_str(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        if let Some((message, help)) = misplaced(error.message()) {
            return wrong(span, message, help);
        }
        wrong(span, crate::toml_words::plainly(error.message()), SEE.to_owned())
    })?;
    idle(&form)?;
    let count = form.rhythms.get_ref().len();
    if !RHYTHMS.holds(i64::try_from(count).unwrap_or(i64::MAX)) {
        return Err(outside(form.rhythms.span(), count, &RHYTHMS));
    }
    let hard = form.hard.iter().map(|hard| hard_bar(hard, count)).collect::<Result<_, _>>()?;
    let usual = DrillPlan::default();
    let listed = Heard {
        model: form.model.as_ref().map(|model| sounds(model.sounds.as_ref(), Audible::ALL)).transpose()?,
        call: sounds(form.call.sounds.as_ref(), usual.heard.call)?,
        response: sounds(form.response.sounds.as_ref(), usual.heard.response)?,
    };
    let heard = if form.sound.tone && listed.names_tone() { listed.with_tone_at_claps() } else { listed };
    let plan = DrillPlan {
        bars: form.bars.as_ref().map(|bars| whole(bars, &PHRASE_BARS)).transpose()?,
        count_in: CountIn {
            bars: whole_or(form.count_in.bars.as_ref(), &COUNT_IN_BARS, usual.count_in.bars)?,
            when: counted(form.count_in.before.as_ref(), usual.count_in.when)?,
            entry: one_of(form.count_in.entry.as_ref(), usual.count_in.entry, "an entry", &Entry::NAMED)?,
        },
        is_called: !form.play_along,
        heard,
        is_hidden_in_call: form.call.hidden,
        breath: whole_or(form.breath.as_ref(), &BREATH_BEATS, usual.breath)?,
        rest: whole_or(form.rest.as_ref(), &REST_BEATS, usual.rest)?,
        pickup_by: pickup(form.response.pickup.as_ref(), usual.pickup_by)?,
        pace: Pace::Own,
        hard,
        again: whole_or(form.again.as_ref(), &AGAIN, usual.again)?,
        times: whole_or(form.times.as_ref(), &TIMES, usual.times)?,
        silent: silent(&form.click)?,
        turns: turns(form.players.as_ref(), form.turns.as_ref())?,
    };
    Ok(DrillFile {
        title: form.title.map(Spanned::into_inner),
        rhythms: form.rhythms.get_ref().iter().map(|path| PathBuf::from(path.get_ref())).collect(),
        voice: form.voice.map(Spanned::into_inner),
        counting: form.counting.map(Spanned::into_inner),
        variants: form.variants.into_iter().flat_map(Spanned::into_inner).map(Spanned::into_inner).collect(),
        part: form.part.map(Spanned::into_inner),
        choice: choice(&form.sound)?,
        levels: levels(&form.sound, heard.names_tone())?,
        has_tone: form.sound.tone,
        plan,
        steps: steps(&form.tempo)?,
        hard: form.hard.iter().map(Spanned::span).collect(),
        text: text.to_owned(),
    })
}

/// What goes under a name in brackets, and what is easily written for something else.
const PLACES: [(&str, &str); 22] = [
    ("hidden", "it goes under [call]"),
    ("sounds", "it goes under [model], [call] or [response]"),
    ("pickup", "it goes under [response]"),
    ("before", "it goes under [count-in]"),
    ("entry", "it goes under [count-in]"),
    ("at", "it goes under [tempo]"),
    ("step", "it goes under [tempo]"),
    ("slowest", "it goes under [tempo]"),
    ("fastest", "it goes under [tempo]"),
    ("up-after", "it goes under [tempo]"),
    ("down-after", "it goes under [tempo]"),
    ("until-fastest", "it goes under [tempo]"),
    ("with", "it goes under [click]"),
    ("without", "it goes under [click]"),
    ("silent-bars", "it goes under [click]"),
    ("tone", "it goes under [sound]"),
    ("mute", "it goes under [sound]"),
    ("level", "it goes under [sound]"),
    ("pan", "it goes under [sound]"),
    ("holds", "it goes under [sound]"),
    ("rests", "it goes under [sound]"),
    ("bar", "did you mean `bars`, so many at once? A hard bar goes under [[hard]]"),
];

/// What to say of a name that does not belong where it stands, where that can be told.
fn misplaced(message: &str) -> Option<(String, String)> {
    let (name, expected) = message.strip_prefix("unknown field `")?.split_once('`')?;
    if let Some((_, place)) = PLACES.iter().find(|(known, _)| *known == name)
        && expected.contains("`rhythms`")
    {
        return Some((format!("`{name}` does not stand here"), (*place).to_owned()));
    }
    let near = expected.split('`').skip(1).step_by(2).find(|known| is_near(name, known))?;
    Some((format!("`{name}` is nothing that a plan says here"), format!("did you mean `{near}`?")))
}

/// Whether two names differ in one letter that is left out, put in or another.
fn is_near(a: &str, b: &str) -> bool {
    let (short, long) = if a.len() <= b.len() { (a, b) } else { (b, a) };
    let front = short.bytes().zip(long.bytes()).take_while(|(a, b)| a == b).count();
    let back = short.bytes().rev().zip(long.bytes().rev()).take_while(|(a, b)| a == b).count();
    long.len() - short.len() <= 1 && front + back + 1 >= long.len()
}

/// Refuses what would mean nothing in this plan, as the flags of the same names do.
fn idle(form: &DrillForm) -> Result<(), Diagnostic> {
    let is = |given: &Option<Spanned<String>>, word: &str| {
        given.as_ref().is_some_and(|given| given.get_ref() == word)
    };
    let given = |given: &Option<Spanned<String>>, usual: &str| {
        given.as_ref().filter(|given| given.get_ref() != usual).map(Spanned::span)
    };
    let muted =
        |sound: &str| form.sound.mute.iter().flat_map(Spanned::get_ref).any(|muted| muted.get_ref() == sound);
    let sound = &form.sound;
    let attacks_alone = is(&sound.count, "attacks");
    let no_count_in = form.count_in.bars.as_ref().is_some_and(|bars| *bars.get_ref() == 0);
    let counted = given(&sound.count, "everything").or(given(&sound.holds, "as-counted"));
    let counted = counted.or(given(&sound.rests, "as-counted"));
    let aside = given(&sound.holds, "as-counted").or(given(&sound.rests, "as-counted"));
    let breath = form.breath.as_ref().filter(|beats| *beats.get_ref() > 0).map(Spanned::span);
    let nobody = form.players.as_ref().is_none_or(|players| players.get_ref().len() < 2);
    let refused = [
        (
            muted("click"),
            given(&sound.click, "beats"),
            "the click is muted",
            "leave out this, or \"click\" under `mute`",
        ),
        (muted("count"), counted, "the counts are muted", "leave out this, or \"count\" under `mute`"),
        (
            attacks_alone,
            aside,
            "nothing is struck on these counts, and with `count = \"attacks\"` none of them is said",
            "leave it out, or count everything or the beats",
        ),
        (
            no_count_in,
            given(&form.count_in.entry, "numbers"),
            "these words are said on the last beats of the count-in, and there is none",
            "leave it out, or count in at least one bar",
        ),
        (
            form.play_along && nobody,
            breath,
            "a breath stands between a call and its response, and nothing is called where players play along",
            "leave it out; between two rounds is `rest`",
        ),
    ];
    match refused
        .into_iter()
        .find_map(|(is_idle, span, why, help)| Some((span.filter(|_| is_idle)?, why, help)))
    {
        Some((span, why, help)) => {
            Err(wrong(span, format!("nothing would come of it: {why}"), help.to_owned()))
        }
        None => Ok(()),
    }
}

fn wrong(span: Range<usize>, message: String, help: String) -> Diagnostic {
    Diagnostic { severity: Severity::Error, span, message, help }
}

fn outside(span: Range<usize>, given: impl std::fmt::Display, limit: &Limit) -> Diagnostic {
    let help = format!("a {} goes from {} to {}", limit.what, limit.least, limit.most);
    wrong(span, format!("{given} is not a {}", limit.what), help)
}

fn whole(given: &Spanned<i64>, limit: &Limit) -> Result<u32, Diagnostic> {
    let value = *given.get_ref();
    let within = u32::try_from(value).ok().filter(|_| limit.holds(value));
    within.ok_or_else(|| outside(given.span(), value, limit))
}

fn whole_or(given: Option<&Spanned<i64>>, limit: &Limit, usual: u32) -> Result<u32, Diagnostic> {
    given.map_or(Ok(usual), |given| whole(given, limit))
}

/// One of several words, each with what it means.
fn one_of<T: Copy>(
    given: Option<&Spanned<String>>,
    usual: T,
    what: &str,
    words: &[(&str, T)],
) -> Result<T, Diagnostic> {
    let Some(given) = given else { return Ok(usual) };
    words.iter().find(|(word, _)| word == given.get_ref()).map(|(_, meaning)| *meaning).ok_or_else(|| {
        let known = words.iter().map(|(word, _)| format!("\"{word}\"")).collect::<Vec<_>>().join(", ");
        wrong(given.span(), format!("\"{}\" is not {what}", given.get_ref()), format!("write one of {known}"))
    })
}

fn counted(given: Option<&Spanned<String>>, usual: CountInWhen) -> Result<CountInWhen, Diagnostic> {
    let words =
        [("changes", CountInWhen::Changes), ("start", CountInWhen::Start), ("rounds", CountInWhen::Rounds)];
    one_of(given, usual, "what is counted in", &words)
}

fn pickup(given: Option<&Spanned<String>>, usual: PickupBy) -> Result<PickupBy, Diagnostic> {
    let words = [("call", PickupBy::Call), ("players", PickupBy::Players), ("both", PickupBy::Both)];
    one_of(given, usual, "who sounds a pickup", &words)
}

/// The kinds of sound that a section can have.
const KINDS: [(&str, Audible); 4] = [
    ("click", Audible { click: true, ..Audible::NOTHING }),
    ("count", Audible { count: true, ..Audible::NOTHING }),
    ("clap", Audible { clap: true, ..Audible::NOTHING }),
    ("tone", Audible { tone: true, ..Audible::NOTHING }),
];

fn sounds(given: Option<&Spanned<Vec<Spanned<String>>>>, usual: Audible) -> Result<Audible, Diagnostic> {
    let Some(given) = given else { return Ok(usual) };
    let mut heard = Audible::NOTHING;
    for sound in given.get_ref() {
        let more = one_of(Some(sound), heard, "a sound", &KINDS)?;
        heard.click |= more.click;
        heard.count |= more.count;
        heard.clap |= more.clap;
        heard.tone |= more.tone;
    }
    Ok(heard)
}

fn choice(form: &SoundForm) -> Result<Choice, Diagnostic> {
    let usual = Choice::default();
    let aside =
        |given: &Option<Spanned<String>>, usual, what| one_of(given.as_ref(), usual, what, &Aside::NAMED);
    Ok(Choice {
        click: one_of(form.click.as_ref(), usual.click, "a place for the click", &ClickOn::NAMED)?,
        count: one_of(form.count.as_ref(), usual.count, "what is counted aloud", &CountOn::NAMED)?,
        holds: aside(&form.holds, usual.holds, "a way to count holds")?,
        rests: aside(&form.rests, usual.rests, "a way to count rests")?,
        entry: usual.entry,
    })
}

fn levels(form: &SoundForm, names_tone: bool) -> Result<Levels, Diagnostic> {
    let mut levels = Levels::default();
    let has_tone = form.tone || names_tone;
    levels.muted.tone = !has_tone;
    for sound in form.mute.iter().flat_map(Spanned::get_ref) {
        if sound.get_ref() == "tone" {
            let help = "write `tone = false`, or leave it out; a section has one where its `sounds` name it"
                .to_owned();
            return Err(wrong(sound.span(), "a tone is muted where there is none".to_owned(), help));
        }
        let muted = one_of(Some(sound), Audible::NOTHING, "a sound", &KINDS)?;
        levels.muted.click |= muted.click;
        levels.muted.count |= muted.count;
        levels.muted.clap |= muted.clap;
    }
    let EachForm { click, count, clap, tone } = &form.level;
    let of_each = [
        (click, &mut levels.click),
        (count, &mut levels.count),
        (clap, &mut levels.clap),
        (tone, &mut levels.tone),
    ];
    for (given, level) in of_each {
        let Some(given) = given else { continue };
        let factor = sounds::factor(between(given, sounds::LEVEL_DB, "a level in dB")?);
        *level = (*level * factor).min(mixer::limits::GAIN_MOST);
    }
    let EachForm { click, count, clap, tone } = &form.pan;
    let pan = &mut levels.pan;
    let of_each =
        [(click, &mut pan.click), (count, &mut pan.count), (clap, &mut pan.clap), (tone, &mut pan.tone)];
    for (given, place) in of_each {
        let Some(given) = given else { continue };
        *place = between(given, sounds::PAN_HUNDREDTHS, "a place between left and right")? / 100.0;
    }
    let silent = |given: &Option<Spanned<f64>>| given.as_ref().filter(|_| !has_tone).map(Spanned::span);
    if let Some(span) = silent(&form.level.tone).or_else(|| silent(&form.pan.tone)) {
        return Err(wrong(span, "there is no tone".to_owned(), "write `tone = true` too".to_owned()));
    }
    Ok(levels)
}

fn between(given: &Spanned<f64>, (least, most): (f32, f32), what: &str) -> Result<f32, Diagnostic> {
    let value = *given.get_ref();
    #[expect(clippy::cast_possible_truncation, reason = "a few hundred at most")]
    if (f64::from(least)..=f64::from(most)).contains(&value) {
        return Ok(value as f32);
    }
    Err(wrong(given.span(), format!("{value} is not {what}"), format!("it goes from {least} to {most}")))
}

fn silent(form: &ClickForm) -> Result<SilentClick, Diagnostic> {
    let by_turns = match (&form.with, &form.without) {
        (None, None) => None,
        (Some(with), Some(without)) => Some((whole(with, &SILENT_BARS)?, whole(without, &SILENT_BARS)?)),
        (Some(one), None) | (None, Some(one)) => {
            let help = "write `with` and `without`, so many bars each, or neither".to_owned();
            return Err(wrong(
                one.span(),
                "bars with the click go by turns with bars without it".to_owned(),
                help,
            ));
        }
    };
    let bars = form.silent_bars.iter().map(|bar| whole(bar, &BAR)).collect::<Result<_, _>>()?;
    Ok(SilentClick { by_turns, bars })
}

fn turns(
    players: Option<&Spanned<Vec<Spanned<String>>>>,
    given: Option<&Spanned<String>>,
) -> Result<Turns, Diagnostic> {
    let words = [("by-round", TurnOrder::ByRound), ("within-round", TurnOrder::WithinRound)];
    let order = one_of(given, TurnOrder::default(), "a way to take turns", &words)?;
    let Some(players) = players else {
        return match given {
            None => Ok(Turns { players: Vec::new(), order }),
            Some(given) => {
                let help = "add `players = [\"K1\", \"K2\"]`, or take `turns` out".to_owned();
                Err(wrong(given.span(), "nobody is there to take turns".to_owned(), help))
            }
        };
    };
    let count = players.get_ref().len();
    if !PLAYERS.holds(i64::try_from(count).unwrap_or(i64::MAX)) {
        return Err(outside(players.span(), count, &PLAYERS));
    }
    let mut known: Vec<String> = Vec::new();
    for player in players.get_ref() {
        let name = player.get_ref();
        if name.trim().is_empty() || name.chars().any(char::is_control) {
            let help = "write a code, such as \"K1\"".to_owned();
            return Err(wrong(player.span(), format!("{name:?} is no player"), help));
        }
        if known.contains(name) {
            let help = "name everybody once".to_owned();
            return Err(wrong(player.span(), format!("two players are called \"{name}\""), help));
        }
        known.push(name.clone());
    }
    Ok(Turns { players: known, order })
}

fn hard_bar(given: &Spanned<HardForm>, rhythms: usize) -> Result<HardBar, Diagnostic> {
    let form = given.get_ref();
    let rhythm = whole_or(form.rhythm.as_ref(), &RHYTHMS, 1)?;
    let rhythm = usize::try_from(rhythm).unwrap_or(usize::MAX);
    if rhythm > rhythms {
        let span = form.rhythm.as_ref().map_or(given.span(), Spanned::span);
        let help = "which of the list under `rhythms`, from 1".to_owned();
        return Err(wrong(span, format!("there is no rhythm {rhythm}: the plan has {rhythms}"), help));
    }
    let (bar, times) = (whole(&form.bar, &BAR)?, whole_or(form.times.as_ref(), &HARD_TIMES, 1)?);
    Ok(HardBar { rhythm: rhythm - 1, bar, times })
}

fn steps(form: &TempoForm) -> Result<StepsAsked, Diagnostic> {
    let tempo = |given: &Option<Spanned<f64>>| given.as_ref().map(bpm).transpose();
    let rounds =
        |given: &Option<Spanned<i64>>| given.as_ref().map(|given| whole(given, &STEP_AFTER)).transpose();
    let asked = StepsAsked {
        at: tempo(&form.at)?,
        step: form.step.as_ref().map(step).transpose()?,
        slowest: tempo(&form.slowest)?,
        fastest: tempo(&form.fastest)?,
        up_after: rounds(&form.up_after)?,
        down_after: rounds(&form.down_after)?,
        until_fastest: form.until_fastest,
    };
    let at = |given: &Option<Spanned<f64>>| given.as_ref().map(|given| (*given.get_ref(), given.span()));
    if let (Some((first, _)), Some((slowest, span))) = (at(&form.at), at(&form.slowest))
        && slowest > first
    {
        let help = "the slowest tempo is at most the first".to_owned();
        return Err(wrong(span, format!("{slowest} is faster than {first}, where it begins"), help));
    }
    if let (Some((first, _)), Some((fastest, span))) = (at(&form.at), at(&form.fastest))
        && fastest < first
    {
        let help = "the fastest tempo is at least the first".to_owned();
        return Err(wrong(span, format!("{fastest} is slower than {first}, where it begins"), help));
    }
    Ok(asked)
}

fn bpm(given: &Spanned<f64>) -> Result<Ratio<u32>, Diagnostic> {
    let outside = || outside(given.span(), given.get_ref(), &TEMPO_BPM);
    let bpm = thousandths(*given.get_ref()).ok_or_else(outside)?;
    Tempo::new(Span::QUARTER, bpm).map(|_| bpm).map_err(|_| outside())
}

fn step(given: &Spanned<f64>) -> Result<Ratio<u32>, Diagnostic> {
    let most = Ratio::from_integer(u32::try_from(TEMPO_BPM.most).unwrap_or(u32::MAX));
    thousandths(*given.get_ref()).filter(|step| *step.numer() > 0 && *step <= most).ok_or_else(|| {
        let help =
            "a step is more than 0 beats a minute, with three decimals at most, such as 4 or 2.5".to_owned();
        wrong(given.span(), format!("{} is not a step", given.get_ref()), help)
    })
}

/// A number with three decimals at most.
fn thousandths(value: f64) -> Option<Ratio<u32>> {
    let scaled = (value * 1_000.0).round();
    let is_told = (0.0..=1e6).contains(&scaled) && (scaled / 1_000.0 - value).abs() < 1e-9;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to a million")]
    is_told.then(|| Ratio::new(scaled as u32, 1_000))
}

#[cfg(test)]
mod tests;
