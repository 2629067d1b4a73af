//! Words that name a place in the beat.

use rhythm::Meter;
use rhythm::text::Diagnostic;

use super::{Mark, wrong};
use crate::answers::{Written, plain};
use crate::beats::Beat;
use crate::table::{Kind, Places, Row};

/// A beat's own word, if it is written, and the words behind it up to the next beat.
struct Group<'a> {
    beat: Option<&'a Written>,
    parts: Vec<&'a Written>,
}

/// The places of the words of a bar.
pub(super) fn read(
    words: &[&Written],
    beats: &[Beat],
    numbers: bool,
    places: &Places,
    meter: Meter,
    may_begin_late: bool,
) -> Result<Vec<Mark>, Diagnostic> {
    let is_beat = |word: &Written| if numbers { word.number.is_some() } else { is_first(places, &word.word) };
    let mut groups: Vec<Group<'_>> = Vec::new();
    for word in words {
        if word.word.is_empty() {
            let help =
                "write the word of the count: in parentheses for silence, behind `_` for a hold".to_owned();
            return Err(wrong(word.span.clone(), "this names no place in the bar".to_owned(), help));
        }
        match groups.last_mut() {
            _ if is_beat(word) => groups.push(Group { beat: Some(word), parts: Vec::new() }),
            Some(group) => group.parts.push(word),
            None => groups.push(Group { beat: None, parts: vec![word] }),
        }
    }
    let mut marks = Vec::new();
    let mut next = 0;
    for (index, group) in groups.iter().enumerate() {
        let place = match group.beat {
            Some(word) if numbers => {
                let found = (next..beats.len()).find(|&beat| beats[beat].number.as_str() == word.word);
                found.ok_or_else(|| no_such_number(word, beats, meter))?
            }
            // Beats without a number follow one another; a pickup's end with the bar.
            _ => {
                let late = if may_begin_late { beats.len().saturating_sub(groups.len()) } else { 0 };
                if numbers && may_begin_late { beats.len() - 1 } else { late + index }
            }
        };
        let Some(beat) = beats.get(place) else {
            let first = group.beat.or(group.parts.first().copied()).map_or(0..0, |word| word.span.clone());
            let message = format!("this is a beat too many: a bar of {meter} has {}", beats.len());
            return Err(wrong(first, message, "end the bar before it with a bar line `|`".to_owned()));
        };
        next = place + 1;
        if let Some(word) = group.beat {
            marks.push(Mark { at: beat.at, deed: word.deed, span: word.span.clone() });
        } else if !may_begin_late {
            let word = group.parts[0];
            let message = format!("`{}` stands before any beat", word.word);
            let help =
                "write its beat first: struck, in parentheses for silence, or held with `_`".to_owned();
            return Err(wrong(word.span.clone(), message, help));
        }
        marks.extend(parts(group, beat, places)?);
    }
    if !numbers && next < beats.len() {
        let last = words[words.len() - 1].span.clone();
        let many = if groups.len() == 1 { "1 beat".to_owned() } else { format!("{} beats", groups.len()) };
        let message = format!("this bar has {many}, but {meter} has {}", beats.len());
        let help =
            "write every beat, also those that are held (behind `_`) or silent (in parentheses)".to_owned();
        return Err(wrong(last, message, help));
    }
    Ok(marks)
}

/// Whether a word is said on beats.
fn is_first(places: &Places, word: &str) -> bool {
    let number = crate::Word::number(0);
    [Kind::Simple, Kind::Compound, Kind::Two, Kind::Three]
        .into_iter()
        .flat_map(|kind| places.rows(kind).iter())
        .any(|row| plain(row.beat(&number).as_str()) == word)
}

fn no_such_number(word: &Written, beats: &[Beat], meter: Meter) -> Diagnostic {
    let said = &word.word;
    if beats.iter().any(|beat| beat.number.as_str() == said) {
        let message =
            format!("`{said}` stands here, but the numbers rise through a bar and none stands twice");
        let help = "put the counts in order, or end the bar before it with a bar line `|`".to_owned();
        return wrong(word.span.clone(), message, help);
    }
    let last = beats.last().map_or("1", |beat| beat.number.as_str());
    let help = format!("its counts go from 1 to {last}; a bar line `|` ends the bar");
    wrong(word.span.clone(), format!("there is no count {said} in {meter}"), help)
}

/// The places of the words behind a beat: those of the first row of words that has them all in this order.
fn parts(group: &Group<'_>, beat: &Beat, places: &Places) -> Result<Vec<Mark>, Diagnostic> {
    let rows = places.rows(beat.kind);
    if let Some(found) = rows.iter().find_map(|row| in_row(&group.parts, row)) {
        let mark = |(word, (numerator, denominator)): (&&Written, (i64, i64))| Mark {
            at: beat.place(numerator, denominator),
            deed: word.deed,
            span: word.span.clone(),
        };
        return Ok(group.parts.iter().zip(found).map(mark).collect());
    }
    // The first word with which those before it do not stand in one row.
    let fits = |many: usize| rows.iter().any(|row| in_row(&group.parts[..many], row).is_some());
    let many = (1..=group.parts.len()).find(|&many| !fits(many)).unwrap_or(group.parts.len());
    let word = group.parts[many - 1];
    let message = if many > 1 {
        format!("`{}` does not stand behind `{}` in one beat", word.word, group.parts[many - 2].word)
    } else {
        format!("`{}` is no part of this beat", word.word)
    };
    let listed: Vec<String> = rows.iter().map(|row| listed(row, beat)).collect();
    Err(wrong(word.span.clone(), message, format!("such a beat is counted {}", listed.join(", or "))))
}

/// The parts of the beat that `words` name in `row`, each the next one that has the word.
fn in_row(words: &[&Written], row: &Row) -> Option<Vec<(i64, i64)>> {
    let mut last = 0;
    let next = |word: &&Written| {
        let named =
            |part: &i64| row.word(*part, row.parts).is_some_and(|known| plain(known.as_str()) == word.word);
        last = (last + 1..row.parts).find(named)?;
        Some((last, row.parts))
    };
    words.iter().map(next).collect()
}

fn listed(row: &Row, beat: &Beat) -> String {
    let parts = (1..row.parts).filter_map(|part| row.word(part, row.parts)).map(crate::Word::as_str);
    let words: Vec<&str> = std::iter::once(row.beat(&beat.number).as_str()).chain(parts).collect();
    format!("`{}`", words.join(" "))
}
