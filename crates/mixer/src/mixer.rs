use timebase::{Frame, Frames, SampleRate};

use crate::bus::Bus;
use crate::control::{Command, Link, Retired, check_follower};
use crate::deck::Deck;
use crate::limiter::Limiter;
use crate::limits::{CHUNK, LEVEL_RAMP, STOP_FADE};
use crate::strip::Strips;
use crate::succession::{Next, Succession, began};
use crate::{Controller, Error, Programme, Report, Setting, StripId};

/// The engine: renders a programme from its beginning, or from a given frame, to its end.
///
/// It begins to play with the first block asked of it. After the end, or a stop, it renders silence
/// and whatever is [played at once](Controller::play).
///
/// Its limiter has to hear a peak before it sounds, so the mixer mixes [`Mixer::look_ahead`] further than it has
/// rendered. A programme's events, known beforehand, are rendered on their frames all the same, and the frames of
/// [`Report`]s are those on which things are heard; only what is asked of it while it runs takes effect so much later.
///
/// A mixer owns memory: drop it on another thread than the audio thread, after the stream has ended.
#[derive(Debug)]
pub struct Mixer {
    deck: Box<Deck>,
    /// The programme before, while it falls silent and until it can be sent back.
    leaving: Option<Box<Deck>>,
    /// What follows the present programme without a gap, and what rings on of those before.
    succession: Succession,
    strips: Strips,
    bus: Bus,
    limiter: Limiter,
    rate: SampleRate,
    /// Every frame rendered since it was made.
    rendered: Frame,
    /// Every frame mixed since it was made: after the first block, as many more as the limiter looks ahead.
    mixed: Frame,
    /// On which frame the present programme began, and which of its own that was.
    began: (Frame, Frame),
    /// On which frame the present programme ended, once that was mixed.
    ended: Option<Frame>,
    link: Option<Link>,
}

impl Mixer {
    /// A mixer about to play `programme` from its beginning, every strip at level 1.
    #[must_use]
    pub fn new(programme: &Programme) -> Self {
        let deck = Box::new(Deck::new(programme, Frame::ZERO));
        let rate = programme.bank().rate();
        Self {
            ended: deck.is_finished().then_some(Frame::ZERO),
            deck,
            leaving: None,
            succession: Succession::default(),
            strips: Strips::new(),
            bus: Bus::new(),
            limiter: Limiter::new(rate),
            rate,
            rendered: Frame::ZERO,
            mixed: Frame::ZERO,
            began: (Frame::ZERO, Frame::ZERO),
            link: None,
        }
    }

    /// The same mixer, about to begin at `from`: it renders from there on exactly what it would have
    /// rendered after playing up to there. A frame outside the programme is moved to its nearer end.
    #[must_use]
    pub fn beginning_at(mut self, from: Frame) -> Self {
        self.deck = Box::new(Deck::new(self.deck.programme(), from));
        self.began = (self.mixed, self.deck.position());
        self.ended = self.deck.is_finished().then_some(self.mixed);
        self
    }

    /// The same mixer with a strip at another level from its first frame on.
    ///
    /// # Errors
    /// If `level` is no gain.
    pub fn with_level(self, strip: StripId, level: f32) -> Result<Self, Error> {
        let setting = Setting { level, ..self.strips.setting(strip) };
        self.with_setting(strip, setting)
    }

    /// The same mixer with a strip set otherwise from its first frame on.
    ///
    /// # Errors
    /// If the setting's level is no gain or its pan beyond the sides.
    pub fn with_setting(mut self, strip: StripId, setting: Setting) -> Result<Self, Error> {
        self.strips.set(strip, setting.checked()?);
        Ok(self)
    }

    /// Lets another programme follow the present one as [`Controller::follow`] does, for a mixer that nobody controls.
    /// Not real-time.
    ///
    /// # Errors
    /// As there.
    pub fn follow(&mut self, programme: &Programme, from: Frame, at: Frame) -> Result<(), Error> {
        check_follower(self.rate, self.deck.programme(), programme, at)?;
        self.succession.drop_rung_out();
        let next = Next { deck: Box::new(Deck::new(programme, from)), at };
        self.succession.wait(next).map_or(Ok(()), |_| Err(Error::NextWaits))
    }

    /// Whether a programme waits to follow the present one.
    #[must_use]
    pub const fn has_next(&self) -> bool {
        self.succession.has_next()
    }

    /// The same mixer, and what controls it from another thread. A controller made before loses it.
    #[must_use]
    pub fn controlled(mut self) -> (Self, Controller) {
        let (link, controller) = Link::new(self.rate, self.deck.programme().clone(), self.deck.position());
        self.link = Some(link);
        (self, controller)
    }

    /// Renders the next frames, mono, overwriting `out`.
    ///
    /// No frame exceeds [`CEILING`](crate::limits::CEILING), nor does the sound between frames. Where the sum of the
    /// sounds stays 0.1 dB below, it is that sum exactly; elsewhere it is made softer for as long as it takes.
    ///
    /// The frames do not depend on how they are cut into blocks. Commands of the controller take effect at the
    /// beginning of a block, [`Mixer::look_ahead`] later in what is heard.
    ///
    /// Real-time: no allocation, lock, I/O or panic.
    pub fn render(&mut self, out: &mut [f32]) {
        self.begin(false);
        for piece in out.chunks_mut(CHUNK) {
            self.mix(piece.len(), false);
            piece.copy_from_slice(self.bus.mono(piece.len()));
            self.rendered += frames(piece.len());
        }
        self.finish();
    }

    /// Renders the next frames, left and right, overwriting `out`: as [`Mixer::render`], but strips are heard where
    /// they are [set](Setting::pan). Both sides are made softer together, so that nothing moves. A strip in the middle
    /// is on both sides as it is in mono.
    ///
    /// A mixer is asked for mono or for stereo, not for one and then the other: what it holds back for the limiter
    /// would come out in the middle.
    ///
    /// Real-time: no allocation, lock, I/O or panic.
    pub fn render_stereo(&mut self, out: &mut [[f32; 2]]) {
        self.begin(true);
        for piece in out.chunks_mut(CHUNK) {
            self.mix(piece.len(), true);
            let [left, right] = self.bus.both(piece.len());
            for ((out, left), right) in piece.iter_mut().zip(left).zip(right) {
                *out = [*left, *right];
            }
            self.rendered += frames(piece.len());
        }
        self.finish();
    }

    /// Takes commands and, the first time, runs ahead.
    fn begin(&mut self, is_stereo: bool) {
        self.obey();
        while self.mixed < self.rendered + self.look_ahead() {
            let missing = (self.rendered + self.look_ahead() - self.mixed).count();
            let missing = usize::try_from(missing).map_or(CHUNK, |missing| missing.min(CHUNK));
            self.mix(missing, is_stereo);
        }
    }

    /// Sends what has to be told and given back.
    fn finish(&mut self) {
        self.send_back();
        if let Some(link) = &self.link {
            link.publish(self.rendered, self.position());
        }
    }

    /// Mixes at most [`CHUNK`] frames and leaves on the bus as many that are to be rendered.
    fn mix(&mut self, length: usize, is_stereo: bool) {
        self.bus.clear(length, is_stereo);
        let mut done = 0;
        while done < length {
            self.change_over();
            self.deck.begin_due();
            if let Some(leaving) = &mut self.leaving {
                leaving.begin_due();
            }
            self.succession.ringing().for_each(|deck| deck.begin_due());
            let now = self.steady().clamp(1, length - done);
            let mut part = self.bus.part(done..done + now);
            self.deck.add_to(&mut part, &self.strips);
            if let Some(leaving) = &mut self.leaving {
                leaving.add_to(&mut part, &self.strips);
            }
            self.succession.ringing().for_each(|deck| deck.add_to(&mut part, &self.strips));
            self.strips.advance(u32::try_from(now).unwrap_or(u32::MAX));
            self.mixed += frames(now);
            self.report_end();
            done += now;
        }
        if is_stereo {
            self.limiter.pass(&mut self.bus.stereo(length));
        } else {
            self.limiter.pass(&mut [self.bus.mono(length)]);
        }
    }

    /// The frame of the programme that is rendered next; stays where it is after the end or a stop.
    #[must_use]
    pub fn position(&self) -> Frame {
        let (at, from) = self.began;
        (from + (self.rendered - at)).clamp(from, self.deck.position().max(from))
    }

    /// How much further than it has rendered the mixer mixes, so that its limiter knows what comes: 1.5 ms.
    #[must_use]
    pub fn look_ahead(&self) -> Frames {
        frames(self.limiter.delay())
    }

    /// Every frame rendered since the mixer was made: the zero of [`Report`]s.
    #[must_use]
    pub const fn rendered(&self) -> Frame {
        self.rendered
    }

    /// Whether the programme has been played to its end, or was stopped and has fallen silent.
    #[must_use]
    pub fn is_finished(&self) -> bool {
        !self.has_next() && self.ended.is_some_and(|ended| ended <= self.rendered)
    }

    /// Frames until the programme's end, or until a stop under way is over.
    #[must_use]
    pub fn frames_left(&self) -> Frames {
        let left = match self.succession.ahead(self.deck.position()) {
            Some((until, rest)) => frames(until) + Frames::new(rest),
            None => self.deck.frames_left(),
        };
        let ends = self.ended.filter(|_| !self.has_next()).unwrap_or_else(|| self.mixed + left);
        (ends - self.rendered).max(Frames::ZERO)
    }

    /// Frames until the programme that waits begins; nothing if none waits.
    #[must_use]
    pub fn frames_until_next(&self) -> Option<Frames> {
        let (until, _) = self.succession.ahead(self.deck.position())?;
        Some(self.mixed + frames(until) - self.rendered)
    }

    /// Frames a second.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    /// How many frames can be rendered before an event, or the end of a ramp.
    fn steady(&self) -> usize {
        let strips = self.strips.left().and_then(|left| usize::try_from(left).ok());
        let leaving = self.leaving.as_ref().and_then(|leaving| leaving.until_change());
        let next = self.succession.ahead(self.deck.position()).map(|(until, _)| until);
        let changes = [strips, self.deck.until_change(), leaving, next, self.succession.until_change()];
        changes.into_iter().flatten().min().unwrap_or(usize::MAX)
    }

    /// Takes the commands that have arrived.
    fn obey(&mut self) {
        let ramp = u32::try_from(Frames::of(LEVEL_RAMP, self.rate).count()).unwrap_or(u32::MAX);
        let fade = u32::try_from(Frames::of(STOP_FADE, self.rate).count()).unwrap_or(u32::MAX);
        // While one programme is still on its way out, another has to wait: there is one place to fade in.
        while let Some(command) = self
            .link
            .as_mut()
            .and_then(|link| link.next_command(self.leaving.is_none(), self.succession.is_open()))
        {
            match command {
                Command::Level { strip, level } => {
                    let setting = Setting { level, ..self.strips.setting(strip) };
                    self.strips.turn(strip, setting, ramp);
                }
                Command::Set { strip, setting } => self.strips.turn(strip, setting, ramp),
                Command::Stop => {
                    self.deck.stop(fade);
                    self.drop_next(fade);
                }
                Command::Replace(deck) => {
                    let mut before = std::mem::replace(&mut self.deck, deck);
                    before.make_way(fade);
                    self.leaving = Some(before);
                    self.drop_next(fade);
                    self.begins(false);
                }
                Command::Follow(next) => {
                    // The link gave it out because there is room.
                    self.succession.wait(next);
                    if self.deck.is_stopping() {
                        self.drop_next(fade);
                    }
                }
                Command::Play { sample, gain, strip } => {
                    if !self.deck.play(sample, gain, strip) {
                        self.report(Report::Refused { sample });
                    }
                }
            }
        }
    }

    /// Puts the programme that waits in the place of the present one, if it is due.
    fn change_over(&mut self) {
        if self.succession.change_over(&mut self.deck) {
            self.begins(true);
            self.followed();
        }
    }

    /// Another programme begins on the next frame that is mixed.
    fn begins(&mut self, follows: bool) {
        self.ended = None;
        self.began = (self.mixed, self.deck.position());
        self.report(began(self.mixed, &self.deck, follows));
    }

    /// What rings on falls silent, and what waits will not begin.
    fn drop_next(&mut self, fade: u32) {
        if self.succession.make_way(fade) {
            self.followed();
        }
    }

    fn followed(&self) {
        if let Some(link) = &self.link {
            link.followed();
        }
    }

    /// Sends a programme that has fallen silent back to be dropped; keeps it while there is no room.
    fn send_back(&mut self) {
        if let (Some(link), Some(leaving)) = (&mut self.link, self.leaving.take()) {
            self.leaving =
                if leaving.is_gone() { link.give_back(Retired::new(leaving)) } else { Some(leaving) };
        }
        if let Some(link) = &mut self.link {
            self.succession.send_back(link);
        }
    }

    fn report_end(&mut self) {
        if self.ended.is_none() && self.deck.is_finished() && !self.has_next() {
            let at = self.mixed;
            self.ended = Some(at);
            self.report(if self.deck.is_stopped() {
                Report::Stopped { at }
            } else {
                Report::Finished { at }
            });
        }
    }

    fn report(&mut self, report: Report) {
        if let Some(link) = &mut self.link {
            link.report(report);
        }
    }
}

fn frames(length: usize) -> Frames {
    Frames::new(i64::try_from(length).unwrap_or(i64::MAX))
}
