//! `countline sound`: a rhythm heard, or written as WAV and MIDI files.

use live::{Drill, Event, Rig, RigSettings};
use sequencer::{Compromise, Cued, Sequence, lower, sequence};

use super::sounds::{check_heard, choice, levels};
use super::tell::Misfit;
use super::{midi_out, sound_asked, sound_files, tell};
use crate::failure::Failure;
use crate::flags::SoundFlags;
use crate::parts::Parts;
use crate::{counting_file, output, overwriting, rhythm_file};

pub(crate) fn run(flags: &SoundFlags) -> Result<(), Failure> {
    sound_asked::check(flags)?;
    let rhythm = rhythm_file::read(&flags.file, flags.part.as_deref())?;
    let plan = super::plan(&rhythm, &flags.plan)?.with_choice(choice(&flags.sounds));
    let system = counting_file::chosen(&flags.counting)?;
    let (voice, pack) = super::voice(&flags.plan)?;
    if flags.midi_out.is_none() && !flags.files.ask_for_files() {
        let levels = levels(&flags.sounds);
        return play(Drill { voice, levels, system, ..Drill::new(rhythm, plan) }, flags);
    }
    let line = counting::count_in(&rhythm, &system, &counting::Settings::default());
    let sequence = sequence(&rhythm, &line, &plan);
    if let Some(name) = &flags.midi_out {
        return midi_out::send(&sequence, name, flags);
    }
    let take = sound_files::take(&flags.files, &rhythm, &plan)?;
    overwriting::check(&sound_files::named(flags, &take))?;
    let levels = levels(&flags.sounds);
    // Whoever has a take written besides may want the players alone.
    if flags.files.tracks.is_some() && flags.files.take.is_none() {
        check_heard(levels)?;
    }
    let (mut parts, mut told) = (Parts::default(), String::new());
    if let Some(out) = &flags.files.midi {
        told += &sound_files::write_midi(&mut parts, out, &sequence, rhythm.title(), &take, levels.muted)?;
    }
    if flags.files.ask_for_sound() {
        let pack = if pack.rate() == flags.files.rate {
            pack
        } else {
            pack.at_rate(flags.files.rate).map_err(Failure::job)?
        };
        let sounding = lower(&sequence, &pack).map_err(Failure::job)?;
        let said = sequence.cues().iter().filter_map(|cue| match &cue.cued {
            Cued::Count { say, .. } => Some(say.as_str()),
            _ => None,
        });
        tell::borrowed(said, &pack);
        tell::compromises(&misfits(&sequence, sounding.compromises()), &voice);
        // Whoever says where something is heard has two loudspeakers, also where it is the middle.
        let channels = if flags.sounds.pan.is_empty() { 1 } else { 2 };
        let heard = (levels, channels);
        told += &sound_files::write_sound(&mut parts, &flags.files, &sequence, &sounding, heard, &take)?;
    }
    parts.commit()?;
    output::print(&told)
}

/// The words that did not fit whole, each with its bar and the tempo there.
fn misfits(sequence: &Sequence, compromises: &[Compromise]) -> Vec<Misfit> {
    let of = |compromise: &Compromise| {
        let bars = sequence.performance().bars().iter();
        let bar = { bars }.find(|bar| (bar.start..bar.end).contains(&compromise.at));
        let bar = match bar.map(|bar| bar.number) {
            None => "the count-in".to_owned(),
            Some(0) => "the pickup".to_owned(),
            Some(number) => format!("bar {number}"),
        };
        Misfit::of(compromise, &bar, sequence.tempo().tempo_at(compromise.at))
    };
    compromises.iter().map(of).collect()
}

/// Through the loudspeakers, once.
fn play(drill: Drill, flags: &SoundFlags) -> Result<(), Failure> {
    let sound = super::device_settings(&flags.sound);
    let settings =
        RigSettings { sound, midi: super::midi_choice(flags.sound.system), ..RigSettings::default() };
    let mut rig = Rig::open(&settings, || {}).map_err(Failure::job)?;
    rig.start(drill).map_err(Failure::job)?;
    for event in rig.events() {
        match event {
            Event::Ended { .. } => break,
            Event::SoundGone { why } => {
                return Err(Failure::Job(format!("the sound device has gone: {why}")));
            }
            Event::Disturbed { why } => output::note(&why),
            Event::Notice(notice) => output::note(&notice),
            _ => {}
        }
    }
    Ok(())
}
