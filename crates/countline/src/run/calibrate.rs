//! `countline calibrate`: how late sound is heard and strokes are known.

use std::fmt::Write as _;
use std::time::Duration;

use input::InputSettings;
use live::calibration::{
    self, CalibrationError, Tapping, is_wireless, measure_pad, measure_sound, to_either_side,
};
use live::{Event, Measured, MeasuredLoop, MeasuredPad, Rig, RigSettings, SoundAt};

use super::{keys::Keys, report::signless, section};
use crate::failure::Failure;
use crate::flags::{CalibrateFlags, Calibration, LoopbackFlags, PadFlags, TappingFlags};
use crate::{output, settings};

pub(crate) fn run(flags: &CalibrateFlags) -> Result<(), Failure> {
    match &flags.how {
        Calibration::Loopback(flags) => loopback(flags),
        Calibration::Pad(flags) => pad(flags),
        Calibration::Tapping(flags) => tapping(flags),
        Calibration::Show => output::print(&shown(&settings::measured()?)),
        Calibration::Forget => {
            settings::keep_measured(&Measured::default())?;
            output::print("nothing is measured any more\n")
        }
    }
}

fn failed(error: CalibrationError) -> Failure {
    Failure::job(error)
}

fn loopback(flags: &LoopbackFlags) -> Result<(), Failure> {
    let record = section::input_named(flags.input.as_deref())?;
    let plays = || {
        output::note(
            "bursts of noise are played for twenty seconds, and ten more if they do not agree: keep the room quiet",
        );
    };
    let found = measure_sound(&super::device_settings(&flags.sound), &record, plays).map_err(failed)?;
    let at = SoundAt { output: found.output, rate: found.rate, block: found.block };
    let delay = found.delay;
    let mut text = format!(
        "{} to {}, {} Hz, blocks of {} frames: {} than the drivers say; the bursts agree within {:.2} ms and stand \
         {:.0} times out of the noise\n",
        at.output,
        found.input,
        at.rate.hz(),
        at.block.count(),
        to_either_side(delay.late, 2, ["later", "earlier"]),
        delay.moved.as_millis_f64(),
        delay.clarity,
    );
    if is_wireless(delay.late) {
        let _ = writeln!(
            text,
            "That is what a wireless speaker adds, and it can change from one day to the next: use a wire, or measure anew \
             before every lesson (a speaker counts as wireless from {:.0} ms on: common practice, no source)",
            calibration::WIRELESS.as_millis_f64()
        );
    }
    text.push_str(
        "Through the air 2.9 ms a metre are in it: put the microphone where the players' ears are\n",
    );
    let mut measured = settings::measured()?;
    measured.keep_loop(MeasuredLoop { at, input: found.input, late: delay.late, moved: delay.moved });
    settings::keep_measured(&measured)?;
    output::print(&text)
}

fn pad(flags: &PadFlags) -> Result<(), Failure> {
    let record = section::input_named(flags.input.as_deref())?;
    let wanted = usize::from(flags.strokes);
    output::note(&format!("strike the pad beside the microphone {wanted} times, a second apart"));
    let bar = output::progress("strokes", u64::from(flags.strokes));
    let found = measure_pad(
        &super::device_settings(&flags.sound),
        &record,
        super::midi_choice(flags.sound.system),
        &flags.port,
        wanted,
        |struck| bar.set_position(u64::try_from(struck).unwrap_or(0)),
    );
    bar.finish_and_clear();
    let found = found.map_err(failed)?;
    let late = found.late;
    let mut measured = settings::measured()?;
    let mut text = format!(
        "{} beside {}: stamps {} the knock, ± {:.2} ms ({} strokes, scattered by {:.2} ms)\n",
        found.port,
        found.input,
        to_either_side(late.median, 2, ["after", "before"]),
        2.0 * late.uncertainty.as_millis_f64(),
        late.count,
        late.scatter.as_millis_f64(),
    );
    if !measured.loops.iter().any(|looped| looped.input == found.input) {
        text.push_str("It counts together with the loopback of the same input: run `countline calibrate loopback` too\n");
    }
    measured.keep_pad(MeasuredPad {
        port: found.port,
        input: found.input,
        late: late.median,
        uncertainty: late.uncertainty,
    });
    settings::keep_measured(&measured)?;
    output::print(&text)
}

fn tapping(flags: &TappingFlags) -> Result<(), Failure> {
    let tapping = Tapping::new().map_err(failed)?;
    let settings = RigSettings {
        sound: super::device_settings(&flags.sound),
        midi: super::midi_choice(flags.sound.system),
        inputs: flags.port.iter().cloned().collect(),
        input: InputSettings::default(),
        ..RigSettings::default()
    };
    let mut rig = Rig::open(&settings, || {}).map_err(Failure::job)?;
    rig.start(tapping.drill()).map_err(Failure::job)?;
    output::note("tap with every click, on the pad or the space bar, until it ends");
    let keys = Keys::read();
    let players = loop {
        while let Some(at) = keys.as_ref().and_then(Keys::struck) {
            rig.strike_key_at(at, super::keys::RESOLUTION);
        }
        match rig.events().recv_timeout(Duration::from_millis(1)) {
            Ok(Event::Ended { players, .. }) => break players,
            Ok(Event::SoundGone { why }) => {
                return Err(Failure::Job(format!("the sound device has gone: {why}")));
            }
            _ => {}
        }
    };
    drop(keys);
    let (rate, block) = rig.sound_runs();
    let at = SoundAt { output: rig.sound_name(), rate, block };
    let (tap, late) = tapping.measured(&players, at.clone()).map_err(failed)?;
    let port = &tap.port;
    let text = format!(
        "{port} with {}, {} Hz, blocks of {} frames: taps {} the click, ± {:.1} ms ({} taps, scattered by {:.1} ms)\n\
         That contains your own lead: people tap some tens of milliseconds ahead of a click and do not know it, so that others \
         will be judged that much too late. Only a microphone can tell the two apart: `countline calibrate loopback`\n",
        at.output,
        at.rate.hz(),
        at.block.count(),
        to_either_side(late.median, 1, ["after", "before"]),
        2.0 * late.uncertainty.as_millis_f64(),
        late.count,
        late.scatter.as_millis_f64(),
    );
    let mut measured = settings::measured()?;
    measured.keep_tap(tap);
    settings::keep_measured(&measured)?;
    output::print(&text)
}

fn shown(measured: &Measured) -> String {
    let mut text = String::new();
    for looped in &measured.loops {
        let wireless = if is_wireless(looped.late) { ", as a wireless speaker is" } else { "" };
        let _ = writeln!(
            text,
            "loopback  {} to {}, {} Hz, {} frames: {} ms{wireless}",
            looped.at.output,
            looped.input,
            looped.at.rate.hz(),
            looped.at.block.count(),
            signless(looped.late, 2)
        );
    }
    for pad in &measured.pads {
        let (late, sure) = (signless(pad.late, 2), 2.0 * pad.uncertainty.as_millis_f64());
        let _ = writeln!(text, "pad       {} beside {}: {late} ± {sure:.2} ms", pad.port, pad.input);
    }
    for tap in &measured.taps {
        let (late, sure) = (signless(tap.late, 1), 2.0 * tap.uncertainty.as_millis_f64());
        let _ = writeln!(
            text,
            "tapping   {} with {}, {} Hz, {} frames: {late} ± {sure:.1} ms, the player's own lead in it",
            tap.port,
            tap.at.output,
            tap.at.rate.hz(),
            tap.at.block.count()
        );
    }
    if text.is_empty() {
        text.push_str("nothing is measured: strokes are taken as the drivers stamp them\n");
    }
    text
}
