//! Making a drill ready: its sound, its take, who plays.

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;

use counting::TimedCount;
use input::{Input, PlayerId, Replay};
use sequencer::{Sounding, Sounds, sequence};
use take::{Drilled, Header, Recorder, SoundNote};
use timebase::{Frames, Moment, Tempo};
use voice::VoicePack;

use super::{Attendance, EARLIEST, Run};
use crate::asked::Asked;
use crate::course::Course;
use crate::place;
use crate::sound::SoundNow;
use crate::take_sound::TakeSound;
use crate::{Drill, Error, Latency, Measured, Planned, Recorded};

/// What sounds first, what is asked, and what the take's header says of it.
struct Laid {
    sounding: Sounding,
    asked: VecDeque<Asked>,
    course: Option<Course>,
    start: Moment,
    end: Moment,
    header: Header,
}

impl Run {
    /// Makes the sound, that of pads too where `drums` are to sound, and begins the take.
    pub(crate) fn prepare(
        drill: Drill,
        sound: &SoundNow,
        measured: &Measured,
        input: &Input,
        drums: bool,
    ) -> Result<Self, Error> {
        let latency = match drill.latency {
            Some(all) => Latency { all, ..Latency::default() },
            None => measured.latency(&sound.at()),
        };
        let mut pack = take::voices::open(&drill.voice)?;
        if pack.rate() != sound.rate {
            pack = pack.at_rate(sound.rate)?;
        }
        let note = sound_note(sound, measured, &latency);
        let laid = match &drill.planned {
            Some(planned) => Laid::of_plan(planned, &pack, note, drums)?,
            None => Laid::once(&drill, &pack, note, drums)?,
        };
        let Drill { levels, settings, take, names, replay, .. } = drill;
        let (labels, replays) = who_plays(input, &names, replay);
        let mut run = Self {
            asked: laid.asked,
            course: laid.course,
            follower: None,
            judged: Arc::new([]),
            start: laid.start,
            end: laid.end,
            sound: TakeSound::new(&laid.sounding, levels)?,
            sounding: laid.sounding,
            levels,
            settings,
            latency,
            latency_of: HashMap::new(),
            microphone: None,
            zero: None,
            judgings: 0,
            waiting: Vec::new(),
            labels,
            attendance: Attendance::default(),
            wild: Vec::new(),
            recent: VecDeque::new(),
            names,
            recorded: HashMap::new(),
            replays,
            recorder: take.map(|dir| Recorder::begin(&dir, laid.header)).transpose()?,
            loudest: 0.0,
            recorded_length: Frames::ZERO,
            disturbances: 0,
            disturbed_since: None,
        };
        let players = input.players();
        run.attendance.begin(&players);
        for index in 0..run.asked.len() {
            run.seat(index, &players)?;
        }
        // Who will play is shown while the count-in, and a call before the first response, is heard.
        run.judged = run.asked.front().map_or_else(|| Arc::new([]), Asked::states);
        Ok(run)
    }
}

impl Laid {
    fn once(drill: &Drill, pack: &VoicePack, note: SoundNote, drums: bool) -> Result<Self, Error> {
        let line = counting::count_in(&drill.rhythm, &drill.system, &counting::Settings::default());
        let sequence = sequence(&drill.rhythm, &line, &drill.plan);
        let sounds = Sounds::of_sequence(&sequence, pack);
        let sounds = if drums { sounds.with_drums() } else { sounds };
        let sounding = sounds.lower(&sequence)?;
        let mut header = Header::of(&drill.rhythm, &sequence, note, &place::now());
        header.bar_one = sounding.bar_one().moment(sounding.rate());
        let counts: Arc<[TimedCount]> = sequence.counts().into();
        let tempo = sequence.tempo();
        let start = tempo.moment_at(sequence.performance().start());
        Ok(Self {
            asked: [Asked::whole(counts, start - EARLIEST)].into(),
            course: None,
            start,
            end: tempo.moment_at(sequence.end()),
            header,
            sounding,
        })
    }

    fn of_plan(planned: &Planned, pack: &VoicePack, note: SoundNote, drums: bool) -> Result<Self, Error> {
        let sounds = Sounds::of_drill(&planned.drill, pack)?;
        let sounds = if drums { sounds.with_drums() } else { sounds };
        let (course, sounding, asked) = Course::begin(planned.clone(), sounds)?;
        let bar_one = sounding.bar_one().moment(sounding.rate());
        let start = course.first_sound();
        let header = header(planned, course.first_tempo(), bar_one, note);
        // Where the last round ends is known when it is made ready.
        Ok(Self { asked: asked.into(), course: Some(course), start, end: start, header, sounding })
    }
}

fn header(planned: &Planned, tempo: Tempo, bar_one: Moment, note: SoundNote) -> Header {
    let rhythms = planned.drill.rhythms().iter().map(|material| material.rhythm());
    let first = rhythms.clone().next();
    let plan = planned.drill.plan();
    Header {
        title: planned.title.clone().or_else(|| first.and_then(|rhythm| rhythm.title()).map(str::to_owned)),
        rhythm: first.map(rhythm::text::write).unwrap_or_default(),
        tempo,
        count_in_bars: plan.count_in.bars,
        recorded_at: place::now(),
        bar_one,
        clicks: Vec::new(),
        players: Vec::new(),
        sound: note,
        drill: Some(Drilled {
            rhythms: rhythms.map(rhythm::text::write).collect(),
            players: plan.turns.players.clone(),
            rounds: Vec::new(),
        }),
    }
}

fn sound_note(sound: &SoundNow, measured: &Measured, latency: &Latency) -> SoundNote {
    let mut note = SoundNote { output: Some(sound.name.clone()), ..SoundNote::new(sound.rate) };
    note.input.clone_from(&sound.microphone);
    if let Some(name) = &sound.microphone {
        note.input_latency = measured.loop_late(&sound.at(), name);
    }
    note.latency_from = (!latency.from.is_empty()).then(|| latency.from.clone());
    note
}

/// A recorded player, the way in, and how much of it was sent.
type Replayed = (Recorded, Replay, usize);

/// What players are called here, and the recorded ones beside them.
fn who_plays(
    input: &Input,
    names: &[(String, String)],
    replay: Vec<Recorded>,
) -> (HashMap<PlayerId, String>, Vec<Replayed>) {
    let mut labels: HashMap<PlayerId, String> = input
        .players()
        .all()
        .iter()
        .filter_map(|player| Some((player.id, called(names, &player.label())?)))
        .collect();
    let replays = replay
        .into_iter()
        .map(|recorded| {
            let known = input.players().all().len();
            let source = input.replay(&recorded.label);
            if let Some(player) = input.players().all().get(known) {
                labels.insert(player.id, recorded.label.clone());
            }
            (recorded, source, 0)
        })
        .collect();
    (labels, replays)
}

/// What a player is called in this drill, if it is not the usual.
pub(super) fn called(names: &[(String, String)], label: &str) -> Option<String> {
    names.iter().find(|(pad, _)| pad == label).map(|(_, code)| code.clone())
}
