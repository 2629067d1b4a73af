use std::fs::{File, OpenOptions, TryLockError};
use std::io::{BufRead, BufReader, Read, Write};
use std::ops::Range;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use timebase::{Anchor, Frame, HostTime, Moment, Seconds};

use crate::json::drilled::DrilledRoundForm;
use crate::json::form::{ClickForm, DisturbanceForm, HeaderForm, PlayerForm, moment, ms};
use crate::limits::{JOURNAL_BYTES, PLAYERS, STROKES};
use crate::{Absence, Disturbance, Ended, Error, Header, Origin, Player, PlayerNote, Role, Stroke};

/// The version of the journal's form that is written, and the newest that is read.
pub(crate) const VERSION: u32 = 1;

/// One line of a journal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "record", rename_all = "kebab-case")]
pub(crate) enum Record {
    /// The first line.
    Begin { version: u32, header: Box<HeaderForm>, clicks: Vec<ClickForm> },
    /// A player who was not there at the beginning; the next free number is theirs.
    Player { player: PlayerForm },
    /// A stroke of the player of this number, from 0.
    ///
    /// `retrigger` is that it is the pad's doing; `role` says more of it, or of what a hand did.
    Stroke {
        player: usize,
        at_ms: f64,
        note: u8,
        velocity: u8,
        retrigger: bool,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        role: Option<RoleForm>,
        #[serde(flatten)]
        origin: OriginForm,
    },
    /// The stroke at this moment was the grace of the one just written.
    Grace { player: usize, at_ms: f64, note: u8 },
    /// The stroke on this key at this moment turned out to be something else than was written: a pad went wild with it.
    TurnedOut {
        player: usize,
        at_ms: f64,
        note: u8,
        #[serde(flatten)]
        origin: OriginForm,
        role: RoleForm,
    },
    /// What the player plays on is not there from here on, or could not be heard in a stretch that is over.
    Absent {
        player: usize,
        from_ms: f64,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        to_ms: Option<f64>,
    },
    /// It is there again.
    Back { player: usize, at_ms: f64 },
    /// What the stamps of the player's strokes are worth and the latency taken out of them: with the first stroke, and where another
    /// device's stamps are coarser.
    Stamped { player: usize, resolution_ms: f64, latency_ms: Option<f64> },
    /// A round of a drill plan begins, with the felt beats that it adds.
    Round { round: Box<DrilledRoundForm>, clicks: Vec<ClickForm> },
    /// What the round of this number became.
    Became { round: usize, good: bool },
    /// The player let go of this key.
    Release {
        player: usize,
        at_ms: f64,
        note: u8,
        #[serde(flatten)]
        origin: OriginForm,
    },
    /// The WAV file opens with so many frames from here on.
    Saved { frames: u64 },
    /// A frame of the sound device and the computer's time at which it was heard.
    Anchor { frame: i64, host_ns: i64 },
    /// Sound was lost or stamps are unsure here.
    Disturbed(DisturbanceForm),
    /// The sound file ended before the take.
    SoundEnded { frames: u64, why: String },
    /// The last line.
    End {
        ended: Ended,
        frames: u64,
        /// Up to when it was heard, where it was stopped.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        heard_ms: Option<f64>,
    },
}

/// [`Origin`] as it stands in a file; not there in journals of before.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct OriginForm {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    device: Option<u16>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    channel: Option<u8>,
}

impl OriginForm {
    fn of(origin: Option<Origin>) -> Self {
        Self { device: origin.map(|origin| origin.device), channel: origin.map(|origin| origin.channel) }
    }

    fn origin(self) -> Option<Origin> {
        Some(Origin { device: self.device?, channel: self.channel? })
    }
}

/// What a stroke is. A line says nothing of an attack or a pad's own bouncing, unless it sets right what was written before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum RoleForm {
    Attack,
    Chord,
    Grace,
    Crosstalk,
    Wild,
}

impl RoleForm {
    /// Nothing for a pad's bouncing, which older journals tell by a flag.
    const fn of(role: Role) -> Option<Self> {
        match role {
            Role::Attack => Some(Self::Attack),
            Role::Chord => Some(Self::Chord),
            Role::Grace => Some(Self::Grace),
            Role::Crosstalk => Some(Self::Crosstalk),
            Role::Wild => Some(Self::Wild),
            Role::Bounce => None,
        }
    }

    const fn role(self) -> Role {
        match self {
            Self::Attack => Role::Attack,
            Self::Chord => Role::Chord,
            Self::Grace => Role::Grace,
            Self::Crosstalk => Role::Crosstalk,
            Self::Wild => Role::Wild,
        }
    }
}

/// The journal of a take in progress: one line of JSON a record, each brought to the system in one piece before
/// the call returns.
#[derive(Debug)]
pub(crate) struct Journal {
    path: PathBuf,
    file: File,
}

impl Journal {
    /// A new journal. It is locked as long as it is written, so that nobody recovers a take that is being recorded.
    pub(crate) fn create(path: &Path) -> Result<Self, Error> {
        let file = OpenOptions::new().write(true).create_new(true).open(path);
        let file = file.map_err(|e| Error::writing(path, e))?;
        // A file system without locks is no reason not to record.
        let _ = file.try_lock();
        Ok(Self { path: path.to_owned(), file })
    }

    /// Writes one record. After an error nothing may be appended: half a line may stand at the end.
    pub(crate) fn append(&mut self, record: &Record) -> Result<(), Error> {
        let mut line = serde_json::to_vec(record).expect("a record has only numbers, texts and lists");
        line.push(b'\n');
        self.file.write_all(&line).map_err(|e| Error::writing(&self.path, e))
    }

    /// A journal at `path` whose every write meets a full disk.
    #[cfg(all(test, target_os = "linux"))]
    pub(crate) fn to_a_full_disk(path: &Path) -> Self {
        let file = OpenOptions::new().write(true).open("/dev/full").expect("every Linux has it");
        Self { path: path.to_owned(), file }
    }

    /// Brings all of it to the disk.
    pub(crate) fn sync(&self) -> Result<(), Error> {
        self.file.sync_all().map_err(|e| Error::writing(&self.path, e))
    }
}

/// Whether a recorder holds the journal at `path`.
pub(crate) fn is_being_written(path: &Path) -> bool {
    File::open(path).is_ok_and(|file| matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock)))
}

/// What a journal tells.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Told {
    pub(crate) header: Header,
    pub(crate) players: Vec<Player>,
    pub(crate) disturbed: Vec<Disturbance>,
    pub(crate) anchors: Vec<Anchor>,
    pub(crate) saved_frames: u64,
    pub(crate) sound_ended: Option<String>,
    /// `None` when the last line is missing: the take was killed.
    pub(crate) ended: Option<Ended>,
    /// Up to when it was heard, where that was told.
    pub(crate) heard: Option<Moment>,
    /// The strokes told long after a later one of the same player.
    pub(crate) running_backwards: usize,
}

/// Strokes are told as they come: of two pads, one may come a moment after a later one of the other, never so much.
const AS_THEY_COME: Seconds = Seconds::from_millis(1_000);

/// Reads a journal. Half a line at the end, left by a kill in the middle of writing, is passed over.
pub(crate) fn read(path: &Path) -> Result<Told, Error> {
    let failed = |e| Error::reading(path, e);
    let file = File::open(path).map_err(failed)?;
    let size = i64::try_from(file.metadata().map_err(failed)?.len()).unwrap_or(i64::MAX);
    if !JOURNAL_BYTES.holds(size) {
        return Err(Error::OutOfRange { given: size, limit: JOURNAL_BYTES });
    }
    let mut reader = BufReader::new(file);
    let (mut line, mut number) = (Vec::new(), 0);
    let mut told: Option<Told> = None;
    let mut strokes = 0;
    loop {
        line.clear();
        number += 1;
        if reader.read_until(b'\n', &mut line).map_err(failed)? == 0 {
            break;
        }
        let wrong = |why: String| Error::JournalLine { path: path.to_owned(), line: number, why };
        let record = match serde_json::from_slice::<Record>(&line) {
            Ok(record) => record,
            Err(_) if !line.ends_with(b"\n") => break,
            Err(e) => {
                newer_version(path, &line)?;
                return Err(wrong(e.to_string()));
            }
        };
        strokes += i64::from(matches!(record, Record::Stroke { .. }));
        if !STROKES.holds(strokes) {
            return Err(Error::OutOfRange { given: strokes, limit: STROKES });
        }
        match &mut told {
            None => told = Some(begin(path, record, wrong)?),
            Some(told) => told.add(record).map_err(wrong)?,
        }
    }
    told.ok_or_else(|| Error::JournalLine {
        path: path.to_owned(),
        line: 1,
        why: "its beginning is missing, so nothing was recorded".to_owned(),
    })
}

/// What the first line of a journal tells.
///
/// # Errors
/// As [`read`].
pub(crate) fn read_header(path: &Path) -> Result<Header, Error> {
    let failed = |e| Error::reading(path, e);
    let mut line = Vec::new();
    let most = u64::try_from(JOURNAL_BYTES.most).unwrap_or(u64::MAX);
    let file = File::open(path).map_err(failed)?.take(most);
    BufReader::new(file).read_until(b'\n', &mut line).map_err(failed)?;
    let wrong = |why: String| Error::JournalLine { path: path.to_owned(), line: 1, why };
    match serde_json::from_slice::<Record>(&line) {
        Ok(record) => Ok(begin(path, record, wrong)?.header),
        Err(e) => {
            newer_version(path, &line)?;
            Err(wrong(e.to_string()))
        }
    }
}

/// Says so when a line that cannot be read is the first of a newer version's journal.
fn newer_version(path: &Path, line: &[u8]) -> Result<(), Error> {
    let value: serde_json::Value = serde_json::from_slice(line).unwrap_or_default();
    match value.get("version").and_then(serde_json::Value::as_u64) {
        Some(given) if given > u64::from(VERSION) => Err(version_error(path, given)),
        _ => Ok(()),
    }
}

fn version_error(path: &Path, given: u64) -> Error {
    Error::Version { path: path.to_owned(), given: u32::try_from(given).unwrap_or(u32::MAX), reads: VERSION }
}

fn begin(path: &Path, record: Record, wrong: impl Fn(String) -> Error) -> Result<Told, Error> {
    let Record::Begin { version, header, clicks } = record else {
        return Err(wrong("a journal begins with the record \"begin\"".to_owned()));
    };
    if version > VERSION {
        return Err(version_error(path, u64::from(version)));
    }
    let mut header = header.header().map_err(wrong)?;
    header.clicks = clicks.into_iter().map(ClickForm::click).collect();
    let players = header.players.iter().map(|note| nobody_yet(&note.label)).collect();
    Ok(Told {
        header,
        players,
        disturbed: Vec::new(),
        anchors: Vec::new(),
        saved_frames: 0,
        sound_ended: None,
        ended: None,
        heard: None,
        running_backwards: 0,
    })
}

/// A player without strokes.
pub(crate) fn nobody_yet(label: &str) -> Player {
    Player { label: label.to_owned(), strokes: Vec::new() }
}

impl Told {
    fn add(&mut self, record: Record) -> Result<(), String> {
        match record {
            Record::Begin { .. } => return Err("a second beginning".to_owned()),
            Record::Player { player } => {
                let note = player.note();
                self.players.push(nobody_yet(&note.label));
                self.header.players.push(note);
                let players = i64::try_from(self.players.len()).unwrap_or(i64::MAX);
                if !PLAYERS.holds(players) {
                    return Err(format!("more than {} players", PLAYERS.most));
                }
            }
            Record::Stroke { player, at_ms, note, velocity, retrigger, role, origin } => {
                let at = moment(at_ms);
                let usual = if retrigger { Role::Bounce } else { Role::Attack };
                let role = role.map_or(usual, RoleForm::role);
                let origin = origin.origin();
                let stroke = Stroke { at, note, velocity, released: None, origin, role };
                let strokes = &mut self.player(player)?.strokes;
                let is_backwards = strokes.last().is_some_and(|last| last.at - at > AS_THEY_COME);
                add_stroke(strokes, stroke);
                self.running_backwards += usize::from(is_backwards);
            }
            Record::Grace { player, at_ms, note } => {
                grace(&mut self.player(player)?.strokes, moment(at_ms), note);
            }
            Record::TurnedOut { player, at_ms, note, origin, role } => {
                let key = (origin.origin(), note);
                turned_out(&mut self.player(player)?.strokes, key, moment(at_ms), role.role());
            }
            Record::Absent { player, from_ms, to_ms: None } => gone(self.note(player)?, moment(from_ms)),
            Record::Absent { player, from_ms, to_ms: Some(to_ms) } => {
                unheard(self.note(player)?, moment(from_ms)..moment(to_ms));
            }
            Record::Back { player, at_ms } => back(self.note(player)?, moment(at_ms)),
            Record::Stamped { player, resolution_ms, latency_ms } => {
                let note = self.note(player)?;
                note.resolution = Some(Seconds::from_millis_f64(resolution_ms));
                note.latency = latency_ms.map(Seconds::from_millis_f64);
            }
            Record::Release { player, at_ms, note, origin } => {
                release(&mut self.player(player)?.strokes, (origin.origin(), note), moment(at_ms));
            }
            Record::Round { round, clicks } => {
                let drilled = self.header.drill.as_mut().ok_or("a round of no drill plan")?;
                let round = round.round(drilled.rhythms.len())?;
                drilled.rounds.push(round);
                self.header.clicks.extend(clicks.into_iter().map(ClickForm::click));
            }
            Record::Became { round, good } => {
                let drilled = self.header.drill.as_mut();
                let rounds = drilled.into_iter().flat_map(|drilled| &mut drilled.rounds);
                if let Some(round) = { rounds }.find(|other| other.number == round) {
                    round.good = Some(good);
                }
            }
            Record::Saved { frames } => self.saved_frames = frames,
            Record::Anchor { frame, host_ns } => {
                let host = HostTime::from_nanos(host_ns);
                self.anchors.push(Anchor { frame: Frame::new(frame), host, server: None });
            }
            Record::Disturbed(form) => self.disturbed.push(form.disturbance()),
            Record::SoundEnded { frames, why } => {
                self.saved_frames = frames;
                self.sound_ended = Some(why);
            }
            Record::End { ended, frames, heard_ms } => {
                self.saved_frames = frames;
                self.ended = Some(ended);
                self.heard = heard_ms.map(moment);
            }
        }
        Ok(())
    }

    fn note(&mut self, number: usize) -> Result<&mut PlayerNote, String> {
        let players = self.header.players.len();
        let note = self.header.players.get_mut(number);
        note.ok_or_else(|| format!("there is no player {number}, only {players}"))
    }

    fn player(&mut self, number: usize) -> Result<&mut Player, String> {
        let players = self.players.len();
        self.players.get_mut(number).ok_or_else(|| format!("there is no player {number}, only {players}"))
    }
}

/// Puts a stroke in its place in time: strokes of two pads of one player can come in the other order.
pub(crate) fn add_stroke(strokes: &mut Vec<Stroke>, stroke: Stroke) {
    let after = strokes.iter().rposition(|before| before.at <= stroke.at).map_or(0, |index| index + 1);
    strokes.insert(after, stroke);
}

/// The stroke on this key at this moment was a grace.
pub(crate) fn grace(strokes: &mut [Stroke], at: Moment, note: u8) {
    if let Some(stroke) = strokes.iter_mut().rfind(|stroke| stroke.note == note && stroke.at == at) {
        stroke.role = Role::Grace;
    }
}

/// The stroke on this key at this moment was something else than was known; it was none of the pad's own, of which there may be more.
pub(crate) fn turned_out(strokes: &mut [Stroke], key: (Option<Origin>, u8), at: Moment, role: Role) {
    let is_it = |stroke: &&mut Stroke| stroke.key() == key && stroke.at == at && !stroke.role.is_of_the_pad();
    if let Some(stroke) = strokes.iter_mut().rfind(is_it) {
        stroke.role = role;
    }
}

/// What the player plays on is not there from a moment on.
pub(crate) fn gone(note: &mut PlayerNote, from: Moment) {
    if note.absent.last().is_none_or(|last| last.to.is_some()) {
        note.absent.push(Absence { from, to: None });
    }
}

/// What the player played on could not be heard in this stretch, which is over.
pub(crate) fn unheard(note: &mut PlayerNote, stretch: Range<Moment>) {
    let is_within = |absence: &Absence| absence.from <= stretch.start && absence.to.is_none();
    if stretch.start < stretch.end && !note.absent.iter().any(is_within) {
        let place = note.absent.partition_point(|absence| absence.from <= stretch.start);
        note.absent.insert(place, Absence { from: stretch.start, to: Some(stretch.end) });
    }
}

/// It is back.
pub(crate) fn back(note: &mut PlayerNote, at: Moment) {
    if let Some(last) = note.absent.last_mut().filter(|last| last.to.is_none()) {
        last.to = Some(at.max(last.from));
    }
}

/// Lets go of the last stroke on this key ([`Stroke::key`]) that is still held; a release nobody struck is passed over, as on a device
/// that sends some at its start.
pub(crate) fn release(strokes: &mut [Stroke], key: (Option<Origin>, u8), at: Moment) {
    let held = strokes.iter_mut().rfind(|stroke| stroke.key() == key && stroke.at <= at);
    if let Some(stroke) = held {
        stroke.released.get_or_insert(at);
    }
}

impl Record {
    pub(crate) fn begin(header: &Header) -> Self {
        let clicks = header.clicks.iter().map(ClickForm::of).collect();
        Self::Begin { version: VERSION, header: Box::new(HeaderForm::of(header)), clicks }
    }

    pub(crate) fn stroke(player: usize, stroke: &Stroke) -> Self {
        let at_ms = ms(stroke.at.since_zero());
        let (note, velocity, retrigger) = (stroke.note, stroke.velocity, stroke.role.is_of_the_pad());
        let role = RoleForm::of(stroke.role).filter(|role| *role != RoleForm::Attack);
        let origin = OriginForm::of(stroke.origin);
        Self::Stroke { player, at_ms, note, velocity, retrigger, role, origin }
    }

    pub(crate) fn grace(player: usize, at: Moment, note: u8) -> Self {
        Self::Grace { player, at_ms: ms(at.since_zero()), note }
    }

    /// Nothing where it turned out to be a bounce, which is known at once.
    pub(crate) fn turned_out(
        player: usize,
        (origin, note): (Option<Origin>, u8),
        at: Moment,
        role: Role,
    ) -> Option<Self> {
        let (at_ms, origin) = (ms(at.since_zero()), OriginForm::of(origin));
        Some(Self::TurnedOut { player, at_ms, note, origin, role: RoleForm::of(role)? })
    }

    pub(crate) fn release(player: usize, (origin, note): (Option<Origin>, u8), at: Moment) -> Self {
        Self::Release { player, at_ms: ms(at.since_zero()), note, origin: OriginForm::of(origin) }
    }

    pub(crate) fn anchor(anchor: Anchor) -> Self {
        Self::Anchor { frame: anchor.frame.index(), host_ns: anchor.host.as_nanos() }
    }
}

#[cfg(test)]
mod tests;
