//! `countline listen`: a drill in the terminal, or one for each of those who take turns.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use crossbeam_channel::RecvTimeoutError;
use input::{Controls, Order};
use judge::Split;
use live::{CutOff, Drill, Event, Phase, PlayerState, Recorded, Rig, Turns, new_take_dir};
use rhythm::Rhythm;
use sequencer::{Plan, sequence};
use take::Ended;
use take::json::JudgeFile;
use timebase::{Moment, Seconds};

use super::calls::{Calls, asked_by};
use super::keys::{self, Keys, Pressed};
use super::listen_drill;
use super::report::{self, Words};
use crate::failure::Failure;
use crate::flags::ListenFlags;
use crate::{counting_file, output, rhythm_file};

/// How long what is told with the end of a drill may take to arrive.
const SETTLED: Duration = Duration::from_millis(100);

/// The pause before the next one's turn, where nobody can ask for it …
const PAUSE: Duration = Duration::from_secs(3);

/// … and where somebody can ask for the last one once more instead.
const PAUSE_TO_ASK: Duration = Duration::from_secs(8);

pub(crate) fn run(flags: &ListenFlags) -> Result<(), Failure> {
    let settings = super::tolerance(flags.tolerance_ms)?;
    if super::planned::is_plan(&flags.file) {
        return listen_drill::run(flags, settings);
    }
    let rhythm = rhythm_file::read(&flags.file, flags.part.as_deref())?;
    let plan = super::plan(&rhythm, &flags.plan)?.with_choice(super::sounds::choice(&flags.sounds));
    let voice = super::voice(&flags.plan)?.0;
    let turns = self::turns(&flags.turns)?;
    super::section::check_turns(&turns, &flags.players)?;
    let mut calls = Calls::new(Turns::new(turns));
    let replay = match &flags.replay {
        Some(path) => recorded(path, &rhythm, &plan)?,
        None => Vec::new(),
    };
    let system = counting_file::chosen(&flags.counting)?;
    // Places are called by their numbers, however they are counted.
    let line = counting::count(&rhythm);
    let counts = sequence(&rhythm, &line, &plan).counts().to_vec();
    let words = Words::of(&counts);

    let mut stage = open(flags, &plan.tempo().to_string())?;
    let drill = Drill {
        voice,
        system,
        levels: super::sounds::levels(&flags.sounds),
        settings,
        latency: flags.players.latency_ms.map(Seconds::from_millis_f64),
        replay,
        ..Drill::new(rhythm, plan)
    };
    let is_alone = !calls.is_list() && !stage.has(Order::Again);
    let mut played = 0;
    stage.tell_turns(&calls);
    if !stage.begins()? {
        return Ok(());
    }
    loop {
        if !stage.has_sound()? {
            return Err(stage.without_sound());
        }
        let take = take_dir(flags, drill.rhythm.title(), played, is_alone);
        let names = calls.starts();
        stage.rig.start(Drill { take, names, ..drill.clone() }).map_err(Failure::job)?;
        let over = stage.play(&words)?;
        stage.settle()?;
        // The report is printed on a terminal that is itself again.
        stage.keys = None;
        finish(flags, &counts, &words, &over)?;
        stage.keys = Keys::read();
        played += 1;
        calls.ends(over.ended == Ended::Finished);
        if stage.is_over(&calls) {
            return if stage.gone.is_some() { Err(stage.without_sound()) } else { Ok(()) };
        }
        if !stage.asks_who(&mut calls)? || (stage.is_over(&calls) && calls.was_passed_over()) {
            return Ok(());
        }
        stage.tell_turns(&calls);
    }
}

/// Opens the devices and the keyboard, and says what they are and what is played.
pub(super) fn open(flags: &ListenFlags, played: &str) -> Result<Stage, Failure> {
    let rig_settings = super::rig_settings(&flags.sound, &flags.players)?;
    let controls = rig_settings.input.controls.clone();
    let rig = Rig::open(&rig_settings, || {}).map_err(Failure::job)?;
    if let Some(notice) = rig.midi_notice() {
        output::note(notice);
    }
    rig.mistaken().iter().for_each(|mistaken| output::note(mistaken));
    output::note(&format!("sound: {}, {played}", rig.sound_name()));
    if flags.players.latency_ms.is_none() {
        output::note(&latency_told(&rig));
    }
    if let Some(name) = rig.recorded() {
        output::note(&format!("recorded: {name}"));
    }
    let keys = Keys::read();
    if keys.is_some() {
        output::note("space strikes, esc stops\r");
    }
    Ok(Stage { rig, keys, controls, met: Vec::new(), gone: None })
}

/// Whose turns at which pads.
pub(super) fn turns(typed: &[String]) -> Result<Vec<(String, Vec<String>)>, Failure> {
    typed.iter().map(|text| turn(text)).collect()
}

/// Whose turns at which pad: `P1=K1,K2,K3`.
fn turn(text: &str) -> Result<(String, Vec<String>), Failure> {
    let wrong =
        || Failure::Call(format!("\"{text}\" gives no turns: write PAD=CODE,CODE, such as P1=K1,K2,K3"));
    let (pad, codes) = text.split_once('=').ok_or_else(wrong)?;
    let codes: Vec<String> = codes.split(',').map(|code| code.trim().to_owned()).collect();
    if pad.trim().is_empty() || codes.iter().any(String::is_empty) {
        return Err(wrong());
    }
    Ok((pad.trim().to_owned(), codes))
}

/// Where the take goes: where there may be several, each into a folder of its own.
fn take_dir(flags: &ListenFlags, title: Option<&str>, played: usize, is_alone: bool) -> Option<PathBuf> {
    match (&flags.take, flags.no_take) {
        (_, true) => None,
        (Some(dir), false) if is_alone => Some(dir.clone()),
        (Some(dir), false) => Some(dir.join(format!("{}", played + 1))),
        (None, false) => Some(new_take_dir(Path::new("takes"), title)),
    }
}

/// What is taken off strokes, in a sentence.
fn latency_told(rig: &Rig) -> String {
    let latency = rig.latency();
    if latency.from.is_empty() {
        return "latency: not measured for this device, rate and block size (`countline calibrate`)"
            .to_owned();
    }
    let own: Vec<_> =
        latency.own.iter().map(|(port, late)| format!("{port} {} ms", report::signless(*late, 1))).collect();
    let own = if own.is_empty() { String::new() } else { format!("; {}", own.join(", ")) };
    let wireless = if live::calibration::is_wireless(latency.all) {
        "; that is a wireless speaker's, and changes: use a wire"
    } else {
        ""
    };
    format!("latency: {} ms{own} (by {}){wireless}", report::signless(latency.all, 1), latency.from)
}

/// A drill that is over.
struct Over {
    ended: Ended,
    players: Arc<[PlayerState]>,
    take: Option<PathBuf>,
    disturbances: usize,
    cut: Option<CutOff>,
}

/// What somebody asked for who was waited for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Asked {
    For(Order),
    ToStop,
    /// Nobody asked for anything in time.
    Nothing,
}

/// The devices, the terminal's keys and what is said in between.
pub(super) struct Stage {
    pub(super) rig: Rig,
    pub(super) keys: Option<Keys>,
    /// What pads and pedals ask for.
    controls: Controls,
    /// Players who were heard, and the devices they play on.
    met: Vec<(String, String)>,
    /// Why there is no sound, where its device has gone.
    pub(super) gone: Option<String>,
}

impl Stage {
    /// Plays the drill that was started.
    fn play(&mut self, words: &Words) -> Result<Over, Failure> {
        let mut players: Arc<[PlayerState]> = Arc::new([]);
        loop {
            self.press();
            let Some(event) = self.next_event()? else { continue };
            match event {
                Event::Phase(Phase::CountIn) => self.say("count-in"),
                Event::Phase(Phase::Playing) => self.say("play"),
                Event::Struck { player, attack } => {
                    let label =
                        players.get(player).map_or_else(|| format!("P{}", player + 1), |p| p.label.clone());
                    self.meet(players.get(player));
                    self.say(&report::stroke(&label, &attack, words));
                }
                Event::Judged(now) => players = now,
                Event::Ended { ended, players, take, disturbances, cut } => {
                    return Ok(Over { ended, players, take, disturbances, cut });
                }
                other => self.heed(other)?,
            }
        }
    }

    /// Says what a player plays on, with the first stroke.
    pub(super) fn meet(&mut self, player: Option<&PlayerState>) {
        let Some(PlayerState { label, source, .. }) = player else { return };
        if !self.met.iter().any(|(known, on)| (known, on) == (label, source)) {
            self.say(&format!("{label} plays on {source}"));
            self.met.push((label.clone(), source.clone()));
        }
    }

    /// Whether a pad or a pedal asks for this.
    fn has(&self, order: Order) -> bool {
        self.controls.places().iter().any(|(of, _)| *of == order)
    }

    /// Waits until the first drill is to begin, where somebody asks for it; `false` if they ask to stop.
    pub(super) fn begins(&mut self) -> Result<bool, Failure> {
        if !self.has(Order::Start) {
            return Ok(true);
        }
        let by = asked_by(Order::Start, self.keys.as_ref().map(|_| "enter"), &self.controls);
        let why = format!("{} begins", by.unwrap_or_default());
        Ok(matches!(self.waits(&[Order::Start], &why, None)?, Asked::For(_)))
    }

    fn tell_turns(&self, calls: &Calls) {
        for (pad, code) in calls.now() {
            self.say(&format!("{pad}: it is {code}'s turn"));
        }
    }

    /// Whether nothing more is played: everybody has, and nobody can ask for more.
    fn is_over(&self, calls: &Calls) -> bool {
        (calls.is_over() || !calls.is_list()) && !self.has(Order::Again)
    }

    /// Waits between two drills until somebody says who plays, or for a while where nobody can; `false` if they ask to stop.
    fn asks_who(&mut self, calls: &mut Calls) -> Result<bool, Failure> {
        let goes_on = self.has(Order::Next) || self.has(Order::Start) || self.keys.is_some();
        let choices = calls.choices(&self.controls, self.keys.is_some());
        let pause = match (goes_on || calls.is_over() || !calls.is_list(), self.has(Order::Again)) {
            (true, _) => None,
            (false, true) => Some(PAUSE_TO_ASK),
            (false, false) => Some(PAUSE),
        };
        let by_itself = pause.map(|pause| format!("it goes on in {} s", pause.as_secs()));
        let why: Vec<String> =
            by_itself.into_iter().chain(Some(choices).filter(|said| !said.is_empty())).collect();
        match self.waits(&[Order::Next, Order::Again, Order::Start], &why.join("; "), pause)? {
            Asked::ToStop => return Ok(false),
            Asked::For(order) => calls.asks(order),
            Asked::Nothing => {}
        }
        Ok(true)
    }

    /// Takes in what was told of a drill that is over: that it was stopped asks for nothing more.
    fn settle(&mut self) -> Result<(), Failure> {
        std::thread::sleep(SETTLED);
        while let Ok(event) = self.rig.events().try_recv() {
            self.heed(event)?;
        }
        Ok(())
    }

    /// Waits for a sound device that has gone; `false` if somebody stops waiting.
    fn has_sound(&mut self) -> Result<bool, Failure> {
        if self.gone.is_some() {
            self.say("waiting for the sound device; esc or what is assigned to stop ends it");
        }
        while self.gone.is_some() {
            if self.keys.as_ref().and_then(Keys::next) == Some(Pressed::Stop) {
                return Ok(false);
            }
            match self.next_event()? {
                Some(Event::Order(Order::Stop)) => return Ok(false),
                Some(event) => self.heed(event)?,
                None => {}
            }
        }
        Ok(true)
    }

    fn without_sound(&self) -> Failure {
        let why = self.gone.as_deref().unwrap_or("it gave no reason");
        Failure::Job(format!("the sound device has gone: {why}"))
    }

    /// What was pressed since: the space bar strikes, escape stops.
    pub(super) fn press(&mut self) {
        while let Some(pressed) = self.keys.as_ref().and_then(Keys::next) {
            match pressed {
                Pressed::Strike(at) => self.rig.strike_key_at(at, keys::RESOLUTION),
                Pressed::Stop => self.rig.stop(),
                Pressed::Order(_) => {}
            }
        }
    }

    /// Waits until somebody asks for one of these or to stop, or until so much time has passed.
    fn waits(&mut self, orders: &[Order], why: &str, pause: Option<Duration>) -> Result<Asked, Failure> {
        self.say(why);
        let begun = Instant::now();
        while pause.is_none_or(|pause| begun.elapsed() < pause) {
            while let Some(pressed) = self.keys.as_ref().and_then(Keys::next) {
                match pressed {
                    Pressed::Stop => return Ok(Asked::ToStop),
                    Pressed::Order(order) if orders.contains(&order) => return Ok(Asked::For(order)),
                    Pressed::Order(_) | Pressed::Strike(_) => {}
                }
            }
            match self.next_event()? {
                Some(Event::Order(Order::Stop)) => return Ok(Asked::ToStop),
                Some(Event::Order(order)) if orders.contains(&order) => return Ok(Asked::For(order)),
                Some(other) => self.heed(other)?,
                None => {}
            }
        }
        Ok(Asked::Nothing)
    }

    pub(super) fn next_event(&self) -> Result<Option<Event>, Failure> {
        let wait = if self.keys.is_some() { Duration::from_millis(1) } else { Duration::from_millis(100) };
        match self.rig.events().recv_timeout(wait) {
            Ok(event) => Ok(Some(event)),
            Err(RecvTimeoutError::Timeout) => Ok(None),
            Err(RecvTimeoutError::Disconnected) => Err(Failure::Job(
                "the drill has ended unexpectedly; `countline judge` opens what was kept of the take".into(),
            )),
        }
    }

    pub(super) fn heed(&mut self, event: Event) -> Result<(), Failure> {
        match event {
            Event::Disturbed { why } => self.say(&format!("disturbed: {why}")),
            Event::Notice(notice) => self.say(&notice),
            Event::SoundBack { name, .. } => {
                self.gone = None;
                self.say(&format!("sound plays again through {name}"));
            }
            Event::SoundGone { why } => {
                self.say(&format!("the sound device has gone: {why}"));
                self.gone = Some(why);
            }
            _ => {}
        }
        Ok(())
    }

    /// A line on standard error, also while the terminal is raw.
    pub(super) fn say(&self, text: &str) {
        if self.keys.is_some() {
            output::note(&format!("{text}\r"));
        } else {
            output::note(text);
        }
    }
}

/// Says whether sound was lost, and whether it was stopped.
pub(super) fn tell_end(ended: Ended, disturbances: usize) {
    if disturbances > 0 {
        output::note(&format!("sound was lost {disturbances} times: the take is marked as disturbed there"));
    }
    if ended == Ended::Stopped {
        output::note("stopped before the end");
    }
}

fn finish(
    flags: &ListenFlags,
    counts: &[counting::TimedCount],
    words: &Words,
    over: &Over,
) -> Result<(), Failure> {
    let Over { ended, players, take, disturbances, cut } = over;
    tell_end(*ended, *disturbances);
    let judged = super::judged(players);
    let resolution = players.iter().filter_map(|player| player.resolution).max();
    let resolution = resolution.unwrap_or(Split::DEFAULT_RESOLUTION);
    if flags.json {
        let bar_one = match take {
            Some(dir) => take::Take::header_of(dir).map_err(Failure::job)?.bar_one,
            None => Moment::ZERO,
        };
        output::print_json(&JudgeFile::at_resolution(judged, bar_one, resolution))?;
    } else {
        output::print(&format!("\n{}", report::report(counts, &judged, report::FINDINGS, resolution)))?;
    }
    if let Some(dir) = take {
        output::note(&format!("the take is in {}", dir.display()));
    }
    if let Some(cut) = cut {
        let last = counts.iter().take_while(|count| count.at <= cut.until).last();
        let place =
            last.map_or_else(|| "the count-in".to_owned(), |count| words.place(count.id).replace("  ", ", "));
        output::note(&cut.says(&place));
    }
    Ok(())
}

/// The players of a take, as they are to play along.
pub(super) fn recorded(path: &Path, rhythm: &Rhythm, plan: &Plan) -> Result<Vec<Recorded>, Failure> {
    let take = super::judge::read(path)?;
    if let Some(bpm) = super::judge::tempo_of(&take, rhythm)
        && bpm != plan.tempo().bpm()
    {
        let tempo = plan.tempo().with_bpm(bpm).map_err(Failure::job)?;
        return Err(Failure::Call(format!(
            "the take {} was played at {tempo}, the drill is at {}: replay it with --tempo {}",
            path.display(),
            plan.tempo(),
            tempo.to_string().rsplit(' ').next().unwrap_or_default()
        )));
    }
    let bar_one = take.midi.bar_one.unwrap_or(Moment::ZERO);
    let players = take.midi.players.into_iter().map(|player| {
        let mut messages: Vec<(Moment, [u8; 3])> = Vec::new();
        for stroke in player.strokes {
            let at = |moment: Moment| Moment::ZERO + (moment - bar_one);
            messages.push((at(stroke.at), [0x99, stroke.note, stroke.velocity]));
            if let Some(released) = stroke.released {
                messages.push((at(released), [0x89, stroke.note, 0]));
            }
        }
        messages.sort_by_key(|(at, _)| *at);
        Recorded { label: player.label, messages }
    });
    Ok(players.collect())
}
