//! What sounds, as the flags ask for it.

use sequencer::{Choice, Levels};

use crate::flags::{Sound, SoundsFlags};

/// What is sounded of a rhythm.
pub(crate) fn choice(flags: &SoundsFlags) -> Choice {
    let SoundsFlags { click, count, holds, rests, entry, .. } = *flags;
    Choice { click, count, holds, rests, entry }
}

/// How loud it is and where it is heard. What is muted is muted whatever else is asked for.
pub(crate) fn levels(flags: &SoundsFlags) -> Levels {
    let mut levels = Levels::default();
    levels.muted.tone = !flags.tone;
    for &(sound, factor) in &flags.level {
        let level = match sound {
            Sound::Click => &mut levels.click,
            Sound::Count => &mut levels.count,
            Sound::Clap => &mut levels.clap,
            Sound::Tone => &mut levels.tone,
        };
        *level = (*level * factor).min(mixer::limits::GAIN_MOST);
    }
    for &(sound, pan) in &flags.pan {
        *each(&mut levels.pan, sound) = pan;
    }
    for &sound in &flags.mute {
        *each(&mut levels.muted, sound) = true;
    }
    levels
}

fn each<T>(of: &mut sequencer::Each<T>, sound: Sound) -> &mut T {
    match sound {
        Sound::Click => &mut of.click,
        Sound::Count => &mut of.count,
        Sound::Clap => &mut of.clap,
        Sound::Tone => &mut of.tone,
    }
}
