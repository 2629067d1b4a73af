//! One drill while it runs: what is expected, who plays, and the take that is written.

use std::collections::HashMap;
use std::sync::Arc;

use counting::TimedCount;
use input::{Input, PlayerId, Players, Replay, SourceKind, Stroke, StrokeKind};
use judge::{Played, Settings};
use mixer::Programme;
use sequencer::{Levels, Sounding, lower, sequence};
use take::json::JudgeFile;
use take::{Disturbance, Ended, Header, PlayerNote, Recorder, SoundNote};
use timebase::{Anchor, ClockFit, Frame, Moment, SampleRate, Seconds};
use voice::VoicePack;

use crate::place;
use crate::player::Player;
use crate::take_sound::TakeSound;
use crate::{Drill, Error, PlayerState, Recorded};

/// How far the sound of the take stays behind what is heard: strokes are heard of within some milliseconds.
const BEHIND: Seconds = Seconds::from_millis(300);

/// How long before the first written event a stroke may fall and be one of the drill. Tapping along with the count-in
/// is welcome and is no part of it.
const EARLIEST: Seconds = Seconds::from_millis(250);

/// Strokes heard of before the device's clock is known wait for it, at most so many.
const WAITING: usize = 4_096;

pub(crate) struct Run {
    counts: Arc<[TimedCount]>,
    sounding: Sounding,
    levels: Levels,
    settings: Settings,
    latency: Seconds,
    /// When the first event and the end of the last bar fall, from count 1 of bar 1.
    start: Moment,
    end: Moment,
    /// The rendered frame on which the programme's frame 0 fell, once it began.
    zero: Option<Frame>,
    players: Vec<Player>,
    waiting: Vec<Stroke>,
    labels: HashMap<PlayerId, String>,
    replays: Vec<(Recorded, Replay, usize)>,
    recorder: Option<Recorder>,
    sound: TakeSound,
    disturbances: usize,
    disturbed_since: Option<Moment>,
}

impl Run {
    /// Makes the sound and begins the take.
    pub(crate) fn prepare(
        drill: Drill,
        rate: SampleRate,
        sound_name: &str,
        input: &Input,
    ) -> Result<Self, Error> {
        let Drill { rhythm, plan, voice, levels, settings, latency, take, replay } = drill;
        let line = counting::count(&rhythm);
        let sequence = sequence(&rhythm, &line, &plan);
        let mut pack = VoicePack::shipped(&voice)?;
        if pack.rate() != rate {
            pack = pack.at_rate(rate)?;
        }
        let sounding = lower(&sequence, &pack)?;

        let mut labels = HashMap::new();
        let replays = replay
            .into_iter()
            .map(|recorded| {
                let known = input.players().all().len();
                let source = input.replay(&recorded.label);
                if let Some(player) = input.players().all().get(known) {
                    labels.insert(player.id, recorded.label.clone());
                }
                (recorded, source, 0)
            })
            .collect();
        let recorder = take
            .map(|dir| {
                let note = SoundNote { output: Some(sound_name.to_owned()), ..SoundNote::new(rate) };
                let mut header = Header::of(&rhythm, &sequence, note, &place::now());
                header.bar_one = sounding.bar_one().moment(rate);
                Recorder::begin(&dir, header)
            })
            .transpose()?;
        let tempo = sequence.tempo();
        let mut run = Self {
            counts: sequence.counts().into(),
            start: tempo.moment_at(sequence.performance().start()),
            end: tempo.moment_at(sequence.end()),
            sound: TakeSound::new(&sounding, levels)?,
            sounding,
            levels,
            settings,
            latency,
            zero: None,
            players: Vec::new(),
            waiting: Vec::new(),
            labels,
            replays,
            recorder,
            disturbances: 0,
            disturbed_since: None,
        };
        // Those who are known already stand in their rows before they strike.
        for player in input.players().all() {
            let replayed = player.kind == SourceKind::Replay;
            if !replayed || run.labels.contains_key(&player.id) {
                run.player(player.id, &input.players());
            }
        }
        Ok(run)
    }

    pub(crate) fn programme(&self) -> &Programme {
        self.sounding.programme()
    }

    pub(crate) fn levels(&self) -> Levels {
        self.levels
    }

    pub(crate) fn start(&self) -> Moment {
        self.start
    }

    pub(crate) fn end(&self) -> Moment {
        self.end
    }

    /// The programme's frame `from` began to sound on the rendered frame `at`.
    pub(crate) fn began(&mut self, at: Frame, from: Frame) {
        self.zero = Some(at - (from - Frame::ZERO));
    }

    pub(crate) fn has_begun(&self) -> bool {
        self.zero.is_some()
    }

    fn rate(&self) -> SampleRate {
        self.sounding.rate()
    }

    /// A moment of the device's own time as a moment of the drill, from count 1 of bar 1.
    pub(crate) fn moment(&self, device: Moment) -> Option<Moment> {
        let bar_one = self.zero? + (self.sounding.bar_one() - Frame::ZERO);
        Some(Moment::ZERO + (device - bar_one.moment(self.rate())))
    }

    /// The same as a moment of the take, from the beginning of its sound.
    fn in_take(&self, moment: Moment) -> Moment {
        self.sounding.bar_one().moment(self.rate()) + moment.since_zero()
    }

    /// Sends what recorded players strike up to `device`, the device's time heard now.
    pub(crate) fn replay_until(&mut self, fit: &ClockFit, device: Moment) {
        let Some(now) = self.moment(device) else { return };
        let Some(zero) = self.zero else { return };
        let rate = self.rate();
        let bar_one = (zero + (self.sounding.bar_one() - Frame::ZERO)).moment(rate);
        for (recorded, source, sent) in &mut self.replays {
            while let Some((at, message)) = recorded.messages.get(*sent).filter(|(at, _)| *at <= now) {
                // The stamp that a pad would have given the stroke, latency and all.
                let heard = bar_one + at.since_zero() + self.latency;
                let frame = Frame::at(heard, rate);
                let rest = heard - frame.moment(rate);
                if let Some(stamp) = fit.host_at(frame) {
                    source.send(message, stamp + rest, Seconds::from_micros(1));
                }
                *sent += 1;
            }
        }
    }

    /// A stroke was heard of. Returns the player's index if it is one of the drill's attacks.
    pub(crate) fn strike(
        &mut self,
        stroke: Stroke,
        fit: &ClockFit,
        players: &Players,
    ) -> Result<Option<usize>, take::Error> {
        let device = fit.moment_at(stroke.stamp);
        let Some(heard) = device.and_then(|device| self.moment(device)) else {
            if self.waiting.len() < WAITING {
                self.waiting.push(stroke);
            }
            return Ok(None);
        };
        let at = heard - self.latency;
        if at < self.start - EARLIEST {
            return Ok(None);
        }
        let index = self.player(stroke.player, players);
        let in_take = self.in_take(at);
        let recorded = self.enter(index, &stroke)?;
        if stroke.kind == StrokeKind::Off {
            if let (Some(recorder), Some(number)) = (&mut self.recorder, recorded) {
                recorder.release(number, stroke.note, in_take)?;
            }
            return Ok(None);
        }
        let noted = take::Stroke {
            at: in_take,
            note: stroke.note,
            velocity: stroke.velocity,
            released: None,
            retrigger: stroke.retrigger,
        };
        let written = match (&mut self.recorder, recorded) {
            (Some(recorder), Some(number)) => recorder.stroke(number, noted),
            _ => Ok(()),
        };
        if !stroke.is_attack() {
            return written.map(|()| None);
        }
        self.sound.strike(Frame::at(in_take, self.rate()), stroke.velocity);
        self.players[index].strike(Played::new(at).with_velocity(stroke.velocity));
        written.map(|()| Some(index))
    }

    /// Strokes that waited for the clock.
    pub(crate) fn waited(&mut self) -> Vec<Stroke> {
        std::mem::take(&mut self.waiting)
    }

    /// The index of a player, entered now if not known.
    fn player(&mut self, id: PlayerId, players: &Players) -> usize {
        if let Some(index) = self.players.iter().position(|player| player.id == id) {
            return index;
        }
        let source = players.player(id).map_or_else(String::new, |player| player.name.clone());
        let label = self.labels.get(&id).cloned().unwrap_or_else(|| id.to_string());
        let counts = Arc::clone(&self.counts);
        self.players.push(Player::new(id, label, source, counts, self.settings));
        self.players.len() - 1
    }

    /// The player's number in the take, entered now if not known.
    fn enter(&mut self, index: usize, stroke: &Stroke) -> Result<Option<usize>, take::Error> {
        let player = &mut self.players[index];
        if let (None, Some(recorder)) = (player.recorded, &mut self.recorder) {
            let note = PlayerNote {
                latency: (self.latency != Seconds::ZERO).then_some(self.latency),
                resolution: Some(stroke.resolution),
                ..PlayerNote::new(&player.label, &player.source)
            };
            player.recorded = Some(recorder.enter(note)?);
        }
        Ok(player.recorded)
    }

    /// Judges everybody up to `now`; says whether anything changed.
    pub(crate) fn judge_so_far(&mut self, now: Moment) -> bool {
        let mut changed = false;
        for player in &mut self.players {
            changed |= player.judge_so_far(now);
        }
        changed
    }

    /// Judges at once the player who has just struck; what is made of the stroke.
    pub(crate) fn judge_stroke(&mut self, player: usize, now: Moment) -> Option<judge::Attack> {
        self.players[player].judge_at_once(now);
        self.players[player].last_attack()
    }

    pub(crate) fn states(&self) -> Arc<[PlayerState]> {
        self.players.iter().map(Player::state).collect()
    }

    /// Writes the sound of the take up to some way behind what is heard.
    pub(crate) fn write_sound(&mut self, heard: Moment) -> Result<(), take::Error> {
        self.write_sound_until(self.in_take(heard) - BEHIND)
    }

    fn write_sound_until(&mut self, in_take: Moment) -> Result<(), take::Error> {
        let Some(recorder) = &mut self.recorder else { return Ok(()) };
        let length = Frame::ZERO + self.sounding.programme().length();
        let frame = Frame::at(in_take, self.sounding.rate()).min(length);
        self.sound.advance(frame, |model, player| recorder.audio(model, player))
    }

    pub(crate) fn anchor(&mut self, anchor: Anchor) -> Result<(), take::Error> {
        self.recorder.as_mut().map_or(Ok(()), |recorder| recorder.anchor(anchor))
    }

    /// Sound was lost at about `heard`; the stretch from the last good second on is marked.
    pub(crate) fn disturb(&mut self, heard: Moment, why: &str) -> Result<(), take::Error> {
        self.disturbances += 1;
        let at = self.in_take(heard).max(Moment::ZERO);
        let from = (at - Seconds::from_millis(500)).max(self.disturbed_since.unwrap_or(Moment::ZERO));
        let to = at + Seconds::from_millis(500);
        self.disturbed_since = Some(to);
        let disturbance = Disturbance { from: from.min(to).max(Moment::ZERO), to, why: why.to_owned() };
        self.recorder.as_mut().map_or(Ok(()), |recorder| recorder.disturbed(disturbance))
    }

    /// Judges for good, completes the take and says how it ended.
    pub(crate) fn finish(mut self, ended: Ended, heard: Moment) -> (crate::Event, Option<take::Error>) {
        let mut failure = self.write_sound_until(self.in_take(heard)).err();
        for player in &mut self.players {
            player.judge_for_good(match ended {
                Ended::Finished => None,
                Ended::Stopped => Some(heard),
            });
        }
        let bar_one = self.sounding.bar_one().moment(self.rate());
        let judged = self.players.iter().map(|player| (player.label.as_str(), player.judgement()));
        let file = JudgeFile::of(judged, bar_one);
        let take = self.recorder.take().and_then(|recorder| {
            let finished = recorder.finish(ended, Some(&file));
            finished.map_err(|error| failure.get_or_insert(error)).ok()
        });
        let event =
            crate::Event::Ended { ended, players: self.states(), take, disturbances: self.disturbances };
        (event, failure)
    }
}

impl std::fmt::Debug for Run {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Run")
            .field("zero", &self.zero)
            .field("players", &self.players)
            .finish_non_exhaustive()
    }
}
