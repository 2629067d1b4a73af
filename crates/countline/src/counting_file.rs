//! The counting system that a call asks for: a shipped one by its name, or a school's own from its file.

use std::io::Read as _;
use std::path::Path;

use counting::limits::TABLE_BYTES;
use counting::{Error, System};
use rhythm::text::{Diagnostic, Severity};

use crate::failure::Failure;
use crate::flags::CountingFlags;
use crate::{output, rhythm_file};

/// The system that the flags ask for, in the variants that they ask for.
pub(crate) fn chosen(flags: &CountingFlags) -> Result<System, Failure> {
    system_in(&flags.counting, &flags.variant)
}

/// The system of this name or file, in these variants.
pub(crate) fn system_in(name: &str, variants: &[String]) -> Result<System, Failure> {
    let system = system(name)?;
    variants
        .iter()
        .try_fold(system, |system, variant| system.with_variant(variant))
        .map_err(|error| Failure::Call(error.to_string()))
}

/// The shipped system of this name, or the one whose table is the file of this name. What is wrong in a file is
/// printed with its place.
pub(crate) fn system(name: &str) -> Result<System, Failure> {
    let Some(path) = of_its_own(name) else {
        return System::named(name).map_err(|error| Failure::Call(error.to_string()));
    };
    let text = text(path)?;
    System::parse(&text).map_err(|error| match error {
        Error::Table(error) => {
            let diagnostic = Diagnostic {
                severity: Severity::Error,
                span: error.span.clone(),
                message: error.message.clone(),
                help: error.help.clone(),
            };
            output::note(&rhythm_file::rendered(&diagnostic, &text, name, output::is_watched()));
            Failure::Told
        }
        error => Failure::job(error),
    })
}

/// The file with the table of a system, where it is not a shipped one's name.
pub(crate) fn of_its_own(name: &str) -> Option<&Path> {
    let path = Path::new(name);
    path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("toml")).then_some(path)
}

fn text(path: &Path) -> Result<String, Failure> {
    // One byte more than is allowed, so that the table itself says it is too large.
    let most = u64::try_from(TABLE_BYTES.most).unwrap_or(u64::MAX) + 1;
    let mut bytes = Vec::new();
    let read = std::fs::File::open(path).and_then(|file| file.take(most).read_to_end(&mut bytes));
    read.map_err(|error| Failure::file("read", path, &error))?;
    String::from_utf8(bytes).map_err(|error| {
        Failure::Job(format!(
            "{} is not UTF-8 text: byte {} belongs to no character. A counting system is a plain text file; save it as \
             UTF-8",
            path.display(),
            error.utf8_error().valid_up_to()
        ))
    })
}
