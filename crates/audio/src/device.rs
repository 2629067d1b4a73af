use cpal::traits::{DeviceTrait, HostTrait};
use cpal::{Device, DeviceDirection, Host, SupportedStreamConfigRange};
use timebase::{Frames, SampleRate};

use crate::Error;
use crate::config::{self, BLOCK_FRAMES, Config};

/// Which sound system to use.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SoundSystem {
    /// The machine's own: ALSA on Linux, CoreAudio on macOS, WASAPI on Windows.
    #[default]
    Native,
    /// A running JACK server. Linux only.
    Jack,
}

/// Which device to open, and how.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeviceSettings {
    /// The sound system.
    pub system: SoundSystem,
    /// The device's name, its id, or a part of its name that no other has; the system's default if none.
    pub device: Option<String>,
    /// The rate to run at if the device can; otherwise it runs at its own.
    pub rate: SampleRate,
    /// Frames a block to ask for. Drivers may use another size; [`Output::block`](crate::Output::block) tells.
    pub block: Frames,
}

impl Default for DeviceSettings {
    fn default() -> Self {
        Self {
            system: SoundSystem::Native,
            device: None,
            rate: SampleRate::HZ_48000,
            block: Frames::new(i64::from(BLOCK_FRAMES)),
        }
    }
}

/// A sound device as a person chooses it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeviceInfo {
    /// What the system knows it by.
    pub id: String,
    /// What people know it by.
    pub name: String,
    /// Whether it can be played through.
    pub plays: bool,
    /// Whether it can be recorded from.
    pub records: bool,
    /// Whether it is played through when no name is given.
    pub is_default: bool,
}

/// The sound devices of a system. Opens each for a moment to ask what it can.
///
/// # Errors
/// [`Error::NoDevice`] where there is none: no fault of the program, which goes on without.
/// For JACK, that its library, its server or its place in this program is missing.
pub fn devices(system: SoundSystem) -> Result<Vec<DeviceInfo>, Error> {
    let known = known(system)?;
    let default = known.output.as_ref().and_then(|device| device.id().ok());
    let infos: Vec<_> = known
        .all
        .iter()
        .map(|device| DeviceInfo {
            id: id_of(device),
            name: name_of(device),
            plays: Direction::Play.is_offered_by(device),
            records: Direction::Record.is_offered_by(device),
            is_default: default.is_some() && device.id().ok() == default,
        })
        .filter(|info| info.plays || info.records)
        .collect();
    if infos.is_empty() { Err(Error::NoDevice) } else { Ok(infos) }
}

/// Playing or recording.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Direction {
    Play,
    Record,
}

/// A device that was found, and what it will be asked for.
#[derive(Debug)]
pub(crate) struct Found {
    pub(crate) device: Device,
    pub(crate) name: String,
    pub(crate) config: Config,
    pub(crate) system: SoundSystem,
}

impl Direction {
    const fn what(self) -> &'static str {
        match self {
            Self::Play => "play through",
            Self::Record => "record from",
        }
    }

    /// What `device` can do in this direction. A JACK device offers the same in both, so its own word on its direction
    /// is asked for first.
    fn offers(self, device: &Device) -> Vec<SupportedStreamConfigRange> {
        let told = device.description().map(|description| description.direction());
        if matches!(
            (self, told),
            (Self::Play, Ok(DeviceDirection::Input)) | (Self::Record, Ok(DeviceDirection::Output))
        ) {
            return Vec::new();
        }
        match self {
            Self::Play => device.supported_output_configs().map(Iterator::collect),
            Self::Record => device.supported_input_configs().map(Iterator::collect),
        }
        .unwrap_or_default()
    }

    fn is_offered_by(self, device: &Device) -> bool {
        !self.offers(device).is_empty()
    }

    fn own_rate(self, device: &Device) -> Option<u32> {
        match self {
            Self::Play => device.default_output_config(),
            Self::Record => device.default_input_config(),
        }
        .ok()
        .map(|config| config.sample_rate())
    }
}

/// The devices of a system.
#[derive(Debug, Default)]
pub(crate) struct Known {
    pub(crate) all: Vec<Device>,
    /// What is played through when no name is given.
    pub(crate) output: Option<Device>,
    /// What is recorded from when no name is given.
    pub(crate) input: Option<Device>,
}

impl Known {
    pub(crate) fn of(host: &Host) -> Self {
        let mut all: Vec<Device> = host.devices().map(Iterator::collect).unwrap_or_default();
        // ALSA's sink into nothing takes any sound at any speed; it is no device.
        all.retain(|device| !device.id().is_ok_and(|id| id.id() == "null"));
        Self { all, output: host.default_output_device(), input: host.default_input_device() }
    }
}

/// Finds the device the settings mean and chooses how to run it.
pub(crate) fn find(settings: &DeviceSettings, direction: Direction) -> Result<Found, Error> {
    let known = known(settings.system)?;
    let device = match &settings.device {
        Some(given) => named(known, given, direction)?,
        None => default(known, direction)?,
    };
    let name = name_of(&device);
    let block = u32::try_from(settings.block.count()).unwrap_or(BLOCK_FRAMES).max(1);
    let config =
        config::choose(&direction.offers(&device), direction.own_rate(&device), settings.rate, block)
            .ok_or_else(|| Error::NoConfig { device: name.clone() })?;
    Ok(Found { device, name, config, system: settings.system })
}

fn default(known: Known, direction: Direction) -> Result<Device, Error> {
    let Known { all, output, input } = known;
    let device = match direction {
        Direction::Play => output,
        Direction::Record => input,
    };
    // ALSA has a default device also where there is no card; then it offers nothing.
    device.filter(|device| direction.is_offered_by(device)).ok_or_else(|| {
        let usable = |device: &&Device| {
            [Direction::Play, Direction::Record].iter().any(|direction| direction.is_offered_by(device))
        };
        let there: Vec<_> = all.iter().filter(usable).map(name_of).collect();
        if there.is_empty() { Error::NoDevice } else { Error::NoneFor { what: direction.what(), there } }
    })
}

fn named(mut known: Known, given: &str, direction: Direction) -> Result<Device, Error> {
    let mut fitting = std::mem::take(&mut known.all);
    fitting.retain(|device| direction.is_offered_by(device));
    if fitting.is_empty() {
        return default(known, direction);
    }
    let names: Vec<_> = fitting.iter().map(|device| (id_of(device), name_of(device))).collect();
    if let Some(index) = matching(&names, given) {
        return Ok(fitting.swap_remove(index));
    }
    let there = names.into_iter().map(|(_, name)| name).collect();
    Err(Error::NoSuchDevice { given: given.to_owned(), what: direction.what(), there })
}

/// The one whose id or name is `given`, or the only one with a name that contains it.
fn matching(names: &[(String, String)], given: &str) -> Option<usize> {
    let exact = names.iter().position(|(id, name)| id == given || name == given);
    let wanted = given.to_lowercase();
    let mut parts = (0..names.len()).filter(|&index| names[index].1.to_lowercase().contains(&wanted));
    match (exact, parts.next(), parts.next()) {
        (Some(index), _, _) | (None, Some(index), None) => Some(index),
        _ => None,
    }
}

fn id_of(device: &Device) -> String {
    device.id().map(|id| id.id().to_owned()).unwrap_or_default()
}

fn name_of(device: &Device) -> String {
    device.description().map_or_else(|_| id_of(device), |description| description.name().to_owned())
}

fn known(system: SoundSystem) -> Result<Known, Error> {
    #[cfg(target_os = "linux")]
    crate::alsa::hush();
    match system {
        SoundSystem::Native => Ok(Known::of(&cpal::default_host())),
        #[cfg(all(target_os = "linux", feature = "jack"))]
        SoundSystem::Jack => crate::jack::known(),
        #[cfg(not(all(target_os = "linux", feature = "jack")))]
        SoundSystem::Jack => Err(Error::NoJackBuilt),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_device_is_found_by_a_part_of_its_name() {
        let names = [("hw:0", "Speakers"), ("hw:1", "USB Audio One"), ("hw:2", "USB Audio Two")]
            .map(|(id, name)| (id.to_owned(), name.to_owned()));
        let check =
            |given: &str, expected: Option<usize>| assert_eq!(matching(&names, given), expected, "{given}");
        check("hw:2", Some(2));
        check("speak", Some(0));
        check("USB Audio One", Some(1));
        check("usb", None);
        check("x", None);
    }
}
