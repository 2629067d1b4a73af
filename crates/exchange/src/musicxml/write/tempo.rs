use rhythm::TempoMark;
use timebase::{Ratio, Span, Tempo};

use super::line;
use super::note::{TYPES, type_name};
use crate::Error;

/// A tempo over the staff, with its speed in quarters for players.
pub(super) fn beats(out: &mut String, tempo: Tempo, bar: u32) -> Result<(), Error> {
    let mut said = String::new();
    beat(&mut said, tempo.beat(), bar)?;
    line(&mut said, format_args!("<per-minute>{}</per-minute>", decimal(tempo.bpm())));
    let beat = tempo.beat().in_units_of(Span::QUARTER);
    let wide = |number: i64| u64::try_from(number).unwrap_or(u64::MAX);
    let quarters = Ratio::new(
        u64::from(*tempo.bpm().numer()) * wide(*beat.numer()),
        u64::from(*tempo.bpm().denom()) * wide(*beat.denom()),
    );
    let rounded = (quarters * 1_000).round() / 1_000;
    let part = |number: &u64| u32::try_from(*number).unwrap_or(u32::MAX);
    let sound = decimal(Ratio::new(part(rounded.numer()), part(rounded.denom())));
    direction(out, &said, &format!("<sound tempo=\"{sound}\"/>\n"));
    Ok(())
}

/// A change of tempo over the staff.
pub(super) fn mark(out: &mut String, mark: TempoMark, bar: u32) -> Result<(), Error> {
    match mark {
        TempoMark::Beats(tempo) => beats(out, tempo, bar),
        TempoMark::Gradual { .. } => {
            // MusicXML has no gradual change: it is said in words, as a player reads it.
            let said = format_args!("<words>{mark}</words>");
            line(
                out,
                format_args!(
                    "<direction placement=\"above\">\n<direction-type>\n{said}\n</direction-type>\n</direction>"
                ),
            );
            Ok(())
        }
        TempoMark::Equal { before, after } => {
            let mut said = String::new();
            beat(&mut said, before, bar)?;
            beat(&mut said, after, bar)?;
            direction(out, &said, "");
            Ok(())
        }
    }
}

fn direction(out: &mut String, metronome: &str, sound: &str) {
    line(
        out,
        format_args!(
            "<direction placement=\"above\">\n<direction-type>\n<metronome>\n{metronome}</metronome>\n</direction-type>\n{sound}</direction>"
        ),
    );
}

/// A note value with dots, or several tied: the longest first.
fn beat(out: &mut String, beat: Span, bar: u32) -> Result<(), Error> {
    let mut left = beat;
    let mut first = true;
    while left.is_positive() {
        let fits = TYPES.iter().map(|(span, _)| *span).find(|span| *span <= left);
        let Some(value) = fits else {
            let what = format!("a beat of {beat} of a whole note, for which there is no note");
            return Err(Error::Unwritable { bar, what });
        };
        let mut said = format!("<beat-unit>{}</beat-unit>\n", type_name(value));
        left -= value;
        let mut dot = value / 2;
        while left == dot && left.is_positive() || left > dot && dot * 2 > left {
            said.push_str("<beat-unit-dot/>\n");
            left -= dot;
            dot = dot / 2;
        }
        if first {
            out.push_str(&said);
        } else {
            line(out, format_args!("<beat-unit-tied>\n{said}</beat-unit-tied>"));
        }
        first = false;
    }
    Ok(())
}

/// At most three decimals, none where the number is whole.
fn decimal(number: Ratio<u32>) -> String {
    let thousandths = (u64::from(*number.numer()) * 1_000).div_ceil(u64::from(*number.denom()));
    let text = format!("{}.{:03}", thousandths / 1_000, thousandths % 1_000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
