use std::borrow::Cow;

use crate::{Error, VoicePack};

/// A shipped voice: its name, and each of its files with its path inside the voice's folder.
type Shipped = (&'static str, &'static [(&'static str, &'static [u8])]);

/// Each shipped voice: its manifest, its recordings, and the notices that have to go with them. The first
/// is the one taken when nobody chooses.
static SHIPPED: &[Shipped] = include!(concat!(env!("OUT_DIR"), "/shipped.rs"));

/// The names of the voices that are built in; the first is the default.
pub fn shipped_names() -> impl Iterator<Item = &'static str> {
    SHIPPED.iter().map(|(name, _)| *name)
}

impl VoicePack {
    /// A voice that is built in, at 48 kHz.
    ///
    /// # Errors
    /// If there is none of this name.
    pub fn shipped(name: &str) -> Result<Self, Error> {
        let files = files(name)?;
        let file =
            |path: &str| files.iter().find(|(name, _)| *name == path).map(|(_, bytes)| Cow::Borrowed(*bytes));
        let manifest = file("manifest.json").ok_or_else(|| Error::MissingFile("manifest.json".to_owned()))?;
        Self::read(&manifest, file)
    }

    /// The copyright notices and licences that go with a built-in voice, unchanged: file name and text.
    ///
    /// # Errors
    /// If there is no voice of this name.
    pub fn notices(name: &str) -> Result<Vec<(&'static str, &'static str)>, Error> {
        let notices = files(name)?.iter().filter(|(name, _)| name.starts_with("COPYRIGHT"));
        Ok(notices.filter_map(|(name, bytes)| Some((*name, std::str::from_utf8(bytes).ok()?))).collect())
    }
}

fn files(given: &str) -> Result<&'static [(&'static str, &'static [u8])], Error> {
    SHIPPED
        .iter()
        .find_map(|(name, files)| (*name == given).then_some(*files))
        .ok_or_else(|| Error::UnknownVoice { given: given.to_owned(), shipped: shipped_names().collect() })
}
