//! `countline sound`: a rhythm heard, or written as WAV and MIDI files.

use std::path::Path;

use live::{Drill, Event, Rig, RigSettings};
use mixer::Mixer;
use sequencer::{Levels, Sequence, Sounding, lower, sequence};
use take::wav::TakeWav;
use take::{Beside, midi, write_beside};
use timebase::SampleRate;
use voice::VoicePack;

use crate::failure::Failure;
use crate::flags::{PlayerFlags, SoundFlags};
use crate::{output, rhythm_file};

pub(crate) fn run(flags: &SoundFlags) -> Result<(), Failure> {
    let rhythm = rhythm_file::read(&flags.file, flags.part.as_deref())?;
    let plan = super::plan(&rhythm, &flags.plan)?;
    let voice = super::voice_name(&flags.plan)?;
    if flags.wav.is_none() && flags.midi.is_none() {
        let levels = super::levels(&flags.mute);
        return play(Drill { voice, levels, ..Drill::new(rhythm, plan) }, flags);
    }
    let line = counting::count(&rhythm);
    let sequence = sequence(&rhythm, &line, &plan);
    if let Some(out) = &flags.midi {
        let bytes = midi::write_sequence(&sequence, rhythm.title()).map_err(Failure::job)?;
        write_beside(out, &bytes).map_err(Failure::job)?;
        output::print(&format!("wrote {}\n", out.display()))?;
    }
    if let Some(out) = &flags.wav {
        let pack = VoicePack::shipped(&voice).map_err(Failure::job)?;
        let sounding = lower(&sequence, &pack).map_err(Failure::job)?;
        tell_compromises(&sounding, &sequence, &voice);
        write_wav(out, &sounding, super::levels(&flags.mute))?;
        let frame = sounding.bar_one();
        let seconds = frame.moment(sounding.rate()).as_secs_f64();
        output::print(&format!(
            "wrote {}\nbar 1 begins at frame {} ({seconds:.3} s)\n",
            out.display(),
            frame.index()
        ))?;
    }
    Ok(())
}

pub(super) fn write_wav(out: &Path, sounding: &Sounding, levels: Levels) -> Result<(), Failure> {
    let beside = Beside::new(out);
    let mut wav = TakeWav::create(beside.part(), SampleRate::HZ_48000, 1).map_err(Failure::job)?;
    let mixer = Mixer::new(sounding.programme());
    let mut mixer = levels.on(mixer).map_err(Failure::job)?;
    let frames = sounding.programme().length().count().unsigned_abs();
    let progress = output::progress("rendering", frames);
    mixer::render_offline(&mut mixer, |block| {
        progress.inc(u64::try_from(block.len()).unwrap_or(0));
        wav.write(block)
    })
    .map_err(Failure::job)?;
    progress.finish_and_clear();
    wav.finish().map_err(Failure::job)?;
    beside.commit().map_err(Failure::job)
}

/// Says once a word, not once a place, what did not fit.
fn tell_compromises(sounding: &Sounding, sequence: &Sequence, voice: &str) {
    use voice::Fit;
    let told = |what: &str, matches: fn(Option<Fit>) -> bool| {
        let of_kind = sounding.compromises().iter().filter(|c| matches(c.fit));
        let mut words: Vec<&str> = of_kind.map(|c| c.word.as_str()).collect();
        let times = words.len();
        words.sort_unstable();
        words.dedup();
        if times > 0 {
            let tempo = sequence.plan().tempo();
            output::note(&format!(
                "the voice {voice} is too slow for some counts at {tempo}: {what} {times} times ({})",
                words.join(" ")
            ));
        }
    };
    told("cut short or said weakly", |fit| fit.is_some());
    told("left out", |fit| fit.is_none());
}

/// Through the loudspeakers, once.
fn play(drill: Drill, flags: &SoundFlags) -> Result<(), Failure> {
    let players = PlayerFlags { midi_in: Vec::new(), by_channel: false, latency_ms: 0.0 };
    let settings: RigSettings = super::rig_settings(&flags.sound, &players);
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
