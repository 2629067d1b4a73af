use std::fs;
use std::ops::Range;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use timebase::{Anchor, Frame, Frames, Moment, Seconds};

use crate::beside::{write_beside, write_beside_quickly, write_json_beside, write_json_beside_quickly};
use crate::drilled::new_clicks;
use crate::folder::Folder;
use crate::journal::{
    Journal, Record, add_stroke, back, gone, grace, nobody_yet, release, turned_out, unheard,
};
use crate::json::drilled::DrilledRoundForm;
use crate::json::form::{ClickForm, DisturbanceForm, PlayerForm, ms};
use crate::json::{Description, JudgeFile};
use crate::limits::{MIDI_SAVED_EVERY, MIDI_SAVED_PART, PLAYERS, SPACE_ASKED_EVERY, STROKES, TAKE_SECONDS};
use crate::midi::{MidiTake, write_played};
use crate::played::Labels;
use crate::space::{free_bytes, little_space};
use crate::wav::TakeWav;
use crate::{Click, DrilledRound, Error, Header, Origin, Player, PlayerNote, Role, Stroke};

/// How a take ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ended {
    /// It was played to its end.
    Finished,
    /// Somebody stopped it.
    Stopped,
}

/// A stretch of a take in which sound was lost or stamps are unsure. What was judged there is not to be trusted.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Disturbance {
    /// Where it begins, in the take's own time.
    pub from: Moment,
    /// Where it ends.
    pub to: Moment,
    /// What happened: `dropout`.
    pub why: String,
}

/// What of a take could not be written down to its end: the disk was full, or a file could not grow.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Cut {
    /// The take's folder.
    pub dir: PathBuf,
    /// Up to where it is kept, in the take's own time.
    pub until: Moment,
    /// Whether the strokes are kept up to there only, and everything else with them; else it is the sound alone.
    pub strokes: bool,
}

/// Writes a take while it is played.
///
/// Every stroke is in the journal before [`Recorder::stroke`] returns. For every quarter of a second of sound the WAV file is
/// made valid, and twice a second of the take's own time (later for every 64th of it) `take.mid` is written beside and renamed. So a program that is
/// killed leaves a folder that [`Take::open`](crate::Take::open) opens, with every stroke, and with all the sound it was handed but
/// the last quarter of a second; so does a recorder that is dropped without [`Recorder::finish`].
///
/// Where the disk has less room than [`SPACE_KEPT`](crate::limits::SPACE_KEPT), no sound is begun, or the sound is ended; the first
/// call of [`Recorder::audio`] that meets it says so. Strokes are still kept.
///
/// A failure ends the recording, not the drill. When the sound file fails (disk full, 4 GiB), the strokes are still
/// kept; when the journal fails, nothing more is. The call that meets the failure says so, and every later one of
/// the same kind is [`Error::Ended`].
///
/// For an ordinary thread: it allocates and writes to the disk, and a slow disk holds it up.
#[derive(Debug)]
pub struct Recorder {
    folder: Folder,
    journal: Journal,
    /// Why nothing more can be written down.
    ended: Option<String>,
    /// Up to where everything was written down by then.
    ended_at: Moment,
    wav: Option<TakeWav>,
    /// Why the sound file ended before the take.
    sound_ended: Option<String>,
    frames: u64,
    header: Header,
    labels: Labels,
    players: Vec<Player>,
    strokes: i64,
    disturbed: Vec<Disturbance>,
    /// Up to when it was heard, once that is told.
    heard: Option<Moment>,
    /// The latest moment that was told of.
    reached: Moment,
    /// The moment up to which `take.mid` is known to tell.
    saved: Moment,
    interleaved: Vec<f32>,
    /// Tells the bytes that are free where the take is written.
    free: fn(&Path) -> Option<u64>,
    /// Frames at which it is asked next.
    ask_at: u64,
    /// Why no sound is recorded from the beginning on, until it is told.
    untold: Option<Error>,
}

impl Recorder {
    /// Begins a take in the folder `dir`, which is made if it is not there.
    ///
    /// The players' labels are made fit for files: on one line, no two alike, none called `click`.
    ///
    /// # Errors
    /// [`Error::TakeExists`] if the folder already holds a take; otherwise if something cannot be written.
    pub fn begin(dir: &Path, mut header: Header) -> Result<Self, Error> {
        let folder = Folder::new(dir);
        fs::create_dir_all(dir).map_err(|e| Error::writing(dir, e))?;
        if folder.holds_something() {
            return Err(Error::TakeExists { dir: dir.to_owned() });
        }
        let mut labels = Labels::default();
        for (index, note) in header.players.iter_mut().enumerate() {
            note.label = labels.fit(&note.label, &player_number(index));
        }
        let mut journal = Journal::create(&folder.journal())?;
        journal.append(&Record::begin(&header))?;
        let wav = TakeWav::create(&folder.wav(), header.sound.rate, 2)?;
        let little = little_space(dir, free_bytes(dir));
        let players = header.players.iter().map(|note| nobody_yet(&note.label)).collect();
        let recorder = Self {
            folder,
            journal,
            ended: None,
            ended_at: Moment::ZERO,
            wav: little.is_none().then_some(wav),
            sound_ended: little.as_ref().map(ToString::to_string),
            frames: 0,
            header,
            labels,
            players,
            strokes: 0,
            disturbed: Vec::new(),
            heard: None,
            reached: Moment::ZERO,
            saved: Moment::ZERO,
            interleaved: Vec::new(),
            free: free_bytes,
            ask_at: 0,
            untold: little,
        };
        write_json_beside_quickly(&recorder.folder.description(), &recorder.description(None, None))?;
        write_beside_quickly(&recorder.folder.midi(), &recorder.midi()?)?;
        Ok(recorder)
    }

    /// The take's folder.
    #[must_use]
    pub fn dir(&self) -> &Path {
        self.folder.dir()
    }

    /// Enters a player who was not there at the beginning and gives the number to name them by.
    ///
    /// # Errors
    /// Beyond [`PLAYERS`], or as [`Recorder::stroke`].
    pub fn enter(&mut self, mut note: PlayerNote) -> Result<usize, Error> {
        let number = self.players.len();
        let given = i64::try_from(number).unwrap_or(i64::MAX).saturating_add(1);
        if !PLAYERS.holds(given) {
            return Err(Error::OutOfRange { given, limit: PLAYERS });
        }
        note.label = self.labels.fit(&note.label, &player_number(number));
        self.append(&Record::Player { player: PlayerForm::of(&note) })?;
        self.players.push(nobody_yet(&note.label));
        self.header.players.push(note);
        Ok(number)
    }

    /// Writes down a stroke of the player of this number, from 0, in the take's own time. Its release, if it is
    /// known already, is written down too.
    ///
    /// # Errors
    /// [`Error::NoSuchPlayer`]; [`Error::OutOfRange`] beyond [`STROKES`], before the beginning or after a day; a failure to write, after which the recording has ended.
    pub fn stroke(&mut self, player: usize, stroke: Stroke) -> Result<(), Error> {
        self.check_player(player)?;
        check_moment(stroke.at)?;
        if !STROKES.holds(self.strokes + 1) {
            return Err(Error::OutOfRange { given: self.strokes + 1, limit: STROKES });
        }
        self.append(&Record::stroke(player, &stroke))?;
        self.strokes += 1;
        add_stroke(&mut self.players[player].strokes, Stroke { released: None, ..stroke });
        self.reached = self.reached.max(stroke.at);
        match stroke.released {
            Some(at) => self.release(player, stroke.key(), at),
            None => self.save_midi_if_due(),
        }
    }

    /// Writes down that the stroke of this player on this key at this moment was the grace of the one that was written last.
    ///
    /// # Errors
    /// As [`Recorder::stroke`].
    pub fn grace(&mut self, player: usize, at: Moment, note: u8) -> Result<(), Error> {
        self.check_player(player)?;
        self.append(&Record::grace(player, at, note))?;
        grace(&mut self.players[player].strokes, at, note);
        Ok(())
    }

    /// Writes down that the stroke of this player on this [key](Stroke::key) at this moment, written already, turned out to be something
    /// else: sent by a pad gone wild, or what a stroke is when the one before it was.
    ///
    /// # Errors
    /// As [`Recorder::stroke`].
    pub fn turned_out(
        &mut self,
        player: usize,
        key: (Option<Origin>, u8),
        at: Moment,
        role: Role,
    ) -> Result<(), Error> {
        self.check_player(player)?;
        let Some(record) = Record::turned_out(player, key, at, role) else { return Ok(()) };
        self.append(&record)?;
        turned_out(&mut self.players[player].strokes, key, at, role);
        Ok(())
    }

    /// Writes down that what the player plays on is not there from this moment on.
    ///
    /// # Errors
    /// As [`Recorder::stroke`].
    pub fn absent(&mut self, player: usize, from: Moment) -> Result<(), Error> {
        self.check_player(player)?;
        check_moment(from)?;
        self.append(&Record::Absent { player, from_ms: ms(from.since_zero()), to_ms: None })?;
        gone(&mut self.header.players[player], from);
        Ok(())
    }

    /// Writes down that the player could not be heard in a stretch of time that is over.
    ///
    /// # Errors
    /// As [`Recorder::stroke`].
    pub fn unheard(&mut self, player: usize, stretch: Range<Moment>) -> Result<(), Error> {
        self.check_player(player)?;
        check_moment(stretch.start)?;
        check_moment(stretch.end)?;
        let [from_ms, to_ms] = [stretch.start, stretch.end].map(|at| ms(at.since_zero()));
        self.append(&Record::Absent { player, from_ms, to_ms: Some(to_ms) })?;
        unheard(&mut self.header.players[player], stretch);
        Ok(())
    }

    /// Writes down that it is there again.
    ///
    /// # Errors
    /// As [`Recorder::stroke`].
    pub fn back(&mut self, player: usize, at: Moment) -> Result<(), Error> {
        self.check_player(player)?;
        check_moment(at)?;
        self.append(&Record::Back { player, at_ms: ms(at.since_zero()) })?;
        back(&mut self.header.players[player], at);
        Ok(())
    }

    /// Writes down what the player's stamps are worth and the latency taken out of them, where that is not known yet; later what
    /// they are worth only, where that is less.
    ///
    /// # Errors
    /// As [`Recorder::stroke`].
    pub fn stamped(
        &mut self,
        player: usize,
        resolution: Seconds,
        latency: Option<Seconds>,
    ) -> Result<(), Error> {
        self.check_player(player)?;
        let note = &self.header.players[player];
        let latency = match note.resolution {
            Some(known) if resolution <= known => return Ok(()),
            Some(_) => note.latency,
            None => latency,
        };
        let (resolution_ms, latency_ms) = (ms(resolution), latency.map(ms));
        self.append(&Record::Stamped { player, resolution_ms, latency_ms })?;
        let note = &mut self.header.players[player];
        (note.resolution, note.latency) = (Some(resolution), latency);
        Ok(())
    }

    /// Notes up to when the take was heard, for a take that is stopped then; [`Recorder::finish`] writes it down.
    pub fn heard_until(&mut self, heard: Moment) {
        self.heard = Some(heard);
    }

    /// Writes down that a round of a drill plan begins, and its felt beats in the take's own time.
    ///
    /// # Errors
    /// [`Error::NoDrill`] where the header named none; else as [`Recorder::stroke`].
    pub fn round(&mut self, round: DrilledRound, clicks: &[Click]) -> Result<(), Error> {
        if self.header.drill.is_none() {
            return Err(Error::NoDrill);
        }
        let clicks = new_clicks(&self.header.clicks, clicks);
        let forms = clicks.iter().map(ClickForm::of).collect();
        self.append(&Record::Round { round: Box::new(DrilledRoundForm::of(&round)), clicks: forms })?;
        self.header.clicks.extend(clicks);
        self.header.drill.iter_mut().for_each(|drilled| drilled.rounds.push(round.clone()));
        Ok(())
    }

    /// Writes down what the round of this number was taken to be.
    ///
    /// # Errors
    /// As [`Recorder::stroke`].
    pub fn became(&mut self, number: usize, good: bool) -> Result<(), Error> {
        self.append(&Record::Became { round: number, good })?;
        let rounds = self.header.drill.iter_mut().flat_map(|drilled| &mut drilled.rounds);
        rounds.filter(|round| round.number == number).for_each(|round| round.good = Some(good));
        Ok(())
    }

    /// Writes down that a player let go of a key, the [key](Stroke::key) of a stroke that was written.
    ///
    /// # Errors
    /// As [`Recorder::stroke`].
    pub fn release(&mut self, player: usize, key: (Option<Origin>, u8), at: Moment) -> Result<(), Error> {
        self.check_player(player)?;
        check_moment(at)?;
        self.append(&Record::release(player, key, at))?;
        release(&mut self.players[player].strokes, key, at);
        self.reached = self.reached.max(at);
        self.save_midi_if_due()
    }

    /// Writes the next frames of sound: what the program played (left) and what the player played (right: the
    /// microphone, or the strokes rendered). Samples within ±1.
    ///
    /// # Errors
    /// [`Error::ChannelLengths`] if one channel is longer; [`Error::DiskFull`], [`Error::WavFull`] or another failure to
    /// write, after which the sound has ended and every call is [`Error::Ended`], while strokes are still taken.
    pub fn audio(&mut self, model: &[f32], player: &[f32]) -> Result<(), Error> {
        if model.len() != player.len() {
            return Err(Error::ChannelLengths { model: model.len(), player: player.len() });
        }
        if let Some(error) = self.untold.take() {
            return Err(self.end_sound(error, 0));
        }
        self.check_space()?;
        let Some(wav) = &mut self.wav else {
            let why = self.sound_ended.clone().unwrap_or_default();
            return Err(Error::Ended { why });
        };
        self.interleaved.clear();
        self.interleaved.extend(model.iter().zip(player).flat_map(|(&left, &right)| [left, right]));
        let before = wav.saved_frames();
        let written = wav.write(&self.interleaved);
        self.frames = wav.frames();
        let saved = wav.saved_frames();
        if let Err(error) = written {
            return Err(self.end_sound(error, saved));
        }
        let frames = i64::try_from(self.frames).unwrap_or(i64::MAX);
        self.reached = self.reached.max(Frame::new(frames).moment(self.header.sound.rate));
        if saved > before {
            self.append(&Record::Saved { frames: saved })?;
            self.save_midi_if_due()?;
        }
        Ok(())
    }

    /// Up to where it is kept, if something could not be written down to here.
    #[must_use]
    pub fn cut(&self) -> Option<Cut> {
        let cut = |until, strokes| Some(Cut { dir: self.folder.dir().to_owned(), until, strokes });
        match (&self.ended, &self.sound_ended) {
            (Some(_), _) => cut(self.ended_at, true),
            (None, Some(_)) => {
                let frames = i64::try_from(self.frames).unwrap_or(i64::MAX);
                cut(Frame::new(frames).moment(self.header.sound.rate), false)
            }
            (None, None) => None,
        }
    }

    /// Writes down how a frame of the sound device stands to the computer's clock; one a second is enough.
    ///
    /// # Errors
    /// As [`Recorder::stroke`].
    pub fn anchor(&mut self, anchor: Anchor) -> Result<(), Error> {
        self.append(&Record::anchor(anchor))
    }

    /// Marks a stretch of the take as disturbed.
    ///
    /// # Errors
    /// As [`Recorder::stroke`].
    pub fn disturbed(&mut self, disturbance: Disturbance) -> Result<(), Error> {
        self.append(&Record::Disturbed(DisturbanceForm::of(&disturbance)))?;
        self.disturbed.push(disturbance);
        Ok(())
    }

    /// Ends the take: completes the sound, the journal, `take.mid`, and last `take.json` with the judgement in it,
    /// each brought to the disk.
    ///
    /// # Errors
    /// A failure to write. What was written before stays and can be opened; if only the sound cannot be completed, all
    /// else is.
    pub fn finish(mut self, ended: Ended, judgement: Option<&JudgeFile>) -> Result<PathBuf, Error> {
        let mut sound_failed = None;
        if let Some(wav) = self.wav.take() {
            match wav.finish_and_sync() {
                Ok(frames) => self.frames = frames,
                Err(error) => {
                    self.sound_ended = Some(error.to_string());
                    sound_failed = Some(error);
                }
            }
        }
        let heard = self.heard.filter(|_| ended == Ended::Stopped);
        let heard_ms = heard.map(|heard| ms(heard.since_zero()));
        self.append(&Record::End { ended, frames: self.frames, heard_ms })?;
        self.journal.sync()?;
        write_beside(&self.folder.midi(), &self.midi()?)?;
        write_json_beside(&self.folder.description(), &self.description(Some(ended), judgement))?;
        sound_failed.map_or_else(|| Ok(self.folder.dir().to_owned()), Err)
    }

    /// Ends the sound before the disk is full, every few seconds of it: so the strokes, and the rest of the machine, have room.
    fn check_space(&mut self) -> Result<(), Error> {
        if self.wav.is_none() || self.frames < self.ask_at {
            return Ok(());
        }
        let every = u64::try_from(Frames::of(SPACE_ASKED_EVERY, self.header.sound.rate).count()).unwrap_or(1);
        self.ask_at = self.frames + every;
        let Some(error) = little_space(self.folder.dir(), (self.free)(self.folder.dir())) else {
            return Ok(());
        };
        let saved = match self.wav.take().map(TakeWav::finish) {
            Some(Ok(frames)) => frames,
            _ => self.frames,
        };
        Err(self.end_sound(error, saved))
    }

    fn append(&mut self, record: &Record) -> Result<(), Error> {
        if let Some(why) = &self.ended {
            return Err(Error::Ended { why: why.clone() });
        }
        self.journal.append(record).inspect_err(|error| {
            self.ended = Some(error.to_string());
            self.ended_at = self.reached;
        })
    }

    fn end_sound(&mut self, error: Error, saved: u64) -> Error {
        let why = error.to_string();
        self.wav = None;
        self.frames = saved;
        self.sound_ended = Some(why.clone());
        // The first failure is the one to tell; if the journal fails too, the next stroke says so.
        let _ = self.append(&Record::SoundEnded { frames: saved, why });
        error
    }

    fn save_midi_if_due(&mut self) -> Result<(), Error> {
        let apart = MIDI_SAVED_EVERY.max(self.saved.since_zero().divided_by(MIDI_SAVED_PART));
        if self.reached - self.saved < apart {
            return Ok(());
        }
        self.saved = self.reached;
        let bytes = self.midi()?;
        // The journal is what counts; another program may hold the old file open. The end of the take tries again
        // and tells, and a full disk is met by the journal or the sound as well.
        let _ = write_beside_quickly(&self.folder.midi(), &bytes);
        Ok(())
    }

    /// The take so far as a MIDI file, nothing of it copied before.
    fn midi(&self) -> Result<Vec<u8>, Error> {
        let clicks = midi_clicks(&self.header, self.reached);
        let title = self.header.title.as_deref();
        write_played(title, Some(self.header.bar_one), &clicks, &self.players, self.reached)
    }

    fn description<'a>(&self, ended: Option<Ended>, judgement: Option<&'a JudgeFile>) -> Description<'a> {
        Description::new(
            &self.header,
            &self.disturbed,
            (ended, self.heard.filter(|_| ended == Some(Ended::Stopped))),
            self.frames,
            self.sound_ended.clone(),
            judgement,
        )
    }

    fn check_player(&self, player: usize) -> Result<(), Error> {
        let players = self.players.len();
        if player < players { Ok(()) } else { Err(Error::NoSuchPlayer { given: player, players }) }
    }
}

/// The take as a MIDI file holds it: with the clicks that sounded before it ended.
pub(crate) fn midi_of(header: &Header, players: &[Player], end: Moment) -> MidiTake {
    MidiTake {
        title: header.title.clone(),
        bar_one: Some(header.bar_one),
        clicks: midi_clicks(header, end),
        players: players.to_vec(),
        end,
        ..MidiTake::default()
    }
}

/// The clicks that sounded before the take ended.
fn midi_clicks(header: &Header, end: Moment) -> Vec<Click> {
    header.clicks.iter().copied().filter(|click| click.at < end).collect()
}

fn player_number(index: usize) -> String {
    format!("player {}", index + 1)
}

/// A take has its own time: nothing is played before it begins or a day after.
fn check_moment(at: Moment) -> Result<(), Error> {
    let seconds = at.since_zero().as_nanos().div_euclid(1_000_000_000);
    if TAKE_SECONDS.holds(seconds) {
        Ok(())
    } else {
        Err(Error::OutOfRange { given: seconds, limit: TAKE_SECONDS })
    }
}

#[cfg(test)]
mod tests;
