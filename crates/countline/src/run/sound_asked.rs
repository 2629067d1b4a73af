//! What the flags of `countline sound` ask for together: nothing that is given is passed over in silence.

use super::sounds;
use crate::failure::Failure;
use crate::flags::{Bits, FileFlags, Sound, SoundFlags, System};

/// Refuses flags that would change nothing.
///
/// # Errors
/// A wrong call, which says what goes with what.
pub(super) fn check(flags: &SoundFlags) -> Result<(), Failure> {
    sounds::check(&flags.sounds)?;
    sounds::check_entry(flags.sounds.entry, flags.plan.count_in)?;
    let SoundFlags { files, sounds, .. } = flags;
    let to_midi = flags.midi_out.is_some() || (files.midi.is_some() && !files.ask_for_sound());
    let level_of = |sound: Sound| sounds.level.iter().any(|(set, _)| *set == sound);
    let refused = [
        (
            files.take.is_some() && files.midi.is_none() && files.tracks.is_none(),
            "--take adds players to files: write some with --midi OUT or --tracks DIR, or replay the take with \
             `countline listen --replay`",
        ),
        (
            files.ask_for_files() && flags.sound.device.is_some(),
            "--device is for what is played, and here files are written: leave one of the two out",
        ),
        (
            files.ask_for_files() && flags.sound.system != System::Own,
            "--system is for what is played, and here files are written: leave one of the two out",
        ),
        (
            !files.ask_for_sound() && files.bits != Bits::Sixteen,
            "--bits is for WAV files: write one with --wav OUT or --tracks DIR",
        ),
        (
            !files.ask_for_sound() && files.rate != FileFlags::USUAL_RATE,
            "--rate is for WAV files: write one with --wav OUT or --tracks DIR",
        ),
        (
            sounds.mute.contains(&Sound::Count) && flags.plan.voice.is_some(),
            "--voice is for counts that are heard, and --mute count leaves them out: give one of the two",
        ),
        (to_midi && !sounds.pan.is_empty(), "--pan is for sound and not for MIDI: leave it out"),
        (
            flags.midi_out.is_some() && sounds.tone,
            "--tone is for sound and files, and to --midi-out none is sent: leave it out",
        ),
        (to_midi && flags.plan.voice.is_some(), "--voice is for sound and not for MIDI: leave it out"),
        (
            to_midi && flags.midi_out.is_none() && !sounds.level.is_empty(),
            "--level is for sound, and a MIDI file has accents and loudness as they are written: leave it out",
        ),
        (
            flags.midi_out.is_some() && level_of(Sound::Count),
            "--level count= is for counts that are heard, and to --midi-out none are sent: leave it out",
        ),
    ];
    match refused.into_iter().find(|(is_given, _)| *is_given) {
        Some((_, why)) => Err(Failure::Call(why.to_owned())),
        None => Ok(()),
    }
}
