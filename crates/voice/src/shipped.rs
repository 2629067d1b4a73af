use std::borrow::Cow;

use include_dir::{Dir, include_dir};

use crate::{Error, VoicePack};

/// Each shipped voice: its manifest, its recordings, and the notices that have to go with them.
static FEMALE: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../assets/voices/female");
static MALE: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../assets/voices/male");

/// The first is the one taken when nobody chooses.
const SHIPPED: [(&str, &Dir<'_>); 2] = [("female", &FEMALE), ("male", &MALE)];

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
        let folder = folder(name)?;
        let file = |name: &str| folder.get_file(name).map(|file| Cow::Borrowed(file.contents()));
        let manifest = file("manifest.json").ok_or_else(|| Error::MissingFile("manifest.json".to_owned()))?;
        Self::read(&manifest, file)
    }

    /// The copyright notices and licences that go with a built-in voice, unchanged: file name and text.
    ///
    /// # Errors
    /// If there is no voice of this name.
    pub fn notices(name: &str) -> Result<Vec<(&'static str, &'static str)>, Error> {
        let files = folder(name)?.files();
        Ok(files
            .filter_map(|file| Some((file.path().to_str()?, file.contents_utf8()?)))
            .filter(|(name, _)| name.starts_with("COPYRIGHT"))
            .collect())
    }
}

fn folder(given: &str) -> Result<&'static Dir<'static>, Error> {
    SHIPPED
        .iter()
        .find_map(|(name, folder)| (*name == given).then_some(*folder))
        .ok_or_else(|| Error::UnknownVoice { given: given.to_owned(), shipped: shipped_names().collect() })
}
