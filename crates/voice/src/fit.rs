use mixer::{SampleId, SoundEvent, StripId};
use timebase::{Frame, Frames, Seconds};

use crate::limits::{CROSSING_WITHIN, CUT_FADE, KEPT_AFTER_CENTRE, KEPT_BEFORE_CENTRE};
use crate::pack::Syllable;
use crate::recording::RecordingId;
use crate::{Error, VoicePack};

/// A recording chosen for its slot, and how it has to be played there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fitted {
    /// Which recording.
    pub recording: RecordingId,
    /// How much of its beginning is left out.
    pub skipped: Frames,
    /// From where it begins to sound to its perceptual centre: it begins so much before the beat.
    pub centre: Frames,
    /// How much of it sounds.
    pub length: Frames,
    /// How long it fades at the end; nothing if it is whole.
    pub fade: Frames,
    /// How it was made to fit.
    pub fit: Fit,
    /// Whether it had to be quicker than the pace asked for, or was cut or weakened.
    pub hurried: bool,
}

/// How a word was made to fit its slot, the best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fit {
    /// The whole syllable, at the slowest speed that fits.
    Whole,
    /// The whole of a shorter form: "sev" for "seven", a weak "n" for "and".
    Weaker,
    /// The quickest recording, cut with a fade; or begun late, its first consonant shortened.
    Cut,
    /// The quickest recording of the shorter form, cut with a fade.
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
        SoundEvent { from: self.skipped, length: Some(self.length), fade: self.fade, ..event }
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
    /// The slowest speed that fits is taken; else the slowest that fits of its shorter form; else the quickest recording
    /// of the word itself, cut to the slot, if 85 ms after its centre remain; else the same of the shorter form. Nothing
    /// is ever stretched.
    ///
    /// # Errors
    /// If the voice cannot say the word at all.
    pub fn fit(&self, word: &str, slot: Seconds) -> Result<Option<Fitted>, Error> {
        self.fit_after(word, slot, None, 0)
    }

    /// The same where it is known how long before its beat the next word begins to sound: its
    /// [`Fitted::centre`], or nothing if no word follows. Words are then fitted from the last to the first.
    /// Short vowels before long consonants and the reverse are told apart, so more fits than with [`VoicePack::fit`].
    ///
    /// # Errors
    /// If the voice cannot say the word at all.
    pub fn fit_before(&self, word: &str, slot: Seconds, next_lead: Frames) -> Result<Option<Fitted>, Error> {
        self.fit_at(word, slot, next_lead, 0)
    }

    /// The same at a pace: no recording slower than the one of this number is taken, 0 being the slowest, so that the
    /// words of a bar are said at one speed. A syllable with fewer speeds is said at its quickest.
    ///
    /// # Errors
    /// If the voice cannot say the word at all.
    pub fn fit_at(
        &self,
        word: &str,
        slot: Seconds,
        next_lead: Frames,
        pace: usize,
    ) -> Result<Option<Fitted>, Error> {
        self.fit_after(word, slot, Some(next_lead), pace)
    }

    fn fit_after(
        &self,
        word: &str,
        slot: Seconds,
        next_lead: Option<Frames>,
        pace: usize,
    ) -> Result<Option<Fitted>, Error> {
        let full = self.syllable_of(word)?;
        let slot = Frames::of(slot, self.rate());
        Ok(self
            .whole(full, slot, next_lead, pace, Fit::Whole)
            .or_else(|| self.whole(self.weaker(full)?, slot, next_lead, pace, Fit::Weaker))
            .or_else(|| self.cut(full, slot, next_lead, Fit::Cut))
            .or_else(|| self.cut(self.weaker(full)?, slot, next_lead, Fit::WeakerCut)))
    }

    /// The slowest recording that fits whole, from the one of this pace on.
    fn whole(
        &self,
        syllable: &Syllable,
        slot: Frames,
        next_lead: Option<Frames>,
        pace: usize,
        fit: Fit,
    ) -> Option<Fitted> {
        let from = pace.min(syllable.recordings.len() - 1);
        syllable.recordings[from..].iter().enumerate().find_map(|(quicker, &id)| {
            let recording = self.recording(id);
            let (centre, length) = (recording.centre(), recording.length());
            let room = slot - next_lead.unwrap_or(centre);
            (length - centre <= room).then_some(Fitted {
                recording: id,
                skipped: Frames::ZERO,
                centre,
                length,
                fade: Frames::ZERO,
                fit,
                hurried: quicker > 0 || fit != Fit::Whole,
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
        let length = centre + room;
        let skipped = Frames::ZERO;
        (room >= kept).then_some(Fitted { recording: id, skipped, centre, length, fade, fit, hurried: true })
    }

    /// The same, begun late for the sake of the word before: [`KEPT_BEFORE_CENTRE`] before its centre, or a little later,
    /// where its sound crosses zero. Nothing where it begins no earlier than that as it is.
    #[must_use]
    pub fn begun_late(&self, fitted: Fitted) -> Option<Fitted> {
        let kept = Frames::of(KEPT_BEFORE_CENTRE, self.rate());
        let within = usize::try_from(Frames::of(CROSSING_WITHIN, self.rate()).count()).ok()?;
        let least = usize::try_from((fitted.centre - kept).count()).ok().filter(|&late| late > 0)?;
        let least = least + usize::try_from(fitted.skipped.count()).ok()?;
        let data = self.recording(fitted.recording).sample().data();
        let heard = data.get(least..(least + within).min(data.len()))?;
        let crossing = heard.windows(2).position(|pair| (pair[0] <= 0.0) != (pair[1] <= 0.0));
        let skipped = Frames::new(i64::try_from(least + crossing.map_or(0, |at| at + 1)).ok()?);
        let more = skipped - fitted.skipped;
        let (centre, length) = (fitted.centre - more, fitted.length - more);
        Some(Fitted { skipped, centre, length, fit: fitted.fit.max(Fit::Cut), hurried: true, ..fitted })
    }
}
