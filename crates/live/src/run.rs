//! One drill while it runs: what is expected, who plays, and the take that is written.

use std::collections::HashMap;
use std::sync::Arc;

use counting::TimedCount;
use input::{Input, Instrument, PlayerId, Players, Replay, SourceKind, Stroke, StrokeKind, View};
use judge::{Played, Settings};
use mixer::Programme;
use sequencer::{Levels, Sounding, lower, sequence};
use take::json::JudgeFile;
use take::{Disturbance, Ended, Header, PlayerNote, Recorder, SoundNote};
use timebase::{Anchor, ClockFit, Frame, Moment, SampleRate, Seconds};

use crate::microphone::{Microphone, ends};
use crate::place;
use crate::player::{Due, Player, Who};
use crate::sound::SoundNow;
use crate::take_sound::TakeSound;
use crate::{Drill, Error, Latency, Measured, PlayerState, Recorded};

/// How far the sound of the take stays behind what is heard: strokes are heard of within some milliseconds.
const BEHIND: Seconds = Seconds::from_millis(300);

/// How long after a frame is heard what the microphone heard with it is sure to have come in, its measured lag left out.
const FETCHED: Seconds = Seconds::from_millis(200);

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
    latency: Latency,
    /// The same by the numbers of devices, once they struck.
    latency_of: HashMap<u16, Seconds>,
    /// No two written attacks are closer.
    closest: Seconds,
    /// How far the microphone's sound lags, where one is recorded.
    microphone: Option<Seconds>,
    /// When the first event and the end of the last bar fall, from count 1 of bar 1.
    start: Moment,
    end: Moment,
    /// The rendered frame on which the programme's frame 0 fell, once it began.
    zero: Option<Frame>,
    players: Vec<Player>,
    /// How often somebody was judged.
    judgings: u64,
    waiting: Vec<Stroke>,
    labels: HashMap<PlayerId, String>,
    /// What players are called in this drill, also those who are known with their first stroke only.
    names: Vec<(String, String)>,
    replays: Vec<(Recorded, Replay, usize)>,
    recorder: Option<Recorder>,
    sound: TakeSound,
    disturbances: usize,
    disturbed_since: Option<Moment>,
}

/// One player was judged anew.
#[derive(Debug)]
pub(crate) struct Judged {
    pub(crate) player: usize,
    /// The attacks that were heard since the last time.
    pub(crate) struck: Vec<judge::Attack>,
    /// Whether the judgement is another than before.
    pub(crate) changed: bool,
}

impl Run {
    /// Makes the sound and begins the take.
    pub(crate) fn prepare(
        drill: Drill,
        sound: &SoundNow,
        measured: &Measured,
        input: &Input,
    ) -> Result<Self, Error> {
        let rate = sound.rate;
        let Drill { rhythm, system, plan, voice, levels, settings, latency, take, names, replay } = drill;
        let latency = match latency {
            Some(all) => Latency { all, ..Latency::default() },
            None => measured.latency(&sound.at()),
        };
        let line = counting::count_in(&rhythm, &system, &counting::Settings::default());
        let sequence = sequence(&rhythm, &line, &plan);
        let mut pack = take::voices::open(&voice)?;
        if pack.rate() != rate {
            pack = pack.at_rate(rate)?;
        }
        let sounding = lower(&sequence, &pack)?;

        let mut labels: HashMap<PlayerId, String> = input
            .players()
            .all()
            .iter()
            .filter_map(|player| Some((player.id, called(&names, &player.label())?)))
            .collect();
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
                let mut note = SoundNote { output: Some(sound.name.clone()), ..SoundNote::new(rate) };
                note.input.clone_from(&sound.microphone);
                if let Some(name) = &sound.microphone {
                    note.input_latency = measured.loop_late(&sound.at(), name);
                }
                note.latency_from = (!latency.from.is_empty()).then(|| latency.from.clone());
                let mut header = Header::of(&rhythm, &sequence, note, &place::now());
                header.bar_one = sounding.bar_one().moment(rate);
                Recorder::begin(&dir, header)
            })
            .transpose()?;
        let tempo = sequence.tempo();
        let counts: Arc<[TimedCount]> = sequence.counts().into();
        let mut run = Self {
            closest: closest(&counts),
            counts,
            start: tempo.moment_at(sequence.performance().start()),
            end: tempo.moment_at(sequence.end()),
            sound: TakeSound::new(&sounding, levels)?,
            sounding,
            levels,
            settings,
            latency,
            latency_of: HashMap::new(),
            microphone: None,
            zero: None,
            players: Vec::new(),
            judgings: 0,
            waiting: Vec::new(),
            labels,
            names,
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

    /// What a stroke sounds like, in the programme's bank.
    pub(crate) fn clap(&self) -> mixer::SampleId {
        self.sounding.clap()
    }

    /// The player's channel is recorded, by a microphone that lags by this much.
    pub(crate) fn records(&mut self, late: Seconds) {
        self.microphone = Some(late);
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

    pub(crate) fn rate(&self) -> SampleRate {
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
                let heard = bar_one + at.since_zero() + self.latency.all;
                let frame = Frame::at(heard, rate);
                let rest = heard - frame.moment(rate);
                if let Some(stamp) = fit.host_at(frame) {
                    source.send(message, stamp + rest, Seconds::from_micros(1));
                }
                *sent += 1;
            }
        }
    }

    /// A stroke was heard of. Its player's judgement is due then.
    pub(crate) fn strike(&mut self, stroke: Stroke, fit: &ClockFit, view: &View) -> Result<(), take::Error> {
        let device = fit.moment_at(stroke.stamp);
        let Some(heard) = device.and_then(|device| self.moment(device)) else {
            if self.waiting.len() < WAITING {
                self.waiting.push(stroke);
            }
            return Ok(());
        };
        let at = heard - self.latency_of(stroke.source, view);
        if at < self.start - EARLIEST {
            return Ok(());
        }
        let index = match self.players.iter().position(|player| player.id == stroke.player) {
            Some(index) => index,
            None => self.player(stroke.player, &view.players()),
        };
        let in_take = self.in_take(at);
        let recorded = self.enter(index, &stroke)?;
        if stroke.kind == StrokeKind::Off {
            self.players[index].release(stroke.note, at);
            if let (Some(recorder), Some(number)) = (&mut self.recorder, recorded) {
                recorder.release(number, stroke.note, in_take)?;
            }
            return Ok(());
        }
        let noted = take::Stroke {
            at: in_take,
            note: stroke.note,
            velocity: stroke.velocity,
            released: None,
            retrigger: stroke.is_marked(),
        };
        let written = match (&mut self.recorder, recorded) {
            (Some(recorder), Some(number)) => recorder.stroke(number, noted),
            _ => Ok(()),
        };
        let player = &mut self.players[index];
        if !stroke.is_attack() {
            player.mark(&stroke);
            return written;
        }
        self.sound.strike(Frame::at(in_take, self.sounding.rate()), stroke.velocity);
        player.strike(&stroke, Played::new(at).with_velocity(stroke.velocity));
        written
    }

    /// What is taken off a stroke of this device: what was measured for it, or what serves all.
    fn latency_of(&mut self, source: u16, view: &View) -> Seconds {
        if let Some(&known) = self.latency_of.get(&source) {
            return known;
        }
        let players = view.players();
        let name = players.source(source).map_or("", |known| known.name.as_str());
        let own = self.latency.own.iter().find(|(device, _)| device == name);
        let latency = own.map_or(self.latency.all, |&(_, latency)| latency);
        self.latency_of.insert(source, latency);
        latency
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
        let known = players.player(id);
        let source = known.map_or_else(String::new, |player| player.name.clone());
        let label = self.labels.get(&id).cloned();
        let usual = || known.map_or_else(|| id.to_string(), input::Player::label);
        let label = label.unwrap_or_else(|| {
            let usual = usual();
            called(&self.names, &usual).unwrap_or(usual)
        });
        let instrument = known.map_or(Instrument::Pad, |player| player.instrument);
        let who = Who { id, label, source, instrument };
        let mut player = Player::new(who, Arc::clone(&self.counts), self.closest, self.settings);
        player.missing = known.map_or_else(Vec::new, |player| player.missing.clone());
        self.players.push(player);
        self.players.len() - 1
    }

    /// The player's number in the take, entered now if not known.
    fn enter(&mut self, index: usize, stroke: &Stroke) -> Result<Option<usize>, take::Error> {
        let latency = self.latency_of.get(&stroke.source).copied().unwrap_or(self.latency.all);
        let player = &mut self.players[index];
        if let (None, Some(recorder)) = (player.recorded, &mut self.recorder) {
            let note = PlayerNote {
                latency: (latency != Seconds::ZERO).then_some(latency),
                resolution: Some(stroke.resolution),
                ..PlayerNote::new(&player.label, &player.source)
            };
            player.recorded = Some(recorder.enter(note)?);
        }
        Ok(player.recorded)
    }

    /// Everybody is to be judged anew, whoever struck first.
    pub(crate) fn all_are_due(&mut self) {
        self.players.iter_mut().for_each(|player| player.due = player.due.max(Due::Now));
    }

    /// Judges the next one whose judgement is due; `None` if nobody's is.
    pub(crate) fn judge_next(&mut self, now: Moment) -> Option<Judged> {
        // Of those alike, the one who has waited longest.
        let waits =
            |(index, player): &(usize, &Player)| (player.due, std::cmp::Reverse((player.judged, *index)));
        let next =
            self.players.iter().enumerate().filter(|(_, player)| player.due > Due::Not).max_by_key(waits);
        let index = next.map(|(index, _)| index)?;
        self.judgings += 1;
        let player = &mut self.players[index];
        let changed = player.judge_due(now);
        player.judged = self.judgings;
        Some(Judged { player: index, struck: player.new_attacks(), changed })
    }

    pub(crate) fn states(&self) -> Arc<[PlayerState]> {
        self.players.iter().map(Player::state).collect()
    }

    /// Which devices of the players are not there.
    pub(crate) fn look_for(&mut self, players: &Players) {
        for player in &mut self.players {
            player.missing = players.player(player.id).map_or_else(Vec::new, |known| known.missing.clone());
        }
    }

    /// What a person should know of strokes that were marked and not judged.
    pub(crate) fn marked(&self) -> Vec<String> {
        self.players.iter().filter_map(Player::marked).collect()
    }

    /// Writes the sound of the take up to some way behind what is heard. With a microphone and the map of the device that
    /// plays, the player's channel is what the microphone heard; else the strokes are rendered.
    pub(crate) fn write_sound(
        &mut self,
        heard: Moment,
        beside: Option<(&Microphone, &ClockFit)>,
    ) -> Result<(), take::Error> {
        let behind = self.microphone.map_or(BEHIND, |late| BEHIND.max(late + FETCHED));
        self.write_sound_until(self.in_take(heard) - behind, beside)
    }

    /// Writes the sound of the take up to what is heard.
    pub(crate) fn complete_sound(
        &mut self,
        heard: Moment,
        beside: Option<(&Microphone, &ClockFit)>,
    ) -> Result<(), take::Error> {
        self.write_sound_until(self.in_take(heard), beside)
    }

    fn write_sound_until(
        &mut self,
        in_take: Moment,
        beside: Option<(&Microphone, &ClockFit)>,
    ) -> Result<(), take::Error> {
        let Some(recorder) = &mut self.recorder else { return Ok(()) };
        let length = Frame::ZERO + self.sounding.programme().length();
        let frame = Frame::at(in_take, self.sounding.rate()).min(length);
        let zero = self.zero.unwrap_or(Frame::ZERO);
        let mut heard = Vec::new();
        self.sound.advance(frame, |from, model, rendered| {
            heard.resize(rendered.len(), 0.0);
            let laid = beside.is_some_and(|(microphone, fit)| {
                ends(fit, zero + (from - Frame::ZERO), rendered.len())
                    .is_some_and(|(begin, end)| microphone.lay(&mut heard, begin, end))
            });
            recorder.audio(model, if laid { &heard } else { rendered })
        })
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
        let mut failure = None;
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

/// What a player is called in this drill, if it is not the usual.
fn called(names: &[(String, String)], label: &str) -> Option<String> {
    names.iter().find(|(pad, _)| pad == label).map(|(_, code)| code.clone())
}

/// The distance of the two written attacks that are closest; a second where there are no two.
fn closest(counts: &[TimedCount]) -> Seconds {
    let mut attacks = counts.iter().filter(|count| count.deed == rhythm::Deed::Attack).map(|count| count.at);
    let mut least = Seconds::from_millis(1_000);
    if let Some(mut last) = attacks.next() {
        for at in attacks {
            if at > last {
                least = least.min(at - last);
            }
            last = at;
        }
    }
    least
}

impl std::fmt::Debug for Run {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Run")
            .field("zero", &self.zero)
            .field("players", &self.players)
            .finish_non_exhaustive()
    }
}
