use std::sync::Arc;

use timebase::{Frame, Frames};

use crate::limits::{EVENT_GAIN_MOST, FADE_MOST, FRAME_MOST};
use crate::{Bank, Error, Sample, SampleId, StripId};

/// One sample played once, at an exact frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SoundEvent {
    /// The frame of the programme on which the sound's first frame falls.
    pub at: Frame,
    /// What is played.
    pub sample: SampleId,
    /// How much of the sample's beginning is left out.
    pub from: Frames,
    /// After how many frames the sound is cut; `None`, or more than the sample has, lets it ring to its end. A
    /// [sustained](Sample::sustained) sound has no end and needs a length.
    pub length: Option<Frames>,
    /// How long it fades before a cut, ending at it; at most `length`. The fade is `3x² − 2x³` with
    /// `x` the share of the fade still to go, so it begins at full level and has no corner. Without a
    /// cut it is not used.
    pub fade: Frames,
    /// Its own gain, 0 to [`EVENT_GAIN_MOST`].
    pub gain: f32,
    /// The level control it is under.
    pub strip: StripId,
}

impl SoundEvent {
    /// The whole sample, at its own level.
    #[must_use]
    pub const fn new(at: Frame, sample: SampleId, strip: StripId) -> Self {
        Self { at, sample, from: Frames::ZERO, length: None, fade: Frames::ZERO, gain: 1.0, strip }
    }

    /// How many frames of `sample` it sounds.
    pub(crate) fn sounds(&self, sample: &Sample) -> Frames {
        let rest = sample.length() - self.from;
        let ends = |length: Frames| if sample.again().is_some() { length } else { length.min(rest) };
        self.length.map_or(rest, ends).max(Frames::ZERO)
    }

    /// Whether it ends before `sample` does.
    pub(crate) fn cuts(&self, sample: &Sample) -> bool {
        let rest = sample.length() - self.from;
        self.length.is_some_and(|length| sample.again().is_some() || length < rest)
    }
}

/// Everything that will sound: a bank, the events in rising order, and how long it lasts.
///
/// Checked when it is made, so that rendering has nothing left to check. Cloning shares the data.
#[derive(Clone, Debug)]
pub struct Programme {
    bank: Arc<Bank>,
    events: Arc<[SoundEvent]>,
    length: Frames,
    most_at_once: usize,
}

impl Programme {
    /// A programme of these events, in any order, lasting `at_least` so long: a sound that rings on
    /// makes it longer. Events at the same frame keep their order.
    ///
    /// # Errors
    /// If an event plays a sample the bank does not hold, lies before frame 0, begins outside its
    /// sample, fades longer than it sounds, has a gain that is none, or would sound for ever; or if the length
    /// is negative.
    pub fn new(
        bank: impl Into<Arc<Bank>>,
        mut events: Vec<SoundEvent>,
        at_least: Frames,
    ) -> Result<Self, Error> {
        let bank = bank.into();
        if at_least < Frames::ZERO || at_least.count() > FRAME_MOST {
            return Err(Error::ProgrammeLength { given: at_least.count() });
        }
        let mut length = at_least;
        for (number, event) in events.iter().enumerate() {
            let end = check(&bank, number, event)?;
            length = length.max(end - Frame::ZERO);
        }
        events.sort_by_key(|event| event.at);
        let most_at_once = most_at_once(&bank, &events);
        Ok(Self { bank, events: events.into(), length, most_at_once })
    }

    /// A programme in which nothing sounds, for a mixer that waits for its first one.
    #[must_use]
    pub fn silence(bank: impl Into<Arc<Bank>>) -> Self {
        Self { bank: bank.into(), events: Arc::new([]), length: Frames::ZERO, most_at_once: 0 }
    }

    /// The samples it plays.
    #[must_use]
    pub fn bank(&self) -> &Bank {
        &self.bank
    }

    /// Its events in rising order.
    #[must_use]
    pub fn events(&self) -> &[SoundEvent] {
        &self.events
    }

    /// How long it lasts, to the end of its last sound or longer.
    #[must_use]
    pub const fn length(&self) -> Frames {
        self.length
    }

    /// The greatest number of sounds that overlap anywhere in it: as many voices a mixer sets aside.
    #[must_use]
    pub const fn most_at_once(&self) -> usize {
        self.most_at_once
    }
}

/// Refuses what cannot be played; says at which frame the event falls silent.
fn check(bank: &Bank, event: usize, given: &SoundEvent) -> Result<Frame, Error> {
    let Some(sample) = bank.sample(given.sample) else {
        return Err(Error::UnknownSample { event, given: given.sample.index(), held: bank.len() });
    };
    let within = |what, length: Frames, most: i64| {
        let given = length.count();
        if (0..=most).contains(&given) {
            Ok(())
        } else {
            Err(Error::EventLength { event, what, given, most })
        }
    };
    within("from", given.from, sample.length().count() - i64::from(sample.again().is_some()))?;
    if sample.again().is_some() && given.length.is_none() {
        return Err(Error::Endless { event });
    }
    if let Some(length) = given.length {
        within("length", length, FRAME_MOST)?;
        within("fade", given.fade, length.count().min(FADE_MOST))?;
    } else {
        within("fade", given.fade, FADE_MOST)?;
    }
    check_gain(given.gain, EVENT_GAIN_MOST)?;
    let end = given.at + given.sounds(sample);
    if given.at < Frame::ZERO || end.index() > FRAME_MOST {
        return Err(Error::EventFrame { event, given: given.at.index() });
    }
    Ok(end)
}

/// Refuses what is no gain.
pub(crate) fn check_gain(given: f32, most: f32) -> Result<(), Error> {
    if (0.0..=most).contains(&given) { Ok(()) } else { Err(Error::Gain { given, most }) }
}

/// The greatest number of sounds at one frame; a sound that ends where another begins leaves its place to it.
fn most_at_once(bank: &Bank, events: &[SoundEvent]) -> usize {
    let mut changes: Vec<(Frame, isize)> = Vec::with_capacity(2 * events.len());
    for event in events {
        let length = bank.sample(event.sample).map_or(Frames::ZERO, |sample| event.sounds(sample));
        if length > Frames::ZERO {
            changes.extend([(event.at, 1), (event.at + length, -1)]);
        }
    }
    // Ends sort before beginnings at the same frame.
    changes.sort_unstable();
    let mut now = 0;
    changes
        .iter()
        .map(|(_, change)| {
            now += change;
            now
        })
        .max()
        .map_or(0, isize::unsigned_abs)
}

#[cfg(test)]
mod tests {
    use timebase::SampleRate;

    use super::*;

    fn bank() -> (Bank, SampleId) {
        let mut bank = Bank::new(SampleRate::HZ_48000);
        let id = bank.add(Sample::new(vec![0.5; 100]).expect("finite"));
        (bank, id)
    }

    fn event(at: i64) -> SoundEvent {
        SoundEvent::new(Frame::new(at), bank().1, StripId::new(0))
    }

    #[test]
    fn what_cannot_be_played_is_refused_with_a_way_out() {
        let check = |bad: SoundEvent, says: &str| {
            let error =
                Programme::new(bank().0, vec![event(0), bad], Frames::ZERO).expect_err(says).to_string();
            assert!(error.contains(says), "{error}");
        };
        check(SoundEvent { at: Frame::new(-1), ..event(0) }, "event 1 sounds at frame -1");
        check(SoundEvent { from: Frames::new(101), ..event(0) }, "from 101; allowed is 0 to 100");
        check(SoundEvent { length: Some(Frames::new(-1)), ..event(0) }, "length -1");
        check(SoundEvent { length: Some(Frames::new(5)), fade: Frames::new(6), ..event(0) }, "fade 6");
        check(SoundEvent { gain: f32::NAN, ..event(0) }, "NaN is not a gain");
        check(SoundEvent { gain: -0.5, ..event(0) }, "goes from 0 to 10");
        check(SoundEvent { at: Frame::new(i64::MAX), ..event(0) }, "a programme goes from");
        let mut sustained = bank().0;
        let tone = sustained.add(Sample::sustained(vec![0.5; 4], 2).expect("a loop"));
        let endless = SoundEvent { sample: tone, ..event(0) };
        let error = Programme::new(sustained, vec![endless], Frames::ZERO).expect_err("endless").to_string();
        assert_eq!(error, "event 0 plays a sound that goes on for ever: give it a length");
        let mut larger = bank().0;
        larger.add(Sample::new(vec![0.0]).expect("finite"));
        let unknown = larger.add(Sample::new(vec![0.0]).expect("finite"));
        check(SoundEvent { sample: unknown, ..event(0) }, "plays sample 2, but the bank holds 1");
        let error = Programme::new(bank().0, vec![], Frames::new(-3)).expect_err("negative").to_string();
        assert!(error.starts_with("-3 is not a length"), "{error}");
    }

    #[test]
    fn it_lasts_as_long_as_its_last_sound_or_longer() {
        let length = |events, at_least| {
            Programme::new(bank().0, events, Frames::new(at_least)).expect("playable").length().count()
        };
        assert_eq!(length(vec![event(50)], 10), 150);
        assert_eq!(length(vec![event(50)], 1_000), 1_000);
        assert_eq!(length(vec![], 0), 0);
    }

    #[test]
    fn overlaps_are_counted_exactly() {
        let most = |places: &[i64]| {
            let events = places.iter().map(|&at| event(at)).collect();
            Programme::new(bank().0, events, Frames::ZERO).expect("playable").most_at_once()
        };
        assert_eq!(most(&[]), 0);
        assert_eq!(most(&[0, 100, 200]), 1);
        assert_eq!(most(&[0, 99, 200]), 2);
        assert_eq!(most(&[5, 5, 5, 300]), 3);
    }

    #[test]
    fn events_come_out_in_rising_order() {
        let programme = Programme::new(bank().0, vec![event(9), event(3)], Frames::ZERO).expect("playable");
        let places: Vec<i64> = programme.events().iter().map(|event| event.at.index()).collect();
        assert_eq!(places, [3, 9]);
    }
}
