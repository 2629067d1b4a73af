//! A teacher's rubric, read from its file.

mod form;

use std::collections::BTreeMap;
use std::io::Read as _;
use std::ops::Range;
use std::path::Path;

use judge::limits::{
    DRIFT_BOUND, LEVEL_CHARS, LEVEL_FROM, LEVELS, POINTS, SPREAD_BOUND, TOLERANCE_MS, WEIGHT,
};
use judge::{Level, PulseWeights, RhythmWeights, Rubric, Scale};
use rhythm::text::{Diagnostic, Severity};
use timebase::Seconds;
use timebase::limits::Limit;
use toml::Spanned;

use crate::failure::Failure;
use crate::{output, rhythm_file};
use form::{LevelForm, PlayerForm, PulseForm, RhythmForm, RubricForm};

/// The rubric that serves where no other is given, with every line explained.
pub(crate) const DEFAULT: &str = include_str!("rubric_file/default.toml");

/// Bytes of a rubric's file.
const RUBRIC_BYTES: Limit = Limit { what: "size of a rubric in bytes", least: 0, most: 1 << 20 };

/// The keys of MIDI.
const MIDI_NOTE: Limit = Limit { what: "MIDI note", least: 0, most: 127 };

/// Where to look for what may stand in a rubric.
const SEE: &str = "`countline rubric` prints a whole one, with every line explained";

/// A rubric and what it says of tolerances and players.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct RubricFile {
    pub(crate) rubric: Rubric,
    tolerance: Option<Seconds>,
    players: BTreeMap<String, PlayerRubric>,
}

/// What a rubric says of one player.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct PlayerRubric {
    tolerance: Option<Seconds>,
    pub(crate) left: Vec<u8>,
    pub(crate) right: Vec<u8>,
}

impl RubricFile {
    /// How far off this player may be, if the rubric says so.
    pub(crate) fn tolerance(&self, player: &str) -> Option<Seconds> {
        self.players.get(player).and_then(|own| own.tolerance).or(self.tolerance)
    }

    /// What is said of this player.
    pub(crate) fn player(&self, player: &str) -> Option<&PlayerRubric> {
        self.players.get(player)
    }

    /// The players it speaks of.
    pub(crate) fn players(&self) -> impl Iterator<Item = &str> {
        self.players.keys().map(String::as_str)
    }
}

/// Reads the rubric at `path`. What is wrong in it is printed with its place.
pub(crate) fn read(path: &Path) -> Result<RubricFile, Failure> {
    let most = u64::try_from(RUBRIC_BYTES.most).unwrap_or(u64::MAX);
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(most + 1).read_to_end(&mut bytes))
        .map_err(|error| Failure::file("read", path, &error))?;
    if !RUBRIC_BYTES.holds(i64::try_from(bytes.len()).unwrap_or(i64::MAX)) {
        return Err(Failure::Job(format!(
            "{} has more than {} bytes: is this the right file? {SEE}",
            path.display(),
            RUBRIC_BYTES.most
        )));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        Failure::Job(format!(
            "{} is not UTF-8 text: byte {} belongs to no character. A rubric is a plain text file; save it as UTF-8",
            path.display(),
            error.utf8_error().valid_up_to()
        ))
    })?;
    parse(&text).map_err(|diagnostic| {
        let name = path.display().to_string();
        output::note(&rhythm_file::rendered(&diagnostic, &text, &name, output::is_watched()));
        Failure::Told
    })
}

/// The rubric in this text, or what is wrong with it.
pub(crate) fn parse(text: &str) -> Result<RubricFile, Diagnostic> {
    let form: RubricForm = toml::from_str(text).map_err(|error| {
        let message = crate::toml_words::plainly(error.message());
        wrong(error.span().unwrap_or(0..0), message, SEE.to_owned())
    })?;
    let mut players = BTreeMap::new();
    for (name, player) in form.players {
        players.insert(name, player_rubric(&player)?);
    }
    let rubric = Rubric {
        rhythm: rhythm_weights(&form.rhythm)?,
        pulse: pulse_weights(&form.pulse)?,
        scale: scale(form.result.as_ref(), form.out_of.as_ref(), form.levels.as_ref())?,
    };
    Ok(RubricFile { rubric, tolerance: tolerance(form.tolerance_ms.as_ref())?, players })
}

fn wrong(span: Range<usize>, message: String, help: String) -> Diagnostic {
    Diagnostic { severity: Severity::Error, span, message, help }
}

fn outside(span: Range<usize>, given: impl std::fmt::Display, limit: &Limit) -> Diagnostic {
    let help = format!("a {} goes from {} to {}", limit.what, limit.least, limit.most);
    wrong(span, format!("{given} is not a {}", limit.what), help)
}

/// A number that lies within its limit, both ends included; what is no number lies in none.
fn number(given: &Spanned<f64>, limit: &Limit) -> Result<f64, Diagnostic> {
    let value = *given.get_ref();
    let (least, most) = (limit.least as f64, limit.most as f64);
    if (least..=most).contains(&value) { Ok(value) } else { Err(outside(given.span(), value, limit)) }
}

fn number_or(given: Option<&Spanned<f64>>, limit: &Limit, default: f64) -> Result<f64, Diagnostic> {
    given.map_or(Ok(default), |given| number(given, limit))
}

fn rhythm_weights(form: &RhythmForm) -> Result<RhythmWeights, Diagnostic> {
    let weight = |given: &Option<Spanned<f64>>, default: f64| number_or(given.as_ref(), &WEIGHT, default);
    let usual = RhythmWeights::default();
    Ok(RhythmWeights {
        missed: weight(&form.missed, usual.missed)?,
        extra: weight(&form.extra, usual.extra)?,
        rest_struck: weight(&form.rest_struck, usual.rest_struck)?,
        hold_struck: weight(&form.hold_struck, usual.hold_struck)?,
        misread: weight(&form.misread, usual.misread)?,
        early_entry: weight(&form.early_entry, usual.early_entry)?,
        moved: weight(&form.moved, usual.moved)?,
        wrong_hand: weight(&form.wrong_hand, usual.wrong_hand)?,
        accent: weight(&form.accent, usual.accent)?,
        length: weight(&form.length, usual.length)?,
    })
}

fn pulse_weights(form: &PulseForm) -> Result<PulseWeights, Diagnostic> {
    let weight = |given: &Option<Spanned<f64>>, default: f64| number_or(given.as_ref(), &WEIGHT, default);
    let usual = PulseWeights::default();
    Ok(PulseWeights {
        on_time: weight(&form.on_time, usual.on_time)?,
        spread: weight(&form.spread, usual.spread)?,
        drift: weight(&form.drift, usual.drift)?,
        click: weight(&form.click, usual.click)?,
        spread_range: bounds(form.spread_bounds.as_ref(), &SPREAD_BOUND, usual.spread_range)?,
        drift_range: bounds(form.drift_bounds.as_ref(), &DRIFT_BOUND, usual.drift_range)?,
    })
}

fn bounds(
    given: Option<&Spanned<Vec<Spanned<f64>>>>,
    limit: &Limit,
    usual: (f64, f64),
) -> Result<(f64, f64), Diagnostic> {
    let Some(given) = given else { return Ok(usual) };
    let help = "write two numbers, the smaller first: [0.5, 1.5]".to_owned();
    let [full, nothing] = given.get_ref().as_slice() else {
        let message = format!("{} numbers are no two bounds", given.get_ref().len());
        return Err(wrong(given.span(), message, help));
    };
    let (full, nothing) = (number(full, limit)?, number(nothing, limit)?);
    if full > nothing {
        let message = format!("the first bound, {full}, lies behind the second, {nothing}");
        return Err(wrong(given.span(), message, help));
    }
    Ok((full, nothing))
}

fn tolerance(given: Option<&Spanned<f64>>) -> Result<Option<Seconds>, Diagnostic> {
    given.map(|given| number(given, &TOLERANCE_MS).map(Seconds::from_millis_f64)).transpose()
}

fn scale(
    result: Option<&Spanned<String>>,
    out_of: Option<&Spanned<i64>>,
    levels: Option<&Spanned<Vec<LevelForm>>>,
) -> Result<Scale, Diagnostic> {
    let points = match out_of {
        None => 10,
        Some(given) => u32::try_from(*given.get_ref())
            .ok()
            .filter(|points| POINTS.holds(i64::from(*points)))
            .ok_or_else(|| outside(given.span(), given.get_ref(), &POINTS))?,
    };
    let levels = match levels {
        None => match Rubric::default().scale {
            Scale::Levels(levels) => levels,
            Scale::Points(_) => Vec::new(),
        },
        Some(levels) => read_levels(levels)?,
    };
    match result.map(|result| (result.get_ref().as_str(), result.span())) {
        None | Some(("levels", _)) => Ok(Scale::Levels(levels)),
        Some(("points", _)) => Ok(Scale::Points(points)),
        Some((given, span)) => Err(wrong(
            span,
            format!("\"{given}\" is no kind of result"),
            "write \"levels\" or \"points\"".to_owned(),
        )),
    }
}

fn read_levels(given: &Spanned<Vec<LevelForm>>) -> Result<Vec<Level>, Diagnostic> {
    let count = given.get_ref().len();
    if !LEVELS.holds(i64::try_from(count).unwrap_or(i64::MAX)) {
        return Err(outside(given.span(), count, &LEVELS));
    }
    let mut levels: Vec<Level> = Vec::new();
    for form in given.get_ref() {
        let name = form.name.get_ref();
        let chars = i64::try_from(name.trim().chars().count()).unwrap_or(i64::MAX);
        if !LEVEL_CHARS.holds(chars) || name.chars().any(char::is_control) {
            let help = format!("write 1 to {} characters in one line", LEVEL_CHARS.most);
            return Err(wrong(form.name.span(), format!("{name:?} is no name of a level"), help));
        }
        if levels.iter().any(|level| level.name == *name) {
            let help = "give each a name of its own".to_owned();
            return Err(wrong(form.name.span(), format!("two levels are called \"{name}\""), help));
        }
        let from = number(&form.from, &LEVEL_FROM)?;
        if let Some(before) = levels.last().filter(|before| before.from <= from) {
            let message =
                format!("\"{name}\" begins at {from}, and \"{}\" before it at {}", before.name, before.from);
            let help = "write the levels from the highest down".to_owned();
            return Err(wrong(form.from.span(), message, help));
        }
        levels.push(Level { name: name.clone(), from });
    }
    match (levels.last(), given.get_ref().last()) {
        (Some(last), Some(form)) if last.from > 0.0 => Err(wrong(
            form.from.span(),
            format!("the last level, \"{}\", begins at {}", last.name, last.from),
            "let the last level begin at 0, so that every take has one".to_owned(),
        )),
        _ => Ok(levels),
    }
}

fn player_rubric(form: &PlayerForm) -> Result<PlayerRubric, Diagnostic> {
    let own = PlayerRubric {
        tolerance: tolerance(form.tolerance_ms.as_ref())?,
        left: notes(form.left.as_deref().unwrap_or_default())?,
        right: notes(form.right.as_deref().unwrap_or_default())?,
    };
    for given in form.right.iter().flatten() {
        if own.left.iter().any(|note| i64::from(*note) == *given.get_ref()) {
            return Err(wrong(
                given.span(),
                format!("the MIDI note {} is both the left hand's and the right's", given.get_ref()),
                "give each note to one hand".to_owned(),
            ));
        }
    }
    Ok(own)
}

fn notes(given: &[Spanned<i64>]) -> Result<Vec<u8>, Diagnostic> {
    let note = |given: &Spanned<i64>| {
        let note = u8::try_from(*given.get_ref()).ok().filter(|note| MIDI_NOTE.holds(i64::from(*note)));
        note.ok_or_else(|| outside(given.span(), given.get_ref(), &MIDI_NOTE))
    };
    given.iter().map(note).collect()
}

#[cfg(test)]
mod tests;
