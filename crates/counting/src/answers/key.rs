//! The counts of a key, one after the other.

use rhythm::{Deed, Rhythm};
use timebase::{Ratio, Span};

use super::vocabulary::plain;
use crate::beats::Beats;
use crate::table::Kind;
use crate::{CountLine, Voicing, Word};

/// One count of the key.
#[derive(Clone, Debug)]
pub(super) struct Key {
    pub(super) bar: usize,
    pub(super) at: Span,
    /// The beat it lies in, from 1, as the system counts beats; how far into it, as a fraction of it; and its kind.
    pub(super) beat: u32,
    pub(super) part: Ratio<i64>,
    pub(super) kind: Kind,
    pub(super) beat_length: Span,
    pub(super) say: Word,
    /// What is said, without what may be typed or left out at will.
    pub(super) word: String,
    /// The number, where a beat is said by it.
    pub(super) number: Option<u32>,
    pub(super) deed: Deed,
    pub(super) on_beat: bool,
    /// The ways to write it that say what is done there.
    pub(super) accepted: Deeds,
}

/// Some of the three deeds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Deeds {
    attack: bool,
    hold: bool,
    rest: bool,
}

impl Deeds {
    /// What says `deed` in a key: its own mark; where the word alone tells that nothing is struck, no mark at all; and
    /// where the system writes held counts in parentheses, those.
    fn of(deed: Deed, voicing: Voicing, word_tells: bool) -> Self {
        Self {
            attack: deed == Deed::Attack || word_tells,
            hold: deed == Deed::Hold,
            rest: deed == Deed::Rest || (deed == Deed::Hold && voicing == Voicing::Parentheses),
        }
    }

    pub(super) fn hold(self, deed: Deed) -> bool {
        match deed {
            Deed::Attack => self.attack,
            Deed::Hold => self.hold,
            Deed::Rest => self.rest,
        }
    }
}

/// The counts of a key, and what else may stand between them.
#[derive(Debug)]
pub(super) struct Keys {
    /// The counts that have something to say.
    pub(super) counts: Vec<Key>,
    /// Before each of them, and behind the last, how many silent beats say nothing: there a silence may be written.
    pub(super) silences: Vec<u32>,
}

impl Keys {
    /// The counts of `line`. It must be of `rhythm`; bars it does not know are left out.
    pub(super) fn of(line: &CountLine, rhythm: &Rhythm) -> Self {
        let table = line.system().table();
        let by_length = line.system().goes_by_length();
        let mut beats = Beats::of(rhythm.bars()[0].meter(), table);
        let mut keys = Self { counts: Vec::new(), silences: vec![0] };
        for (index, (bar, counted)) in rhythm.bars().iter().zip(line.bars()).enumerate() {
            let beats = beats.in_bar(bar, table);
            for count in counted.counts() {
                let Some(say) = count.say.clone() else {
                    if let Some(silences) = keys.silences.last_mut().filter(|_| count.deed == Deed::Rest) {
                        *silences += 1;
                    }
                    continue;
                };
                let place = beats.partition_point(|beat| beat.at <= count.at).saturating_sub(1);
                let Some(beat) = beats.get(place) else { continue };
                let (numerator, denominator) = beat.part(count.at);
                let word = plain(say.as_str());
                let word_tells = by_length && count.deed != Deed::Attack;
                keys.counts.push(Key {
                    bar: index,
                    at: count.at,
                    beat: u32::try_from(place + 1).unwrap_or(u32::MAX),
                    part: Ratio::new(numerator, denominator),
                    kind: beat.kind,
                    beat_length: beat.end - beat.at,
                    number: word.parse().ok().filter(|_| count.on_beat),
                    word,
                    say,
                    deed: count.deed,
                    on_beat: count.on_beat,
                    accepted: Deeds::of(count.deed, count.voicing, word_tells),
                });
                keys.silences.push(0);
            }
        }
        keys
    }
}
