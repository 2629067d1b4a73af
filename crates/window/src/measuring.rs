//! Latencies measured beside the window: on a thread of its own, for it takes its time, or by tapping along.

use crossbeam_channel::{Receiver, TryRecvError, bounded, unbounded};
use live::calibration::{
    self, CalibrationError, PadMeasured, SoundMeasured, Tapping, Typical, measure_pad, measure_sound,
};
use live::{Measured, MeasuredLoop, MeasuredPad, MeasuredTap, RecordSettings, RigSettings, SoundAt};

/// How many strokes of a pad are measured.
pub(crate) const STROKES: usize = 16;

/// What is being measured, and with what.
#[derive(Debug, Default)]
pub(crate) struct Measuring {
    /// The input that hears it.
    pub(crate) record: RecordSettings,
    /// The pad's port; empty for the first that is there.
    pub(crate) port: String,
    job: Option<Job>,
    /// What was found last, or why nothing was.
    pub(crate) says: Vec<String>,
}

#[derive(Debug)]
enum Job {
    Beside {
        result: Receiver<Result<Found, CalibrationError>>,
        struck: Receiver<usize>,
        so_far: usize,
        is_pad: bool,
    },
    Taps(Box<Tapping>),
}

/// What was found.
#[derive(Debug)]
pub(crate) enum Found {
    Sound(SoundMeasured),
    Pad(PadMeasured),
    Tap(MeasuredTap, Typical),
}

/// What is measured on a thread beside.
#[derive(Clone, Debug)]
pub(crate) enum What {
    /// From the loudspeaker to the microphone.
    Sound,
    /// From the knock to the stamp, of the pad on this port.
    Pad(String),
}

impl Measuring {
    /// Whether something is measured just now.
    pub(crate) fn is_on(&self) -> bool {
        self.job.is_some()
    }

    /// Whether somebody taps along with the click.
    pub(crate) fn taps(&self) -> bool {
        matches!(self.job, Some(Job::Taps(_)))
    }

    /// Begins to measure with the devices of these settings, which nobody else holds meanwhile; `before` is dropped first.
    pub(crate) fn begin(
        &mut self,
        what: What,
        settings: &RigSettings,
        before: impl Send + 'static,
        wake: impl Fn() + Clone + Send + 'static,
    ) {
        let (sound, midi, record) = (settings.sound.clone(), settings.midi, self.record.clone());
        let ((done, result), (tell, struck)) = (bounded(1), unbounded());
        let is_pad = matches!(what, What::Pad(_));
        let measure = move || {
            drop(before);
            let found = match what {
                What::Sound => measure_sound(&sound, &record, || {}).map(Found::Sound),
                What::Pad(port) => {
                    let told = wake.clone();
                    let tell = move |so_far| {
                        let _ = tell.send(so_far);
                        told();
                    };
                    measure_pad(&sound, &record, midi, &port, STROKES, tell).map(Found::Pad)
                }
            };
            // The window may be gone by then.
            let _ = done.send(found);
            wake();
        };
        self.says.clear();
        // Without a thread its end of the channel is gone, which is told as a failure.
        let _ = std::thread::Builder::new().name("latency".to_owned()).spawn(measure);
        self.job = Some(Job::Beside { result, struck, so_far: 0, is_pad });
    }

    /// Somebody taps along with the click of this drill.
    pub(crate) fn begin_taps(&mut self, tapping: Tapping) {
        self.says.clear();
        self.job = Some(Job::Taps(Box::new(tapping)));
    }

    /// What came of the thread beside, once.
    pub(crate) fn mind(&mut self) -> Option<Result<Found, String>> {
        let Some(Job::Beside { result, struck, so_far, .. }) = &mut self.job else { return None };
        *so_far = struck.try_iter().last().unwrap_or(*so_far);
        let found = match result.try_recv() {
            Ok(found) => found.map_err(|error| error.to_string()),
            Err(TryRecvError::Empty) => return None,
            Err(TryRecvError::Disconnected) => Err("the system gives no thread for it".to_owned()),
        };
        self.job = None;
        Some(found)
    }

    /// The drill that was tapped along with is over; nothing where there was none.
    pub(crate) fn tapped(
        &mut self,
        players: &[live::PlayerState],
        at: SoundAt,
    ) -> Option<Result<Found, String>> {
        let Some(Job::Taps(tapping)) = self.job.take() else { return None };
        let found = tapping.measured(players, at).map(|(tap, typical)| Found::Tap(tap, typical));
        Some(found.map_err(|error| error.to_string()))
    }

    /// Nobody taps along any more. Says whether somebody did.
    pub(crate) fn give_up(&mut self) -> bool {
        let did = self.taps();
        if did {
            self.job = None;
        }
        did
    }

    /// What is to be done now, in a sentence.
    pub(crate) fn asks(&self) -> Option<String> {
        match self.job.as_ref()? {
            Job::Beside { is_pad: false, .. } => {
                Some("Bursts of noise are played for twenty seconds, and ten more if they do not agree: keep the room quiet.".to_owned())
            }
            Job::Beside { so_far, .. } => Some(format!(
                "Strike the pad beside the microphone {STROKES} times, a second apart: {so_far} so far."
            )),
            Job::Taps(_) => Some(
                "Tap with every click, on the pad or the space bar, until it ends. Esc gives up.".to_owned(),
            ),
        }
    }
}

impl Found {
    /// Keeps it with the others.
    pub(crate) fn keep(&self, measured: &mut Measured) {
        match self {
            Self::Sound(found) => measured.keep_loop(MeasuredLoop {
                at: at(found),
                input: found.input.clone(),
                late: found.delay.late,
                moved: found.delay.moved,
            }),
            Self::Pad(found) => measured.keep_pad(MeasuredPad {
                port: found.port.clone(),
                input: found.input.clone(),
                late: found.late.median,
                uncertainty: found.late.uncertainty,
            }),
            Self::Tap(tap, _) => measured.keep_tap(tap.clone()),
        }
    }

    /// It in sentences: what was found, how sure it is, and what to do with it. `measured` is what is kept with it.
    pub(crate) fn says(&self, measured: &Measured) -> Vec<String> {
        match self {
            Self::Sound(found) => {
                let delay = &found.delay;
                let mut says = vec![format!(
                    "{} to {}: {} than the drivers say. The bursts agree within {:.2} ms and stand {:.0} times out \
                     of the noise.",
                    found.output,
                    found.input,
                    calibration::to_either_side(delay.late, 2, ["later", "earlier"]),
                    delay.moved.as_millis_f64(),
                    delay.clarity
                )];
                if calibration::is_wireless(delay.late) {
                    says.push(WIRELESS.to_owned());
                }
                says.push(
                    "Through the air 2.9 ms a metre are in it: put the microphone where the players' ears are.".to_owned(),
                );
                says
            }
            Self::Pad(found) => {
                let mut says = vec![format!(
                    "{} beside {}: stamps {} after the knock ({}).",
                    found.port,
                    found.input,
                    sure(found.late.median, found.late.uncertainty),
                    counted(&found.late, "strokes")
                )];
                if !measured.loops.iter().any(|looped| looped.input == found.input) {
                    says.push(
                        "It counts together with the sound loop of the same input: measure that too."
                            .to_owned(),
                    );
                }
                says
            }
            Self::Tap(tap, late) => vec![
                format!(
                    "{} with {}: taps {} after the click ({}).",
                    tap.port,
                    tap.at.output,
                    sure(tap.late, tap.uncertainty),
                    counted(late, "taps")
                ),
                TAPPING.to_owned(),
            ],
        }
    }
}

/// Advice against radio.
pub(crate) const WIRELESS: &str = "That is what a wireless speaker adds, and it can change from one day to the next: use a \
     wire, or measure anew before every lesson.";

/// What tapping cannot tell.
pub(crate) const TAPPING: &str = "What comes out contains the tapper's own lead: people tap some tens of milliseconds ahead of a click and \
     do not know it, so that others will be judged that much too late. Only a microphone can tell the two apart.";

/// A latency with its uncertainty, two standard errors.
pub(crate) fn sure(late: timebase::Seconds, uncertainty: timebase::Seconds) -> String {
    format!("{:.1} ± {:.1} ms", late.as_millis_f64(), 2.0 * uncertainty.as_millis_f64())
}

fn counted(late: &Typical, what: &str) -> String {
    format!("{} {what}, scattered by {:.1} ms", late.count, late.scatter.as_millis_f64())
}

fn at(found: &SoundMeasured) -> SoundAt {
    SoundAt { output: found.output.clone(), rate: found.rate, block: found.block }
}

#[cfg(test)]
mod tests {
    use timebase::{Frames, SampleRate, Seconds};

    use super::*;

    fn typical(ms: i64) -> Typical {
        Typical {
            median: Seconds::from_millis(ms),
            scatter: Seconds::from_millis(4),
            uncertainty: Seconds::from_micros(1_500),
            count: 16,
        }
    }

    #[test]
    fn what_is_found_is_kept_and_says_how_sure_it_is() {
        let mut measured = Measured::default();
        let pad =
            Found::Pad(PadMeasured { port: "Pad".to_owned(), input: "Mic".to_owned(), late: typical(7) });
        pad.keep(&mut measured);
        let says = pad.says(&measured);
        assert!(says[0].contains("7.0 ± 3.0 ms") && says[0].contains("16 strokes"), "{says:?}");
        assert!(says[1].contains("sound loop of the same input"), "{says:?}");
        let sound = |ms| {
            Found::Sound(SoundMeasured {
                output: "Card".to_owned(),
                input: "Mic".to_owned(),
                rate: SampleRate::HZ_48000,
                block: Frames::new(256),
                delay: calibration::Delay {
                    late: Seconds::from_millis(ms),
                    moved: Seconds::ZERO,
                    clarity: 90.0,
                    gain: 1.0,
                },
            })
        };
        sound(9).keep(&mut measured);
        assert!(!sound(9).says(&measured).contains(&WIRELESS.to_owned()));
        assert!(sound(180).says(&measured).contains(&WIRELESS.to_owned()));
        assert_eq!(pad.says(&measured).len(), 1, "the loop is known now");
        let at = SoundAt { output: "Card".to_owned(), rate: SampleRate::HZ_48000, block: Frames::new(256) };
        let tap = MeasuredTap {
            at,
            port: "keyboard".to_owned(),
            late: Seconds::from_millis(-30),
            uncertainty: Seconds::ZERO,
        };
        let tap = Found::Tap(tap, typical(-30));
        tap.keep(&mut measured);
        assert!(tap.says(&measured).contains(&TAPPING.to_owned()));
        assert_eq!((measured.loops.len(), measured.pads.len(), measured.taps.len()), (1, 1, 1));
    }
}
