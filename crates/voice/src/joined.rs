use std::sync::OnceLock;

use mixer::Sample;
use timebase::{Frames, Seconds};

use crate::recording::{Recording, RecordingId};

/// A recording of a pack, or one that is made of others when it is first asked for: "twenty" and "one".
#[derive(Clone, Debug)]
pub(crate) enum Slot {
    /// A file of the pack.
    Own(Recording),
    /// What says a word of several syllables at one speed; the parts are files of the pack.
    Joined(Joined),
}

/// Recordings said one after another.
#[derive(Clone, Debug)]
pub(crate) struct Joined {
    pub(crate) word: String,
    pub(crate) parts: Vec<RecordingId>,
    made: OnceLock<Recording>,
}

/// How much of one part's end and the next one's beginning sound together.
const JOINT: Seconds = Seconds::from_millis(6);

impl Joined {
    pub(crate) fn of(word: &str, parts: Vec<RecordingId>) -> Self {
        Self { word: word.to_owned(), parts, made: OnceLock::new() }
    }

    /// The recording, its centre that of its first part.
    pub(crate) fn recording<'a>(&'a self, part: impl Fn(RecordingId) -> &'a Recording) -> &'a Recording {
        self.made.get_or_init(|| {
            let parts: Vec<&Recording> = self.parts.iter().map(|&id| part(id)).collect();
            let first = parts.first().expect("a word is joined of two parts or more");
            let joint = usize::try_from(Frames::of(JOINT, first.rate).count()).unwrap_or(0);
            let mut frames: Vec<f32> = Vec::new();
            for part in &parts {
                append(&mut frames, part.sample.data(), joint);
            }
            Recording {
                syllable: self.word.clone(),
                sample: Sample::new(frames).expect("sums of finite sounds that fade are finite"),
                ..(*first).clone()
            }
        })
    }
}

/// Adds `next` to `frames`, the last of these and the first of those fading into one another.
fn append(frames: &mut Vec<f32>, next: &[f32], joint: usize) {
    let joint = joint.min(frames.len()).min(next.len());
    let from = frames.len() - joint;
    for (place, (last, first)) in frames[from..].iter_mut().zip(next).enumerate() {
        let share = (place as f32 + 0.5) / joint as f32;
        *last = *last * (1.0 - share) + first * share;
    }
    frames.extend_from_slice(&next[joint..]);
}
