//! The device that plays, kept through its coming and going.

use std::sync::{Arc, Mutex, PoisonError};

use input::Stroke;
use mixer::{Controller, Report};
use sequencer::Pads;
use sequencer::levels::PLAYED;
use timebase::{Anchor, Anchored, ClockFit, Frame, Frames, HostTime, Moment, SampleRate, Seconds};
use voice::Drum;

use crate::device::{Opened, Opener, SoundIn, SoundOut};
use crate::{Error, SoundAt};

/// How often a device that has gone is looked for.
const LOOK_EVERY: Seconds = Seconds::from_millis(1_000);

/// A device that asks for no block for so long stands still, whatever its driver says of it.
const STANDS_STILL: Seconds = Seconds::from_millis(3_000);

/// What is known of the sound device now: shared with whoever prepares a drill.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct SoundNow {
    pub(crate) name: String,
    pub(crate) rate: SampleRate,
    pub(crate) block: i64,
    pub(crate) is_there: bool,
    /// What is recorded beside, if anything is.
    pub(crate) microphone: Option<String>,
}

impl SoundNow {
    /// The device as it runs.
    pub(crate) fn at(&self) -> SoundAt {
        SoundAt { output: self.name.clone(), rate: self.rate, block: Frames::new(self.block) }
    }
}

/// What happened to the sound.
#[derive(Debug)]
pub(crate) enum SoundNews {
    /// A mark on the clocks, one a second.
    Anchor(Anchor),
    /// Frames were lost, or came so much later than before.
    Jumped(Seconds),
    /// What the mixer says.
    Report(Report),
    /// What the driver says, the end of the stream left out.
    Event(audio::Event),
    /// The stream has ended.
    Gone(String),
    /// It plays again.
    Back,
}

#[derive(Debug)]
pub(crate) struct Sound {
    opener: Box<dyn Opener>,
    open: Option<Open>,
    /// The device's clock. It is still known when the device has gone, for what was played before.
    fit: ClockFit,
    tried: HostTime,
    now: Arc<Mutex<SoundNow>>,
}

#[derive(Debug)]
struct Open {
    out: Box<dyn SoundOut>,
    controller: Controller,
    /// What sounds when somebody strikes.
    pads: Pads,
    /// When the last block was heard of, and the last mark handed on.
    alive: HostTime,
    marked: Option<Frame>,
}

impl Sound {
    /// Opens the device.
    pub(crate) fn open(mut opener: Box<dyn Opener>, now: HostTime) -> Result<Self, Error> {
        let open = Open::new(opener.play()?, now);
        let shared = Arc::new(Mutex::new(open.told()));
        let fit = ClockFit::new(open.out.rate());
        Ok(Self { opener, open: Some(open), fit, tried: now, now: shared })
    }

    pub(crate) fn shared(&self) -> Arc<Mutex<SoundNow>> {
        Arc::clone(&self.now)
    }

    pub(crate) fn record(&mut self) -> Option<Result<Box<dyn SoundIn>, Error>> {
        self.opener.record()
    }

    /// Tells what is recorded beside.
    pub(crate) fn records(&self, microphone: Option<String>) {
        self.now.lock().unwrap_or_else(PoisonError::into_inner).microphone = microphone;
    }

    pub(crate) const fn fit(&self) -> &ClockFit {
        &self.fit
    }

    pub(crate) fn controller(&mut self) -> Option<&mut Controller> {
        self.open.as_mut().map(|open| &mut open.controller)
    }

    pub(crate) fn rate(&self) -> Option<SampleRate> {
        self.open.as_ref().map(|open| open.out.rate())
    }

    /// What the device plays at `host`, in its own time.
    pub(crate) fn moment_at(&self, host: HostTime) -> Option<Moment> {
        self.fit.moment_at(host)
    }

    /// What the device played when somebody struck, in its own time.
    pub(crate) fn moment_struck(&mut self, stroke: &Stroke) -> Option<Moment> {
        self.fit.moment_struck(stroke.stamp, stroke.place)
    }

    /// A programme was sent whose bank has these.
    pub(crate) fn sounds_with(&mut self, pads: Pads) {
        if let Some(open) = &mut self.open {
            open.pads = pads;
        }
    }

    /// Sounds a stroke at once. What has no room stays silent: there are strokes enough then.
    pub(crate) fn strike(&mut self, drum: Drum, gain: f32) {
        if let Some(open) = &mut self.open {
            open.controller.play(open.pads.sound(drum), gain, PLAYED).ok();
        }
    }

    /// The block size the device chose, in frames.
    pub(crate) fn block(&self) -> i64 {
        self.open.as_ref().map_or(0, |open| open.out.block().count())
    }

    /// What happened since. A device that has gone is looked for once a second while `may_open`.
    pub(crate) fn mind(&mut self, now: HostTime, may_open: bool) -> Vec<SoundNews> {
        let mut news = Vec::new();
        match &mut self.open {
            Some(open) => {
                if let Some(why) = open.mind(now, &mut self.fit, &mut news) {
                    self.close(now);
                    news.push(SoundNews::Gone(why));
                }
            }
            None if may_open && now - self.tried >= LOOK_EVERY => {
                self.tried = now;
                // It may not be there yet; the next look tries again.
                if let Ok(opened) = self.opener.play() {
                    let open = Open::new(opened, now);
                    let mut now = self.now.lock().unwrap_or_else(PoisonError::into_inner);
                    let microphone = now.microphone.take();
                    *now = SoundNow { microphone, ..open.told() };
                    drop(now);
                    self.fit = ClockFit::new(open.out.rate());
                    self.open = Some(open);
                    news.push(SoundNews::Back);
                }
            }
            None => {}
        }
        news
    }

    fn close(&mut self, now: HostTime) {
        self.open = None;
        self.tried = now;
        self.now.lock().unwrap_or_else(PoisonError::into_inner).is_there = false;
    }
}

impl Open {
    fn new(opened: Opened, now: HostTime) -> Self {
        let Opened { out, controller, clap } = opened;
        Self { out, controller, pads: Pads::clapping(clap), alive: now, marked: None }
    }

    fn told(&self) -> SoundNow {
        let block = self.out.block().count();
        SoundNow { name: self.out.name(), rate: self.out.rate(), block, is_there: true, microphone: None }
    }

    /// Gathers what happened; says why if the stream has ended.
    fn mind(&mut self, now: HostTime, fit: &mut ClockFit, news: &mut Vec<SoundNews>) -> Option<String> {
        while let Some(anchor) = self.out.next_anchor() {
            self.alive = now;
            if let Anchored::Jumped(by) = fit.add(anchor) {
                news.push(SoundNews::Jumped(by));
            }
            let second = i64::from(self.out.rate().hz());
            if self.marked.is_none_or(|last| (anchor.frame - last).count() >= second) {
                self.marked = Some(anchor.frame);
                news.push(SoundNews::Anchor(anchor));
            }
        }
        // What comes back from the audio thread is dropped by whoever reads the news.
        news.extend(std::iter::from_fn(|| self.controller.next_report()).map(SoundNews::Report));
        while let Some(event) = self.out.next_event() {
            match event {
                audio::Event::Gone { why } => return Some(why),
                audio::Event::Dropout => {
                    fit.expect_jump();
                    news.push(SoundNews::Event(event));
                }
                event => news.push(SoundNews::Event(event)),
            }
        }
        let silent = now - self.alive;
        (silent >= STANDS_STILL)
            .then(|| format!("it has asked for no sound for {:.0} s", silent.as_secs_f64()))
    }
}
