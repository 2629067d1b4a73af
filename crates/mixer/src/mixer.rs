use timebase::{Frame, Frames, SampleRate};

use crate::control::{Command, Link, Retired, check_follower};
use crate::deck::Deck;
use crate::limits::{LEVEL_RAMP, STOP_FADE};
use crate::programme::check_gain;
use crate::strip::Strips;
use crate::succession::{Next, Succession, began};
use crate::{Controller, Error, Programme, Report, StripId, ceiling};

/// The engine: renders a programme from its beginning, or from a given frame, to its end.
///
/// It begins to play with the first block asked of it. After the end, or a stop, it renders silence
/// and whatever is [played at once](Controller::play).
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
    rate: SampleRate,
    /// Every frame rendered since it was made.
    rendered: Frame,
    /// Whether the end of the present programme was reported.
    end_reported: bool,
    link: Option<Link>,
}

impl Mixer {
    /// A mixer about to play `programme` from its beginning, every strip at level 1.
    #[must_use]
    pub fn new(programme: &Programme) -> Self {
        let deck = Box::new(Deck::new(programme, Frame::ZERO));
        Self {
            end_reported: deck.is_finished(),
            deck,
            leaving: None,
            succession: Succession::default(),
            strips: Strips::new(),
            rate: programme.bank().rate(),
            rendered: Frame::ZERO,
            link: None,
        }
    }

    /// The same mixer, about to begin at `from`: it renders from there on exactly what it would have
    /// rendered after playing up to there. A frame outside the programme is moved to its nearer end.
    #[must_use]
    pub fn beginning_at(mut self, from: Frame) -> Self {
        self.deck = Box::new(Deck::new(self.deck.programme(), from));
        self.end_reported = self.deck.is_finished();
        self
    }

    /// The same mixer with a strip at another level from its first frame on.
    ///
    /// # Errors
    /// If `level` is no gain.
    pub fn with_level(mut self, strip: StripId, level: f32) -> Result<Self, Error> {
        check_gain(level)?;
        self.strips.set(strip, level);
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

    /// Renders the next frames, mono, overwriting `out`. Every frame lies within ±1; where the sum of
    /// the sounds stays below [`EXACT_BELOW`](crate::limits::EXACT_BELOW) it is that sum exactly, and
    /// above it is bent, never beyond full scale.
    ///
    /// The frames do not depend on how they are cut into blocks. Commands of the controller take
    /// effect at the beginning of a block.
    ///
    /// Real-time: no allocation, lock, I/O or panic.
    pub fn render(&mut self, out: &mut [f32]) {
        self.obey();
        out.fill(0.0);
        let mut rest = &mut *out;
        while !rest.is_empty() {
            self.change_over();
            self.deck.begin_due();
            if let Some(leaving) = &mut self.leaving {
                leaving.begin_due();
            }
            self.succession.ringing().for_each(|deck| deck.begin_due());
            let (now, later) = rest.split_at_mut(self.steady().clamp(1, rest.len()));
            self.deck.add_to(now, &self.strips);
            if let Some(leaving) = &mut self.leaving {
                leaving.add_to(now, &self.strips);
            }
            self.succession.ringing().for_each(|deck| deck.add_to(now, &self.strips));
            self.strips.advance(u32::try_from(now.len()).unwrap_or(u32::MAX));
            self.rendered += Frames::new(i64::try_from(now.len()).unwrap_or(i64::MAX));
            self.report_end();
            rest = later;
        }
        ceiling::apply(out);
        self.send_back();
        if let Some(link) = &self.link {
            link.publish(self.rendered, self.deck.position());
        }
    }

    /// The frame of the programme that is rendered next; stays where it is after the end or a stop.
    #[must_use]
    pub fn position(&self) -> Frame {
        self.deck.position()
    }

    /// Every frame rendered since the mixer was made: the zero of [`Report`]s.
    #[must_use]
    pub const fn rendered(&self) -> Frame {
        self.rendered
    }

    /// Whether the programme has been played to its end, or was stopped and has fallen silent.
    #[must_use]
    pub fn is_finished(&self) -> bool {
        self.deck.is_finished() && !self.has_next()
    }

    /// Frames until the programme's end; none after a stop.
    #[must_use]
    pub fn frames_left(&self) -> Frames {
        match self.succession.ahead(self.deck.position()) {
            Some((until, rest)) => Frames::new(i64::try_from(until).unwrap_or(i64::MAX).saturating_add(rest)),
            None => self.deck.frames_left(),
        }
    }

    /// Frames until the programme that waits begins; nothing if none waits.
    #[must_use]
    pub fn frames_until_next(&self) -> Option<Frames> {
        let (until, _) = self.succession.ahead(self.deck.position())?;
        Some(Frames::new(i64::try_from(until).unwrap_or(i64::MAX)))
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
                Command::Level { strip, level } => self.strips.turn(strip, level, ramp),
                Command::Stop => {
                    self.deck.stop(fade);
                    self.drop_next(fade);
                }
                Command::Replace(deck) => {
                    let mut before = std::mem::replace(&mut self.deck, deck);
                    before.make_way(fade);
                    self.leaving = Some(before);
                    self.end_reported = false;
                    self.drop_next(fade);
                    self.report(began(self.rendered, &self.deck));
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
            self.end_reported = false;
            self.report(began(self.rendered, &self.deck));
            self.followed();
        }
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
        if !self.end_reported && self.deck.is_finished() && !self.has_next() {
            self.end_reported = true;
            self.report(if self.deck.is_stopped() {
                Report::Stopped { at: self.rendered }
            } else {
                Report::Finished { at: self.rendered }
            });
        }
    }

    fn report(&mut self, report: Report) {
        if let Some(link) = &mut self.link {
            link.report(report);
        }
    }
}
