//! `countline sound --midi-out`: the click sent to a MIDI device.

use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use input::{SystemChoice, find_port, open_output, output_ports};
use live::{ClickOut, ClickReport, ClickSounds, click_messages};
use sequencer::{Levels, Sequence};
use timebase::{HostOrigin, Moment, Seconds};

use super::interruption::interruption;
use crate::failure::Failure;
use crate::flags::{SoundFlags, System};
use crate::output;

/// Between the call and the first note: enough for a device to wake up.
const BEFORE: Seconds = Seconds::from_millis(500);

pub(super) fn send(sequence: &Sequence, name: &str, flags: &SoundFlags) -> Result<(), Failure> {
    let system = match flags.sound.system {
        System::Own => SystemChoice::Native,
        System::Jack => SystemChoice::Jack,
    };
    let (usual, levels) = (Levels::default(), super::sounds::levels(&flags.sounds));
    let gain = |level: f32, usual: f32, muted: bool| if muted { 0.0 } else { level / usual };
    let sounds = ClickSounds {
        click: gain(levels.click, usual.click, levels.muted.click),
        clap: gain(levels.clap, usual.clap, levels.muted.clap),
    };
    let messages = click_messages(sequence, sounds);
    let ports = output_ports(system).map_err(Failure::job)?;
    let port = find_port(&ports, name).map_err(Failure::job)?;
    let origin = HostOrigin::at(Instant::now());
    let outlet = open_output(system, port, origin).map_err(Failure::job)?;
    output::note(&format!("to {port}, {}; the count is not sent", sequence.plan().tempo()));

    let first = sequence.tempo().moment_at(sequence.start());
    let zero = origin.time(Instant::now()) + BEFORE + (Moment::ZERO - first);
    // A device would hold a note for ever that nobody ends.
    let interrupted = interruption()?;
    let click = ClickOut::start(outlet, messages, zero, origin).map_err(Failure::job)?;
    while !click.is_finished() {
        if interrupted.load(Ordering::Relaxed) {
            // It ends every note that sounds before it has finished.
            click.stop();
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    if interrupted.load(Ordering::Relaxed) {
        output::note("stopped before the end; every note is ended");
    }
    tell(&click.finish())
}

fn tell(report: &ClickReport) -> Result<(), Failure> {
    // Why is a library's sentence, in its own words.
    if report.not_real_time.is_some() {
        output::note(
            "the system gives no real-time priority: the click may be late while the machine is busy; close other programs",
        );
    }
    if let Some(error) = &report.failed {
        return Err(Failure::job(error));
    }
    let ms = |percent| report.percentile(percent).unwrap_or_default().as_millis_f64();
    let late = if report.missed > 0 {
        format!("; {} messages came too late for their frame", report.missed)
    } else {
        String::new()
    };
    output::print(&format!(
        "sent {} notes; handed over {:.3} ms late at the median, {:.3} at 99 of 100, {:.3} at most{late}\n",
        report.notes,
        ms(50),
        ms(99),
        ms(100)
    ))
}
