use std::collections::{BTreeMap, BTreeSet, VecDeque};

use midly::{EventIter, MetaMessage, MidiMessage, TrackEventKind};
use timebase::Moment;

use super::clock::{Clock, Division};
use super::{
    ACCENT_VELOCITY, ACCENTED_CLICK_KEY, BAR_ONE, CLICK_KEY, CLICK_TRACK, DIVISION_VELOCITY, GROUP_VELOCITY,
    MidiTake, PERCUSSION_CHANNEL,
};
use crate::limits::{MIDI_BYTES, PLAYERS, STROKES, TEMPO_CHANGES};
use crate::played::Labels;
use crate::{Click, Error, Player, Role, Stroke};

/// Reads a played take from any Standard MIDI file of format 0 or 1.
///
/// One player a track, named as the track is, or `track 2` where it has no name. If only one track has notes and
/// they are on several channels, one player a channel. A track named `click` (whatever its case) is the click and no
/// player; a track without notes is no player. The marker `bar 1` says where count 1 of bar 1 falls; if no marker is
/// called that and the file has a single marker, that one does. Tempo changes are taken from all tracks, SMPTE time
/// is understood, a note-on with velocity 0 is a note-off, and every moment is computed in whole numbers from the
/// absolute tick and rounded once, to the nearest nanosecond.
///
/// A file written by [`write_sequence`](super::write_sequence) is read as a take in which the player `rhythm` is on time.
///
/// # Errors
/// If the bytes are no such file, are cut off or damaged, hold no player, or pass a limit of [`crate::limits`].
/// No bytes make it panic; it takes memory in proportion to the file.
pub fn read_take(bytes: &[u8]) -> Result<MidiTake, Error> {
    let file = File::read(bytes)?;
    let clock = Clock::new(file.division, file.tempi);
    let mut take = MidiTake { bar_one: bar_one(&file.markers, &clock)?, ..MidiTake::default() };
    let mut labels = Labels::default();
    let playing = file.tracks.iter().filter(|track| track.plays()).count();
    for (index, track) in file.tracks.iter().enumerate() {
        take.end = take.end.max(clock.moment(track.end)?);
        if track.is_click() {
            take.clicks.extend(clicks(&track.notes, &clock)?);
        } else if track.plays() {
            let name = track.name.as_deref().unwrap_or_default();
            let channels: BTreeSet<u8> = track.notes.iter().map(|note| note.channel).collect();
            if playing > 1 || channels.len() == 1 {
                let label = labels.fit(name, &format!("track {}", index + 1));
                if !channels.contains(&PERCUSSION_CHANNEL) {
                    take.on_keys.insert(label.clone());
                }
                take.players.push(Player { label, strokes: strokes(track.notes.iter(), &clock)? });
                continue;
            }
            for channel in channels {
                let label = labels.fit(&format!("channel {}", channel + 1), "");
                if channel != PERCUSSION_CHANNEL {
                    take.on_keys.insert(label.clone());
                }
                let notes = track.notes.iter().filter(|note| note.channel == channel);
                take.players.push(Player { label, strokes: strokes(notes, &clock)? });
            }
        } else if index == 0 {
            // The first track of a file with several carries the title as its name.
            take.title = track.name.clone().filter(|name| !name.trim().is_empty());
        }
    }
    let players = i64::try_from(take.players.len()).unwrap_or(i64::MAX);
    if players == 0 {
        return Err(Error::NoPlayer { tracks: file.tracks.len() });
    }
    if !PLAYERS.holds(players) {
        return Err(Error::OutOfRange { given: players, limit: PLAYERS });
    }
    take.clicks.sort_by_key(|click| click.at);
    Ok(take)
}

/// The marker of ours; else the only one.
fn bar_one(markers: &[(u64, String)], clock: &Clock) -> Result<Option<Moment>, Error> {
    let ours = markers.iter().find(|(_, text)| text.trim().eq_ignore_ascii_case(BAR_ONE));
    let marker = ours.or(match markers {
        [only] => Some(only),
        _ => None,
    });
    marker.map(|(tick, _)| clock.moment(*tick)).transpose()
}

fn clicks(notes: &[Note], clock: &Clock) -> Result<Vec<Click>, Error> {
    // Groups are struck on the high key too, softer than our own count 1.
    let ours = |note: &Note| note.key == ACCENTED_CLICK_KEY && note.velocity == ACCENT_VELOCITY;
    let has_groups = notes.iter().any(ours);
    let is_group = |note: &Note| has_groups && note.velocity == GROUP_VELOCITY;
    let click = |note: &Note| {
        let accented = note.key == ACCENTED_CLICK_KEY && !is_group(note);
        Ok(Click { at: clock.moment(note.on)?, accented })
    };
    // The clicks between the beats of our own files.
    let divides = |note: &&Note| note.key == CLICK_KEY && note.velocity == DIVISION_VELOCITY;
    notes.iter().filter(|note| !divides(note)).map(click).collect()
}

fn strokes<'a>(notes: impl Iterator<Item = &'a Note>, clock: &Clock) -> Result<Vec<Stroke>, Error> {
    let stroke = |note: &Note| {
        Ok(Stroke {
            at: clock.moment(note.on)?,
            note: note.key,
            velocity: note.velocity,
            released: note.off.map(|tick| clock.moment(tick)).transpose()?,
            origin: None,
            role: Role::Attack,
        })
    };
    notes.map(stroke).collect()
}

/// What a MIDI file holds that matters here, in ticks.
pub(super) struct File {
    pub(super) division: Division,
    tracks: Vec<TrackNotes>,
    /// Each with its tick; microseconds a quarter.
    pub(super) tempi: Vec<(u64, u32)>,
    pub(super) markers: Vec<(u64, String)>,
    /// Each with its tick; the upper number, and the lower as a power of two.
    pub(super) meters: Vec<(u64, u8, u8)>,
}

#[derive(Default)]
struct TrackNotes {
    name: Option<String>,
    /// In order of their beginnings.
    notes: Vec<Note>,
    end: u64,
}

struct Note {
    on: u64,
    off: Option<u64>,
    channel: u8,
    key: u8,
    velocity: u8,
}

impl TrackNotes {
    fn is_click(&self) -> bool {
        self.name.as_ref().is_some_and(|name| name.trim().eq_ignore_ascii_case(CLICK_TRACK))
    }

    fn plays(&self) -> bool {
        !self.is_click() && !self.notes.is_empty()
    }
}

impl File {
    pub(super) fn read(bytes: &[u8]) -> Result<Self, Error> {
        if !bytes.starts_with(b"MThd") {
            return Err(Error::NotMidi { begins: beginning(bytes) });
        }
        let size = i64::try_from(bytes.len()).unwrap_or(i64::MAX);
        if size > MIDI_BYTES.most {
            return Err(Error::OutOfRange { given: size, limit: MIDI_BYTES });
        }
        let mut rest = Chunks { bytes, at: 0, tracks: 0 };
        let cut_off = |holds| Error::MidiCutOff { chunk: "the header".to_owned(), says: 6, holds };
        let header = rest.next_chunk()?.map_or(&[][..], |chunk| chunk.data);
        let Some((&[f0, f1, t0, t1, d0, d1], _)) = header.split_first_chunk() else {
            return Err(cut_off(u64::try_from(header.len()).unwrap_or(u64::MAX)));
        };
        match u16::from_be_bytes([f0, f1]) {
            0 | 1 => {}
            2 => {
                let why = "its tracks are pieces of their own, one after another, and a take is one piece";
                return Err(Error::MidiFormat { format: 2, why });
            }
            format => return Err(Error::MidiFormat { format, why: "there is no such format" }),
        }
        let mut file = Self {
            division: Division::read(u16::from_be_bytes([d0, d1]))?,
            tracks: Vec::new(),
            tempi: Vec::new(),
            markers: Vec::new(),
            meters: Vec::new(),
        };
        let mut strokes = 0;
        while let Some(chunk) = rest.next_chunk()? {
            if chunk.is_track {
                let track = file.read_track(chunk.data, chunk.at, &mut strokes)?;
                file.tracks.push(track);
            }
        }
        let says = u16::from_be_bytes([t0, t1]);
        if file.tracks.len() < usize::from(says) {
            return Err(Error::MidiTracks { says, holds: file.tracks.len() });
        }
        Ok(file)
    }

    /// Reads the track whose `data` begins at byte `begins` of the file.
    fn read_track(&mut self, data: &[u8], begins: usize, strokes: &mut i64) -> Result<TrackNotes, Error> {
        let number = self.tracks.len() + 1;
        let mut track = TrackNotes::default();
        let mut sounding: BTreeMap<(u8, u8), VecDeque<usize>> = BTreeMap::new();
        let mut tick = 0_u64;
        let mut events = EventIter::new(data);
        // Where an event began that says its own length and reached the end of the track.
        let mut clipped = None;
        loop {
            let read = data.len() - events.unread().len();
            let Some(event) = events.next() else {
                // The library stops at what it cannot read as if the track ended there, and it clips an event that
                // says it is longer than what is left: either way notes would be lost without a word.
                let broken = clipped.or((read < data.len()).then_some(read));
                match broken {
                    Some(read) => return Err(Error::MidiEvent { track: number, byte: begins + read }),
                    None => break,
                }
            };
            let event = event.map_err(|_| Error::MidiEvent { track: number, byte: begins + read })?;
            let says_length = !matches!(event.kind, TrackEventKind::Midi { .. });
            clipped = (says_length && events.unread().is_empty()).then_some(read);
            tick += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Midi { channel, message: MidiMessage::NoteOn { key, vel } } if vel > 0 => {
                    *strokes += 1;
                    if !STROKES.holds(*strokes) {
                        return Err(Error::OutOfRange { given: *strokes, limit: STROKES });
                    }
                    let (channel, key) = (channel.as_int(), key.as_int());
                    sounding.entry((channel, key)).or_default().push_back(track.notes.len());
                    track.notes.push(Note { on: tick, off: None, channel, key, velocity: vel.as_int() });
                }
                TrackEventKind::Midi {
                    channel,
                    message: MidiMessage::NoteOff { key, .. } | MidiMessage::NoteOn { key, .. },
                } => {
                    let key = (channel.as_int(), key.as_int());
                    if let Some(index) = sounding.get_mut(&key).and_then(VecDeque::pop_front) {
                        track.notes[index].off = Some(tick);
                    }
                }
                TrackEventKind::Meta(MetaMessage::TrackName(name)) if track.name.is_none() => {
                    track.name = Some(text(name));
                }
                TrackEventKind::Meta(MetaMessage::Marker(name)) => self.markers.push((tick, text(name))),
                TrackEventKind::Meta(MetaMessage::TimeSignature(beats, power, ..)) => {
                    self.meters.push((tick, beats, power));
                }
                TrackEventKind::Meta(MetaMessage::Tempo(micros)) => {
                    if micros.as_int() == 0 {
                        return Err(Error::MidiTempo { track: number });
                    }
                    self.tempi.push((tick, micros.as_int()));
                    let changes = i64::try_from(self.tempi.len()).unwrap_or(i64::MAX);
                    if !TEMPO_CHANGES.holds(changes) {
                        return Err(Error::OutOfRange { given: changes, limit: TEMPO_CHANGES });
                    }
                }
                TrackEventKind::Meta(MetaMessage::EndOfTrack) => break,
                _ => {}
            }
        }
        track.end = tick;
        Ok(track)
    }
}

/// The chunks of a file, one after another.
struct Chunks<'a> {
    bytes: &'a [u8],
    at: usize,
    tracks: usize,
}

struct Chunk<'a> {
    is_track: bool,
    data: &'a [u8],
    /// Where its data begins in the file.
    at: usize,
}

impl<'a> Chunks<'a> {
    /// The next chunk, or `None` at the end of the file. Chunks of unknown names are allowed and are no tracks.
    fn next_chunk(&mut self) -> Result<Option<Chunk<'a>>, Error> {
        let rest = &self.bytes[self.at..];
        let Some((head, rest)) = rest.split_first_chunk::<8>() else {
            // Fewer than eight bytes begin no chunk; some programs leave a few zeros.
            return Ok(None);
        };
        let [n0, n1, n2, n3, l0, l1, l2, l3] = *head;
        let is_track = [n0, n1, n2, n3] == *b"MTrk";
        self.tracks += usize::from(is_track);
        let says = u32::from_be_bytes([l0, l1, l2, l3]);
        let data = usize::try_from(says).ok().and_then(|length| rest.get(..length));
        let Some(data) = data else {
            let chunk = match (self.at, is_track) {
                (0, _) => "the header".to_owned(),
                (_, true) => format!("track {}", self.tracks),
                (_, false) => format!("the chunk \"{}\"", [n0, n1, n2, n3].escape_ascii()),
            };
            let holds = u64::try_from(rest.len()).unwrap_or(u64::MAX);
            return Err(Error::MidiCutOff { chunk, says: u64::from(says), holds });
        };
        let at = self.at + 8;
        self.at = at + data.len();
        Ok(Some(Chunk { is_track, data, at }))
    }
}

fn beginning(bytes: &[u8]) -> String {
    if bytes.is_empty() {
        return "nothing (it is empty)".to_owned();
    }
    format!("`{}`", bytes[..bytes.len().min(4)].escape_ascii())
}

/// Text of a MIDI file: UTF-8, or Latin-1 where it is none, for the format names no encoding.
fn text(bytes: &[u8]) -> String {
    let text = std::str::from_utf8(bytes).map(str::to_owned);
    text.unwrap_or_else(|_| bytes.iter().copied().map(char::from).collect())
}

#[cfg(test)]
mod tests;
