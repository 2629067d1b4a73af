//! `countline voice`: voices of one's own, recorded, imported and checked.

mod check;
mod import;
mod record;
mod waveforms;

use std::path::Path;

use take::voices;
use voice::{Language, Making, Prepared, Recorded, Wanted};

use crate::failure::Failure;
use crate::flags::{VoiceFlags, VoiceJob};
use crate::output;

pub(crate) fn run(flags: &VoiceFlags) -> Result<(), Failure> {
    match &flags.job {
        VoiceJob::Record(flags) => record::run(flags),
        VoiceJob::Import(flags) => import::run(flags),
        VoiceJob::Check(flags) => check::run(flags),
    }
}

fn language(code: &str) -> Result<Language, Failure> {
    Language::of(code).map_err(|error| Failure::Call(error.to_string()))
}

/// What is wanted of a recording called `name`.
fn wanted(name: &str, language: &Language) -> Wanted {
    let syllable = language.syllable(name);
    Wanted { soft: language.is_soft(&syllable), stressed: language.stressed(&syllable), syllable }
}

/// What became of a recording, in a line.
fn told(prepared: &Prepared) -> String {
    format!(
        "{}, {:.0} ms, {:.1} LUFS",
        prepared.syllable(),
        prepared.length().as_millis_f64(),
        prepared.loudness().lufs
    )
}

/// Writes the voice into its folder and says what it can and cannot say.
fn keep(
    place: &Path,
    given: &str,
    about: &str,
    language: &Language,
    speeds: Vec<(String, Vec<Prepared>)>,
) -> Result<(), Failure> {
    let name = place.file_name().map_or_else(|| given.to_owned(), |name| name.to_string_lossy().into_owned());
    let recorded = Recorded { name: &name, description: about, language, speeds };
    let making = Making::of(&recorded).map_err(Failure::job)?;
    voices::write(place, &making.files).map_err(Failure::job)?;
    output::print(&format!("wrote the voice {name}: {}\n", place.display()))?;
    if !making.missing.is_empty() {
        let usual = voice::shipped_names().next().unwrap_or_default();
        output::print(&format!(
            "not recorded, said by {usual} where they are needed: {}\n",
            listed(&making.missing)
        ))?;
    }
    output::print(&format!("use it with --voice {}; look at it with countline voice check {0}\n", given))
}

/// Words one after another, numbers in a row as their first and last.
fn listed(words: &[String]) -> String {
    let mut numbers: Vec<u32> = words.iter().filter_map(|word| word.parse().ok()).collect();
    numbers.sort_unstable();
    let rows = numbers.chunk_by(|a, b| a + 1 == *b).map(|row| match row {
        [only] => only.to_string(),
        [first, .., last] => format!("{first} to {last}"),
        [] => String::new(),
    });
    let others = words.iter().filter(|word| word.parse::<u32>().is_err()).cloned();
    rows.chain(others).collect::<Vec<_>>().join(", ")
}
