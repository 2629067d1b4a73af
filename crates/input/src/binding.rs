//! Which device a name in a list means.

use crate::{Place, SourceKind};

/// The names of ports that stand in lists, each bound to one device as soon as one that fits is found.
#[derive(Clone, Debug, Default)]
pub(crate) struct Bindings {
    bound: Vec<Bound>,
}

#[derive(Clone, Debug)]
struct Bound {
    name: String,
    source: Option<u16>,
    /// Whether the device is called just that.
    is_whole: bool,
}

impl Bindings {
    pub(crate) fn of<'a>(names: impl Iterator<Item = &'a str>) -> Self {
        let mut bound: Vec<Bound> = Vec::new();
        for name in names {
            if !bound.iter().any(|known| known.name == name) {
                bound.push(Bound { name: name.to_owned(), source: None, is_whole: false });
            }
        }
        Self { bound }
    }

    /// Binds every name that means this device and means no other yet. A whole name goes before a part of one: it takes a
    /// name away from the device that only contains it. The first device that contains a part keeps it.
    pub(crate) fn bind(&mut self, kind: SourceKind, device: &str, source: u16) {
        for bound in &mut self.bound {
            let is_whole = match kind {
                SourceKind::Keyboard => bound.name == Place::SPACE_BAR,
                SourceKind::Port | SourceKind::Replay => bound.name == device,
            };
            let contains = || kind == SourceKind::Port && contains(device, &bound.name);
            if is_whole && !bound.is_whole || bound.source.is_none() && contains() {
                bound.source = Some(source);
                bound.is_whole = is_whole;
            }
        }
    }

    /// The names that are a part of this device's, and mean another one of whose they are a part too, with that one.
    pub(crate) fn also(
        &self,
        kind: SourceKind,
        device: &str,
        source: u16,
    ) -> impl Iterator<Item = (String, u16)> {
        let parts = self.bound.iter().filter(move |bound| {
            kind == SourceKind::Port && !bound.is_whole && contains(device, &bound.name)
        });
        let other = parts.filter_map(|bound| Some((bound.name.clone(), bound.source?)));
        other.filter(move |&(_, meant)| meant != source)
    }

    /// Whether some device was found that this name means. The space bar is always there, though it is entered with its first stroke.
    pub(crate) fn is_seen(&self, name: &str) -> bool {
        name == Place::SPACE_BAR || self.source(name).is_some()
    }

    /// The device that this name means, once it was found.
    pub(crate) fn source(&self, name: &str) -> Option<u16> {
        self.bound.iter().find(|bound| bound.name == name)?.source
    }

    /// Whether some name means this device.
    pub(crate) fn names(&self, source: u16) -> bool {
        self.bound.iter().any(|bound| bound.source == Some(source))
    }
}

fn contains(device: &str, part: &str) -> bool {
    device.to_lowercase().contains(&part.to_lowercase())
}
