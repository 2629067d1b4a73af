//! The counts of a key, one after the other.

use rhythm::{Deed, Rhythm};
use timebase::Span;

use super::vocabulary::plain;
use crate::{CountLine, Word};

/// One count of the key.
#[derive(Clone, Debug)]
pub(super) struct Key {
    pub(super) bar: usize,
    pub(super) at: Span,
    /// The felt beat it lies in, from 1.
    pub(super) beat: u32,
    pub(super) say: Word,
    /// What is said, without what may be typed or left out at will.
    pub(super) word: String,
    pub(super) number: Option<u32>,
    pub(super) deed: Deed,
    pub(super) on_beat: bool,
}

/// The counts of `line` that have something to say. `line` must be of `rhythm`; bars it does not know are left out.
pub(super) fn keys(line: &CountLine, rhythm: &Rhythm) -> Vec<Key> {
    let bars = rhythm.bars().iter().zip(line.bars()).enumerate();
    let keys = bars.flat_map(|(index, (bar, counted))| {
        counted.counts().iter().filter_map(move |count| {
            let say = count.say.clone()?;
            let word = plain(say.as_str());
            Some(Key {
                bar: index,
                at: count.at,
                beat: bar.meter().beat_of(count.at).0,
                number: word.parse().ok(),
                word,
                say,
                deed: count.deed,
                on_beat: count.on_beat,
            })
        })
    });
    keys.collect()
}
