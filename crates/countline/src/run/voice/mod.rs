//! `countline voice`: voices of one's own, recorded, imported and checked.

mod check;
mod import;
mod record;
mod waveforms;

use std::fmt::Write as _;
use std::path::PathBuf;

use take::voices;
use voice::{Language, Making, Prepared, Recorded, VoicePack, Wanted};

use crate::failure::Failure;
use crate::flags::{JoinFlags, VoiceFlags, VoiceJob};
use crate::output;

pub(crate) fn run(flags: &VoiceFlags) -> Result<(), Failure> {
    match &flags.job {
        VoiceJob::Record(flags) => record::run(flags),
        VoiceJob::Import(flags) => import::run(flags),
        VoiceJob::Check(flags) => check::run(flags),
    }
}

/// The voice that recordings are to join, or that is made of them.
struct Target {
    place: PathBuf,
    /// As it was given.
    given: String,
    language: Language,
    /// What stands there and is joined.
    standing: Option<VoicePack>,
    /// The speed of recordings that say none.
    speed: Result<String, String>,
}

/// What a speed is called where there is but one.
const ONE_SPEED: &str = "own";

impl Target {
    fn of(given: &str, flags: &JoinFlags) -> Result<Self, Failure> {
        let place = voices::place_of(given).map_err(|error| Failure::Call(error.to_string()))?;
        let standing = if flags.anew { None } else { voices::standing(&place).map_err(cannot_join)? };
        let code = flags.language.as_deref().or(standing.as_ref().map(VoicePack::language)).unwrap_or("en");
        let language = Language::of(code).map_err(|error| Failure::Call(error.to_string()))?;
        if let Some(standing) = &standing {
            // Said before anybody has recorded a word.
            Making::joinable(standing, &language).map_err(|error| Failure::Call(error.to_string()))?;
        }
        let speed = speed_of(standing.as_ref(), flags.speed.as_deref());
        if let (Some(_), Err(why)) = (&flags.speed, &speed) {
            return Err(Failure::Call(why.clone()));
        }
        Ok(Self { place, given: given.to_owned(), language, standing, speed })
    }

    /// The speed of recordings that say none.
    fn speed(&self) -> Result<&str, Failure> {
        self.speed.as_deref().map_err(|why| Failure::Call(why.clone()))
    }

    /// Whether the voice has a recording of this name already, at the speed of those that say none.
    fn has(&self, name: &str) -> bool {
        let (syllable, speed) = (self.language.syllable(name), self.speed.as_deref().unwrap_or_default());
        self.standing.as_ref().is_some_and(|standing| {
            standing.recordings().any(|(_, r)| r.syllable() == syllable && r.speed() == speed)
        })
    }

    /// What is wanted of a recording called `name`.
    fn wanted(&self, name: &str) -> Wanted {
        let syllable = self.language.syllable(name);
        Wanted { soft: self.language.is_soft(&syllable), stress: self.language.stress(&syllable), syllable }
    }

    /// Writes the voice into its folder and says what became of it, and what it cannot say.
    fn keep(&self, about: &str, speeds: Vec<(String, Vec<Prepared>)>) -> Result<(), Failure> {
        let given = &self.given;
        let name =
            self.place.file_name().map_or_else(|| given.clone(), |name| name.to_string_lossy().into_owned());
        let recorded = Recorded { name: &name, description: about, language: &self.language, speeds };
        let making = if self.standing.is_some() {
            let manifest = voices::manifest(&self.place).map_err(Failure::job)?;
            let making = Making::joined_to(&manifest, &recorded).map_err(Failure::job)?;
            voices::add(&self.place, &making.files, &making.gone).map_err(Failure::job)?;
            making
        } else {
            let making = Making::of(&recorded).map_err(Failure::job)?;
            voices::write(&self.place, &making.files).map_err(Failure::job)?;
            making
        };
        // What `voice check` says of it, too.
        let missing =
            voices::open_alone(given).map_or_else(|_| making.missing.clone(), |pack| check::missing(&pack));
        let told = told_of(&making, &missing);
        output::print(&format!("wrote the voice {name}: {}\n{told}", self.place.display()))?;
        let given = quoted(given);
        output::print(&format!(
            "use it with --voice {given}; look at it with countline voice check {given}; say a word again with countline \
             voice record {given} --words \"WORD\"\n"
        ))
    }
}

/// Why a voice cannot be joined, with the way out.
fn cannot_join(error: take::Error) -> Failure {
    Failure::Job(format!("{error}; nothing can join it: choose another name, or begin it anew with --anew"))
}

/// The speed of recordings that say none: the one asked for, or the only one of the voice that stands.
fn speed_of(standing: Option<&VoicePack>, asked: Option<&str>) -> Result<String, String> {
    let mut known: Vec<&str> = Vec::new();
    for (_, recording) in standing.iter().flat_map(|standing| standing.recordings()) {
        if !known.contains(&recording.speed()) {
            known.push(recording.speed());
        }
    }
    match asked {
        Some(asked) if known.contains(&asked) || [ONE_SPEED, "slow", "normal", "quick"].contains(&asked) => {
            Ok(asked.to_owned())
        }
        Some(asked) => Err(format!("\"{asked}\" is no speed: --speed takes slow, normal or quick")),
        None if known.is_empty() || known.contains(&ONE_SPEED) => Ok(ONE_SPEED.to_owned()),
        None => match known.as_slice() {
            [only] => Ok((*only).to_owned()),
            several => Err(format!(
                "the voice has the speeds {}: say with --speed which of them is recorded",
                several.join(", ")
            )),
        },
    }
}

/// A voice's name as it is typed.
fn quoted(given: &str) -> String {
    if given.contains(char::is_whitespace) { format!("\"{given}\"") } else { given.to_owned() }
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

/// What became of a voice, in lines.
fn told_of(making: &Making, missing: &[String]) -> String {
    let mut text = String::new();
    if making.replaced + making.kept > 0 {
        let _ = writeln!(
            text,
            "replaced {}, added {}, kept {} recordings",
            making.replaced, making.added, making.kept
        );
    }
    if !making.by_ear_before.is_empty() {
        let _ = writeln!(
            text,
            "a centre set by hand was the old recording's, and is gone with it, of {}: set it again if need be",
            making.by_ear_before.join(", ")
        );
    }
    if !making.doubts.is_empty() {
        let several = making.doubts.iter().any(|doubt| doubt.speed != making.doubts[0].speed);
        let each = making.doubts.iter().map(|doubt| {
            let speed = if several { format!(" {}", doubt.speed) } else { String::new() };
            format!("{}{speed} ({:.0} ms)", doubt.syllable, doubt.apart.as_millis_f64())
        });
        let _ = writeln!(
            text,
            "check by ear whether these fall on the beat, for two estimates of their centres lie more than 25 ms apart: {}",
            each.collect::<Vec<_>>().join(", ")
        );
    }
    if !missing.is_empty() {
        let usual = voice::shipped_names().next().unwrap_or_default();
        let missing = listed(missing);
        let _ = writeln!(text, "not recorded, said by {usual} where they are needed: {missing}");
    }
    text
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
