use std::fmt::Write as _;

use counting::System;
use engrave::svg::{self, SvgOptions};
use take::{voices, write_beside};
use voice::{Evenness, Language, Measured, VoicePack};

use crate::failure::Failure;
use crate::flags::VoiceCheckFlags;
use crate::output;

use super::waveforms;

pub(super) fn run(flags: &VoiceCheckFlags) -> Result<(), Failure> {
    let pack = voices::open_alone(&flags.name).map_err(super::super::voice_failure)?;
    let measured = pack.measure();
    output::print(&table(&pack, &measured))?;
    let missing = missing(&pack);
    if !missing.is_empty() {
        let usual = voice::shipped_names().next().unwrap_or_default();
        let listed = super::listed(&missing);
        output::print(&format!("has no recording of, and {usual} says them: {listed}\n"))?;
    }
    if let Some(out) = &flags.svg {
        let scene = waveforms::draw(&pack);
        let title = format!("The voice {}", pack.name());
        let description =
            "Each syllable's waveform by speed; the upright line is its perceptual centre, what falls \
            on the beat."
                .to_owned();
        let picture = svg::write(&scene, &SvgOptions { title, description, ..SvgOptions::default() });
        write_beside(out, picture.as_bytes()).map_err(Failure::job)?;
        output::print(&format!("wrote {}\n", out.display()))?;
    }
    Ok(())
}

/// What every recording is like, and how evenly they fall.
fn table(pack: &VoicePack, measured: &[Measured]) -> String {
    let mut text = format!("{} ({}): {}\n", pack.name(), pack.language(), pack.description());
    let width = measured.iter().map(|m| m.syllable.chars().count()).max().unwrap_or(0).max(8);
    let _ = writeln!(
        text,
        "{:width$}  speed   length_ms  loudness_lufs  peak_dbfs  centre_ms  fastest_change_ms",
        "syllable"
    );
    for m in measured {
        let by_ear = match (m.set_by_ear, m.is_doubtful) {
            (true, _) => "  set by hand",
            (false, true) => "  check by ear",
            (false, false) => "",
        };
        let _ = writeln!(
            text,
            "{:width$}  {:6}  {:9.1}  {:13.1}  {:9.1}  {:9.1}  {:17.1}{by_ear}",
            m.syllable,
            m.speed,
            m.length.as_millis_f64(),
            m.loudness.lufs,
            m.loudness.peak_dbfs,
            m.centre.as_millis_f64(),
            m.fastest_change.as_millis_f64(),
        );
    }
    if let Some(evenness) = Evenness::of(measured) {
        let _ = writeln!(
            text,
            "the fastest change of energy, an estimate that had no part in the centres, lies {:.1} ms apart counted \
             from the beginnings and {:.1} ms counted from the centres (standard deviations)",
            evenness.from_beginning.as_millis_f64(),
            evenness.from_centre.as_millis_f64()
        );
    }
    if measured.iter().any(|m| m.is_doubtful && !m.set_by_ear) {
        text.push_str(
            "check by ear: that estimate lies more than 25 ms off from where it lies with most of the others; count with \
             the voice and listen whether the word falls on the click\n",
        );
    }
    text
}

/// The words that the voice has no recording of: those of the shipped counting systems, and what its language's table has besides,
/// such as the words for the entry.
pub(super) fn missing(pack: &VoicePack) -> Vec<String> {
    let mut words: Vec<String> = (1..=MOST_COUNTED).map(|number| number.to_string()).collect();
    if let Ok(language) = Language::of(pack.language()) {
        words.extend(language.words().keys().chain(language.joined().keys()).cloned());
    }
    for system in System::shipped() {
        let variants = system.variants().filter_map(|variant| system.with_variant(variant.name).ok());
        let said = std::iter::once(system.clone()).chain(variants);
        words.extend(said.flat_map(|system| system.words()).map(|word| word.to_string()));
    }
    words.retain(|word| !pack.says(word));
    words.sort();
    words.dedup();
    words
}

/// The highest number that can be counted: the bars of a rest.
const MOST_COUNTED: i64 = rhythm::limits::BARS_OF_REST.most;
