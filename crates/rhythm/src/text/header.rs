use std::ops::Range;

use timebase::Tempo;

use super::Diagnostic;
use crate::Meter;
use crate::limits::TITLE_CHARS;

/// What stands above the first bar.
#[derive(Debug)]
pub(super) struct Header {
    pub(super) title: Option<String>,
    pub(super) meter: Meter,
    pub(super) tempo: Option<Tempo>,
    /// Whether its meter could be read; bars cannot be without it.
    pub(super) meter_is_known: bool,
    /// Where the body begins.
    pub(super) end: usize,
}

const KEYS: &str =
    "a head has the lines `title:`, `meter:` and `tempo:`, each at most once and before the first bar";

/// Reads the head of `text`: lines of the form `key: value` up to the first that is none.
pub(super) fn read(text: &str, diagnostics: &mut Vec<Diagnostic>) -> Header {
    let mut header =
        Header { title: None, meter: Meter::COMMON, tempo: None, meter_is_known: true, end: text.len() };
    let mut seen: Vec<String> = Vec::new();
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        let span = start..start + line.len();
        let bare = line.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}');
        if !bare.is_empty() && !bare.starts_with('#') {
            let labelled = key_and_value(line, start)
                .map(|(key, value)| (text[key.clone()].to_ascii_lowercase(), key, value))
                // These belong to the bars.
                .filter(|(name, ..)| super::read::Label::of(name).is_none());
            let Some((name, key, value)) = labelled.or_else(|| without_colon(text, line, start, diagnostics))
            else {
                header.end = span.start;
                break;
            };
            if seen.contains(&name) {
                let message = format!("`{name}:` stands here a second time");
                diagnostics.push(Diagnostic::error(key, message, KEYS));
            } else {
                header.line(&name, key, &text[value.clone()], value, diagnostics);
                seen.push(name);
            }
        }
        start = span.end;
    }
    header
}

/// A line that would be one of the head but for its colon, which is told: `meter 6/8`.
fn without_colon(
    text: &str,
    line: &str,
    start: usize,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<(String, Range<usize>, Range<usize>)> {
    let trimmed = line.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}');
    let (key, value) = trimmed.split_once(char::is_whitespace)?;
    let name = key.to_ascii_lowercase();
    if !["title", "meter", "tempo"].contains(&name.as_str()) {
        return None;
    }
    let begins = start + line.find(key)?;
    let ends = begins + trimmed.len();
    let key = begins..begins + key.len();
    let value = value.trim_start();
    let message = format!("the colon behind `{}` is missing", &text[key.clone()]);
    diagnostics.push(Diagnostic::error(key.clone(), message, format!("write `{name}: {value}`")));
    Some((name, key, ends - value.len()..ends))
}

/// The spans of the key and the trimmed value if `line` has the form of a line of the head.
pub(super) fn key_and_value(line: &str, start: usize) -> Option<(Range<usize>, Range<usize>)> {
    let (before, after) = line.split_once(':')?;
    let key = before.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}');
    if key.is_empty() || !key.bytes().all(|b| b.is_ascii_alphabetic()) {
        return None;
    }
    let key_start = start + before.find(key)?;
    let value = after.trim();
    let value_start = start + before.len() + 1 + (after.len() - after.trim_start().len());
    let value_end = (value_start + value.len()).min(start + line.len());
    Some((key_start..key_start + key.len(), value_start.min(value_end)..value_end))
}

impl Header {
    fn line(
        &mut self,
        name: &str,
        key: Range<usize>,
        value: &str,
        at: Range<usize>,
        diagnostics: &mut Vec<Diagnostic>,
    ) {
        match name {
            "title" => {
                let characters = i64::try_from(value.chars().count()).unwrap_or(i64::MAX);
                if TITLE_CHARS.holds(characters) {
                    self.title = (!value.is_empty()).then(|| value.to_owned());
                } else {
                    let message = format!("the title has {characters} characters");
                    let help = format!("a title has at most {}", TITLE_CHARS.most);
                    diagnostics.push(Diagnostic::error(at, message, help));
                }
            }
            "meter" => match meter(without_comment(value)) {
                Ok(meter) => self.meter = meter,
                Err((message, help)) => {
                    self.meter_is_known = false;
                    diagnostics.push(Diagnostic::error(at, message, help));
                }
            },
            "tempo" => match tempo(without_comment(value)) {
                Ok(tempo) => self.tempo = Some(tempo),
                Err((message, help)) => diagnostics.push(Diagnostic::error(at, message, help)),
            },
            _ => {
                let message = format!("`{name}:` is not a line of the head");
                diagnostics.push(Diagnostic::error(key, message, KEYS));
            }
        }
    }
}

/// What stands before a comment, without the blanks around it.
pub(super) fn without_comment(text: &str) -> &str {
    text[..text.find('#').unwrap_or(text.len())].trim_end()
}

/// Reads a meter: `4/4`, `6/8 in 6`, `7/8 2+2+3 by group`. An error is a message and a help.
pub(super) fn meter(text: &str) -> Result<Meter, (String, String)> {
    const HELP: &str = "write the two numbers with a slash, then groups of units or the felt beat if it is not the usual one: \
                        `4/4`, `6/8 in 6`, `2/2 in 4`, `7/8 2+2+3`, `7/8 2+2+3 by group`";
    let words: Vec<&str> = text.split_whitespace().collect();
    let wrong = || (format!("`{text}` is not a meter"), HELP.to_owned());
    let number = |digits: &str| digits.parse::<u32>().map_err(|_| wrong());
    let named = |error: crate::Error| (error.to_string(), HELP.to_owned());
    let [signature, rest @ ..] = words.as_slice() else { return Err(wrong()) };
    let (beats, unit) = signature.split_once('/').ok_or_else(wrong)?;
    let mut meter = Meter::new(number(beats)?, number(unit)?).map_err(named)?;
    let mut rest = rest;
    if let [groups, after @ ..] = rest
        && groups.contains('+')
    {
        let groups = groups.split('+').map(number).collect::<Result<Vec<_>, _>>()?;
        meter = meter.grouped(&groups).map_err(named)?;
        rest = after;
    }
    if let ["in", felt, after @ ..] = rest {
        meter = meter.felt_in(number(felt)?).map_err(named)?;
        rest = after;
    }
    match rest {
        [] => Ok(meter),
        ["by", "group"] => meter.counted_by_group().map_err(named),
        _ => Err(wrong()),
    }
}

/// Reads a tempo: `quarter = 88`, `dotted quarter = 60`. An error is a message and a help.
pub(super) fn tempo(text: &str) -> Result<Tempo, (String, String)> {
    let help = || {
        let names = Tempo::beat_names().collect::<Vec<_>>().join(", ");
        format!("write the beat, an equals sign and beats a minute: `quarter = 88`; the beats are {names}")
    };
    let Some((beat, bpm)) = text.split_once('=') else {
        return Err((format!("`{text}` is not a tempo"), help()));
    };
    let beat = Tempo::beat_named(beat).ok_or_else(|| (format!("`{}` is not a beat", beat.trim()), help()))?;
    let bpm = Tempo::parse_bpm(bpm.trim()).map_err(|error| (error.to_string(), help()))?;
    Tempo::new(beat, bpm).map_err(|error| (error.to_string(), help()))
}
