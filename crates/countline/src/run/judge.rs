//! `countline judge`: a take held against its rhythm.

use std::path::Path;

use counting::TimedCount;
use engrave::svg::{self, SvgOptions};
use engrave::{Engraving, Layout, Scene, engrave};
use judge::{Delay, Finding, FindingKind, Judgement, Settings, Split, TempoOf};
use live::stored::{StoredPlayer, gathered};
use picture::{PictureOptions, Player, Row, Timeline};
use rhythm::Rhythm;
use sequencer::{Plan, Sequence, sequence};
use take::json::JudgeFile;
use take::limits::MIDI_BYTES;
use take::midi::{MidiTake, read_take};
use take::{Take, write_beside};
use timebase::{Moment, Ratio, Seconds, Span, Tempo};

use super::clicks;
use super::judge_paper::{self, Page};
use super::recording::{self, Assumed};
use super::report;
use super::strokes::Strokes;
use super::teacher::{self, Judged};
use crate::failure::Failure;
use crate::flags::JudgeFlags;
use crate::{output, rhythm_file, rubric_file};

/// Staff spaces across the picture of a take: two or three bars of eighths, so that the pins have room.
const PAGE_WIDTH: f64 = 120.0;

/// A take to be judged, whatever kind of file it was in.
pub(crate) struct TakeFile {
    pub(crate) midi: MidiTake,
    /// The tempo it was recorded at, where that is known.
    pub(crate) tempo: Option<Tempo>,
    /// What had to be assumed, where it is a recording.
    pub(crate) assumed: Option<Assumed>,
    /// The players whose latency was known and taken out when it was recorded.
    pub(crate) calibrated: Vec<String>,
    /// What the coarsest of its stamps are worth, where that is known.
    pub(crate) resolution: Option<Seconds>,
    /// The take's folder, where it is one.
    pub(crate) take: Option<Take>,
}

impl TakeFile {
    /// What is struck together in a MIDI file of anybody's is one attack, as it is live. Takes of ours say so themselves.
    fn gather(&mut self, counts: &[TimedCount]) {
        if self.take.is_none() && self.assumed.is_none() {
            for player in &mut self.midi.players {
                let on_keys = self.midi.on_keys.contains(&player.label);
                *player = gathered(player, on_keys, counts);
            }
        }
    }

    /// Everybody in it, with all that is known of them.
    fn players(&self) -> Vec<StoredPlayer<'_>> {
        match &self.take {
            Some(take) => StoredPlayer::all(take),
            None => self.midi.players.iter().map(StoredPlayer::of).collect(),
        }
    }
}

pub(crate) fn run(flags: &JudgeFlags) -> Result<(), Failure> {
    let settings = super::tolerance(flags.tolerance_ms)?;
    let settings = if flags.no_click { settings.with_tempo_of(TempoOf::Player) } else { settings };
    if super::planned::is_plan(&flags.file) {
        return super::judge_drill::run(flags, &settings);
    }
    let rhythm = rhythm_file::read(&flags.file, flags.part.as_deref())?;
    let rubric = flags.teacher.rubric.as_deref().map(rubric_file::read).transpose()?;
    let mut take = match flags.channel {
        Some(_) if !recording::is_wav(&flags.take) => {
            let take = flags.take.display();
            return Err(Failure::Call(format!("{take} is no WAV file: leave --channel away")));
        }
        Some(channel) => recording::read(&flags.take, Some(channel))?,
        None => read(&flags.take)?,
    };
    let strokes = Strokes::of(&flags.teacher, rubric.as_ref(), &take)?;
    let plan = match flags.tempo.or_else(|| tempo_of(&take, &rhythm)) {
        Some(bpm) => Plan::of(&rhythm).beginning_at(bpm, &rhythm).map_err(super::call)?,
        None => Plan::of(&rhythm),
    };
    let line = counting::count(&rhythm);
    let sequence = sequence(&rhythm, &line, &plan);
    let counts = sequence.counts();
    take.gather(counts);
    let Begins { bar_one, settings, said: begins } = Begins::of(flags, &take, counts, &strokes, settings);
    let resolution = take.resolution.unwrap_or(Split::DEFAULT_RESOLUTION);
    let mut players = Vec::new();
    for player in take.players() {
        let label = player.label();
        let own = rubric.as_ref().and_then(|rubric| rubric.tolerance(label));
        let settings = own.map_or(Ok(settings), |own| settings.with_tolerance(own)).map_err(super::call)?;
        let settings =
            if strokes.is_calibrated(label) { settings.with_delay(Delay::TakenOff) } else { settings };
        let played = strokes.played(&player, bar_one);
        players.push(Judged {
            label,
            tolerance: settings.tolerance(),
            calibrated: strokes.is_calibrated(label),
            judgement: player.judged(counts, &played, bar_one, settings),
        });
    }
    if let ([player], TempoOf::Written) = (&mut players[..], settings.tempo_of()) {
        of_a_found_start(player);
    }
    let said = teacher::said(flags, rubric.as_ref(), &mut players)?;
    let judged: Vec<(&str, &Judgement)> =
        players.iter().map(|player| (player.label, &player.judgement)).collect();
    if let Some(out) = &flags.svg {
        picture(out, &rhythm, &sequence, &judged)?;
    }
    if let Some(out) = &flags.paper.pdf {
        if out.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("svg")) {
            let out = out.display();
            return Err(Failure::Call(format!(
                "{out} ends in .svg, but --pdf writes PDF: name it so, or give --svg"
            )));
        }
        let about = format!("{}, tolerance {}", plan.tempo(), tolerances(&players, &settings));
        judge_paper::write(
            out,
            &flags.paper,
            &Page {
                rhythm: &rhythm,
                sequence: &sequence,
                judged: &judged,
                about: &about,
                findings: flags.findings,
            },
        )?;
    }
    let channels = take.assumed.as_ref().map(|assumed| assumed.channels.clone());
    let assumed: String = channels.into_iter().chain(begins).map(|said| said + "\n").collect();
    if flags.json {
        if !assumed.is_empty() {
            output::note(assumed.trim_end());
        }
        output::print_json(&JudgeFile::at_resolution(judged, bar_one, resolution).with_teacher(said.form()))
    } else {
        let title = rhythm.title().map_or_else(String::new, |title| format!("{title}, "));
        let tolerance = tolerances(&players, &settings);
        let head = format!("{title}{}, tolerance {tolerance}\n{assumed}\n", plan.tempo());
        output::print(&(head + &report::report(counts, &judged, flags.findings, resolution) + &said.text()))
    }
}

/// Where count 1 of bar 1 lies, and how the players are then judged.
struct Begins {
    bar_one: Moment,
    settings: Settings,
    /// How that is known, where neither the call nor the file says it.
    said: Option<String>,
}

impl Begins {
    /// As the call or the file says it, else by the click that was counted in with, else where the strokes fit the rhythm best.
    fn of(
        flags: &JudgeFlags,
        take: &TakeFile,
        counts: &[TimedCount],
        strokes: &Strokes<'_>,
        settings: Settings,
    ) -> Self {
        let known = |bar_one, said| Self { bar_one, settings, said };
        if let Some(ms) = flags.start_ms {
            return known(Moment::ZERO + Seconds::from_millis_f64(ms), None);
        }
        if let Some(bar_one) = take.midi.bar_one {
            let said = take.assumed.as_ref().and_then(|assumed| assumed.bar_one.clone());
            return known(bar_one, said.filter(|_| !flags.no_click));
        }
        if flags.no_click {
            return known(Moment::ZERO, None);
        }
        // With a pickup nobody knows which accent is that of bar 1.
        let begins_with_bar_one = counts.first().is_none_or(|count| count.id.bar > 0);
        if let Some(second) = clicks::bar_one(&take.midi.clicks).filter(|_| begins_with_bar_one) {
            return known(second, Some(clicks::bar_one_in_words(second)));
        }
        let settings = settings.with_tempo_of(TempoOf::Written);
        let begins = take.players().into_iter().filter_map(|player| {
            let settings = player.settings(settings);
            judge::beginning(counts, &strokes.played(&player, Moment::ZERO), &settings)
        });
        let mut begins: Vec<Moment> = begins.collect();
        begins.sort_unstable();
        // Of several players, who began with the most of them.
        let bar_one = begins.get(begins.len().saturating_sub(1) / 2).copied().unwrap_or(Moment::ZERO);
        let said = format!(
            "where bar 1 lies against the click is not known: the strokes fit best with its count 1 at {:.3} s, and nothing is said of \
             a distance from the click; --start-ms says where it is",
            bar_one.as_secs_f64()
        );
        Self { bar_one, settings, said: Some(said) }
    }
}

/// Where count 1 of bar 1 was only found by the player's own strokes, he came neither early nor late by beats.
fn of_a_found_start(player: &mut Judged<'_>) {
    let findings = player.judgement.findings().iter();
    let of_the_start =
        |finding: &&Finding| matches!(finding.kind, FindingKind::PhraseEarly | FindingKind::PhraseLate);
    let findings = findings.filter(|finding| !of_the_start(finding)).cloned().collect();
    player.judgement = player.judgement.clone().with_findings(findings);
}

/// The tolerance that all were judged with, or that each had one of their own.
fn tolerances(players: &[Judged<'_>], settings: &Settings) -> String {
    let first = players.first().map_or(settings.tolerance(), |player| player.tolerance);
    if players.iter().all(|player| player.tolerance == first) {
        format!("±{:.0} ms", first.as_millis_f64())
    } else {
        "as the rubric has it for each player".to_owned()
    }
}

/// Says so where the times of a take run backwards.
pub(crate) fn tell_what_runs_backwards(take: &Take) {
    let (strokes, was) = match take.running_backwards() {
        0 => return,
        1 => ("1 stroke stands".to_owned(), "it was"),
        many => (format!("{many} strokes stand"), "they were"),
    };
    output::note(&format!(
        "{}: the times of the take run backwards: {strokes} in it a second or more after a later one of the same player, as where a clock \
         is set back or the file was changed; {was} judged in order of time",
        take.folder().journal().display()
    ));
}

/// The take at `path`: a MIDI file, a take folder or a recording.
pub(crate) fn read(path: &Path) -> Result<TakeFile, Failure> {
    if path.is_dir() {
        let take = Take::open(path).map_err(Failure::job)?;
        if take.header().drill.is_some() {
            return Err(Failure::Job(format!(
                "the take {} is of a drill plan, its rounds each at a tempo of their own: judge it with the plan, `countline judge \
                 PLAN.drill TAKE`",
                path.display()
            )));
        }
        tell_what_runs_backwards(&take);
        let known = take.header().players.iter().filter(|player| player.latency.is_some());
        let calibrated = known.map(|player| player.label.clone()).collect();
        return Ok(TakeFile {
            midi: take.midi(),
            tempo: Some(take.header().tempo),
            calibrated,
            resolution: take.header().players.iter().filter_map(|player| player.resolution).max(),
            assumed: None,
            take: Some(take),
        });
    }
    if recording::is_wav(path) {
        return recording::read(path, None);
    }
    let file = std::fs::metadata(path).map_err(|error| Failure::file("read", path, &error))?;
    if file.is_file() && file.len() == 0 {
        return Err(Failure::Job(format!(
            "{} is empty: choose a Standard MIDI file, a take folder or a WAV file",
            path.display()
        )));
    }
    if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("wav")) {
        return Err(Failure::Job(format!(
            "{} is no WAV file, whatever its name says: it does not begin as one (RIFF, WAVE). Export the recording as WAV, 16-bit PCM",
            path.display()
        )));
    }
    if i64::try_from(file.len()).is_ok_and(|bytes| bytes < MIDI_BYTES.least) {
        return Err(Failure::Job(format!(
            "{} has {} bytes, fewer than any MIDI file: choose a Standard MIDI file, a take folder or a WAV file",
            path.display(),
            file.len()
        )));
    }
    if !MIDI_BYTES.holds(i64::try_from(file.len()).unwrap_or(i64::MAX)) {
        return Err(Failure::Job(format!(
            "{} has {} bytes: a take has at most {}. Is this the right file?",
            path.display(),
            file.len(),
            MIDI_BYTES.most
        )));
    }
    let bytes = std::fs::read(path).map_err(|error| Failure::file("read", path, &error))?;
    let midi = read_take(&bytes).map_err(|error| Failure::Job(format!("{}: {error}", path.display())))?;
    Ok(TakeFile { midi, tempo: None, assumed: None, calibrated: Vec::new(), resolution: None, take: None })
}

/// The tempo a take was played at, in the rhythm's own beats: as its folder says, else as its click ran.
pub(crate) fn tempo_of(take: &TakeFile, rhythm: &Rhythm) -> Option<Ratio<u32>> {
    let beat = rhythm.tempo().beat();
    if let Some(tempo) = take.tempo.filter(|tempo| tempo.beat() == beat) {
        return Some(tempo.bpm());
    }
    let felt = rhythm.bars()[0].meter().felt_beat();
    let steady =
        rhythm.bars().iter().all(|bar| bar.tempo_mark().is_none() && bar.meter().felt_beat() == felt);
    if !steady {
        return None;
    }
    bpm_of_clicks(take, felt, beat)
}

/// How many beats a minute a click in felt beats ran, each as long as `beat`; `None` with less than two clicks.
pub(crate) fn bpm_of_clicks(take: &TakeFile, felt: Span, beat: Span) -> Option<Ratio<u32>> {
    let (first, last) = (take.midi.clicks.first()?, take.midi.clicks.last()?);
    let intervals = i64::try_from(take.midi.clicks.len()).ok()?.checked_sub(1).filter(|n| *n > 0)?;
    let nanos = i128::from((last.at - first.at).as_nanos());
    // Thousandths of a beat a minute: 60 s over the click's interval, in the tempo's beats.
    let share = felt.in_units_of(beat);
    let numerator = 60_000_000_000_000 * i128::from(intervals) * i128::from(*share.numer());
    let denominator = nanos.checked_mul(i128::from(*share.denom())).filter(|n| *n > 0)?;
    let thousandths = u32::try_from((2 * numerator + denominator) / (2 * denominator)).ok()?;
    let bpm = Ratio::new(thousandths, 1_000);
    // A click written in whole ticks is right to some thousandths: the round number next to it is meant.
    let tenths = Ratio::new((thousandths + 50) / 100, 10);
    let difference = if bpm > tenths { bpm - tenths } else { tenths - bpm };
    Some(if difference <= Ratio::new(5, 1_000) { tenths } else { bpm })
}

/// A rhythm with the players' rows under its staff.
pub(super) struct Drawn {
    pub(super) engraving: Engraving,
    pub(super) rows: Vec<Row>,
    pub(super) scene: Scene,
}

/// Draws the players' rows under the staff: the whole rhythm, repeats written out.
pub(super) fn drawn(
    rhythm: &Rhythm,
    sequence: &Sequence,
    judged: &[(&str, &Judgement)],
    page: Layout,
) -> Result<Drawn, Failure> {
    let players: Vec<Player<'_>> =
        judged.iter().map(|(label, judgement)| Player { label, judgement }).collect();
    let together: Vec<&Judgement> = judged.iter().map(|(_, judgement)| *judgement).collect();
    let spreads = picture::spreads(&judge::section(&together));
    let options = PictureOptions::default();
    // What has to be kept free depends on the rows' heads only; where their marks stand, on the engraving.
    let heads: Vec<Row> = players
        .iter()
        .map(|player| Row {
            label: player.label.to_owned(),
            bias_ms: player.judgement.sums().bias.map(Seconds::as_millis_f64),
            ..Row::default()
        })
        .collect();
    let layout = picture::layout(page, &heads, !spreads.is_empty());
    let engraving = engrave(rhythm, &counting::count(rhythm), &layout).map_err(Failure::job)?;
    let rows = picture::rows(&players, options.against, &Timeline::new(&engraving, sequence.tempo()));
    let scene = picture::picture(&engraving, &rows, &spreads, &options).map_err(Failure::job)?;
    Ok(Drawn { engraving, rows, scene })
}

/// The picture as SVG.
fn picture(
    out: &Path,
    rhythm: &Rhythm,
    sequence: &Sequence,
    judged: &[(&str, &Judgement)],
) -> Result<(), Failure> {
    let page = Layout { width: PAGE_WIDTH, ..Layout::default() };
    let scene = drawn(rhythm, sequence, judged, page)?.scene;
    let title = rhythm.title().unwrap_or("A rhythm").to_owned();
    let description = "The written rhythm with its counting, and under it a row a player: a pin at every written \
                       attack, its bead to the left where the attack fell early, to the right where it fell late."
        .to_owned();
    let svg = svg::write(&scene, &SvgOptions { title, description, ..SvgOptions::default() });
    write_beside(out, svg.as_bytes()).map_err(Failure::job)
}
