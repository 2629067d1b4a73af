use midly::num::{u4, u7, u28};
use midly::{Header, MetaMessage, MidiMessage, Smf, TrackEvent, TrackEventKind};

use super::PERCUSSION_CHANNEL;
use crate::Error;
use crate::limits::DELTA_TICKS;

/// A track being written: events at absolute ticks, in any order.
#[derive(Debug, Default)]
pub(super) struct Track<'a> {
    events: Vec<(u64, Rank, TrackEventKind<'a>)>,
}

/// What comes first at one tick: names and tempo, then ends of notes, then beginnings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    Meta,
    Off,
    On,
}

impl<'a> Track<'a> {
    pub(super) fn named(name: &'a str) -> Self {
        let mut track = Self::default();
        track.meta(0, MetaMessage::TrackName(name.as_bytes()));
        track
    }

    pub(super) fn meta(&mut self, tick: u64, message: MetaMessage<'a>) {
        self.events.push((tick, Rank::Meta, TrackEventKind::Meta(message)));
    }

    /// A percussion note from `on` to `off`; one tick at least. Out of their range, key and velocity are taken to its nearest end.
    pub(super) fn note(&mut self, on: u64, off: u64, key: u8, velocity: u8) {
        self.note_on_channel(PERCUSSION_CHANNEL, (on, off), key, velocity);
    }

    /// The same on this channel, counted from 0.
    pub(super) fn note_on_channel(&mut self, channel: u8, (on, off): (u64, u64), key: u8, velocity: u8) {
        let channel = u4::from(channel.min(15));
        let (key, vel) = (u7::from(key.min(127)), u7::from(velocity.clamp(1, 127)));
        let message = MidiMessage::NoteOn { key, vel };
        self.events.push((on, Rank::On, TrackEventKind::Midi { channel, message }));
        let message = MidiMessage::NoteOff { key, vel: u7::from(0) };
        self.events.push((off.max(on + 1), Rank::Off, TrackEventKind::Midi { channel, message }));
    }

    /// The instrument of a channel from the beginning on, both counted from 0.
    pub(super) fn program(&mut self, channel: u8, program: u8) {
        let message = MidiMessage::ProgramChange { program: u7::from(program.min(127)) };
        let channel = u4::from(channel.min(15));
        self.events.push((0, Rank::Meta, TrackEventKind::Midi { channel, message }));
    }

    /// The events in order with the ticks between them, and the end of the track at `end` or after its last event.
    fn finish(mut self, end: u64) -> Result<Vec<TrackEvent<'a>>, Error> {
        self.events.sort_by_key(|(tick, rank, _)| (*tick, *rank));
        let last = self.events.last().map_or(0, |(tick, ..)| *tick);
        self.events.push((end.max(last), Rank::On, TrackEventKind::Meta(MetaMessage::EndOfTrack)));
        let mut reached = 0;
        let mut events = Vec::with_capacity(self.events.len());
        for (tick, _, kind) in self.events {
            let mut ticks = tick - reached;
            // What is longer than a delta can say is bridged with empty texts.
            while ticks > LONGEST_DELTA {
                let bridge = TrackEventKind::Meta(MetaMessage::Text(b""));
                events.push(TrackEvent { delta: delta(LONGEST_DELTA)?, kind: bridge });
                ticks -= LONGEST_DELTA;
            }
            events.push(TrackEvent { delta: delta(ticks)?, kind });
            reached = tick;
        }
        Ok(events)
    }
}

/// The most ticks that fit into four bytes of seven bits.
const LONGEST_DELTA: u64 = (1 << 28) - 1;

fn delta(ticks: u64) -> Result<u28, Error> {
    u32::try_from(ticks).ok().and_then(u28::try_from).ok_or_else(|| Error::OutOfRange {
        given: i64::try_from(ticks).unwrap_or(i64::MAX),
        limit: DELTA_TICKS,
    })
}

/// The header of a file: its name and length, the format, the number of tracks and the division (MIDI 1.0; from memory).
const HEADER_BYTES: usize = 14;
/// Where in it the number of tracks stands.
const TRACKS_AT: std::ops::Range<usize> = 10..12;

/// The bytes of a file of these tracks, each ending at `end` or later. A track is gone before the next one is asked for.
pub(super) fn write<'a>(
    header: Header,
    tracks: impl IntoIterator<Item = Result<Track<'a>, Error>>,
    end: u64,
) -> Result<Vec<u8>, Error> {
    let written = |tracks: Vec<Vec<TrackEvent<'_>>>| {
        let mut bytes = Vec::new();
        Smf { header, tracks }.write(&mut bytes).expect("a Vec takes any bytes, and every text is bounded");
        bytes
    };
    let (mut bytes, mut count) = (written(Vec::new()), 0_u16);
    for track in tracks {
        bytes.extend_from_slice(&written(vec![track?.finish(end)?])[HEADER_BYTES..]);
        count += 1;
    }
    bytes[TRACKS_AT].copy_from_slice(&count.to_be_bytes());
    Ok(bytes)
}
