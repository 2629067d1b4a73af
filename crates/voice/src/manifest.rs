//! The manifest as it is written: `assets/voices/README.md` describes its fields.

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::Error;
use crate::limits::MANIFEST_BYTES_MOST;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Manifest {
    /// Checked before the rest is read.
    #[serde(rename = "version")]
    _version: u32,
    pub(crate) name: String,
    pub(crate) description: String,
    pub(crate) sample_rate_hz: u32,
    pub(crate) speeds: Vec<Speed>,
    pub(crate) words: BTreeMap<String, String>,
    #[serde(default)]
    pub(crate) weak_forms: BTreeMap<String, String>,
    pub(crate) syllables: BTreeMap<String, BTreeMap<String, Entry>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Speed {
    pub(crate) name: String,
    #[serde(rename = "marcus_constant_ms")]
    _marcus_constant_ms: Option<f64>,
}

/// One recording. What is only kept for checking is not needed to play it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Entry {
    pub(crate) file: String,
    pub(crate) centre_ms: f64,
    pub(crate) override_ms: Option<f64>,
    pub(crate) vowel_ms: Option<[f64; 2]>,
    #[serde(default)]
    pub(crate) syllable_ms: f64,
    #[serde(rename = "length_ms")]
    _length_ms: Option<f64>,
    #[serde(rename = "spliced_ms")]
    _spliced_ms: Option<f64>,
    #[serde(rename = "loudness_lufs")]
    _loudness_lufs: Option<f64>,
    #[serde(rename = "peak_dbfs")]
    _peak_dbfs: Option<f64>,
    #[serde(rename = "estimates_ms")]
    _estimates_ms: Option<BTreeMap<String, f64>>,
}

impl Manifest {
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
        if version != 1 {
            return Err(Error::Version { given: version });
        }
        serde_json::from_slice(bytes).map_err(unreadable)
    }
}
