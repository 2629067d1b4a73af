//! `countline listen`: a drill in the terminal.

use std::io::IsTerminal;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use crossbeam_channel::RecvTimeoutError;
use crossterm::event::{Event as Key, KeyCode, KeyEventKind, KeyModifiers};
use judge::Split;
use live::{Drill, Event, Phase, PlayerState, Recorded, Rig, new_take_dir};
use rhythm::Rhythm;
use sequencer::{Plan, sequence};
use take::Ended;
use take::json::{self, JudgeFile};
use timebase::{Moment, Seconds};

use super::report::{self, Words};
use crate::failure::Failure;
use crate::flags::ListenFlags;
use crate::{output, rhythm_file};

/// How late a key may be known: the terminal gives no stamp, so the stamp is taken when the key is read.
const KEY_RESOLUTION: Seconds = Seconds::from_millis(2);

pub(crate) fn run(flags: &ListenFlags) -> Result<(), Failure> {
    let settings = super::tolerance(flags.tolerance_ms)?;
    let rhythm = rhythm_file::read(&flags.file, flags.part.as_deref())?;
    let plan = super::plan(&rhythm, &flags.plan)?;
    let voice = super::voice_name(&flags.plan)?;
    let take = match (&flags.take, flags.no_take) {
        (_, true) => None,
        (Some(dir), false) => Some(dir.clone()),
        (None, false) => Some(new_take_dir(Path::new("takes"), rhythm.title())),
    };
    let replay = match &flags.replay {
        Some(path) => recorded(path, &rhythm, &plan)?,
        None => Vec::new(),
    };
    let line = counting::count(&rhythm);
    let counts = sequence(&rhythm, &line, &plan).counts().to_vec();
    let words = Words::of(&counts);

    let mut rig =
        Rig::open(&super::rig_settings(&flags.sound, &flags.players), || {}).map_err(Failure::job)?;
    if let Some(notice) = rig.midi_notice() {
        output::note(notice);
    }
    output::note(&format!("sound: {}, {}", rig.sound_name(), plan.tempo()));
    let drill = Drill {
        voice,
        levels: super::levels(&flags.mute),
        settings,
        latency: Seconds::from_millis_f64(flags.players.latency_ms),
        take,
        replay,
        ..Drill::new(rhythm, plan)
    };
    rig.start(drill).map_err(Failure::job)?;

    let keys = Keys::read();
    if keys.is_some() {
        output::note("space strikes, esc stops");
    }
    let mut players: Arc<[PlayerState]> = Arc::new([]);
    loop {
        while let Some(pressed) = keys.as_ref().and_then(Keys::next) {
            match pressed {
                Pressed::Strike(at) => rig.strike_key_at(at, KEY_RESOLUTION),
                Pressed::Stop => rig.stop(),
            }
        }
        let wait = if keys.is_some() { Duration::from_millis(1) } else { Duration::from_millis(100) };
        let event = match rig.events().recv_timeout(wait) {
            Ok(event) => event,
            Err(RecvTimeoutError::Timeout) => continue,
            Err(RecvTimeoutError::Disconnected) => {
                return Err(Failure::Job(
                    "the drill has ended unexpectedly; `countline judge` opens what was kept of the take"
                        .into(),
                ));
            }
        };
        match event {
            Event::Phase(Phase::CountIn) => say(&keys, "count-in"),
            Event::Phase(Phase::Playing) => say(&keys, "play"),
            Event::Phase(_) => {}
            Event::Struck { player, attack } => {
                let label =
                    players.get(player).map_or_else(|| format!("P{}", player + 1), |p| p.label.clone());
                say(&keys, &report::stroke(&label, &attack, &words));
            }
            Event::Judged(now) => players = now,
            Event::Disturbed { why } => say(&keys, &format!("disturbed: {why}")),
            Event::Notice(notice) => say(&keys, &notice),
            Event::SoundGone { why } => {
                return Err(Failure::Job(format!("the sound device has gone: {why}")));
            }
            Event::Ended { ended, players, take, disturbances } => {
                drop(keys);
                return finish(flags, &counts, ended, &players, take.as_deref(), disturbances);
            }
        }
    }
}

fn finish(
    flags: &ListenFlags,
    counts: &[counting::TimedCount],
    ended: Ended,
    players: &Arc<[PlayerState]>,
    take: Option<&Path>,
    disturbances: usize,
) -> Result<(), Failure> {
    if disturbances > 0 {
        output::note(&format!("sound was lost {disturbances} times: the take is marked as disturbed there"));
    }
    if ended == Ended::Stopped {
        output::note("stopped before the end");
    }
    let judged = super::judged(players);
    if flags.json {
        let bar_one = match take {
            Some(dir) => take::Take::open(dir).map_err(Failure::job)?.header().bar_one,
            None => Moment::ZERO,
        };
        output::print(&json::text(&JudgeFile::of(judged, bar_one)))?;
    } else {
        output::print(&format!(
            "\n{}",
            report::report(counts, &judged, report::FINDINGS, Split::DEFAULT_RESOLUTION)
        ))?;
    }
    if let Some(dir) = take {
        output::note(&format!("the take is in {}", dir.display()));
    }
    Ok(())
}

/// A line on standard error, also while the terminal is raw.
fn say(keys: &Option<Keys>, text: &str) {
    if keys.is_some() {
        output::note(&format!("{text}\r"));
    } else {
        output::note(text);
    }
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

enum Pressed {
    Strike(Instant),
    Stop,
}

/// The terminal's keyboard, while it is a terminal. Restored when dropped.
struct Keys;

impl Keys {
    fn read() -> Option<Self> {
        (std::io::stdin().is_terminal() && crossterm::terminal::enable_raw_mode().is_ok()).then_some(Self)
    }

    fn next(&self) -> Option<Pressed> {
        while crossterm::event::poll(Duration::ZERO).unwrap_or(false) {
            let at = Instant::now();
            let Ok(Key::Key(key)) = crossterm::event::read() else { continue };
            if key.kind != KeyEventKind::Press {
                continue;
            }
            match (key.code, key.modifiers) {
                (KeyCode::Char('c'), KeyModifiers::CONTROL) | (KeyCode::Esc, _) => {
                    return Some(Pressed::Stop);
                }
                (KeyCode::Char(' '), _) => return Some(Pressed::Strike(at)),
                _ => {}
            }
        }
        None
    }
}

impl Drop for Keys {
    fn drop(&mut self) {
        // If the terminal is gone there is nothing to restore.
        let _ = crossterm::terminal::disable_raw_mode();
    }
}
