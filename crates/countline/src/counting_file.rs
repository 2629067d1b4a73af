//! The counting system that was asked for: a shipped one by its name, or a school's own from its file.

use std::io::Read as _;
use std::path::Path;

use counting::System;
use counting::limits::TABLE_BYTES;

use crate::failure::Failure;
use crate::flags::CountingFlags;

/// The system that the flags ask for, in the variants they ask for.
pub(crate) fn system(flags: &CountingFlags) -> Result<System, Failure> {
    let path = Path::new(&flags.system);
    let own = path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("toml"));
    let mut system = if own { read(path)? } else { System::named(&flags.system).map_err(call)? };
    for variant in &flags.variants {
        system = system.with_variant(variant).map_err(call)?;
    }
    Ok(system)
}

fn read(path: &Path) -> Result<System, Failure> {
    let most = u64::try_from(TABLE_BYTES.most).unwrap_or(u64::MAX);
    let mut text = String::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(most + 1).read_to_string(&mut text))
        .map_err(|error| Failure::file("read", path, &error))?;
    System::parse(&text).map_err(|error| Failure::Job(format!("{}: {error}", path.display())))
}

fn call(error: counting::Error) -> Failure {
    Failure::Call(error.to_string())
}
