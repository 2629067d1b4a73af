//! What sounds, as the flags ask for it.

use sequencer::{Choice, Levels};

use crate::flags::{Sound, SoundsFlags};

/// What is sounded of a rhythm.
pub(crate) fn choice(flags: &SoundsFlags) -> Choice {
    let SoundsFlags { click, count, holds, rests, entry, .. } = *flags;
    Choice { click, count, holds, rests, entry }
}

/// What is sounded where a plan says one thing and the flags another: what is asked for by a flag, else what the plan says.
pub(crate) fn choice_over(of_plan: Choice, flags: &SoundsFlags) -> Choice {
    fn or<T: PartialEq>(flag: T, usual: T, of_plan: T) -> T {
        if flag == usual { of_plan } else { flag }
    }
    let (asked, usual) = (choice(flags), Choice::default());
    Choice {
        click: or(asked.click, usual.click, of_plan.click),
        count: or(asked.count, usual.count, of_plan.count),
        holds: or(asked.holds, usual.holds, of_plan.holds),
        rests: or(asked.rests, usual.rests, of_plan.rests),
        entry: or(asked.entry, usual.entry, of_plan.entry),
    }
}

/// How loud it is and where it is heard. What is muted is muted whatever else is asked for.
pub(crate) fn levels(flags: &SoundsFlags) -> Levels {
    levels_over(Levels::default(), flags)
}

/// The same where a plan says how loud it is.
pub(crate) fn levels_over(of_plan: Levels, flags: &SoundsFlags) -> Levels {
    let mut levels = of_plan;
    levels.muted.tone &= !flags.tone;
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
