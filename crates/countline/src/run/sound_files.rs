//! The files that `countline sound` writes.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use mixer::{Bank, Mixer, Programme, SoundEvent, StripId};
use rhythm::Rhythm;
use sequencer::levels::{CLAP, CLICK, COUNT, PLAYED, TONE};
use sequencer::{Each, Levels, Plan, Sequence, Sounding};
use take::wav::{WavCue, WavFile, WavForm, WavSamples};
use take::{Beside, Mark, Player, marks, midi};
use timebase::{Frame, Moment};
use voice::percussion;

use crate::failure::Failure;
use crate::flags::{FileFlags, SoundFlags};
use crate::loudness::Loudness;
use crate::output;
use crate::overwriting::Files;
use crate::parts::Parts;

/// The players of a take, and when count 1 of bar 1 falls in it.
#[derive(Debug, Default)]
pub(super) struct Played {
    players: Vec<Player>,
    bar_one: Moment,
}

/// The take that the flags name; nobody where they name none.
///
/// # Errors
/// If it cannot be read, or was played at another tempo.
pub(super) fn take(flags: &FileFlags, rhythm: &Rhythm, plan: &Plan) -> Result<Played, Failure> {
    let Some(path) = &flags.take else { return Ok(Played::default()) };
    let take = super::judge::read(path)?;
    if let Some(bpm) = super::judge::tempo_of(&take, rhythm).filter(|bpm| *bpm != plan.tempo().bpm()) {
        let played = plan.tempo().with_bpm(bpm).map_err(Failure::job)?;
        return Err(Failure::Call(format!(
            "the take {} was played at {played}, the files are to be at {}: call with --tempo {}",
            path.display(),
            plan.tempo(),
            played.to_string().rsplit(' ').next().unwrap_or_default()
        )));
    }
    let bar_one = take.midi.bar_one.unwrap_or(Moment::ZERO);
    Ok(Played { players: take.midi.players, bar_one })
}

/// The files that the call names, and those of the players, whom only their take names.
pub(super) fn named(flags: &SoundFlags, take: &Played) -> Files {
    let files = flags.named();
    let Some(folder) = &flags.files.tracks else { return files };
    let mut taken = BTreeSet::new();
    let names = take.players.iter().map(|player| file_name(&player.label, &mut taken));
    names.fold(files, |files, name| files.write("--tracks", Some(folder.join(name))))
}

/// Click, attacks, counts and players, without what is left out; says what there is to say of it.
pub(super) fn write_midi(
    parts: &mut Parts,
    out: &Path,
    sequence: &Sequence,
    title: Option<&str>,
    take: &Played,
    left_out: Each<bool>,
) -> Result<String, Failure> {
    let bytes = if take.players.is_empty() {
        midi::write_sequence(sequence, title, left_out)
    } else {
        midi::write_sequence_played(sequence, title, left_out, &take.players, take.bar_one)
    };
    parts.add(Beside::written(out, &bytes.map_err(Failure::job)?).map_err(Failure::job)?);
    Ok(format!("wrote {}\n", out.display()))
}

/// The whole, and each kind of sound alone; says what there is to say of them.
pub(super) fn write_sound(
    parts: &mut Parts,
    flags: &FileFlags,
    sequence: &Sequence,
    sounding: &Sounding,
    (levels, channels): (Levels, u16),
    take: &Played,
) -> Result<String, Failure> {
    let rate = sounding.rate();
    let cues = bar_cues(sequence, sounding);
    let programme = sounding.programme();
    let mut files = Vec::new();
    if let Some(out) = &flags.wav {
        files.push((out.clone(), programme.clone()));
    }
    if let Some(folder) = &flags.tracks {
        parts.folder(folder)?;
        files.extend(tracks(folder, sounding, levels)?);
        files.extend(players(folder, sounding, take)?);
    }
    let mut said = String::new();
    for (seed, (out, programme)) in (0..).zip(&files) {
        let form = WavForm { rate, channels, samples: flags.bits.samples(), seed };
        let (file, loudness) = write_wav(out, programme, levels, form, &cues)?;
        parts.add(file);
        said += &format!("wrote {}\n    {loudness}\n", out.display());
    }
    let frame = sounding.bar_one();
    let seconds = frame.moment(rate).as_secs_f64();
    Ok(format!("{said}bar 1 begins at frame {} ({seconds:.3} s)\n", frame.index()))
}

/// Writes a rhythm as a sound that every program opens: 16 bit, its bars marked.
pub(super) fn write_model(
    out: &Path,
    sequence: &Sequence,
    sounding: &Sounding,
    levels: Levels,
) -> Result<(), Failure> {
    let channels = if levels.is_stereo() { 2 } else { 1 };
    let form = WavForm { rate: sounding.rate(), channels, samples: WavSamples::Int16, seed: 0 };
    let (file, _) = write_wav(out, sounding.programme(), levels, form, &bar_cues(sequence, sounding))?;
    file.commit().map_err(Failure::job)
}

/// Where each bar begins, as marks in a WAV file.
fn bar_cues(sequence: &Sequence, sounding: &Sounding) -> Vec<WavCue> {
    let cue = |mark: Mark| {
        let from_bar_one = sequence.tempo().frame_at(mark.at, sounding.rate()) - Frame::ZERO;
        WavCue { frame: sounding.bar_one() + from_bar_one, label: mark.label }
    };
    marks(sequence).into_iter().map(cue).collect()
}

/// The sounds of each strip that is heard at all.
fn tracks(folder: &Path, sounding: &Sounding, levels: Levels) -> Result<Vec<(PathBuf, Programme)>, Failure> {
    let whole = sounding.programme();
    let heard = levels.strips().into_iter().filter(|(_, setting)| !setting.muted && setting.level > 0.0);
    heard
        .map(|(strip, _)| {
            let events = whole.events().iter().filter(|event| event.strip == strip).copied().collect();
            let programme =
                Programme::new(whole.bank().clone(), events, whole.length()).map_err(Failure::job)?;
            Ok((folder.join(format!("{}.wav", strip_name(strip))), programme))
        })
        .collect()
}

fn strip_name(strip: StripId) -> &'static str {
    match strip {
        CLICK => "click",
        COUNT => "count",
        CLAP => "clap",
        TONE => "tone",
        _ => "other",
    }
}

/// A clap where each player struck, as loud as the stroke was hard.
fn players(folder: &Path, sounding: &Sounding, take: &Played) -> Result<Vec<(PathBuf, Programme)>, Failure> {
    let rate = sounding.rate();
    let mut names = BTreeSet::new();
    let mut files = Vec::new();
    for player in &take.players {
        let clap = percussion::clap(rate);
        let mut bank = Bank::new(rate);
        let sample = bank.add(clap.sample);
        let strokes = player.strokes.iter().filter(|stroke| !stroke.role.is_of_the_pad());
        let events = strokes.filter_map(|stroke| {
            let from_bar_one = Moment::ZERO + (stroke.at - take.bar_one);
            let at = sounding.bar_one() + (Frame::at(from_bar_one, rate) - Frame::ZERO) - clap.attack;
            let gain = f32::from(stroke.velocity) / 127.0;
            // What was struck before the sound begins is not in it, and what comes after is not either: all files are equally long.
            let inside = at >= Frame::ZERO && at < Frame::ZERO + sounding.programme().length();
            inside.then(|| SoundEvent {
                gain,
                length: Some(Frame::ZERO + sounding.programme().length() - at),
                ..SoundEvent::new(at, sample, PLAYED)
            })
        });
        let programme = Programme::new(bank, events.collect(), sounding.programme().length());
        let file = folder.join(file_name(&player.label, &mut names));
        files.push((file, programme.map_err(Failure::job)?));
    }
    Ok(files)
}

/// Letters and digits of the name, everything else a hyphen; the second of two equal ones gets a number.
fn file_name(label: &str, taken: &mut BTreeSet<String>) -> String {
    let plain: String = label.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).take(60).collect();
    let mut name = format!("player-{plain}.wav");
    let mut number = 2_u32;
    // Some systems do not tell capital letters from small ones.
    while !taken.insert(name.to_lowercase()) {
        name = format!("player-{plain}-{number}.wav");
        number += 1;
    }
    name
}

/// Writes a sound of one channel or two beside its place, and says how loud it is.
fn write_wav(
    out: &Path,
    programme: &Programme,
    levels: Levels,
    form: WavForm,
    cues: &[WavCue],
) -> Result<(Beside, Loudness), Failure> {
    let frames = programme.length().count().unsigned_abs();
    let mut wav = WavFile::create(out, form, frames, cues).map_err(Failure::job)?;
    let mut loudness = Loudness::new(form.rate, u32::from(form.channels)).map_err(Failure::job)?;
    let mut mixer = levels.on(Mixer::new(programme)).map_err(Failure::job)?;
    let progress = output::progress("rendering", frames);
    let mut write = |samples: &[f32], frames: usize| {
        progress.inc(u64::try_from(frames).unwrap_or(0));
        loudness.hear(samples).map_err(Failure::job)?;
        wav.write(samples).map_err(Failure::job)
    };
    if form.channels == 2 {
        mixer::render_offline_stereo(&mut mixer, |block| write(block.as_flattened(), block.len()))?;
    } else {
        mixer::render_offline(&mut mixer, |block| write(block, block.len()))?;
    }
    progress.finish_and_clear();
    Ok((wav.complete().map_err(Failure::job)?, loudness))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn players_have_files_of_their_own() {
        let mut taken = BTreeSet::new();
        let mut check = |label: &str, expected: &str| assert_eq!(file_name(label, &mut taken), expected);
        check("K07", "player-K07.wav");
        check("k07", "player-k07-2.wav");
        check("../K 07", "player----K-07.wav");
        check("Pad: Ä", "player-Pad--Ä.wav");
    }
}
