use std::io::{self, BufRead as _};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread;
use std::time::{Duration, Instant};

use audio::{Capture, CaptureDevice, DeviceSettings, SoundSystem};
use timebase::HostOrigin;
use voice::{Prepared, Wanted};

use super::super::interruption::interruption;
use super::Target;
use crate::failure::Failure;
use crate::flags::{System, VoiceRecordFlags};
use crate::output;

/// How long to wait before looking for more sound.
const LOOK: Duration = Duration::from_millis(10);

/// A microphone that gives nothing for so long gives nothing at all.
const PATIENCE: Duration = Duration::from_secs(3);

pub(super) fn run(flags: &VoiceRecordFlags) -> Result<(), Failure> {
    let words: Vec<&str> = flags.words.split_whitespace().collect();
    if words.is_empty() {
        return Err(Failure::Call("--words names the words to record: \"1 2 3 4 & e a\"".to_owned()));
    }
    let target = Target::of(&flags.name, &flags.join)?;
    let speed = target.speed()?.to_owned();
    let system = match flags.sound.system {
        System::Own => SoundSystem::Native,
        System::Jack => SoundSystem::Jack,
    };
    let settings = DeviceSettings { system, device: flags.sound.device.clone(), ..DeviceSettings::default() };
    let device = CaptureDevice::find(&settings).map_err(Failure::job)?;
    let mut capture = device.start(HostOrigin::at(Instant::now())).map_err(Failure::job)?;
    let from = capture.name().to_owned();
    output::note(&format!(
        "recording from {from}: press Enter and say the word, in the middle of your voice and as short as you count; \
         s and Enter leaves a word out, b and Enter goes back to the word before, q and Enter ends"
    ));
    let interrupted = interruption()?;
    let answers = Answers::of_input(Arc::clone(&interrupted));
    let (recorded, failure) = ask(&words, &target, answers, |word| {
        say(&mut capture, flags.listen, &target.wanted(word), &interrupted)
    });
    if recorded.is_empty() {
        let nothing = || Failure::Job("no word was recorded, and nothing was written".to_owned());
        return Err(failure.unwrap_or_else(nothing));
    }
    if interrupted.load(Ordering::Relaxed) {
        output::note("stopped before the end; what was recorded is kept");
    }
    let about = format!("A voice of one's own, recorded from {from} ({}).", target.language.name());
    target.keep(&about, vec![(speed, recorded)])?;
    failure.map_or(Ok(()), Err)
}

/// What a person types, line by line, until somebody presses Ctrl-C: a line that is waited for would be waited for all the same.
struct Answers {
    lines: Receiver<io::Result<String>>,
    interrupted: Arc<AtomicBool>,
}

impl Answers {
    fn of_input(interrupted: Arc<AtomicBool>) -> Self {
        let (typed, lines) = channel();
        // It ends with the input, or with the program.
        thread::spawn(move || io::stdin().lock().lines().try_for_each(|line| typed.send(line)));
        Self { lines, interrupted }
    }
}

impl Iterator for Answers {
    type Item = io::Result<String>;

    fn next(&mut self) -> Option<Self::Item> {
        while !self.interrupted.load(Ordering::Relaxed) {
            match self.lines.recv_timeout(LOOK) {
                Ok(line) => return Some(line),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return None,
            }
        }
        None
    }
}

/// Goes through the words, forwards and back, with a person's answers. What is said again takes the place of what was
/// said before. What was recorded stays so whatever failed then.
fn ask(
    words: &[&str],
    target: &Target,
    mut answers: impl Iterator<Item = io::Result<String>>,
    mut say: impl FnMut(&str) -> Result<Result<Prepared, String>, Failure>,
) -> (Vec<Prepared>, Option<Failure>) {
    let mut recorded: Vec<Option<Prepared>> = vec![None; words.len()];
    let (mut number, mut failure) = (0, None);
    while let Some(word) = words.get(number) {
        let has = recorded[number].is_some() || target.has(word);
        output::note(&prompt(word, number + 1, words.len(), target, has));
        let answer = match answers.next().transpose() {
            Ok(answer) => answer,
            Err(error) => {
                failure = Some(error.into());
                break;
            }
        };
        match answer.as_deref().map(str::trim) {
            None | Some("q") => break,
            Some("s") => number += 1,
            Some("b") => number = number.saturating_sub(1),
            Some(_) => match say(word) {
                Err(error) => {
                    failure = Some(error);
                    break;
                }
                Ok(Ok(prepared)) => {
                    output::note(&format!("  kept: {}", super::told(&prepared)));
                    recorded[number] = Some(prepared);
                    number += 1;
                }
                Ok(Err(why)) => output::note(&format!("  again, please: {why}")),
            },
        }
    }
    (recorded.into_iter().flatten().collect(), failure)
}

/// What to say now.
fn prompt(word: &str, number: usize, of: usize, target: &Target, has: bool) -> String {
    let syllable = target.language.syllable(word);
    let spoken = if syllable == word { String::new() } else { format!(" (say \"{syllable}\")") };
    let again = if has { "; recorded already, s keeps that" } else { "" };
    format!("{number} of {of}: {word}{spoken}{again}")
}

/// Listens for a while, and prepares what was heard; or why it cannot be used.
fn say(
    capture: &mut Capture,
    seconds: f64,
    wanted: &Wanted,
    interrupted: &AtomicBool,
) -> Result<Result<Prepared, String>, Failure> {
    // What was heard before is not the word.
    while capture.next_chunk().is_some() {}
    let lost = capture.lost_frames();
    let mut frames: Vec<f32> = Vec::new();
    let mut heard = Instant::now();
    while frames.len() as f64 <= seconds * f64::from(capture.rate().hz()) {
        if interrupted.load(Ordering::Relaxed) {
            return Ok(Err("it was interrupted".to_owned()));
        }
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
    let prepared = Prepared::of_recording(&frames, capture.rate(), wanted);
    Ok(prepared.map_err(|refusal| refusal.to_string()))
}

#[cfg(test)]
mod tests {
    use timebase::SampleRate;
    use voice::{Language, Stress};

    use super::*;

    /// A sung vowel of so many milliseconds in a silent second.
    fn sung(milliseconds: u16) -> Prepared {
        let frames: Vec<f32> = (0..48_000_u16)
            .map(|frame| {
                let time = f32::from(frame) / 48_000.0;
                let end = 0.3 + f32::from(milliseconds) / 1_000.0;
                let level = ((time - 0.3) / 0.02).clamp(0.0, 1.0) * ((end - time) / 0.02).clamp(0.0, 1.0);
                let vowel: f32 =
                    (1..9_u8).map(|n| (std::f32::consts::TAU * 150.0 * f32::from(n) * time).sin()).sum();
                0.05 * level * vowel
            })
            .collect();
        let wanted = Wanted { syllable: "one".to_owned(), soft: false, stress: Stress::ONLY };
        Prepared::of_recording(&frames, SampleRate::HZ_48000, &wanted).expect("usable")
    }

    fn target() -> Target {
        Target {
            place: "mine".into(),
            given: "mine".to_owned(),
            language: Language::of("en").expect("built in"),
            standing: None,
            speed: Ok("own".to_owned()),
        }
    }

    #[test]
    fn a_word_that_was_kept_can_be_said_again() {
        let target = target();
        let check = |answers: &[&str], said: &[&str], lengths: &[u16]| {
            let mut heard = Vec::new();
            let answers = answers.iter().map(|answer| Ok((*answer).to_owned()));
            let (recorded, _) = ask(&["1", "2", "3"], &target, answers, |word| {
                heard.push(word.to_owned());
                let milliseconds = 100 * u16::try_from(heard.len()).expect("few");
                // The third try is no good.
                Ok(if heard.len() == 3 { Err("clipped".to_owned()) } else { Ok(sung(milliseconds)) })
            });
            assert_eq!(heard, said);
            let near = |prepared: &Prepared, milliseconds: &u16| {
                (prepared.length().as_millis_f64() - f64::from(*milliseconds)).abs() < 40.0
            };
            assert!(recorded.len() == lengths.len() && recorded.iter().zip(lengths).all(|(p, l)| near(p, l)));
        };
        check(&["", "", "q"], &["1", "2"], &[100, 200]);
        check(&["", "b", "", "s", "s"], &["1", "1"], &[200]);
        check(&["", "", "b", "b", "b", "", ""], &["1", "2", "1", "1"], &[400, 200]);
        check(&["s", "s", "s", ""], &[], &[]);
        check(&[], &[], &[]);
    }

    #[test]
    fn what_was_recorded_stays_when_the_microphone_goes() {
        let target = target();
        let answers = ["", "", ""].iter().map(|answer| Ok((*answer).to_owned()));
        let (recorded, failure) = ask(&["1", "2", "3"], &target, answers, |word| {
            if word == "3" { Err(Failure::Job("it is gone".to_owned())) } else { Ok(Ok(sung(200))) }
        });
        assert!(recorded.len() == 2 && failure.is_some());
    }
}
