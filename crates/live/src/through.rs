//! What is struck, sent on to a MIDI device at once.

use std::collections::HashMap;
use std::fmt;

use input::{OutMessage, Outlet, Stroke, StrokeKind};
use timebase::HostTime;

const NOTE_ON: u8 = 0x90;
const NOTE_OFF: u8 = 0x80;
const CHANNELS: usize = 16;
const NOTES: usize = 128;

/// The way from the pads to a MIDI device that sounds. Ends every note that sounds there when it is dropped, and those of a pad or a
/// keyboard when that goes.
pub(crate) struct Through {
    outlet: Box<dyn Outlet>,
    /// The notes that each device has begun and not ended, a bit each, by channel.
    sounding: HashMap<u16, Notes>,
    last: HostTime,
}

type Notes = [u128; CHANNELS];

impl Through {
    pub(crate) fn new(outlet: Box<dyn Outlet>, now: HostTime) -> Self {
        Self { outlet, sounding: HashMap::new(), last: now }
    }

    /// Sends a stroke on, on its own channel and with its own strength. What a pad did by itself, bouncing or shaken by
    /// another, is not sent: that also ends a loop, where the device hands back what it is sent.
    ///
    /// # Errors
    /// If the device has gone, or takes no more.
    pub(crate) fn pass(&mut self, stroke: &Stroke, now: HostTime) -> Result<(), input::Error> {
        let (channel, note) = (usize::from(stroke.channel) % CHANNELS, usize::from(stroke.note) % NOTES);
        let bit = 1 << note;
        match stroke.kind {
            StrokeKind::On if stroke.is_marked() => return Ok(()),
            StrokeKind::On => {
                // Many pads end no note. One that sounds is ended before it begins again, else modules pile voices up.
                if self.forget(channel, bit) {
                    self.send([NOTE_OFF | (stroke.channel & 0x0F), stroke.note & 0x7F, 0], now)?;
                }
                self.sounding.entry(stroke.source).or_default()[channel] |= bit;
            }
            StrokeKind::Off => {
                let own = self.sounding.get_mut(&stroke.source).map(|notes| &mut notes[channel]);
                let Some(own) = own.filter(|own| **own & bit != 0) else { return Ok(()) };
                *own &= !bit;
            }
        }
        let status = match stroke.kind {
            StrokeKind::On => NOTE_ON,
            StrokeKind::Off => NOTE_OFF,
        };
        self.send([status | (stroke.channel & 0x0F), stroke.note & 0x7F, stroke.velocity & 0x7F], now)
    }

    /// Ends what sounds of a device that has gone: nobody else will.
    ///
    /// # Errors
    /// As [`Through::pass`].
    pub(crate) fn gone(&mut self, source: u16, now: HostTime) -> Result<(), input::Error> {
        let notes = self.sounding.remove(&source).unwrap_or_default();
        for (channel, notes) in (0..).zip(notes) {
            for note in (0..128_u8).filter(|note| notes & (1 << note) != 0) {
                self.send([NOTE_OFF | channel, note, 0], now)?;
            }
        }
        Ok(())
    }

    /// Forgets that a note sounds, whoever began it; says whether it did.
    fn forget(&mut self, channel: usize, bit: u128) -> bool {
        let mut sounded = false;
        for notes in self.sounding.values_mut() {
            sounded |= notes[channel] & bit != 0;
            notes[channel] &= !bit;
        }
        sounded
    }

    fn send(&mut self, message: OutMessage, now: HostTime) -> Result<(), input::Error> {
        self.last = self.last.max(now);
        self.outlet.send(message, self.last)
    }
}

impl Drop for Through {
    fn drop(&mut self) {
        let mut sources: Vec<u16> = self.sounding.keys().copied().collect();
        sources.sort_unstable();
        for source in sources {
            // A device that has gone takes no end of a note, and needs none.
            let _ = self.gone(source, self.last);
        }
        self.outlet.drain();
    }
}

impl fmt::Debug for Through {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Through").field("outlet", &self.outlet).finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use std::sync::{Arc, Mutex, PoisonError};

    use input::PlayerId;
    use timebase::{HostTime, Seconds};

    use super::*;

    #[derive(Clone, Debug, Default)]
    struct Book(Arc<Mutex<Vec<OutMessage>>>);

    impl Outlet for Book {
        fn ahead(&self) -> Seconds {
            Seconds::ZERO
        }

        fn send(&mut self, message: OutMessage, _: HostTime) -> Result<(), input::Error> {
            self.0.lock().unwrap_or_else(PoisonError::into_inner).push(message);
            Ok(())
        }
    }

    fn stroke(kind: StrokeKind, channel: u8, note: u8, velocity: u8) -> Stroke {
        let made = Stroke::of_key(PlayerId::new(0), 0, HostTime::from_nanos(0), Seconds::ZERO);
        Stroke { kind, channel, note, velocity, ..made }
    }

    #[test]
    fn strokes_go_on_as_they_are_and_what_sounds_is_ended() {
        let book = Book::default();
        let mut through = Through::new(Box::new(book.clone()), HostTime::from_nanos(0));
        let mut pass = |stroke: Stroke| {
            through.pass(&stroke, HostTime::from_nanos(1)).expect("the book takes everything");
        };
        pass(stroke(StrokeKind::On, 9, 38, 100));
        pass(Stroke { retrigger: true, ..stroke(StrokeKind::On, 9, 38, 40) });
        pass(Stroke { crosstalk: true, ..stroke(StrokeKind::On, 9, 40, 12) });
        pass(stroke(StrokeKind::On, 0, 60, 1));
        pass(stroke(StrokeKind::Off, 0, 60, 64));
        pass(stroke(StrokeKind::Off, 0, 61, 64));
        pass(stroke(StrokeKind::On, 9, 38, 90));
        drop(through);
        let sent = book.0.lock().unwrap_or_else(PoisonError::into_inner).clone();
        assert_eq!(
            sent,
            [[0x99, 38, 100], [0x90, 60, 1], [0x80, 60, 64], [0x89, 38, 0], [0x99, 38, 90], [0x89, 38, 0]]
        );
    }

    /// A cable is pulled while a key is held: its notes end, those of another device go on.
    #[test]
    fn what_a_device_that_goes_has_begun_is_ended() {
        let book = Book::default();
        let now = HostTime::from_nanos(1);
        let mut through = Through::new(Box::new(book.clone()), now);
        let of = |source, stroke: Stroke| Stroke { source, ..stroke };
        for stroke in [
            of(1, stroke(StrokeKind::On, 0, 60, 90)),
            of(2, stroke(StrokeKind::On, 0, 64, 90)),
            of(1, stroke(StrokeKind::Off, 0, 64, 0)),
        ] {
            through.pass(&stroke, now).expect("the book takes everything");
        }
        through.gone(1, now).expect("the book takes everything");
        through.gone(1, now).expect("nothing sounds any more");
        drop(through);
        let sent = book.0.lock().unwrap_or_else(PoisonError::into_inner).clone();
        assert_eq!(sent, [[0x90, 60, 90], [0x90, 64, 90], [0x80, 60, 0], [0x80, 64, 0]]);
    }
}
