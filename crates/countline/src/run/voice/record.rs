use std::io::{self, BufRead as _};
use std::thread;
use std::time::{Duration, Instant};

use audio::{Capture, CaptureDevice, DeviceSettings, SoundSystem};
use take::voices;
use timebase::HostOrigin;
use voice::{Language, Prepared};

use crate::failure::Failure;
use crate::flags::{System, VoiceRecordFlags};
use crate::output;

/// What the one speed is called at which a voice is recorded.
const SPEED: &str = "own";

/// How long to wait before looking for more sound.
const LOOK: Duration = Duration::from_millis(10);

/// A microphone that gives nothing for so long gives nothing at all.
const PATIENCE: Duration = Duration::from_secs(3);

pub(super) fn run(flags: &VoiceRecordFlags) -> Result<(), Failure> {
    let language = super::language(&flags.language)?;
    let place = voices::place_of(&flags.name).map_err(|error| Failure::Call(error.to_string()))?;
    let words: Vec<&str> = flags.words.split_whitespace().collect();
    if words.is_empty() {
        return Err(Failure::Call("--words names the words to record: \"1 2 3 4 & e a\"".to_owned()));
    }
    let system = match flags.sound.system {
        System::Own => SoundSystem::Native,
        System::Jack => SoundSystem::Jack,
    };
    let settings = DeviceSettings { system, device: flags.sound.device.clone(), ..DeviceSettings::default() };
    let device = CaptureDevice::find(&settings).map_err(Failure::job)?;
    let mut capture = device.start(HostOrigin::at(Instant::now())).map_err(Failure::job)?;
    output::note(&format!(
        "recording from {}: press Enter and say the word, in the middle of your voice and as short as you count; \
         s and Enter leaves a word out, q and Enter ends",
        capture.name()
    ));
    let mut answers = io::stdin().lock().lines();
    let mut recorded = Vec::new();
    'words: for (number, word) in words.iter().enumerate() {
        loop {
            output::note(&prompt(word, number + 1, words.len(), &language));
            match answers.next().transpose()?.as_deref().map(str::trim) {
                None | Some("q") => break 'words,
                Some("s") => continue 'words,
                Some(_) => {}
            }
            match say(&mut capture, word, flags.listen, &language)? {
                Ok(prepared) => {
                    output::note(&format!("  kept: {}", super::told(&prepared)));
                    recorded.push(prepared);
                    continue 'words;
                }
                Err(why) => output::note(&format!("  again, please: {why}")),
            }
        }
    }
    if recorded.is_empty() {
        return Err(Failure::Job("no word was recorded, and nothing was written".to_owned()));
    }
    let about = format!("A voice of one's own, recorded from {} ({}).", capture.name(), language.name());
    super::keep(&place, &flags.name, &about, &language, vec![(SPEED.to_owned(), recorded)])
}

/// What to say now.
fn prompt(word: &str, number: usize, of: usize, language: &Language) -> String {
    let syllable = language.syllable(word);
    let spoken = if syllable == word { String::new() } else { format!(" (say \"{syllable}\")") };
    format!("{number} of {of}: {word}{spoken}")
}

/// Listens for a while, and prepares what was heard; or why it cannot be used.
fn say(
    capture: &mut Capture,
    word: &str,
    seconds: f64,
    language: &Language,
) -> Result<Result<Prepared, String>, Failure> {
    // What was heard before is not the word.
    while capture.next_chunk().is_some() {}
    let lost = capture.lost_frames();
    let mut frames: Vec<f32> = Vec::new();
    let mut heard = Instant::now();
    while frames.len() as f64 <= seconds * f64::from(capture.rate().hz()) {
        let before = frames.len();
        while let Some(chunk) = capture.next_chunk() {
            frames.extend_from_slice(chunk.samples());
        }
        if frames.len() > before {
            heard = Instant::now();
        } else if heard.elapsed() > PATIENCE {
            let device = capture.name();
            return Err(Failure::Job(format!(
                "{device} gives no sound: see that it is plugged in, or choose another"
            )));
        }
        thread::sleep(LOOK);
    }
    if capture.lost_frames() > lost {
        return Ok(Err("the computer was too busy and lost some of it".to_owned()));
    }
    let wanted = super::wanted(word, language);
    let prepared = Prepared::of_recording(&frames, capture.rate(), &wanted);
    Ok(prepared.map_err(|refusal| refusal.to_string()))
}
