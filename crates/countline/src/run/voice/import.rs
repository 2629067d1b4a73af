use std::path::Path;

use take::voices::{self, SoundFile};
use voice::{Language, Prepared};

use crate::failure::Failure;
use crate::flags::VoiceImportFlags;
use crate::output;

pub(super) fn run(flags: &VoiceImportFlags) -> Result<(), Failure> {
    let language = super::language(&flags.language)?;
    let place = voices::place_of(&flags.out).map_err(|error| Failure::Call(error.to_string()))?;
    let files = voices::sound_files(&flags.folder).map_err(Failure::job)?;
    let mut speeds: Vec<(String, Vec<Prepared>)> = Vec::new();
    let mut refused = 0;
    let progress = output::progress("preparing", u64::try_from(files.len()).unwrap_or(0));
    for file in &files {
        match prepare(file, &flags.folder, &language) {
            Ok(prepared) => {
                let line = format!("{}: {}\n", shown(file, &flags.folder), super::told(&prepared));
                progress.suspend(|| output::print(&line))?;
                match speeds.last_mut() {
                    Some((speed, list)) if *speed == file.speed => list.push(prepared),
                    _ => speeds.push((file.speed.clone(), vec![prepared])),
                }
            }
            Err(why) => {
                refused += 1;
                progress.suspend(|| output::note(&why));
            }
        }
        progress.inc(1);
    }
    progress.finish_and_clear();
    if refused == files.len() {
        return Err(Failure::Job("none of the files can be used, and nothing was written".to_owned()));
    }
    if refused > 0 {
        output::note(&format!(
            "{refused} of {} files were refused; the voice is made of the others",
            files.len()
        ));
    }
    let about =
        format!("A voice of one's own, of {} recordings ({}).", files.len() - refused, language.name());
    super::keep(&place, &flags.out, &about, &language, speeds)
}

/// One file, or why it is refused, with its name.
fn prepare(file: &SoundFile, folder: &Path, language: &Language) -> Result<Prepared, String> {
    let name = shown(file, folder);
    let bytes = file.read().map_err(|error| error.to_string())?;
    let wanted = super::wanted(&file.name, language);
    Prepared::of_file(&name, &bytes, &wanted).map_err(|refusal| match refusal {
        // Its message has the name already.
        voice::Refusal::File(error) => format!("refused: {error}"),
        refusal => format!("\"{name}\" is refused: {refusal}"),
    })
}

/// A file's name as it is seen from the folder.
fn shown(file: &SoundFile, folder: &Path) -> String {
    file.path.strip_prefix(folder).unwrap_or(&file.path).display().to_string()
}
