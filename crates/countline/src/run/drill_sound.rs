//! The sound of a drill plan as a WAV file, every part of every round marked in it.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use mixer::Mixer;
use sequencer::drill::{Drill, Response, Round, SectionKind};
use sequencer::{Compromise, Each, Levels, Sounding, Sounds};
use take::Beside;
use take::midi::{MidiRound, write_rounds};
use take::wav::{WavCue, WavFile, WavForm};
use timebase::{Frame, Frames, Moment, Position};

use super::tell::Misfit;
use crate::failure::Failure;
use crate::loudness::Loudness;
use crate::output;
use crate::parts::Parts;

/// Frames rendered at once.
const BLOCK: usize = 4_096;

/// What was written.
pub(super) struct Written {
    /// Which counts had not all the room they need.
    pub(super) compromises: Vec<Misfit>,
    /// What there is to say of the file.
    pub(super) told: String,
}

/// Writes the rounds that `rounds` gives, the same each time, as they would be heard live, into each of these files with its
/// own levels: gone through once to mark them, and once a file to render them. Two rounds are in memory at most.
pub(super) fn write<R: Iterator<Item = Round>>(
    parts: &mut Parts,
    outs: &[(PathBuf, Levels)],
    form: WavForm,
    drill: &Drill,
    rounds: impl Fn() -> R,
    sounds: &Sounds,
) -> Result<Written, Failure> {
    let lower = |round: &Round| sounds.lower_round(round).map_err(Failure::job);
    let Some(first) = rounds().next() else { return Err(Failure::Job("the plan has no round".to_owned())) };
    let entry = first_bar(&first);
    let first = lower(&first)?;
    let rate = first.rate();
    let bar_one = first.bar_one();
    let mut cues = Vec::new();
    let mut last = None;
    for round in rounds() {
        let marked = marks(drill, &round).into_iter();
        cues.extend(
            marked.map(|(at, label)| WavCue { frame: bar_one + (Frame::at(at, rate) - Frame::ZERO), label }),
        );
        last = Some(round);
    }
    let last = last.as_ref().map(lower).transpose()?;
    // To the end of the last round, or until its last sound has rung out.
    let length =
        last.map_or(first.programme().length(), |last| bar_one - last.bar_one() + last.programme().length());
    let frames = length.count().unsigned_abs();
    let channels = usize::from(form.channels);
    let mut written = Written { compromises: Vec::new(), told: String::new() };
    for (seed, (out, levels)) in (0..).zip(outs) {
        let form = WavForm { seed, ..form };
        let mut wav = WavFile::create(out, form, frames, &cues).map_err(Failure::job)?;
        let mut loudness = Loudness::new(rate, u32::from(form.channels)).map_err(Failure::job)?;
        let progress = output::progress("rendering", frames);
        written.compromises = render(rounds(), lower, (length, channels, *levels), |samples| {
            progress.inc(u64::try_from(samples.len() / channels).unwrap_or(0));
            loudness.hear(samples).map_err(Failure::job)?;
            wav.write(samples).map_err(Failure::job)
        })?;
        progress.finish_and_clear();
        parts.add(wav.complete().map_err(Failure::job)?);
        let _ = writeln!(written.told, "wrote {}\n    {loudness}", out.display());
    }
    let seconds = bar_one.moment(rate).as_secs_f64();
    let _ = writeln!(written.told, "{entry} of round 1 begins at frame {} ({seconds:.3} s)", bar_one.index());
    Ok(written)
}

/// The rounds as a MIDI file, without what is left out.
pub(super) fn write_midi(
    parts: &mut Parts,
    out: &Path,
    drill: &Drill,
    rounds: &[Round],
    title: Option<&str>,
    left_out: Each<bool>,
) -> Result<String, Failure> {
    let rounds: Vec<MidiRound<'_>> =
        rounds.iter().map(|round| MidiRound { round, marks: marks(drill, round) }).collect();
    let bytes = write_rounds(&rounds, title, left_out).map_err(Failure::job)?;
    parts.add(Beside::written(out, &bytes).map_err(Failure::job)?);
    Ok(format!("wrote {}\n", out.display()))
}

/// Renders so many frames of round after round; gives the counts that had not all the room they need.
fn render(
    mut rounds: impl Iterator<Item = Round>,
    lower: impl Fn(&Round) -> Result<Sounding, Failure>,
    (length, channels, levels): (Frames, usize, Levels),
    mut write: impl FnMut(&[f32]) -> Result<(), Failure>,
) -> Result<Vec<Misfit>, Failure> {
    let mut compromises = Vec::new();
    let mut next = || -> Result<Option<Sounding>, Failure> {
        let Some(round) = rounds.next() else { return Ok(None) };
        let sounding = lower(&round)?;
        compromises.extend(sounding.compromises().iter().map(|word| misfit(&round, word)));
        Ok(Some(sounding))
    };
    let Some(first) = next()? else { return Ok(Vec::new()) };
    let mut mixer = levels.on(Mixer::new(first.programme())).map_err(Failure::job)?;
    let mut zero = first.bar_one();
    let (mut block, mut both) = ([0.0; BLOCK], [[0.0; 2]; BLOCK]);
    let mut left = length.count();
    let mut is_fed = false;
    while left > 0 {
        if !mixer.has_next() && !is_fed {
            match next()? {
                Some(sounding) => {
                    // Both are told from the drill's zero, so what lies between them is where the next begins.
                    let at = Frame::ZERO + (zero - sounding.bar_one());
                    mixer.follow(sounding.programme(), Frame::ZERO, at).map_err(Failure::job)?;
                    zero = sounding.bar_one();
                }
                None => is_fed = true,
            }
        }
        let until_next = mixer.frames_until_next().map_or(left, Frames::count).clamp(1, left);
        let frames = usize::try_from(until_next).map_or(block.len(), |frames| frames.min(block.len()));
        if channels == 2 {
            mixer.render_stereo(&mut both[..frames]);
            write(both[..frames].as_flattened())?;
        } else {
            mixer.render(&mut block[..frames]);
            write(&block[..frames])?;
        }
        left -= i64::try_from(frames).unwrap_or(left);
    }
    Ok(compromises)
}

/// A word that did not fit whole, with its bar, its round and the tempo there.
fn misfit(round: &Round, word: &Compromise) -> Misfit {
    // The later of two sections where a pickup falls inside the first: its word is the one that is said.
    let under_way = round.sections().iter().rev().find(|section| section.from <= word.at);
    let zero = match under_way.map(|section| section.kind) {
        Some(SectionKind::Response(number)) => round.responses().get(number).map(Response::zero),
        Some(SectionKind::Call | SectionKind::Model) => Some(Position::ZERO),
        _ => None,
    };
    let bar = zero.and_then(|zero| {
        let into = Position::ZERO + (word.at - zero);
        round.played().iter().rev().find(|bar| bar.at <= into)
    });
    let bar = match bar.map(|bar| bar.number) {
        None => "the count-in".to_owned(),
        Some(0) => "the pickup".to_owned(),
        Some(number) => format!("bar {number}"),
    };
    let bar = format!("{bar} of round {}", round.number());
    Misfit::of(word, &bar, round.tempo_map().tempo_at(word.at))
}

/// Where the parts of a round and their bars begin, in the drill's own time: `round 2 call bar 5`.
fn marks(drill: &Drill, round: &Round) -> Vec<(Moment, String)> {
    let at = |place: Position| round.tempo_map().moment_at(place);
    let name = |what: &str| format!("round {} {what}", round.number());
    let mut marks = Vec::new();
    for section in round.sections() {
        let bars = match section.kind {
            SectionKind::Rest => vec![(at(section.from), name("rest"))],
            SectionKind::CountIn => vec![(at(section.from), name("count-in"))],
            SectionKind::Breath => vec![(at(section.from), name("breath"))],
            SectionKind::Model => {
                bars_played(round).map(|(at, bar)| (at, name(&format!("model {bar}")))).collect()
            }
            SectionKind::Call => {
                bars_played(round).map(|(at, bar)| (at, name(&format!("call {bar}")))).collect()
            }
            SectionKind::Response(number) => {
                let Some(response) = round.responses().get(number) else { continue };
                let players = &drill.plan().turns.players;
                let player = response.player().and_then(|player| players.get(player));
                let who = player.map_or_else(|| "response".to_owned(), |player| format!("response {player}"));
                bars(response).map(|(at, bar)| (at, name(&format!("{who} {bar}")))).collect()
            }
        };
        marks.extend(bars);
    }
    marks
}

/// The bars of a response as they are asked.
fn bars(response: &Response) -> impl Iterator<Item = (Moment, String)> {
    let bars = response.counts().chunk_by(|a, b| (a.id.bar, a.id.pass) == (b.id.bar, b.id.pass));
    bars.map(|bar| (bar[0].at, bar_name(bar[0].id.bar, bar[0].id.pass)))
}

/// The bars of the first time through.
fn bars_played(round: &Round) -> impl Iterator<Item = (Moment, String)> {
    round.played().iter().map(|bar| (round.tempo_map().moment_at(bar.at), bar_name(bar.number, bar.pass)))
}

/// The bar that begins at the first bar line.
fn first_bar(round: &Round) -> String {
    let first = round.played().iter().find(|bar| bar.at >= Position::ZERO);
    first.map_or_else(|| bar_name(1, 1), |bar| bar_name(bar.number, bar.pass))
}

fn bar_name(number: u32, pass: u32) -> String {
    let name = if number == 0 { "pickup".to_owned() } else { format!("bar {number}") };
    if pass > 1 { format!("{name} pass {pass}") } else { name }
}
