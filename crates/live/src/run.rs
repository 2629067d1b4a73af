//! One drill while it runs: what is expected, who plays, and the take that is written.

mod attendance;
mod prepare;
mod rounds;

use std::collections::{HashMap, VecDeque};
use std::ops::Range;
use std::sync::Arc;

use input::{HeldBack, Instrument, PlayerId, Players, Replay, SourceKind, Stroke, StrokeKind, View, WildPad};
use judge::{Delay, Settings, Split};
use mixer::Programme;
use sequencer::{Levels, Pads, Sounding};
use take::json::JudgeFile;
use take::{Disturbance, Ended, Origin, PlayerNote, Recorder, Role};
use timebase::{Anchor, ClockFit, Frame, Frames, HostTime, Moment, SampleRate, Seconds};

use crate::asked::Asked;
use crate::course::{Course, Follower};
use crate::microphone::{Microphone, ends};
use crate::planned::is_asked;
use crate::player::{Kept, Lacks, Player, Who};
use crate::take_sound::TakeSound;
use crate::{CutOff, Event, Latency, PlayerState, Recorded};

pub(crate) use attendance::together;
use attendance::{Attendance, Change};

/// How far the sound of the take stays behind what is heard: strokes are heard of within some milliseconds, and a pad that sends more than
/// some 210 strokes a second is known to be wild.
const BEHIND: Seconds = Seconds::from_millis(300);

/// How long after a frame is heard what the microphone heard with it is sure to have come in, its measured lag left out.
const FETCHED: Seconds = Seconds::from_millis(200);

/// How long before the first written event a stroke may fall and be one of the drill. Tapping along with the count-in
/// is welcome and is no part of it.
const EARLIEST: Seconds = Seconds::from_millis(250);

/// Strokes heard of before the device's clock is known wait for it, at most so many.
const WAITING: usize = 4_096;

/// Strokes that may yet turn out to be a wild pad's, at most so many: more than a device sends in the second in which it is let through.
const RECENT: usize = 4_096;

/// How long after it was sent a stroke may still be heard of.
const HEARD_WITHIN: Seconds = Seconds::from_millis(5_000);

/// A recording that nowhere comes up to this is silent: −80 dBFS, below the noise of any microphone that is open.
const SILENT: f32 = 1e-4;

/// Of less than this it is not said that nothing was heard.
const HEARD_FOR: Seconds = Seconds::from_millis(2_000);

pub(crate) struct Run {
    /// What is asked, in order of time, until it is judged for good: the whole rhythm, or the responses of a plan.
    asked: VecDeque<Asked>,
    /// The rounds of a plan.
    course: Option<Course>,
    /// A round that found no room in the mixer yet.
    follower: Option<Follower>,
    /// What is made of the response judged last.
    judged: Arc<[PlayerState]>,
    /// The programme of the rhythm, or of the first round.
    sounding: Sounding,
    levels: Levels,
    settings: Settings,
    latency: Latency,
    /// The same by the numbers of devices, once they struck.
    latency_of: HashMap<u16, Seconds>,
    /// How far the microphone's sound lags, where one is recorded.
    microphone: Option<Seconds>,
    /// When the first event and the end of the last bar fall, from count 1 of bar 1.
    start: Moment,
    end: Moment,
    /// The rendered frame on which the programme's frame 0 fell, once it began.
    zero: Option<Frame>,
    /// How often somebody was judged.
    judgings: u64,
    waiting: Vec<Stroke>,
    labels: HashMap<PlayerId, String>,
    /// The numbers of the players in the take.
    recorded: HashMap<PlayerId, usize>,
    /// Whose devices are there.
    attendance: Attendance,
    /// Pads that went wild, each with the number of its flood, as long as strokes of it may come.
    wild: Vec<(u64, WildPad)>,
    /// The last strokes of hands, as far as is known, and where they stand in the take.
    recent: VecDeque<(Stroke, Option<Kept>)>,
    /// What players are called in this drill, also those who are known with their first stroke only.
    names: Vec<(String, String)>,
    replays: Vec<(Recorded, Replay, usize)>,
    recorder: Option<Recorder>,
    sound: TakeSound,
    /// The loudest sample that the microphone's channel has, and how long what was recorded there is.
    loudest: f32,
    recorded_length: Frames,
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
    pub(crate) fn programme(&self) -> &Programme {
        self.sounding.programme()
    }

    /// What strokes sound like, in the programme's bank.
    pub(crate) fn pads(&self) -> &Pads {
        self.sounding.pads()
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

    /// When the last bar ends; of a plan, long after now as long as another round may come.
    pub(crate) fn end(&self) -> Moment {
        match &self.course {
            Some(course) => course.end().unwrap_or(Moment::ZERO + crate::asked::NEVER),
            None => self.end,
        }
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
    /// `device` is what the device played then, in its own time.
    pub(crate) fn strike(
        &mut self,
        stroke: Stroke,
        device: Option<Moment>,
        view: &View,
    ) -> Result<(), take::Error> {
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
        let in_take = self.in_take(at);
        self.attendance.heard(stroke.player, stroke.source, at);
        // A failure ends the recording, not the drill.
        let known = self.recorded.get(&stroke.player).copied();
        let (number, failed) = if known.is_some() || self.recorder.is_none() {
            (known, Ok(()))
        } else {
            match self.enter(stroke.player, &view.players()) {
                Ok(number) => (number, Ok(())),
                Err(error) => (None, Err(error)),
            }
        };
        let origin = Origin { device: stroke.source, channel: stroke.channel };
        let kept = number.map(|player| Kept { player, at: in_take, note: stroke.note, origin });
        let place = self.place(at, stroke.player, view);
        if stroke.kind == StrokeKind::Off {
            if let Some((asked, row)) = place {
                let at = self.asked[asked].in_rhythm(at);
                self.asked[asked].players[row].release(stroke.pad(), at);
            }
            return failed.and(match (&mut self.recorder, kept) {
                (Some(recorder), Some(kept)) => recorder.release(kept.player, kept.key(), kept.at),
                _ => Ok(()),
            });
        }
        let own = self.pads_own(&stroke);
        if own.is_none() {
            self.sound.strike(Frame::at(in_take, self.sounding.rate()), stroke.velocity);
        }
        // What is struck while nothing is asked, during a call, is kept and is no mistake.
        let (role, grace) = match place {
            Some((asked, row)) => self.judge_stroke((&stroke, own), at, (asked, row), kept),
            None => (own.unwrap_or_default(), None),
        };
        if !role.is_of_the_pad() {
            self.recent.push_back((stroke, kept));
            self.recent.drain(..self.recent.len().saturating_sub(RECENT));
        }
        failed.and(self.write(&stroke, kept, role, grace))
    }

    /// Gives a stroke to the player it is judged with. Says what it is, and which stroke of the take it makes a grace.
    fn judge_stroke(
        &mut self,
        (stroke, own): (&Stroke, Option<Role>),
        at: Moment,
        (asked, row): (usize, usize),
        kept: Option<Kept>,
    ) -> (Role, Option<Kept>) {
        let delay = self.known_latency(stroke).map_or(Delay::Unknown, |_| Delay::TakenOff);
        let asked = &mut self.asked[asked];
        let at = asked.in_rhythm(at);
        let player = &mut asked.players[row];
        if let Some(role) = own {
            player.mark(role);
            return (role, None);
        }
        player.stamped(stroke.resolution, delay);
        player.strike(stroke, at, kept)
    }

    /// What a pad did by itself; `None` of a hand's stroke.
    fn pads_own(&self, stroke: &Stroke) -> Option<Role> {
        let is_wild = || self.wild.iter().any(|(_, wild)| wild.sent(stroke));
        match (stroke.crosstalk, stroke.retrigger) {
            (true, _) => Some(Role::Crosstalk),
            (false, true) => Some(Role::Bounce),
            (false, false) => is_wild().then_some(Role::Wild),
        }
    }

    /// What these pads sent since they went wild is nobody's stroke: what of it was let through is taken out of the judgement and marked in
    /// the take, and what comes of it later is marked then.
    fn withdraw(&mut self, held: &HeldBack) -> Result<(), take::Error> {
        self.wild.retain(|(number, wild)| *number != held.number && held.from - wild.to < HEARD_WITHIN);
        self.wild.extend(held.pads.iter().map(|&wild| (held.number, wild)));
        let is_wild = |stroke: &Stroke| held.pads.iter().any(|wild| wild.sent(stroke));
        // Strokes of several devices are heard of in about the order in which they were sent.
        let late = self.recent.iter().rev();
        let late = late.take_while(|(stroke, _)| held.from - stroke.stamp < HEARD_WITHIN).count();
        let from = self.recent.len() - late;
        let mut changed: Vec<(Kept, Role)> = Vec::new();
        let mut found = false;
        for at in (from..self.recent.len()).rev() {
            if is_wild(&self.recent[at].0) {
                found = true;
                let Some((stroke, Some(kept))) = self.recent.remove(at) else { continue };
                // What has been rendered by now stays: the sound is written while the take is played.
                self.sound.withdraw(Frame::at(kept.at, self.sounding.rate()), stroke.velocity);
                changed.push((kept, Role::Wild));
            }
        }
        if !found {
            return Ok(());
        }
        for player in self.asked.iter_mut().flat_map(|asked| &mut asked.players) {
            let others = player.withdraw(is_wild).into_iter().filter(|(_, role)| *role != Role::Wild);
            changed.extend(others);
        }
        let Some(recorder) = &mut self.recorder else { return Ok(()) };
        changed
            .into_iter()
            .try_for_each(|(kept, role)| recorder.turned_out(kept.player, kept.key(), kept.at, role))
    }

    /// Writes a stroke down.
    fn write(
        &mut self,
        stroke: &Stroke,
        kept: Option<Kept>,
        role: Role,
        grace: Option<Kept>,
    ) -> Result<(), take::Error> {
        let latency = self.known_latency(stroke);
        let (Some(recorder), Some(Kept { player, at, note, origin })) = (&mut self.recorder, kept) else {
            return Ok(());
        };
        let velocity = stroke.velocity;
        if !role.is_of_the_pad() {
            recorder.stamped(player, stroke.resolution, latency)?;
        }
        recorder.stroke(
            player,
            take::Stroke { at, note, velocity, released: None, origin: Some(origin), role },
        )?;
        grace.map_or(Ok(()), |grace| recorder.grace(grace.player, grace.at, grace.note))
    }

    /// What a stroke of this player at a moment of the drill belongs to, and the player's row there.
    fn place(&mut self, at: Moment, id: PlayerId, view: &View) -> Option<(usize, usize)> {
        let index = self.asked.iter().position(|asked| asked.window.contains(&at))?;
        let rows = &self.asked[index].players;
        if let (None, Some(row)) = (&self.asked[index].who, rows.iter().position(|player| player.id == id)) {
            return Some((index, row));
        }
        let players = view.players();
        if !self.is_asked(id, index, &players) {
            return None;
        }
        let (who, lacks) = self.who(id, &players);
        Some((index, self.row(index, who, lacks)))
    }

    /// The row of a player in what is asked, made now if there is none.
    fn row(&mut self, index: usize, who: Who, lacks: Lacks) -> usize {
        let asked = &mut self.asked[index];
        let rows = asked.players.len();
        let row = asked.row(who, self.settings);
        if asked.players.len() > rows {
            asked.players[row].lacks = lacks;
        }
        let absent = self.attendance.absent(&asked.players[row].ids());
        asked.went_unheard(row, absent);
        row
    }

    fn is_asked(&self, id: PlayerId, index: usize, players: &Players) -> bool {
        let Some(course) = &self.course else { return true };
        let who = self.asked[index].who.as_deref();
        let labels: Vec<String> =
            players.all().iter().map(|player| self.who(player.id, players).0.label).collect();
        let turns = &course.planned().drill.plan().turns.players;
        is_asked(&self.who(id, players).0.label, who, turns, &labels)
    }

    /// Those who are known stand in their rows, and in the take, before they strike. Whoever has the space bar by no list stands there only
    /// after a stroke in this drill, or where nobody else is there.
    fn seat(&mut self, index: usize, players: &Players) -> Result<(), take::Error> {
        let mut seated = Ok(());
        let asked = players.all().iter().filter(|player| self.is_asked(player.id, index, players));
        let asked: Vec<&input::Player> = asked.collect();
        // Who is listed with the space bar is no keyboard, but somebody of the list.
        let has_others = asked.iter().any(|player| player.is_there && player.kind == SourceKind::Port);
        for player in asked {
            let is_named = self.labels.contains_key(&player.id);
            let is_known = match player.kind {
                SourceKind::Port => true,
                SourceKind::Replay => is_named,
                // Whoever tried the space bar once does not play in every drill from then on.
                SourceKind::Keyboard => is_named || !has_others || self.attendance.has_struck(player.id),
            };
            if is_known {
                let (who, lacks) = self.who(player.id, players);
                self.row(index, who, lacks);
                seated = seated.and(self.enter(player.id, players).map(|_| ()));
            }
        }
        seated
    }

    /// The latency that was taken off a stroke, where it was measured.
    fn known_latency(&self, stroke: &Stroke) -> Option<Seconds> {
        self.latency_of.get(&stroke.source).copied().filter(|latency| *latency != Seconds::ZERO)
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

    /// A player as the rows and the take call them, and the devices of theirs that are not there.
    fn who(&self, id: PlayerId, players: &Players) -> (Who, Lacks) {
        let known = players.player(id);
        let source = known.map_or_else(String::new, |player| player.name.clone());
        let label = self.labels.get(&id).cloned();
        let usual = || known.map_or_else(|| id.to_string(), input::Player::label);
        let label = label.unwrap_or_else(|| {
            let usual = usual();
            prepare::called(&self.names, &usual).unwrap_or(usual)
        });
        let instrument = known.map_or(Instrument::Pad, |player| player.instrument);
        let keeps_pulse = known.is_some_and(|player| player.keeps_pulse);
        (Who { id, label, source, instrument, keeps_pulse }, Lacks::of(known))
    }

    /// The player's number in the take, entered now if not known.
    fn enter(&mut self, id: PlayerId, players: &Players) -> Result<Option<usize>, take::Error> {
        if let Some(&number) = self.recorded.get(&id) {
            return Ok(Some(number));
        }
        if self.recorder.is_none() {
            return Ok(None);
        }
        let (who, _) = self.who(id, players);
        let absent = self.attendance.known(id);
        let zero = self.in_take(Moment::ZERO);
        let Some(recorder) = &mut self.recorder else { return Ok(None) };
        let instrument = Some(who.plays_on());
        let number = recorder.enter(PlayerNote { instrument, ..PlayerNote::new(&who.label, &who.source) })?;
        self.recorded.insert(id, number);
        let in_take = |at: Moment| (zero + at.since_zero()).max(Moment::ZERO);
        for absence in absent.into_iter().filter(|absence| absence.start < absence.end) {
            if absence.end < attendance::always().end {
                recorder.unheard(number, in_take(absence.start)..in_take(absence.end))?;
            } else {
                recorder.absent(number, in_take(absence.start))?;
            }
        }
        Ok(Some(number))
    }

    /// Everybody of whom time alone may have changed what is said is to be judged anew.
    pub(crate) fn time_has_passed(&mut self, now: Moment) {
        self.asked.iter_mut().filter(|asked| asked.is_open).for_each(|asked| asked.time_has_passed(now));
    }

    /// Judges the next one whose judgement is due; `None` if nobody's is. Of a plan, the response asked first.
    pub(crate) fn judge_next(&mut self, now: Moment) -> Option<Judged> {
        let asked = self.asked.front_mut().filter(|asked| asked.is_open)?;
        let index = asked.next_due()?;
        let now = asked.in_rhythm(now);
        self.judgings += 1;
        let player = &mut asked.players[index];
        let changed = player.judge_due(now);
        player.judged = self.judgings;
        Some(Judged { player: index, struck: player.new_attacks(now), changed })
    }

    /// What is made of those who are asked now, or were last.
    pub(crate) fn states(&self) -> Arc<[PlayerState]> {
        let open = self.asked.front().filter(|asked| asked.is_open);
        open.map_or_else(|| Arc::clone(&self.judged), Asked::states)
    }

    /// Which devices of the players are not there at `now`, a moment of the drill; `None` before it has begun.
    pub(crate) fn look_for(&mut self, players: &Players, now: Option<Moment>) -> Result<(), take::Error> {
        let changes = self.attendance.look(players, now.unwrap_or(attendance::always().start));
        for player in self.asked.iter_mut().flat_map(|asked| &mut asked.players) {
            player.lacks = Lacks::of(players.player(player.id));
        }
        self.mark_absences();
        let zero = self.in_take(Moment::ZERO);
        let in_take = |at: Moment| (zero + at.since_zero()).max(Moment::ZERO);
        let Some(recorder) = &mut self.recorder else { return Ok(()) };
        for change in changes {
            // Whoever is not in the take yet brings the absences along.
            let number = |id: &PlayerId| self.recorded.get(id).copied();
            match change {
                Change::Gone { id, from } => {
                    number(&id).map_or(Ok(()), |number| recorder.absent(number, in_take(from)))?;
                }
                Change::Back { id, at } => {
                    number(&id).map_or(Ok(()), |number| recorder.back(number, in_take(at)))?;
                }
            }
        }
        Ok(())
    }

    /// Brings what is known of who could be heard when to all rows.
    fn mark_absences(&mut self) {
        for asked in &mut self.asked {
            for row in 0..asked.players.len() {
                let absent = self.attendance.absent(&asked.players[row].ids());
                asked.went_unheard(row, absent);
            }
        }
    }

    /// What a person should know of strokes that were marked and not judged.
    pub(crate) fn marked(&self) -> Vec<String> {
        self.asked.iter().flat_map(|asked| &asked.players).filter_map(Player::marked).collect()
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
        let frame = Frame::at(in_take, self.sounding.rate());
        let length = match &self.course {
            Some(course) => course.length(self.sounding.bar_one()),
            None => Some(self.sounding.programme().length()),
        };
        let frame = length.map_or(frame, |length| frame.min(Frame::ZERO + length));
        let zero = self.zero.unwrap_or(Frame::ZERO);
        let mut heard = Vec::new();
        let (loudest, recorded) = (&mut self.loudest, &mut self.recorded_length);
        self.sound.advance(frame, |from, model, rendered| {
            heard.resize(rendered.len(), 0.0);
            let laid = beside.is_some_and(|(microphone, fit)| {
                ends(fit, zero + (from - Frame::ZERO), rendered.len())
                    .is_some_and(|(begin, end)| microphone.lay(&mut heard, begin, end))
            });
            if laid {
                *loudest = heard.iter().fold(*loudest, |most, sample| most.max(sample.abs()));
                *recorded += Frames::new(i64::try_from(heard.len()).unwrap_or(0));
            }
            recorder.audio(model, if laid { &heard } else { rendered })
        })
    }

    /// Whether a microphone was recorded for a while and was as good as silent throughout.
    pub(crate) fn heard_nothing(&self) -> bool {
        self.loudest < SILENT && self.recorded_length.seconds(self.rate()) >= HEARD_FOR
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

    /// A stretch of the computer's time as one of the drill.
    fn in_drill(&self, (from, to): (HostTime, HostTime), fit: &ClockFit) -> Option<Range<Moment>> {
        let at = |stamp| Some(self.moment(fit.moment_at(stamp)?)? - self.latency.all);
        Some(at(from)?..at(to)?)
    }

    /// When which players could not be heard for what was held back, in the drill's time.
    fn unheard(&self, held: &HeldBack, fit: &ClockFit) -> Vec<(PlayerId, Range<Moment>)> {
        let stretch = |(id, from, to)| Some((id, self.in_drill((from, to), fit)?));
        held.stretches().into_iter().filter_map(stretch).collect()
    }

    /// Strokes of these players are among what is held back of a device that sends more than hands can strike: what they do not
    /// answer from now on, nobody says they missed.
    pub(crate) fn holding_back(&mut self, held: &HeldBack, fit: &ClockFit) -> Result<(), take::Error> {
        let so_far = self.unheard(held, fit).into_iter();
        let until_now = so_far.map(|(id, stretch)| (id, stretch.start..attendance::always().end)).collect();
        self.holds_back(held, until_now);
        for player in self.rows_of(held) {
            if player.held.iter().all(|(number, _)| *number != held.number) {
                player.held.push((held.number, held.device.clone()));
            }
        }
        self.withdraw(held)
    }

    /// The rows of those whose device is held back.
    fn rows_of<'a>(&'a mut self, held: &'a HeldBack) -> impl Iterator<Item = &'a mut Player> {
        let rows = self.asked.iter_mut().flat_map(|asked| &mut asked.players);
        rows.filter(|player| held.players.contains(&player.id))
    }

    fn holds_back(&mut self, held: &HeldBack, unheard: Vec<(PlayerId, Range<Moment>)>) {
        let mut is_news = false;
        for (id, stretch) in unheard {
            is_news |= self.attendance.held_back(id, held.number, stretch);
        }
        if is_news {
            self.mark_absences();
        }
    }

    /// Strokes of these players may be among what was held back of a device that sent more than hands can strike. The take is marked
    /// there; `false` where there is no take, or it was before.
    pub(crate) fn held_back(&mut self, held: &HeldBack, fit: &ClockFit) -> Result<bool, take::Error> {
        for player in self.rows_of(held) {
            player.flooded = true;
            player.held.retain(|(number, _)| *number != held.number);
        }
        let Some(stretch) = self.in_drill((held.from, held.to), fit) else { return Ok(false) };
        let unheard = self.unheard(held, fit);
        self.holds_back(held, unheard.clone());
        self.withdraw(held)?;
        let zero = self.in_take(Moment::ZERO);
        let in_take = |at: Moment| (zero + at.since_zero()).max(Moment::ZERO);
        let [from, to] = [stretch.start, stretch.end].map(in_take);
        let Some(recorder) = self.recorder.as_mut().filter(|_| to > Moment::ZERO) else { return Ok(false) };
        for (id, stretch) in unheard {
            if let Some(&number) = self.recorded.get(&id) {
                recorder.unheard(number, in_take(stretch.start)..in_take(stretch.end))?;
            }
        }
        let why = format!(
            "{} messages of {}, more than hands can strike, were held back",
            held.messages, held.name
        );
        recorder.disturbed(Disturbance { from, to, why }).map(|()| true)
    }

    /// What a player is called in this drill.
    pub(crate) fn label(&self, id: PlayerId, players: &Players) -> String {
        self.who(id, players).0.label
    }

    /// Judges for good, completes the take and says how it ended.
    pub(crate) fn finish(mut self, ended: Ended, heard: Moment) -> (Vec<Event>, Option<take::Error>) {
        let until = (ended == Ended::Stopped).then_some(heard);
        let mut failure = None;
        let mut events = Vec::new();
        let file = if self.course.is_some() {
            let (over, failed) = self.close_all(until);
            (events, failure) = (over, failed);
            None
        } else {
            self.asked.iter_mut().for_each(|asked| asked.judge_for_good(until));
            let bar_one = self.sounding.bar_one().moment(self.rate());
            let players = || self.asked.iter().flat_map(|asked| &asked.players);
            let resolution =
                players().filter_map(Player::resolution).max().unwrap_or(Split::DEFAULT_RESOLUTION);
            let judged = players().map(|player| (player.label.as_str(), player.judgement()));
            Some(JudgeFile::at_resolution(judged, bar_one, resolution))
        };
        let heard = self.in_take(heard);
        if let Some(recorder) = self.recorder.as_mut() {
            recorder.heard_until(heard);
        }
        let zero = self.in_take(Moment::ZERO);
        let cut = self.recorder.as_ref().and_then(Recorder::cut).map(|cut| CutOff {
            until: Moment::ZERO + (cut.until - zero),
            length: cut.until.since_zero(),
            dir: cut.dir,
            strokes: cut.strokes,
        });
        let take = self.recorder.take().and_then(|recorder| {
            let finished = recorder.finish(ended, file.as_ref());
            finished.map_err(|error| failure.get_or_insert(error)).ok()
        });
        events.push(Event::Ended {
            ended,
            players: self.states(),
            take,
            disturbances: self.disturbances,
            cut,
        });
        (events, failure)
    }
}

impl std::fmt::Debug for Run {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Run").field("zero", &self.zero).field("asked", &self.asked).finish_non_exhaustive()
    }
}
