//! `countline devices`: what sound and MIDI there is.

use std::fmt::Write as _;
use std::time::Instant;

use audio::SoundSystem;
use input::{Error, Port, SystemChoice, midi_system, output_ports};
use timebase::HostOrigin;

use crate::failure::Failure;
use crate::flags::{DevicesFlags, System};
use crate::output;

pub(crate) fn run(flags: &DevicesFlags) -> Result<(), Failure> {
    let (sound, midi) = match flags.system {
        System::Own => (SoundSystem::Native, SystemChoice::Native),
        System::Jack => (SoundSystem::Jack, SystemChoice::Jack),
    };
    let mut text = String::from("sound\n");
    match audio::devices(sound) {
        Ok(devices) => {
            for device in devices {
                let does = match (device.plays, device.records) {
                    (true, true) => "plays and records",
                    (true, false) => "plays",
                    (false, true) => "records",
                    (false, false) => "neither plays nor records",
                };
                let usual = if device.is_default { ", used unless another is named" } else { "" };
                let _ = writeln!(text, "  {} ({does}{usual})", device.name);
            }
        }
        Err(error) => {
            let _ = writeln!(text, "  {error}");
        }
    }
    let inputs = midi_system(midi, HostOrigin::at(Instant::now())).and_then(|mut system| system.ports());
    list(&mut text, "MIDI inputs", inputs, "plug in a pad or a keyboard; the space bar plays all the same");
    let outputs = output_ports(midi);
    list(&mut text, "MIDI outputs", outputs, "plug in a device; the loudspeakers sound all the same");
    text.push_str("voices\n");
    for name in voice::shipped_names() {
        let about =
            voice::VoicePack::shipped(name).map_or_else(|e| e.to_string(), |v| v.description().to_owned());
        let _ = writeln!(text, "  {name}: {about}");
    }
    for name in take::voices::names() {
        let about = take::voices::open_alone(&name)
            .map_or_else(|e| e.to_string(), |voice| voice.description().to_owned());
        let _ = writeln!(text, "  {name}: {about}");
    }
    output::print(&text)
}

fn list(text: &mut String, heading: &str, ports: Result<Vec<Port>, Error>, without: &str) {
    let _ = writeln!(text, "{heading}");
    match ports {
        Ok(ports) if ports.is_empty() => {
            let _ = writeln!(text, "  none: {without}");
        }
        Ok(ports) => {
            for port in ports {
                let _ = writeln!(text, "  {port}");
            }
        }
        Err(error) => {
            let _ = writeln!(text, "  {error}");
        }
    }
}
