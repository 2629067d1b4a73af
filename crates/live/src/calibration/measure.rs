//! The measuring, with devices.

use std::time::{Duration, Instant};

use audio::{Capture, CaptureDevice, DeviceSettings, Event, Output, OutputDevice};
use input::{Input, InputSettings, Stroke, SystemChoice, find_port, midi_system};
use mixer::Mixer;
use timebase::{Anchored, ClockFit, Frame, Frames, HostOrigin, HostTime, Moment, SampleRate, Seconds};

use super::{CalibrationError, Delay, Probe, Typical, delay, knocks};
use crate::RecordSettings;

/// How often what came in is fetched.
const FETCH_EVERY: Duration = Duration::from_millis(10);

/// Blocks in which the joining of the devices may cost a dropout without harm, until the first burst sounds. A sound server also works out
/// only after some blocks how late what was connected to its ports is, and until then says that it is not late at all.
const SETTLING: u64 = 64;

/// How long nobody may strike before a measuring of pads is given up.
const PATIENCE: Duration = Duration::from_secs(30);

/// How often a loop is measured at most, until two times agree …
const TIMES: usize = 3;

/// … within this: less than the shortest blocks in use, 64 frames at 48 kHz.
const AGREE: Seconds = Seconds::from_millis(1);

/// The longest recording that is kept.
const MOST: Seconds = Seconds::from_millis(180_000);

/// What is known of the devices a measure was taken with, and what was found.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundMeasured {
    /// What was played through.
    pub output: String,
    /// What was recorded from.
    pub input: String,
    /// The rate of both.
    pub rate: SampleRate,
    /// Frames a block of the output.
    pub block: Frames,
    /// What was found.
    pub delay: Delay,
}

/// What was found of a pad.
#[derive(Clone, Debug, PartialEq)]
pub struct PadMeasured {
    /// The port's lasting name.
    pub port: String,
    /// What was recorded from.
    pub input: String,
    /// How much later a stamp is than the knock, less the microphone's own lateness.
    pub late: Typical,
}

/// A microphone that records into memory.
struct Ear {
    capture: Capture,
    fit: ClockFit,
    anchors: u64,
    /// Whether something is measured by now: from then on the devices have to stand still.
    measures: bool,
    heard: Vec<f32>,
}

impl Ear {
    fn open(
        sound: &DeviceSettings,
        record: &RecordSettings,
        origin: HostOrigin,
    ) -> Result<Self, CalibrationError> {
        let settings = DeviceSettings { device: record.device.clone(), ..sound.clone() };
        let capture = CaptureDevice::find(&settings)?.with_channel(record.channel)?.start(origin)?;
        let fit = ClockFit::new(capture.rate());
        Ok(Self { capture, fit, anchors: 0, measures: false, heard: Vec::new() })
    }

    fn listen(&mut self) -> Result<(), CalibrationError> {
        while let Some(anchor) = self.capture.next_anchor() {
            self.anchors += 1;
            follow(self.fit.add(anchor), self.measures || self.anchors > SETTLING, "the input")?;
        }
        while let Some(event) = self.capture.next_event() {
            heed(&mut self.fit, &event, self.measures || self.anchors > SETTLING)?;
        }
        while let Some(chunk) = self.capture.next_chunk() {
            let first = usize::try_from(chunk.first().index()).unwrap_or(0);
            let most = usize::try_from(Frames::of(MOST, self.capture.rate()).count()).unwrap_or(usize::MAX);
            if first > most {
                return Err(CalibrationError::Lost { why: "it took too long".to_owned() });
            }
            // What was lost is silence.
            self.heard.resize(first, 0.0);
            self.heard.extend_from_slice(chunk.samples());
        }
        Ok(())
    }

    /// Where in the recording a host time falls, in frames.
    fn place(&self, host: HostTime) -> Option<f64> {
        Some(self.in_frames(self.fit.moment_at(host)?))
    }

    /// Where in the recording somebody struck, in frames.
    fn place_struck(&mut self, stroke: &Stroke) -> Option<f64> {
        let moment = self.fit.moment_struck(stroke.stamp, stroke.place)?;
        Some(self.in_frames(moment))
    }

    fn in_frames(&self, moment: Moment) -> f64 {
        moment.as_secs_f64() * f64::from(self.capture.rate().hz())
    }
}

fn follow(anchored: Anchored, has_settled: bool, whose: &str) -> Result<(), CalibrationError> {
    let Anchored::Jumped(by) = anchored else { return Ok(()) };
    if !has_settled {
        return Ok(());
    }
    let ms = by.abs().as_millis_f64();
    // A server tells of another latency where something else is connected, and nothing is lost then.
    let why = if by > Seconds::ZERO {
        format!("{whose} lost {ms:.1} ms, or was connected otherwise")
    } else {
        format!("{whose} came {ms:.1} ms sooner than before, as where it is connected otherwise")
    };
    Err(CalibrationError::Lost { why })
}

fn heed(fit: &mut ClockFit, event: &Event, has_settled: bool) -> Result<(), CalibrationError> {
    match event {
        Event::Gone { why } => Err(CalibrationError::Lost { why: why.clone() }),
        Event::Dropout if has_settled => {
            Err(CalibrationError::Lost { why: "the driver reports a dropout".to_owned() })
        }
        Event::Dropout => {
            fit.expect_jump();
            Ok(())
        }
        _ => Ok(()),
    }
}

/// Plays the probe through a device and finds it again in what another records: how much later it comes than the drivers
/// reckon. Measured twice, each time with the devices opened anew, and a third time where the two do not agree: a driver
/// that was held up while it was opened may be late by a block all the while, and nothing in one measuring shows it. It
/// takes about twenty seconds, or thirty. `plays` is told when the devices are open and the first burst is about to sound.
///
/// # Errors
/// If a device cannot be opened, their rates differ, sound was lost, the probe cannot be found, or no two agree.
pub fn measure_sound(
    sound: &DeviceSettings,
    record: &RecordSettings,
    plays: impl FnOnce(),
) -> Result<SoundMeasured, CalibrationError> {
    let mut plays = Some(plays);
    let mut found: Vec<SoundMeasured> = Vec::new();
    for _ in 0..TIMES {
        found.push(
            match measure_once(sound, record, || plays.take().into_iter().for_each(|plays| plays())) {
                Err(CalibrationError::NotHeard) if !found.is_empty() => {
                    return Err(CalibrationError::NotHeardAgain);
                }
                measured => measured?,
            },
        );
        if let Some(measured) = agreed(&found) {
            return Ok(measured);
        }
    }
    let late = found.iter().map(|measured| measured.delay.late);
    let apart = late.clone().max().zip(late.min()).map_or(Seconds::ZERO, |(most, least)| most - least);
    Err(CalibrationError::Differs { times: TIMES, apart_ms: apart.as_millis_f64() })
}

/// The first two that were measured with the same devices and agree, as one: between the two, and moved as far as either was or
/// as they lie apart.
fn agreed(found: &[SoundMeasured]) -> Option<SoundMeasured> {
    let (last, before) = found.split_last()?;
    let other = before.iter().find(|other| {
        let SoundMeasured { output, input, rate, block, delay } = other;
        let same = (output, input, rate, block) == (&last.output, &last.input, &last.rate, &last.block);
        same && (delay.late - last.delay.late).abs() <= AGREE
    })?;
    let [one, two] = [other.delay, last.delay];
    let delay = Delay {
        late: one.late + (two.late - one.late).divided_by(2),
        moved: one.moved.max(two.moved).max((two.late - one.late).abs()),
        clarity: one.clarity.min(two.clarity),
        gain: one.gain,
    };
    Some(SoundMeasured { delay, ..last.clone() })
}

fn measure_once(
    sound: &DeviceSettings,
    record: &RecordSettings,
    plays: impl FnOnce(),
) -> Result<SoundMeasured, CalibrationError> {
    let origin = HostOrigin::at(Instant::now());
    let device = OutputDevice::find(sound)?;
    let rate = device.rate();
    let probe = Probe::new(rate);
    let mut ear = Ear::open(sound, record, origin)?;
    if ear.capture.rate() != rate {
        return Err(CalibrationError::Rates { out_hz: rate.hz(), in_hz: ear.capture.rate().hz() });
    }
    let mut output = device.start(Mixer::new(&probe.programme()?), origin)?;
    plays();
    let reckoned = play(&probe, &mut output, &mut ear, origin)?;
    let delay = delay(&probe, &reckoned, &ear.heard, rate)?;
    let (output, block, input) = (output.name().to_owned(), output.block(), ear.capture.name().to_owned());
    Ok(SoundMeasured { output, input, rate, block, delay })
}

/// Waits until the probe is over; returns where in the recording each burst is reckoned to begin.
fn play(
    probe: &Probe,
    output: &mut Output,
    ear: &mut Ear,
    origin: HostOrigin,
) -> Result<Vec<f64>, CalibrationError> {
    let mut fit = ClockFit::new(output.rate());
    let mut anchors = 0;
    let mut reckoned = Vec::new();
    let last = Frame::ZERO + probe.length();
    let begun = Instant::now();
    let most = Duration::from_secs_f64(2.0 * probe.length().seconds(output.rate()).as_secs_f64() + 5.0);
    loop {
        std::thread::sleep(FETCH_EVERY);
        while let Some(anchor) = output.next_anchor() {
            anchors += 1;
            follow(fit.add(anchor), ear.measures || anchors > SETTLING, "the output")?;
        }
        while let Some(event) = output.next_event() {
            heed(&mut fit, &event, ear.measures || anchors > SETTLING)?;
        }
        ear.listen()?;
        let now = origin.time(Instant::now());
        let first = probe.starts().first().and_then(|&first| fit.host_at(first));
        ear.measures |= first.is_some_and(|first| first <= now);
        // Each place is reckoned soon after it has sounded: the maps remember some seconds only.
        while let Some(&start) = probe.starts().get(reckoned.len()) {
            let Some(host) = fit.host_at(start).filter(|&host| host < now - Seconds::from_millis(200)) else {
                break;
            };
            let Some(place) = ear.place(host) else { break };
            reckoned.push(place);
        }
        if fit.host_at(last).is_some_and(|host| host < now) && reckoned.len() == probe.starts().len() {
            return Ok(reckoned);
        }
        if begun.elapsed() > most {
            return Err(CalibrationError::Lost { why: "the devices do not keep time".to_owned() });
        }
    }
}

/// Listens to a pad and to a microphone beside it until `wanted` strokes have come, and finds how late the stamps are.
/// `struck` is told the number of strokes so far.
///
/// # Errors
/// If a device cannot be opened, nobody strikes for half a minute, or too few strokes can be used.
pub fn measure_pad(
    sound: &DeviceSettings,
    record: &RecordSettings,
    midi: SystemChoice,
    port: &str,
    wanted: usize,
    mut struck: impl FnMut(usize),
) -> Result<PadMeasured, CalibrationError> {
    let origin = HostOrigin::at(Instant::now());
    let mut input = Input::new(&InputSettings::default());
    input.attach(midi_system(midi, origin)?);
    let ports = input.ports()?;
    let port = find_port(&ports, port)?.clone();
    input.open(&port)?;
    let mut ear = Ear::open(sound, record, origin)?;
    let mut stamps: Vec<f64> = Vec::new();
    let mut waiting: Vec<Stroke> = Vec::new();
    let mut last = Instant::now();
    while stamps.len() < wanted {
        std::thread::sleep(FETCH_EVERY);
        ear.listen()?;
        waiting.extend(input.strokes().try_iter().filter(Stroke::is_attack));
        let before = origin.time(Instant::now()) - Seconds::from_millis(250);
        while let Some(stroke) = waiting.first().filter(|stroke| stroke.stamp < before) {
            let Some(place) = ear.place_struck(stroke) else { break };
            waiting.remove(0);
            stamps.push(place);
            last = Instant::now();
            struck(stamps.len());
        }
        if last.elapsed() > PATIENCE {
            break;
        }
    }
    let late = knocks(&stamps, &ear.heard, ear.capture.rate())?;
    Ok(PadMeasured { port: port.lasting_name().to_owned(), input: ear.capture.name().to_owned(), late })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A device that was opened a block late is so all the while it is measured: two times that agree are believed.
    #[test]
    fn two_measures_have_to_agree() {
        let measured = |micros, moved, block| SoundMeasured {
            output: "Loudspeaker".to_owned(),
            input: "Microphone".to_owned(),
            rate: SampleRate::HZ_48000,
            block: Frames::new(block),
            delay: Delay {
                late: Seconds::from_micros(micros),
                moved: Seconds::from_micros(moved),
                clarity: 40.0,
                gain: 0.5,
            },
        };
        assert_eq!(agreed(&[]), None);
        let (late, early) = (measured(10_000, 21, 256), measured(4_667, 21, 256));
        assert_eq!(agreed(std::slice::from_ref(&late)), None);
        assert_eq!(agreed(&[late.clone(), early.clone()]), None, "a block apart");
        assert_eq!(agreed(&[late.clone(), measured(10_000, 21, 64)]), None, "another block size");
        let third = measured(10_200, 42, 256);
        let told = agreed(&[early, late, third]).expect("two agree");
        assert_eq!(told, measured(10_100, 200, 256));
    }

    #[test]
    fn a_jump_is_let_pass_only_until_something_is_measured() {
        let says = |by_ms, has_settled| {
            let followed = follow(Anchored::Jumped(Seconds::from_millis(by_ms)), has_settled, "the input");
            followed.err().map(|error| error.to_string())
        };
        assert_eq!(says(-21, false), None);
        let lost = says(21, true).expect("refused");
        assert!(lost.contains("the input lost 21.0 ms, or was connected otherwise"), "{lost}");
        let sooner = says(-21, true).expect("refused");
        assert!(sooner.contains("came 21.0 ms sooner") && sooner.contains("measure again"), "{sooner}");
    }
}
