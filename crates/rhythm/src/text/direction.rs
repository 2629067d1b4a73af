//! What stands in brackets: `[3/4]`, `[quarter = 120]`, `[1.]`, `[D.S. al fine]`.

use timebase::{Span, Tempo};

use super::header;
use crate::limits::{GRADUAL_BARS, TIMES_THROUGH};
use crate::{Meter, TempoMark};

/// What one pair of brackets says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Direction {
    Meter(Meter),
    Tempo(TempoMark),
    /// An ending, and the passes that play it.
    Ending(Vec<u32>),
    /// The bar begins so late: `[from 1/2]`.
    From(Span),
    /// The bar lasts only so long: `[lasts 1/2]`.
    Lasts(Span),
    Segno,
    Coda,
    Fine,
    ToCoda,
    /// A jump, from the sign or else from the beginning, and to where it is played.
    Jump {
        from_sign: bool,
        until: Option<JumpUntil>,
    },
}

/// What stands behind `al`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum JumpUntil {
    Fine,
    Coda,
}

impl Direction {
    /// Reads what stands between the brackets. An error is a message and a help.
    pub(super) fn read(text: &str) -> Result<Self, (String, String)> {
        let text = text.trim();
        let words = text.to_ascii_lowercase().replace('.', ". ");
        let words: Vec<&str> = words.split_whitespace().collect();
        let bare: Vec<&str> = words.iter().map(|word| word.trim_end_matches('.')).collect();
        match bare.as_slice() {
            ["segno" | "sign"] => return Ok(Self::Segno),
            ["coda"] => return Ok(Self::Coda),
            ["fine"] => return Ok(Self::Fine),
            ["to", "coda"] => return Ok(Self::ToCoda),
            ["from", place] => return part_of_a_bar(place).map(Self::From),
            ["lasts", length] => return part_of_a_bar(length).map(Self::Lasts),
            _ => {}
        }
        if let Some(jump) = jump(&bare) {
            return Ok(jump);
        }
        if text.contains('=') {
            return read_tempo_mark(text).map(Self::Tempo);
        }
        if !words.is_empty() && words.iter().all(|word| word.ends_with('.')) && bare[0].parse::<u32>().is_ok()
        {
            return passes(&bare, text).map(Self::Ending);
        }
        if text.contains('/') {
            return header::meter(text).map(Self::Meter);
        }
        Err((format!("`[{text}]` is no direction"), HELP.to_owned()))
    }
}

const HELP: &str = "in brackets stand a meter `[3/4]`, a tempo `[quarter = 120]`, `[quarter = 120 over 4 bars]` or `[quarter = dotted quarter]`, an ending \
                    `[1.]`, `[segno]`, `[coda]`, `[from 1/2]` or `[lasts 1/2]` at the beginning of a bar, and `[fine]`, \
                    `[to coda]`, `[D.C.]` or `[D.S. al fine]` at its end";

fn jump(words: &[&str]) -> Option<Direction> {
    let (from_sign, rest) = match words {
        ["d", "c", rest @ ..] | ["dc", rest @ ..] | ["da", "capo", rest @ ..] => (false, rest),
        ["d", "s", rest @ ..] | ["ds", rest @ ..] | ["dal", "segno", rest @ ..] => (true, rest),
        _ => return None,
    };
    let until = match rest {
        [] => None,
        ["al", "fine"] => Some(JumpUntil::Fine),
        ["al", "coda"] => Some(JumpUntil::Coda),
        _ => return None,
    };
    Some(Direction::Jump { from_sign, until })
}

/// A tempo in these words, if they are one.
pub(crate) fn tempo_mark(text: &str) -> Option<TempoMark> {
    read_tempo_mark(text).ok()
}

/// `quarter = 120`, gradually, `quarter = 120 over 4 bars`, or what stays: `quarter = dotted quarter`.
fn read_tempo_mark(text: &str) -> Result<TempoMark, (String, String)> {
    if let Some((before, after)) = text.split_once('=')
        && let (Some(before), Some(after)) = (Tempo::beat_named(before), Tempo::beat_named(after))
    {
        return Ok(TempoMark::Equal { before, after });
    }
    match gradual(text) {
        Some((reached, bars)) => {
            let many = bars.parse::<u32>().ok().filter(|many| GRADUAL_BARS.holds(i64::from(*many)));
            let many = many.ok_or_else(|| {
                let help = format!(
                    "a tempo is reached over {} to {} bars: `[quarter = 120 over 4 bars]`",
                    GRADUAL_BARS.least, GRADUAL_BARS.most
                );
                (format!("`{bars}` is not a {}", GRADUAL_BARS.what), help)
            })?;
            Ok(TempoMark::Gradual { tempo: header::tempo(reached)?, bars: many })
        }
        None => header::tempo(text).map(TempoMark::Beats),
    }
}

/// The tempo and the number of bars of `quarter = 120 over 4 bars`, as they are written.
fn gradual(text: &str) -> Option<(&str, &str)> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let [.., over, many, bars] = words.as_slice() else { return None };
    let is_gradual = over.eq_ignore_ascii_case("over")
        && (bars.eq_ignore_ascii_case("bars") || bars.eq_ignore_ascii_case("bar"));
    let at = text.to_ascii_lowercase().rfind("over").filter(|_| is_gradual)?;
    Some((text[..at].trim_end(), many))
}

fn passes(words: &[&str], text: &str) -> Result<Vec<u32>, (String, String)> {
    let help = || {
        format!(
            "an ending names the times through that play it, each with its full stop and rising, up to {}: `[1.]`, `[1. 2.]`, `[3.]`",
            TIMES_THROUGH.most
        )
    };
    let wrong = || (format!("`[{text}]` is not an ending"), help());
    let passes: Vec<u32> =
        words.iter().map(|word| word.parse().map_err(|_| wrong())).collect::<Result<_, _>>()?;
    let rising = passes.windows(2).all(|pair| pair[0] < pair[1]);
    let allowed = passes.iter().all(|&pass| pass >= 1 && i64::from(pass) <= TIMES_THROUGH.most);
    if rising && allowed { Ok(passes) } else { Err(wrong()) }
}

fn part_of_a_bar(text: &str) -> Result<Span, (String, String)> {
    let wrong = || {
        let help = "write it as a fraction of a whole note: `[lasts 1/2]` is half a bar of 4/4, and `[from 1/2]` its second half";
        (format!("`{text}` is not a length"), help.to_owned())
    };
    let (upper, lower) = text.split_once('/').unwrap_or((text, "1"));
    let number = |digits: &str| digits.parse::<i64>().ok().filter(|n| (1..=4_096).contains(n));
    let (upper, lower) = (number(upper).ok_or_else(wrong)?, number(lower).ok_or_else(wrong)?);
    Span::checked_new(upper, lower).ok_or_else(wrong)
}
