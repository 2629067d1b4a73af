use timebase::Tempo;

use crate::{Bar, Dynamics, Jump, Loudness, Repeat, Rhythm, Swell, TempoMark, Until};

/// How much of what stands around the bars of a rhythm is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Around {
    /// Meters, repeats, jumps, changes of tempo and loudness.
    All,
    /// Its own loudness alone: the rest is told with another part of the same piece.
    OwnLoudness,
}

/// A rhythm bar by bar, each as `inside` tells it by its index, with what stands around it:
/// `4/4. Repeat begins, 3 times in all. Bar 1: quarter, quarter, half. Repeat ends.`
///
/// Meters are told where they begin or change, changes of tempo, repeats and jumps where they stand; the tempo at the
/// head of the piece is not.
pub fn bars_in_words(rhythm: &Rhythm, around: Around, inside: impl Fn(usize) -> String) -> Vec<String> {
    let bars = rhythm.bars().iter().enumerate().map(|(index, bar)| {
        let (mut sentences, mut behind) = (Vec::new(), Vec::new());
        if around == Around::All {
            sentences = before(rhythm, index);
            behind = after(rhythm, index);
        }
        sentences.extend(loudness(bar.dynamics()));
        sentences.push(match inside(index) {
            said if said.is_empty() => name(bar),
            said => format!("{}: {said}", name(bar)),
        });
        sentences.extend(behind);
        sentences.iter().map(|sentence| format!("{sentence}.")).collect::<Vec<_>>().join(" ")
    });
    bars.collect()
}

/// `Bar 3`, `Pickup`.
fn name(bar: &Bar) -> String {
    if bar.is_pickup() { "Pickup".to_owned() } else { format!("Bar {}", bar.number()) }
}

/// What stands before a bar or over its beginning.
fn before(rhythm: &Rhythm, index: usize) -> Vec<String> {
    let bar = &rhythm.bars()[index];
    let mut said = Vec::new();
    let earlier = index.checked_sub(1).map(|before| rhythm.bars()[before].meter());
    if earlier != Some(bar.meter()) {
        said.push(bar.meter().to_string());
    }
    if let Some(Jump { to, from_sign, until, .. }) = rhythm.jump() {
        if from_sign && to == index {
            said.push("Segno".to_owned());
        }
        if matches!(until, Until::Coda { coda, .. } if coda == index) {
            said.push("Coda".to_owned());
        }
    }
    if let Some(repeat) = rhythm.repeat_of(index) {
        if repeat.bars.start == index {
            said.push(format!("Repeat begins, {} times in all", repeat.times));
        }
        let begins = repeat.endings.iter().find(|ending| ending.bars.start == index);
        said.extend(begins.map(|ending| format!("Ending {}", listed(&ending.passes))));
    }
    said.extend(bar.tempo_mark().map(|mark| match mark {
        TempoMark::Equal { before, after } => {
            let (before, after) = (Tempo::beat_word(before), Tempo::beat_word(after));
            format!("Tempo: the {before} of before is now the {after}")
        }
        TempoMark::Beats(_) | TempoMark::Gradual { .. } => format!("Tempo changes to {mark}"),
    }));
    said
}

/// What stands at the end of a bar.
fn after(rhythm: &Rhythm, index: usize) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    said.extend(rhythm.repeat_of(index).and_then(|repeat| goes_back(repeat, index)).map(str::to_owned));
    let Some(Jump { after, from_sign, until, .. }) = rhythm.jump() else { return said };
    match until {
        Until::Fine(fine) if fine == index => said.push("Fine".to_owned()),
        Until::Coda { leave, .. } if leave == index => said.push("To coda".to_owned()),
        Until::End | Until::Fine(_) | Until::Coda { .. } => {}
    }
    if after == index {
        let from = if from_sign { "D.S." } else { "D.C." };
        said.push(match until {
            Until::End => from.trim_end_matches('.').to_owned(),
            Until::Fine(_) => format!("{from} al fine"),
            Until::Coda { .. } => format!("{from} al coda"),
        });
    }
    said
}

/// Whether it goes back after a bar, at the end of a repeat or of an ending that is not the last.
fn goes_back(repeat: &Repeat, index: usize) -> Option<&'static str> {
    if repeat.endings.is_empty() {
        return (repeat.bars.end == index + 1).then_some("Repeat ends");
    }
    let ending = repeat.endings.iter().find(|ending| ending.bars.end == index + 1)?;
    let again = ending.passes.iter().any(|&pass| pass < repeat.times);
    again.then_some("Back to where the repeat begins")
}

/// `1, 2 and 3`.
fn listed(numbers: &[u32]) -> String {
    let words: Vec<String> = numbers.iter().map(u32::to_string).collect();
    match words.split_last() {
        Some((last, others)) if !others.is_empty() => format!("{} and {last}", others.join(", ")),
        _ => words.concat(),
    }
}

/// `Piano, crescendo`.
fn loudness(dynamics: Dynamics) -> Option<String> {
    let level = dynamics.level.map(|level| match level {
        Loudness::Ppp => "Pianississimo",
        Loudness::Pp => "Pianissimo",
        Loudness::P => "Piano",
        Loudness::Mp => "Mezzo piano",
        Loudness::Mf => "Mezzo forte",
        Loudness::F => "Forte",
        Loudness::Ff => "Fortissimo",
        Loudness::Fff => "Fortississimo",
    });
    let swell = dynamics.swell.map(|swell| match swell {
        Swell::Crescendo => "Crescendo",
        Swell::Decrescendo => "Decrescendo",
    });
    match (level, swell) {
        (Some(level), Some(swell)) => Some(format!("{level}, {}", swell.to_lowercase())),
        (level, swell) => level.or(swell).map(str::to_owned),
    }
}
