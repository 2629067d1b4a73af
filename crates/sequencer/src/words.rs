use std::ops::Range;

use timebase::{Frame, Frames};
use voice::{Fitted, VoicePack};

use crate::{Error, Speech};

/// A word that is to be said, in order of time.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spoken<'a> {
    /// As it is written.
    pub(crate) word: &'a str,
    /// How it is said.
    pub(crate) speech: Speech,
    /// The frame its centre falls on.
    pub(crate) at: Frame,
    /// The bar it belongs to.
    pub(crate) bar: usize,
    /// The felt beat it belongs to: it stands on it or after it.
    pub(crate) beat: usize,
    /// Whether it stands on the beat.
    pub(crate) on_beat: bool,
}

/// Chooses a recording for every word; `None` for those left unsaid. `next` is what comes after the last of them.
///
/// The words of a bar are said at one speed, the slowest at which the most of them fit whole; a word that does not fit
/// is said in a shorter form, or cut, or the next one begins late for its sake. Where a word between the beats cannot be said even so, only the beats are said in
/// all beats of the bar that have as many words, so that the count stays even.
///
/// # Errors
/// If the voice cannot say a word at all.
pub(crate) fn fit(
    words: &[Spoken<'_>],
    mut next: Next,
    voice: &VoicePack,
) -> Result<Vec<Option<Fitted>>, Error> {
    let mut chosen: Vec<Option<Fitted>> = vec![None; words.len()];
    let mut first_of_next = None;
    // From the last to the first, because how long a word may sound depends on how early the next begins.
    for bar in bars(words).into_iter().rev() {
        let At { fitted, is_next_late, .. } = fit_bar(&words[bar.clone()], next, voice)?;
        if let Some(index) = first_of_next.filter(|_| is_next_late) {
            chosen[index] = next.late;
        }
        if let Some((index, first)) = bar.clone().zip(&fitted).find_map(|(index, f)| Some((index, (*f)?))) {
            next = Next::of(words[index].at, first, voice);
            first_of_next = Some(index);
        }
        chosen[bar].copy_from_slice(&fitted);
    }
    Ok(chosen)
}

/// What is said after a word: its beat, and how long before it it begins to sound; or the end.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Next {
    pub(crate) at: Frame,
    pub(crate) lead: Frames,
    /// The word as it sounds if it begins late, where it can.
    pub(crate) late: Option<Fitted>,
}

impl Next {
    fn of(at: Frame, fitted: Fitted, voice: &VoicePack) -> Self {
        Self { at, lead: fitted.centre, late: voice.begun_late(fitted) }
    }
}

/// The words of each bar that has any.
fn bars(words: &[Spoken<'_>]) -> Vec<Range<usize>> {
    let mut begin = 0;
    words
        .chunk_by(|a, b| a.bar == b.bar)
        .map(|bar| {
            let range = begin..begin + bar.len();
            begin = range.end;
            range
        })
        .collect()
}

fn fit_bar(words: &[Spoken<'_>], next: Next, voice: &VoicePack) -> Result<At, Error> {
    let mut kept = vec![true; words.len()];
    loop {
        let mut best: Option<At> = None;
        for pace in 0..voice.paces().max(1) {
            let at = At::pace(words, &kept, next, voice, pace)?;
            if best.as_ref().is_none_or(|best| at.weight() < best.weight()) {
                best = Some(at);
            }
        }
        let best = best.unwrap_or_default();
        if !only_beats(words, &best.fitted, &mut kept) {
            return Ok(best);
        }
    }
}

/// A bar's words at one pace.
#[derive(Default)]
struct At {
    fitted: Vec<Option<Fitted>>,
    /// Whether the word after the bar begins late.
    is_next_late: bool,
    unsaid: usize,
    hurried: usize,
}

impl At {
    fn pace(
        words: &[Spoken<'_>],
        kept: &[bool],
        mut next: Next,
        voice: &VoicePack,
        pace: usize,
    ) -> Result<Self, Error> {
        let mut at = Self { fitted: vec![None; words.len()], ..Self::default() };
        let mut after = None;
        for (index, word) in words.iter().enumerate().rev() {
            if !kept[index] {
                continue;
            }
            let room = (next.at - word.at).seconds(voice.rate());
            let mut fitted = voice.fit_at(word.word, room, next.lead, pace)?;
            if let (None, Some(late)) = (fitted, next.late) {
                fitted = voice.fit_at(word.word, room, late.centre, pace)?;
                if fitted.is_some() {
                    at.hurried += 1;
                    match after {
                        Some(after) => at.fitted[after] = Some(late),
                        None => at.is_next_late = true,
                    }
                }
            }
            match fitted {
                Some(fitted) => {
                    at.hurried += usize::from(fitted.hurried);
                    next = Next::of(word.at, fitted, voice);
                    after = Some(index);
                }
                // Its beat is silent, and the word before has its room too.
                None => at.unsaid += 1,
            }
            at.fitted[index] = fitted;
        }
        Ok(at)
    }

    /// The less the better: first, that as much as possible is said, then, that as much as possible at this pace.
    fn weight(&self) -> (usize, usize) {
        (self.unsaid, self.hurried)
    }
}

/// Gives up the words between the beats where one of them, or their beat for their sake, is unsaid, and in every beat
/// that has as many words. Whether there was anything to give up.
fn only_beats(words: &[Spoken<'_>], fitted: &[Option<Fitted>], kept: &mut [bool]) -> bool {
    let size = |beat: usize, kept: &[bool]| {
        words.iter().zip(kept).filter(|(word, kept)| **kept && word.beat == beat).count()
    };
    let between = |beat: usize, kept: &[bool]| {
        words.iter().zip(kept).any(|(word, kept)| *kept && word.beat == beat && !word.on_beat)
    };
    let crowded = words
        .iter()
        .enumerate()
        .filter(|(index, word)| kept[*index] && fitted[*index].is_none() && between(word.beat, kept))
        .map(|(_, word)| size(word.beat, kept))
        .min();
    let Some(crowded) = crowded else { return false };
    let given_up: Vec<usize> = (0..words.len())
        .filter(|&index| kept[index] && !words[index].on_beat && size(words[index].beat, kept) >= crowded)
        .collect();
    for &index in &given_up {
        kept[index] = false;
    }
    !given_up.is_empty()
}
