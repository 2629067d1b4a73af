use std::io;
use std::path::Path;

/// Why a call did not do what it should.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The call itself was wrong: status 2.
    Call(String),
    /// The job could not be done: status 1.
    Job(String),
    /// The job could not be done, and all is said already: status 1.
    Told,
    /// Whoever read our output has had enough: no failure.
    BrokenPipe,
}

impl Failure {
    pub(crate) fn status(&self) -> u8 {
        match self {
            Self::Call(_) => 2,
            Self::Job(_) | Self::Told => 1,
            Self::BrokenPipe => 0,
        }
    }

    /// What is to be said of it, if it is not said already.
    pub(crate) fn message(&self) -> Option<String> {
        match self {
            Self::Call(message) | Self::Job(message) => Some(message.clone()),
            Self::Told | Self::BrokenPipe => None,
        }
    }

    /// A job that failed for the reason `error`.
    pub(crate) fn job(error: impl std::fmt::Display) -> Self {
        Self::Job(error.to_string())
    }

    /// A file that could not be read, written or made.
    pub(crate) fn file(doing: &str, path: &Path, error: &io::Error) -> Self {
        let way_out = match error.kind() {
            io::ErrorKind::NotFound => ": check the path",
            io::ErrorKind::PermissionDenied if doing == "read" => ": check that you may read it",
            io::ErrorKind::PermissionDenied => ": choose a place you may use",
            io::ErrorKind::StorageFull => ": free some space, or choose another disk",
            _ => "",
        };
        Self::Job(format!("cannot {doing} {}: {error}{way_out}", path.display()))
    }
}

/// From writing to standard output.
impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        if error.kind() == io::ErrorKind::BrokenPipe {
            Self::BrokenPipe
        } else {
            Self::Job(format!("cannot write the output: {error}"))
        }
    }
}
