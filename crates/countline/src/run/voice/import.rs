use std::collections::BTreeMap;
use std::path::Path;

use take::voices::{self, SoundFile, SoundFiles};
use voice::Prepared;

use super::Target;
use crate::failure::Failure;
use crate::flags::VoiceImportFlags;
use crate::output;

pub(super) fn run(flags: &VoiceImportFlags) -> Result<(), Failure> {
    if flags.folder.is_file() {
        return Err(Failure::Call(format!(
            "{} is a file: give the folder in which the recordings are, each named by what it says",
            flags.folder.display()
        )));
    }
    let target = Target::of(&flags.out, &flags.join)?;
    let SoundFiles { files, passed_over } = voices::sound_files(&flags.folder).map_err(Failure::job)?;
    for why in &passed_over {
        output::note(&format!("passed over: {why}"));
    }
    let mut import = Import { target: &target, folder: &flags.folder, taken: BTreeMap::new() };
    let mut speeds: Vec<(String, Vec<Prepared>)> = Vec::new();
    let mut refused: Vec<String> = Vec::new();
    let progress = output::progress("preparing", u64::try_from(files.len()).unwrap_or(0));
    for file in &files {
        let speed = file.speed.as_deref().map_or_else(|| target.speed(), Ok)?;
        match import.prepare(file, speed) {
            Ok(prepared) => {
                let own =
                    if target.wanted(&file.name).stress.of.is_none() { ", a word of your own" } else { "" };
                let line = format!("{}: {}{own}\n", shown(file, &flags.folder), super::told(&prepared));
                progress.suspend(|| output::print(&line))?;
                match speeds.iter_mut().find(|(known, _)| known == speed) {
                    Some((_, list)) => list.push(prepared),
                    None => speeds.push((speed.to_owned(), vec![prepared])),
                }
            }
            Err(why) => {
                refused.push(shown(file, &flags.folder));
                progress.suspend(|| output::note(&why));
            }
        }
        progress.inc(1);
    }
    progress.finish_and_clear();
    if refused.len() == files.len() {
        return Err(Failure::Job("none of the files can be used, and nothing was written".to_owned()));
    }
    if refused.len() + passed_over.len() > 0 {
        let counts = [(refused.len(), "refused"), (passed_over.len(), "passed over")];
        let left: Vec<String> = counts
            .iter()
            .filter(|(many, _)| *many > 0)
            .map(|(many, what)| format!("{many} {what}"))
            .collect();
        let (taken, all) = (files.len() - refused.len(), files.len() + passed_over.len());
        output::note(&format!("{taken} of {all} files are in the voice: {}", left.join(", ")));
    }
    if !refused.is_empty() {
        output::note(&format!("refused: {}", refused.join(", ")));
    }
    let about = format!("A voice of one's own, imported from sound files ({}).", target.language.name());
    target.keep(&about, speeds)
}

/// Files that are being taken into a voice.
struct Import<'a> {
    target: &'a Target,
    folder: &'a Path,
    /// The file that says a syllable at a speed.
    taken: BTreeMap<(String, String), String>,
}

impl Import<'_> {
    /// One file, or why it is refused, with its name.
    fn prepare(&mut self, file: &SoundFile, speed: &str) -> Result<Prepared, String> {
        let name = shown(file, self.folder);
        let wanted = self.target.wanted(&file.name);
        let said = (wanted.syllable.clone(), speed.to_owned());
        if let Some(other) = self.taken.get(&said) {
            return Err(format!(
                "\"{name}\" is refused: \"{other}\" says \"{}\" already; take one of the two out of the folder",
                said.0
            ));
        }
        let bytes = file.read().map_err(|error| error.to_string())?;
        let prepared = Prepared::of_file(&name, &bytes, &wanted).map_err(|refusal| {
            let why = refusal.to_string();
            // What is wrong with a file itself is mostly told with its name.
            if why.contains(&name) {
                format!("refused: {why}")
            } else {
                format!("\"{name}\" is refused: {why}")
            }
        })?;
        self.taken.insert(said, name);
        Ok(prepared)
    }
}

/// A file's name as it is seen from the folder.
fn shown(file: &SoundFile, folder: &Path) -> String {
    file.path.strip_prefix(folder).unwrap_or(&file.path).display().to_string()
}
