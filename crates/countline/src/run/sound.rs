//! `countline sound`: a rhythm heard, or written as WAV and MIDI files.

use live::{Drill, Event, Rig, RigSettings};
use sequencer::{Cued, Sequence, Sounding, lower, sequence};
use voice::VoicePack;

use super::sounds::{choice, levels};
use super::{midi_out, sound_asked, sound_files};
use crate::failure::Failure;
use crate::flags::SoundFlags;
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
    if let Some(out) = &flags.files.midi {
        sound_files::write_midi(out, &sequence, rhythm.title(), &take, levels.muted)?;
    }
    if flags.files.ask_for_sound() {
        let pack = if pack.rate() == flags.files.rate {
            pack
        } else {
            pack.at_rate(flags.files.rate).map_err(Failure::job)?
        };
        let sounding = lower(&sequence, &pack).map_err(Failure::job)?;
        tell_borrowed(&sequence, &pack);
        tell_compromises(&sounding, &sequence, &voice);
        // Whoever says where something is heard has two loudspeakers, also where it is the middle.
        let channels = if flags.sounds.pan.is_empty() { 1 } else { 2 };
        sound_files::write_sound(&flags.files, &sequence, &sounding, (levels, channels), &take)?;
    }
    Ok(())
}

/// Says which words another voice says, because this one has no recording of them.
fn tell_borrowed(sequence: &Sequence, pack: &VoicePack) {
    let said = sequence.cues().iter().filter_map(|cue| match &cue.cued {
        Cued::Count { say, .. } => Some(say.as_str()),
        _ => None,
    });
    let mut borrowed: Vec<(&str, &str)> = said.filter_map(|word| Some((pack.borrows(word)?, word))).collect();
    borrowed.sort_unstable();
    borrowed.dedup();
    for of_one in borrowed.chunk_by(|a, b| a.0 == b.0) {
        let words: Vec<&str> = of_one.iter().map(|(_, word)| *word).collect();
        output::note(&format!(
            "the voice {} has no recording of {}: the voice {} says it",
            pack.name(),
            listed(words),
            of_one[0].0
        ));
    }
}

/// Says once a word, not once a place, what did not fit.
fn tell_compromises(sounding: &Sounding, sequence: &Sequence, voice: &str) {
    use voice::Fit;
    let told = |what: &str, matches: fn(Option<Fit>) -> bool| {
        let of_kind = sounding.compromises().iter().filter(|c| matches(c.fit));
        let words: Vec<&str> = of_kind.map(|c| c.word.as_str()).collect();
        let times = words.len();
        if times > 0 {
            let tempo = sequence.plan().tempo();
            output::note(&format!(
                "the voice {voice} is too slow for some counts at {tempo}: {what} {times} times ({})",
                listed(words)
            ));
        }
    };
    told("cut short or said in a shorter form", |fit| fit.is_some());
    told("left out, so that only the beats are said there,", |fit| fit.is_none());
}

/// Each word once: numbers first, three and more in a row as `100 to 199`, then syllables.
fn listed(mut words: Vec<&str>) -> String {
    words.sort_unstable_by_key(|word| (word.parse::<u32>().unwrap_or(u32::MAX), *word));
    words.dedup();
    let follows = |a: &&str, b: &&str| match (a.parse::<u32>(), b.parse::<u32>()) {
        (Ok(a), Ok(b)) => a.checked_add(1) == Some(b),
        _ => false,
    };
    let rows = words.chunk_by(follows).map(|row| match row {
        [first, _, .., last] => format!("{first} to {last}"),
        few => few.join(" "),
    });
    rows.collect::<Vec<_>>().join(" ")
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_listed_once_and_numbers_in_rows() {
        let check = |words: &[&str], expected: &str| assert_eq!(listed(words.to_vec()), expected);
        check(&["e", "11", "2", "10", "e", "&", "12", "1"], "1 2 10 to 12 & e");
        check(&["3", "1", "2"], "1 to 3");
        check(&["7", "8", "a"], "7 8 a");
        check(&[], "");
    }
}
