//! The manifest as it is written: `assets/voices/README.md` describes its fields.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::Error;
use crate::limits::MANIFEST_BYTES_MOST;

#[derive(Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Manifest {
    /// Checked before the rest is read.
    pub(crate) version: u32,
    pub(crate) name: String,
    pub(crate) description: String,
    /// As BCP 47 writes it: `en`.
    #[serde(default = "english")]
    pub(crate) language: String,
    pub(crate) sample_rate_hz: u32,
    pub(crate) speeds: Vec<Speed>,
    pub(crate) words: BTreeMap<String, String>,
    /// Words that are said with several syllables, one after another.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub(crate) joined: BTreeMap<String, Vec<String>>,
    #[serde(default)]
    pub(crate) weak_forms: BTreeMap<String, String>,
    pub(crate) syllables: BTreeMap<String, BTreeMap<String, Entry>>,
}

#[derive(Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Speed {
    pub(crate) name: String,
    pub(crate) marcus_constant_ms: Option<f64>,
}

/// One recording. What is only kept for checking is not needed to play it.
#[derive(Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Entry {
    pub(crate) file: String,
    pub(crate) centre_ms: f64,
    pub(crate) override_ms: Option<f64>,
    pub(crate) vowel_ms: Option<[f64; 2]>,
    #[serde(default)]
    pub(crate) syllable_ms: f64,
    pub(crate) length_ms: Option<f64>,
    pub(crate) spliced_ms: Option<f64>,
    pub(crate) loudness_lufs: Option<f64>,
    pub(crate) peak_dbfs: Option<f64>,
    pub(crate) estimates_ms: Option<BTreeMap<String, f64>>,
}

/// Packs of before languages were named are English.
fn english() -> String {
    "en".to_owned()
}

/// The form that is read and written.
pub(crate) const VERSION: u32 = 1;

impl Manifest {
    /// As a file holds it.
    pub(crate) fn write(&self) -> Vec<u8> {
        let mut text = serde_json::to_vec_pretty(self).expect("names and finite numbers are JSON");
        text.push(b'\n');
        text
    }

    pub(crate) fn read(bytes: &[u8]) -> Result<Self, Error> {
        #[derive(Deserialize)]
        struct Versioned {
            version: u32,
        }
        if bytes.len() > MANIFEST_BYTES_MOST {
            return Err(Error::ManifestTooLarge { given: bytes.len() });
        }
        let unreadable = |error: serde_json::Error| Error::Manifest(error.to_string());
        // A manifest of a later version has fields unknown here; its version is the thing to say about it.
        let Versioned { version } = serde_json::from_slice(bytes).map_err(unreadable)?;
        if version != VERSION {
            return Err(Error::Version { given: version });
        }
        serde_json::from_slice(bytes).map_err(unreadable)
    }
}
