//! `latency.toml`: what was measured, each with the devices it is true of.

use std::path::PathBuf;

use live::{Measured, MeasuredLoop, MeasuredPad, MeasuredTap, SoundAt};
use serde::{Deserialize, Serialize};
use timebase::{Frames, SampleRate, Seconds};

use crate::failure::Failure;

#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct FileForm {
    #[serde(default, rename = "loopback", skip_serializing_if = "Vec::is_empty")]
    loops: Vec<LoopForm>,
    #[serde(default, rename = "pad", skip_serializing_if = "Vec::is_empty")]
    pads: Vec<PadForm>,
    #[serde(default, rename = "tapping", skip_serializing_if = "Vec::is_empty")]
    taps: Vec<TapForm>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LoopForm {
    output: String,
    rate_hz: u32,
    block_frames: i64,
    input: String,
    late_ms: f64,
    moved_ms: f64,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PadForm {
    port: String,
    input: String,
    late_ms: f64,
    uncertainty_ms: f64,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TapForm {
    output: String,
    rate_hz: u32,
    block_frames: i64,
    port: String,
    late_ms: f64,
    uncertainty_ms: f64,
}

const HEAD: &str = "# Latencies as `countline calibrate` has measured them. Measure anew when a device, its rate or its block size is another.\n\n";

/// What was measured; nothing if nothing was.
pub(crate) fn measured() -> Result<Measured, Failure> {
    let path = super::folder()?.join("latency.toml");
    let Some(text) = super::read(&path)? else { return Ok(Measured::default()) };
    let form = toml::from_str(&text).map_err(|error| super::wrong(&path, &text, &error))?;
    of_form(form).map_err(|error| Failure::Job(format!("{}: {error}", path.display())))
}

/// Keeps what was measured; says where.
pub(crate) fn keep_measured(measured: &Measured) -> Result<PathBuf, Failure> {
    let text = toml::to_string(&form(measured)).map_err(Failure::job)?;
    let path = super::folder()?.join("latency.toml");
    super::write(&path, &format!("{HEAD}{text}"))?;
    Ok(path)
}

fn form(measured: &Measured) -> FileForm {
    let loops = measured.loops.iter().map(|looped| LoopForm {
        output: looped.at.output.clone(),
        rate_hz: looped.at.rate.hz(),
        block_frames: looped.at.block.count(),
        input: looped.input.clone(),
        late_ms: looped.late.as_millis_f64(),
        moved_ms: looped.moved.as_millis_f64(),
    });
    let pads = measured.pads.iter().map(|pad| PadForm {
        port: pad.port.clone(),
        input: pad.input.clone(),
        late_ms: pad.late.as_millis_f64(),
        uncertainty_ms: pad.uncertainty.as_millis_f64(),
    });
    let taps = measured.taps.iter().map(|tap| TapForm {
        output: tap.at.output.clone(),
        rate_hz: tap.at.rate.hz(),
        block_frames: tap.at.block.count(),
        port: tap.port.clone(),
        late_ms: tap.late.as_millis_f64(),
        uncertainty_ms: tap.uncertainty.as_millis_f64(),
    });
    FileForm { loops: loops.collect(), pads: pads.collect(), taps: taps.collect() }
}

fn of_form(form: FileForm) -> Result<Measured, String> {
    let at = |output: String, rate_hz: u32, block: i64| {
        let rate = SampleRate::new(rate_hz).map_err(|error| error.to_string())?;
        Ok::<_, String>(SoundAt { output, rate, block: Frames::new(block) })
    };
    let mut measured = Measured::default();
    for LoopForm { output, rate_hz, block_frames, input, late_ms, moved_ms } in form.loops {
        let at = at(output, rate_hz, block_frames)?;
        let (late, moved) = (Seconds::from_millis_f64(late_ms), Seconds::from_millis_f64(moved_ms));
        measured.keep_loop(MeasuredLoop { at, input, late, moved });
    }
    for PadForm { port, input, late_ms, uncertainty_ms } in form.pads {
        let (late, uncertainty) =
            (Seconds::from_millis_f64(late_ms), Seconds::from_millis_f64(uncertainty_ms));
        measured.keep_pad(MeasuredPad { port, input, late, uncertainty });
    }
    for TapForm { output, rate_hz, block_frames, port, late_ms, uncertainty_ms } in form.taps {
        let at = at(output, rate_hz, block_frames)?;
        let (late, uncertainty) =
            (Seconds::from_millis_f64(late_ms), Seconds::from_millis_f64(uncertainty_ms));
        measured.keep_tap(MeasuredTap { at, port, late, uncertainty });
    }
    Ok(measured)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_is_read_again() {
        let at =
            SoundAt { output: "Card \"2\"".to_owned(), rate: SampleRate::HZ_48000, block: Frames::new(256) };
        let (late, small) = (Seconds::from_micros(12_345), Seconds::from_micros(21));
        let mut measured = Measured::default();
        measured.keep_loop(MeasuredLoop { at: at.clone(), input: "Mic".to_owned(), late, moved: small });
        measured.keep_pad(MeasuredPad {
            port: "Pad".to_owned(),
            input: "Mic".to_owned(),
            late,
            uncertainty: small,
        });
        measured.keep_tap(MeasuredTap { at, port: "keyboard".to_owned(), late, uncertainty: small });
        let text = toml::to_string(&form(&measured)).expect("text");
        assert_eq!(of_form(toml::from_str(&text).expect("read")).expect("whole"), measured);
        assert!(toml::from_str(&text.replace("48000", "4")).map(of_form).expect("a number").is_err());
    }
}
