use rhythm::{Dynamics, Loudness, Meter, Rhythm, Swell, Until};
use timebase::Span;

use super::line;

/// A direction of one type, with what it means for players.
pub(super) fn direction(out: &mut String, kind: &str, sound: &str) {
    line(
        out,
        format_args!(
            "<direction placement=\"above\">\n<direction-type>\n{kind}\n</direction-type>\n{sound}</direction>"
        ),
    );
}

/// Whose a direction is, where it is not the first voice's.
fn of_voice(voice: u8) -> String {
    if voice == 1 { String::new() } else { format!("<voice>{voice}</voice>\n") }
}

pub(super) fn words(out: &mut String, text: &str, sound: &str) {
    direction(out, &format!("<words>{text}</words>"), sound);
}

/// The meter of a bar, in the order of the standard's `time`.
pub(super) fn time(out: &mut String, meter: Meter) {
    let groups: Vec<String> = meter.groups().iter().map(u8::to_string).collect();
    let own_unit = meter.group_unit() == Span::new(1, i64::from(meter.unit()));
    let beats = if groups.is_empty() || !own_unit { meter.beats().to_string() } else { groups.join("+") };
    out.push_str("<time>\n");
    line(out, format_args!("<beats>{beats}</beats>\n<beat-type>{}</beat-type>", meter.unit()));
    if !own_unit {
        let unit = meter.group_unit().denominator().max(i64::from(meter.unit()));
        line(
            out,
            format_args!(
                "<interchangeable>\n<time-relation>equals</time-relation>\n<beats>{}</beats>\n<beat-type>{unit}</beat-type>\n</interchangeable>",
                groups.join("+")
            ),
        );
    }
    out.push_str("</time>\n");
}

/// How a meter is felt, where that is not usual.
pub(super) fn felt(out: &mut String, meter: Meter) {
    if !meter.is_felt_as_usual() {
        words(out, &format!("in {}", meter.felt_beats()), "");
    }
    if meter.is_counted_by_group() {
        words(out, "by group", "");
    }
}

/// What changes in loudness with a bar; `swelling` tells whether a change of loudness goes on up to here.
pub(super) fn dynamics(out: &mut String, dynamics: Dynamics, voice: u8, swelling: &mut bool) {
    if dynamics == Dynamics::NONE {
        return;
    }
    let direction = |out: &mut String, kind: &str| direction(out, kind, &of_voice(voice));
    if *swelling {
        swell_end(out, voice);
        *swelling = false;
    }
    if let Some(level) = dynamics.level {
        let name = Loudness::NAMED.iter().find(|(_, known)| *known == level).map_or("mf", |(name, _)| name);
        direction(out, &format!("<dynamics><{name}/></dynamics>"));
    }
    if let Some(swell) = dynamics.swell {
        let kind = match swell {
            Swell::Crescendo => "crescendo",
            Swell::Decrescendo => "diminuendo",
        };
        direction(out, &format!("<wedge type=\"{kind}\" number=\"{voice}\"/>"));
        *swelling = true;
    }
}

pub(super) fn swell_end(out: &mut String, voice: u8) {
    direction(out, &format!("<wedge type=\"stop\" number=\"{voice}\"/>"), &of_voice(voice));
}

/// The signs of a jump that stand at the beginning of bar `index`.
pub(super) fn jump_before(out: &mut String, rhythm: &Rhythm, index: usize) {
    let Some(jump) = rhythm.jump() else { return };
    if jump.from_sign && jump.to == index {
        direction(out, "<segno/>", "<sound segno=\"segno\"/>\n");
    }
    if matches!(jump.until, Until::Coda { coda, .. } if coda == index) {
        direction(out, "<coda/>", "<sound coda=\"coda\"/>\n");
    }
}

/// The signs of a jump that stand at the end of bar `index`.
pub(super) fn jump_after(out: &mut String, rhythm: &Rhythm, index: usize) {
    let Some(jump) = rhythm.jump() else { return };
    match jump.until {
        Until::Fine(fine) if fine == index => words(out, "Fine", "<sound fine=\"yes\"/>\n"),
        Until::Coda { leave, .. } if leave == index => words(out, "To Coda", "<sound tocoda=\"coda\"/>\n"),
        _ => {}
    }
    if jump.after == index {
        let until = match jump.until {
            Until::End => "",
            Until::Fine(_) => " al Fine",
            Until::Coda { .. } => " al Coda",
        };
        if jump.from_sign {
            words(out, &format!("D.S.{until}"), "<sound dalsegno=\"segno\"/>\n");
        } else {
            words(out, &format!("D.C.{until}"), "<sound dacapo=\"yes\"/>\n");
        }
    }
}

/// The bar line before bar `index`, where something stands on it.
pub(super) fn barline_before(out: &mut String, rhythm: &Rhythm, index: usize) {
    let Some(repeat) = rhythm.repeat_of(index) else { return };
    let begins = repeat.bars.start == index;
    let several = repeat.endings.len() > 1;
    let ending = repeat.endings.iter().find(|ending| several && ending.bars.start == index);
    if !begins && ending.is_none() {
        return;
    }
    out.push_str("<barline location=\"left\">\n");
    if begins {
        out.push_str("<bar-style>heavy-light</bar-style>\n");
    }
    if let Some(ending) = ending {
        line(out, format_args!("<ending number=\"{}\" type=\"start\"/>", numbers(&ending.passes)));
    }
    if begins {
        out.push_str("<repeat direction=\"forward\"/>\n");
    }
    out.push_str("</barline>\n");
}

/// The bar line after bar `index`, where something stands on it.
pub(super) fn barline_after(out: &mut String, rhythm: &Rhythm, index: usize) {
    let repeat = rhythm.repeat_of(index);
    let is_last = index + 1 == rhythm.bars().len();
    let several = repeat.is_some_and(|repeat| repeat.endings.len() > 1);
    let ends = repeat.is_some_and(|repeat| repeat.bars.end == index + 1);
    let ending = repeat
        .filter(|_| several)
        .and_then(|repeat| repeat.endings.iter().find(|ending| ending.bars.end == index + 1));
    // After its last ending a passage goes on instead of back.
    let back = if several { ending.is_some() && !ends } else { ends };
    if !back && ending.is_none() && !is_last {
        return;
    }
    out.push_str("<barline location=\"right\">\n");
    if back || is_last {
        out.push_str("<bar-style>light-heavy</bar-style>\n");
    }
    if let Some(ending) = ending {
        let kind = if back { "stop" } else { "discontinue" };
        line(out, format_args!("<ending number=\"{}\" type=\"{kind}\"/>", numbers(&ending.passes)));
    }
    if let Some(repeat) = repeat.filter(|_| back) {
        let times =
            if several || repeat.times == 2 { String::new() } else { format!(" times=\"{}\"", repeat.times) };
        line(out, format_args!("<repeat direction=\"backward\"{times}/>"));
    }
    out.push_str("</barline>\n");
}

fn numbers(passes: &[u32]) -> String {
    passes.iter().map(u32::to_string).collect::<Vec<_>>().join(", ")
}
