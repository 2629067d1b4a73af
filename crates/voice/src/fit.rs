use mixer::{SampleId, SoundEvent, StripId};
use timebase::{Frame, Frames, Seconds};

use crate::limits::{CUT_FADE, KEPT_AFTER_CENTRE};
use crate::pack::Syllable;
use crate::recording::RecordingId;
use crate::{Error, VoicePack};

/// A recording chosen for its slot, and how it has to be played there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fitted {
    /// Which recording.
    pub recording: RecordingId,
    /// From its beginning to its perceptual centre: it begins so much before the beat.
    pub centre: Frames,
    /// How much of it sounds.
    pub length: Frames,
    /// How long it fades at the end; nothing if it is whole.
    pub fade: Frames,
    /// How it was made to fit.
    pub fit: Fit,
}

/// How a word was made to fit its slot, the best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fit {
    /// The whole syllable, at the slowest speed that fits.
    Whole,
    /// The quickest recording, cut with a fade.
    Cut,
    /// The whole of a weaker form.
    Weaker,
    /// The quickest recording of a weaker form, cut with a fade.
    WeakerCut,
}

impl Fitted {
    /// The event that puts its perceptual centre on `beat`. `sample` is the recording's number in the bank.
    ///
    /// The event begins before the beat; a programme's lead-in of [`VoicePack::longest_lead`] keeps it from
    /// beginning before frame 0.
    #[must_use]
    pub const fn event(&self, beat: Frame, sample: SampleId, strip: StripId) -> SoundEvent {
        let at = Frame::new(beat.index().saturating_sub(self.centre.count()));
        let event = SoundEvent::new(at, sample, strip);
        SoundEvent { length: Some(self.length), fade: self.fade, ..event }
    }

    /// How long it sounds after the beat.
    #[must_use]
    pub fn after_beat(&self) -> Frames {
        self.length - self.centre
    }
}

impl VoicePack {
    /// Chooses a recording of `word` for a slot that lasts from its beat to the next spoken one, where what
    /// comes next is taken to begin as early before its beat as this word does: the whole syllable lasts no
    /// longer than the slot. Nothing if no form of the word fits: then it is better left unsaid.
    ///
    /// The slowest speed that fits is taken; else the quickest, cut to the slot, if 85 ms after its centre
    /// remain; else the same for its weaker form. Nothing is ever stretched.
    ///
    /// # Errors
    /// If the voice cannot say the word at all.
    pub fn fit(&self, word: &str, slot: Seconds) -> Result<Option<Fitted>, Error> {
        self.fit_after(word, slot, None)
    }

    /// The same where it is known how long before its beat the next word begins to sound: its
    /// [`Fitted::centre`], or nothing if no word follows. Words are then fitted from the last to the first.
    /// Short vowels before long consonants and the reverse are told apart, so more fits than with [`VoicePack::fit`].
    ///
    /// # Errors
    /// If the voice cannot say the word at all.
    pub fn fit_before(&self, word: &str, slot: Seconds, next_lead: Frames) -> Result<Option<Fitted>, Error> {
        self.fit_after(word, slot, Some(next_lead))
    }

    fn fit_after(
        &self,
        word: &str,
        slot: Seconds,
        next_lead: Option<Frames>,
    ) -> Result<Option<Fitted>, Error> {
        let full = self.syllable_of(word)?;
        let slot = Frames::of(slot, self.rate());
        Ok(self
            .whole(full, slot, next_lead, Fit::Whole)
            .or_else(|| self.cut(full, slot, next_lead, Fit::Cut))
            .or_else(|| self.whole(self.weaker(full)?, slot, next_lead, Fit::Weaker))
            .or_else(|| self.cut(self.weaker(full)?, slot, next_lead, Fit::WeakerCut)))
    }

    /// The slowest recording that fits whole.
    fn whole(
        &self,
        syllable: &Syllable,
        slot: Frames,
        next_lead: Option<Frames>,
        fit: Fit,
    ) -> Option<Fitted> {
        syllable.recordings.iter().find_map(|&id| {
            let recording = self.recording(id);
            let (centre, length) = (recording.centre(), recording.length());
            let room = slot - next_lead.unwrap_or(centre);
            (length - centre <= room).then_some(Fitted {
                recording: id,
                centre,
                length,
                fade: Frames::ZERO,
                fit,
            })
        })
    }

    /// The quickest recording, cut to the slot.
    fn cut(&self, syllable: &Syllable, slot: Frames, next_lead: Option<Frames>, fit: Fit) -> Option<Fitted> {
        let &id = syllable.recordings.last()?;
        let centre = self.recording(id).centre();
        let room = slot - next_lead.unwrap_or(centre);
        let kept = Frames::of(KEPT_AFTER_CENTRE, self.rate());
        let fade = Frames::of(CUT_FADE, self.rate());
        (room >= kept).then_some(Fitted { recording: id, centre, length: centre + room, fade, fit })
    }
}
