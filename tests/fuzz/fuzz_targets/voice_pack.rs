//! Any bytes as the manifest of a voice, and any as each of its recordings: reading ends, with a voice or an error.

#![no_main]

use std::borrow::Cow;

use libfuzzer_sys::fuzz_target;

fuzz_target!(|parts: (&[u8], &[u8])| {
    let (manifest, recording) = parts;
    if let Ok(voice) = voice::VoicePack::read(manifest, |_| Some(Cow::Borrowed(recording))) {
        for word in voice.words() {
            assert!(voice.says(word));
        }
    }
});
