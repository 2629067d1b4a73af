//! What sounds, as the flags ask for it.

use sequencer::{Aside, Choice, ClickOn, CountOn, Each, Entry, Levels};

use crate::failure::Failure;
use crate::flags::{Sound, SoundsFlags};

/// Refuses what would be passed over in silence: a level, a place or a choice for what is not heard at all. (In the
/// window all of it means something: what is muted there comes back.)
///
/// # Errors
/// A wrong call, which says what goes with what.
pub(crate) fn check(flags: &SoundsFlags) -> Result<(), Failure> {
    check_beside(flags, false)
}

/// The same where some sections of a drill may have a tone of their own.
///
/// # Errors
/// As [`check`].
pub(crate) fn check_beside(flags: &SoundsFlags, has_own_tone: bool) -> Result<(), Failure> {
    let set = [("--level", &flags.level), ("--pan", &flags.pan)];
    for (flag, sound) in
        set.into_iter().flat_map(|(flag, set)| set.iter().map(move |(sound, _)| (flag, *sound)))
    {
        let name = sound.name();
        if sound == Sound::Tone && !flags.tone && !has_own_tone {
            return Err(Failure::Call(format!(
                "{flag} {name}= is for a tone that sounds: add --tone, or leave it out"
            )));
        }
        if flags.mute.contains(&sound) {
            return Err(Failure::Call(format!(
                "{flag} {name}= is for a {name} that is heard, and --mute {name} leaves it out: give one of the two"
            )));
        }
    }
    if !flags.tone && !has_own_tone && flags.mute.contains(&Sound::Tone) {
        return Err(Failure::Call(
            "--mute tone leaves out a tone, and without --tone none sounds: leave --mute tone out".to_owned(),
        ));
    }
    if flags.tone && flags.mute.contains(&Sound::Tone) {
        return Err(Failure::Call(
            "--tone sounds it, --mute tone leaves it out: give one of the two".to_owned(),
        ));
    }
    let nothing = |given: &str, sound: Sound| {
        let name = sound.name();
        let message = format!(
            "{given} says what of the {name} is heard, and --mute {name} leaves it out: give one of the two"
        );
        if flags.mute.contains(&sound) { Err(Failure::Call(message)) } else { Ok(()) }
    };
    if flags.click != ClickOn::default() {
        nothing("--click", Sound::Click)?;
    }
    if flags.count != CountOn::default() {
        nothing("--count", Sound::Count)?;
    }
    for (flag, aside) in [("--holds", flags.holds), ("--rests", flags.rests)] {
        if aside == Aside::default() {
            continue;
        }
        nothing(flag, Sound::Count)?;
        if flags.count == CountOn::Attacks {
            return Err(Failure::Call(format!(
                "{flag} is for counts that nothing is struck on, and --count attacks has none of them: leave {flag} out, \
                 or count everything or the beats"
            )));
        }
    }
    if flags.entry != Entry::default() {
        nothing("--entry", Sound::Count)?;
    }
    Ok(())
}

/// Refuses words for the count-in where there is none.
///
/// # Errors
/// A wrong call.
pub(crate) fn check_entry(entry: Entry, count_in: u32) -> Result<(), Failure> {
    if entry == Entry::default() || count_in > 0 {
        return Ok(());
    }
    Err(Failure::Call(
        "--entry (`entry` in a plan) is said on the last beats of the count-in, and --count-in 0 (`bars = 0`) has none: give \
         one of the two"
            .to_owned(),
    ))
}

/// Refuses to write tracks where there would be none: what is muted has no file. (One file of silence is said to be that.)
///
/// # Errors
/// A wrong call.
pub(crate) fn check_heard(levels: Levels) -> Result<(), Failure> {
    if Sound::NAMED.iter().any(|(_, sound)| alone(levels, *sound).is_some()) {
        return Ok(());
    }
    Err(Failure::Call(
        "every sound is muted, and what is muted has no track: leave one of them in".to_owned(),
    ))
}

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

/// One sound by itself; `None` where nothing is heard of it.
pub(super) fn alone(levels: Levels, sound: Sound) -> Option<Levels> {
    let mut alone = levels;
    let level = match sound {
        Sound::Click => levels.click,
        Sound::Count => levels.count,
        Sound::Clap => levels.clap,
        Sound::Tone => levels.tone,
    };
    let is_heard = level > 0.0 && !*each(&mut alone.muted, sound);
    alone.muted = Each { click: true, count: true, clap: true, tone: true };
    *each(&mut alone.muted, sound) = false;
    is_heard.then_some(alone)
}

fn each<T>(of: &mut sequencer::Each<T>, sound: Sound) -> &mut T {
    match sound {
        Sound::Click => &mut of.click,
        Sound::Count => &mut of.count,
        Sound::Clap => &mut of.clap,
        Sound::Tone => &mut of.tone,
    }
}
