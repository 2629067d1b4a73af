use std::borrow::Cow;
use std::fs;
use std::path::Path;

use serde::Deserialize;
use timebase::{Anchor, Frame, Moment};

use crate::beside::{write_beside, write_json_beside};
use crate::folder::Folder;
use crate::journal::{self, nobody_yet};
use crate::json::form::{DisturbanceForm, moment};
use crate::json::{Description, JudgeFile, VERSION};
use crate::limits::{DESCRIPTION_BYTES, MIDI_BYTES};
use crate::midi::{MidiTake, read_take, write_take};
use crate::recorder::midi_of;
use crate::wav::TakeWav;
use crate::{Disturbance, Ended, Error, Header, Player};

/// A take as its folder tells it, whether it was finished or killed.
#[derive(Clone, Debug, PartialEq)]
pub struct Take {
    folder: Folder,
    header: Header,
    players: Vec<Player>,
    disturbed: Vec<Disturbance>,
    anchors: Vec<Anchor>,
    ended: Option<Ended>,
    /// Up to when it was heard, where that was told.
    heard: Option<Moment>,
    frames: u64,
    sound_ended: Option<String>,
    judgement: Option<JudgeFile>,
    running_backwards: usize,
    /// Whether `take.json`, which is written last, tells of the end.
    complete: bool,
}

impl Take {
    /// Opens the take in the folder `dir`, finished or killed, without changing anything.
    ///
    /// What was played is read from the journal, which is exact and complete up to a kill; where it is missing,
    /// from `take.mid` and `take.json`.
    ///
    /// # Errors
    /// [`Error::NoTake`]; a file that cannot be read, is of a newer version, or is damaged. Half a line at the end
    /// of the journal is no damage: a kill leaves it.
    pub fn open(dir: &Path) -> Result<Self, Error> {
        let folder = Folder::new(dir);
        let description = read_description(&folder)?;
        if folder.journal().exists() {
            let told = journal::read(&folder.journal())?;
            return Ok(Self {
                folder,
                header: told.header,
                players: told.players,
                disturbed: told.disturbed,
                anchors: told.anchors,
                ended: told.ended,
                heard: told.heard,
                frames: told.saved_frames,
                sound_ended: told.sound_ended,
                complete: description.as_ref().is_some_and(|description| description.ended.is_some()),
                judgement: description.and_then(|description| description.judgement).map(Cow::into_owned),
                running_backwards: told.running_backwards,
            });
        }
        let Some(description) = description else {
            return Err(Error::NoTake { dir: dir.to_owned() });
        };
        Self::from_midi(folder, description)
    }

    fn from_midi(folder: Folder, description: Description<'_>) -> Result<Self, Error> {
        let path = folder.midi();
        let size = fs::metadata(&path).map_err(|e| Error::reading(&path, e))?.len();
        let size = i64::try_from(size).unwrap_or(i64::MAX);
        if size > MIDI_BYTES.most {
            return Err(Error::OutOfRange { given: size, limit: MIDI_BYTES });
        }
        let midi = match read_take(&fs::read(&path).map_err(|e| Error::reading(&path, e))?) {
            Err(Error::NoPlayer { .. }) => MidiTake::default(),
            read => read?,
        };
        let why = |why| Error::Description { path: folder.description(), why };
        let mut header = description.header.header().map_err(why)?;
        header.clicks = midi.clicks;
        // A player who never struck is in the description and not in the MIDI file.
        let mut players: Vec<_> = header.players.iter().map(|note| nobody_yet(&note.label)).collect();
        for played in midi.players {
            match players.iter_mut().find(|player| player.label == played.label) {
                Some(player) => *player = played,
                None => players.push(played),
            }
        }
        Ok(Self {
            header,
            players,
            disturbed: description.disturbed.into_iter().map(DisturbanceForm::disturbance).collect(),
            anchors: Vec::new(),
            ended: description.ended,
            heard: description.heard_ms.map(moment),
            complete: true,
            frames: description.frames,
            sound_ended: description.sound_ended,
            judgement: description.judgement.map(Cow::into_owned),
            running_backwards: 0,
            folder,
        })
    }

    /// What was known when the take in the folder `dir` began. Where it has a journal, nothing of what was played is read.
    ///
    /// # Errors
    /// As [`Take::open`].
    pub fn header_of(dir: &Path) -> Result<Header, Error> {
        let journal = Folder::new(dir).journal();
        if journal.exists() { journal::read_header(&journal) } else { Ok(Self::open(dir)?.header) }
    }

    /// Opens a take and completes the files of one that was killed, also while it was being finished: the WAV file's header
    /// takes in every whole frame that is there, and `take.mid` and `take.json` are written from the journal. A take
    /// whose files are complete is only opened.
    ///
    /// # Errors
    /// As [`Take::open`]; [`Error::InUse`] if the take is being recorded at this moment; a failure to write.
    pub fn recover(dir: &Path) -> Result<Self, Error> {
        let mut take = Self::open(dir)?;
        if take.complete || !take.folder.journal().exists() {
            return Ok(take);
        }
        if journal::is_being_written(&take.folder.journal()) {
            return Err(Error::InUse { dir: dir.to_owned() });
        }
        if take.folder.wav().exists() {
            take.frames = TakeWav::mend(&take.folder.wav())?;
        }
        write_beside(&take.folder.midi(), &write_take(&take.midi())?)?;
        let description = Description::new(
            &take.header,
            &take.disturbed,
            (take.ended, take.heard),
            take.frames,
            take.sound_ended.clone(),
            take.judgement.as_ref(),
        );
        write_json_beside(&take.folder.description(), &description)?;
        Ok(take)
    }

    /// Its files.
    #[must_use]
    pub fn folder(&self) -> &Folder {
        &self.folder
    }

    /// What was known when it began, and the players who entered later.
    #[must_use]
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// Who played, and every stroke in the take's own time.
    #[must_use]
    pub fn players(&self) -> &[Player] {
        &self.players
    }

    /// Where sound was lost or stamps are unsure.
    #[must_use]
    pub fn disturbed(&self) -> &[Disturbance] {
        &self.disturbed
    }

    /// How many strokes the journal tells more than a second after a later one of the same player: a clock was set back, or the file was
    /// changed. They stand in order of time as all do.
    #[must_use]
    pub fn running_backwards(&self) -> usize {
        self.running_backwards
    }

    /// How the sound device's frames stood to the computer's clock; none where the journal is missing.
    #[must_use]
    pub fn anchors(&self) -> &[Anchor] {
        &self.anchors
    }

    /// How it ended; `None` for a take that was killed.
    #[must_use]
    pub fn ended(&self) -> Option<Ended> {
        self.ended
    }

    /// Up to when it was heard, where it was not played to its end; what is written after that was not asked of anybody.
    #[must_use]
    pub fn heard_until(&self) -> Option<Moment> {
        match self.ended {
            Some(Ended::Finished) => None,
            Some(Ended::Stopped) | None => Some(self.heard.unwrap_or_else(|| self.end())),
        }
    }

    /// How many frames of sound there are for certain.
    #[must_use]
    pub fn frames(&self) -> u64 {
        self.frames
    }

    /// Why the sound ended before the take, if it did.
    #[must_use]
    pub fn sound_ended(&self) -> Option<&str> {
        self.sound_ended.as_deref()
    }

    /// The judgement it ended with, if it has one.
    #[must_use]
    pub fn judgement(&self) -> Option<&JudgeFile> {
        self.judgement.as_ref()
    }

    /// How far it is known to reach: the end of its sound, or its last stroke or release if that is later.
    #[must_use]
    pub fn end(&self) -> Moment {
        let frames = Frame::new(i64::try_from(self.frames).unwrap_or(i64::MAX));
        let strokes = self.players.iter().flat_map(|player| &player.strokes);
        let last = strokes.map(|stroke| stroke.released.unwrap_or(stroke.at).max(stroke.at)).max();
        frames.moment(self.header.sound.rate).max(last.unwrap_or(Moment::ZERO))
    }

    /// The take as a MIDI file holds it.
    #[must_use]
    pub fn midi(&self) -> MidiTake {
        midi_of(&self.header, &self.players, self.end())
    }
}

/// What a newer version says of itself, whatever else it says.
#[derive(Deserialize)]
struct Versioned {
    #[serde(default)]
    version: serde_json::Value,
}

/// The description, if there is one.
fn read_description(folder: &Folder) -> Result<Option<Description<'static>>, Error> {
    let path = folder.description();
    let failed = |e| Error::reading(&path, e);
    let size = match fs::metadata(&path) {
        Ok(found) => i64::try_from(found.len()).unwrap_or(i64::MAX),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(e) => return Err(failed(e)),
    };
    if !DESCRIPTION_BYTES.holds(size) {
        return Err(Error::OutOfRange { given: size, limit: DESCRIPTION_BYTES });
    }
    let bytes = fs::read(&path).map_err(failed)?;
    let wrong = |e: serde_json::Error| Error::Description { path: path.clone(), why: e.to_string() };
    let versioned: Versioned = serde_json::from_slice(&bytes).map_err(wrong)?;
    if let Some(given) = versioned.version.as_u64().filter(|&given| given > u64::from(VERSION)) {
        let given = u32::try_from(given).unwrap_or(u32::MAX);
        return Err(Error::Version { path, given, reads: VERSION });
    }
    serde_json::from_slice(&bytes).map(Some).map_err(wrong)
}

#[cfg(test)]
mod tests;
