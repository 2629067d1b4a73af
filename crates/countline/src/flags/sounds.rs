//! What sounds, how loud and where: for every job that makes sound.

use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use sequencer::{Aside, ClickOn, CountOn, Entry};

/// Under which the flags stand in a job's help.
const HEADING: &str = "What sounds";

/// What sounds, how loud and where.
#[derive(Debug, Args)]
pub(crate) struct SoundsFlags {
    /// Where it clicks: felt beats, also what they divide in, count 1 alone, or where groups begin (7/8 in 2+2+3).
    /// Count 1 is accented, and a little less the beginning of a group
    #[arg(long, help_heading = HEADING, value_name = "WHERE", default_value = "beats")]
    #[arg(value_parser = named(&ClickOn::NAMED))]
    pub(crate) click: ClickOn,
    /// What is counted aloud
    #[arg(long, help_heading = HEADING, value_name = "WHAT", default_value = "everything")]
    #[arg(value_parser = named(&CountOn::NAMED))]
    pub(crate) count: CountOn,
    /// How counts inside a held note are said
    #[arg(long, help_heading = HEADING, value_name = "HOW", default_value = "as-counted")]
    #[arg(value_parser = named(&Aside::NAMED))]
    pub(crate) holds: Aside,
    /// How counts inside a silence are said
    #[arg(long, help_heading = HEADING, value_name = "HOW", default_value = "as-counted")]
    #[arg(value_parser = named(&Aside::NAMED))]
    pub(crate) rests: Aside,
    /// What is said on the last two beats of the count-in
    #[arg(long, help_heading = HEADING, value_name = "WORDS", default_value = "numbers")]
    #[arg(value_parser = named(&Entry::NAMED))]
    pub(crate) entry: Entry,
    /// Sound a tone with each note, held as long as the note
    #[arg(long, help_heading = HEADING)]
    pub(crate) tone: bool,
    /// Leave this out; may be given several times
    #[arg(long, help_heading = HEADING, value_name = "SOUND")]
    #[arg(value_parser = named(&Sound::NAMED))]
    pub(crate) mute: Vec<Sound>,
    /// How much louder or softer than usual a sound is, in dB: click=-6. May be given several times
    #[arg(long, help_heading = HEADING, value_name = "SOUND=DB", value_parser = level)]
    pub(crate) level: Vec<(Sound, f32)>,
    /// Where a sound is heard, from -100 (left) to 100 (right): clap=-60. May be given several times. WAV files are stereo
    /// where it is given at all, clap=0 too; else they are mono
    #[arg(long, help_heading = HEADING, value_name = "SOUND=PLACE", value_parser = pan)]
    pub(crate) pan: Vec<(Sound, f32)>,
}

/// A kind of sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sound {
    /// The clicks.
    Click,
    /// The spoken counts.
    Count,
    /// The claps on attacks.
    Clap,
    /// The tones that last as long as their notes.
    Tone,
}

impl Sound {
    pub(crate) const NAMED: [(&'static str, Self); 4] =
        [("click", Self::Click), ("count", Self::Count), ("clap", Self::Clap), ("tone", Self::Tone)];

    /// Its word on the command line.
    pub(crate) fn name(self) -> &'static str {
        Self::NAMED.into_iter().find(|(_, sound)| *sound == self).map_or("", |(name, _)| name)
    }
}

/// Reads one of the words of `table`.
fn named<T: Copy + Send + Sync + 'static>(
    table: &'static [(&'static str, T)],
) -> impl TypedValueParser<Value = T> {
    PossibleValuesParser::new(table.iter().map(|(name, _)| *name)).try_map(move |given| {
        let found = table.iter().find(|(name, _)| *name == given);
        found.map(|(_, value)| *value).ok_or("no such choice")
    })
}

/// The least and the most a level may be moved, in dB.
pub(crate) const LEVEL_DB: (f32, f32) = (-60.0, 12.0);

/// From left to right, in hundredths of the way.
pub(crate) const PAN_HUNDREDTHS: (f32, f32) = (-100.0, 100.0);

/// A change of level as a factor.
pub(crate) fn factor(db: f32) -> f32 {
    10_f32.powf(db / 20.0)
}

fn level(text: &str) -> Result<(Sound, f32), String> {
    let (least, most) = LEVEL_DB;
    let (sound, db) = assigned(text, "click=-6", least, most)?;
    Ok((sound, factor(db)))
}

fn pan(text: &str) -> Result<(Sound, f32), String> {
    let (sound, hundredths) = assigned(text, "clap=-60", PAN_HUNDREDTHS.0, PAN_HUNDREDTHS.1)?;
    Ok((sound, hundredths / 100.0))
}

/// Reads `SOUND=NUMBER`.
fn assigned(text: &str, example: &str, least: f32, most: f32) -> Result<(Sound, f32), String> {
    let wrong = || {
        let names = Sound::NAMED.map(|(name, _)| name).join(", ");
        format!("write one of {names}, = and a number from {least} to {most}, such as {example}")
    };
    let (name, number) = text.split_once('=').ok_or_else(wrong)?;
    let (_, sound) = Sound::NAMED.into_iter().find(|(known, _)| *known == name).ok_or_else(wrong)?;
    let number: f32 = number.trim_end_matches("dB").trim().parse().map_err(|_| wrong())?;
    if (least..=most).contains(&number) { Ok((sound, number)) } else { Err(wrong()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_and_places_are_read() {
        let (sound, factor) = level("click=-6").expect("a level");
        assert_eq!(sound, Sound::Click);
        assert!((factor - 0.501_187).abs() < 1e-6);
        assert_eq!(pan("clap=-60"), Ok((Sound::Clap, -0.6)));
        for wrong in ["click", "snare=3", "click=loud", "tone=13", "tone=NaN", "count=-61"] {
            let error = level(wrong).expect_err(wrong);
            assert!(error.contains("from -60 to 12, such as click=-6"), "{error}");
        }
        assert!(pan("clap=101").is_err());
    }
}
