//! `countline write`: a rhythm made of a take.

use std::fmt::Write as _;
use std::path::Path;

use exchange::quantise::{Free, Grid, Quantised, Settings, Tap, Timing, Vocabulary, quantise};
use rhythm::{Bar, Meter, Rhythm};
use take::json::{self, WriteFile};
use take::midi::{MidiGrid, read_grid};
use take::{Player, Role, Stroke, Take, write_beside};
use timebase::{Moment, Ratio, Seconds, Tempo, TempoMap};

use super::judge::{TakeFile, bpm_of_clicks};
use super::{recording, write_counting};
use crate::failure::Failure;
use crate::flags::{EndsFlag, WriteFlags};
use crate::output;

/// A bar at least so sure is not told of by itself.
const SURE: f64 = 0.95;

pub(crate) fn run(flags: &WriteFlags) -> Result<(), Failure> {
    match (&flags.from_counting, &flags.from_take) {
        (Some(path), _) => write_counting::run(path, flags),
        (None, Some(take)) => from_take(take, flags),
        (None, None) => Err(Failure::Call(
            "nothing is given to write down: give --from-take TAKE (a MIDI file, a take folder or a WAV recording) or \
             --from-counting FILE (written counting)"
                .to_owned(),
        )),
    }
}

/// Reads the strokes of a take and writes the rhythm they are.
fn from_take(take: &Path, flags: &WriteFlags) -> Result<(), Failure> {
    let vocabulary = match &flags.taught {
        Some(list) => Vocabulary::parse(list).map_err(super::call)?,
        None => Vocabulary::default(),
    };
    let settings = Settings {
        vocabulary,
        ends: match flags.ends {
            EndsFlag::AsPlayed => exchange::quantise::Ends::AsPlayed,
            EndsFlag::Next => exchange::quantise::Ends::NextAttack,
            EndsFlag::Beat => exchange::quantise::Ends::Beat,
        },
        title: flags.title.clone(),
        ..Settings::default()
    };
    let meter = flags.meter.as_deref().map(meter).transpose()?;
    let file = take;
    let take = super::judge::read(file)?;
    if let Some(assumed) = &take.assumed {
        output::note(&assumed.channels);
    }
    let player = player(&take, flags.player.as_deref())?;
    let taps = taps(player);
    let (quantised, source) = best(&taps, timings(flags, file, &take, meter)?, &settings)?;
    let text = rhythm::text::write(&quantised.rhythm);
    if let Some(out) = &flags.out {
        let text = if flags.alternatives { text.clone() + &alternatives(&quantised) } else { text.clone() };
        write_beside(out, text.as_bytes()).map_err(Failure::job)?;
    }
    if flags.json {
        return output::print(&json::text(&form(&quantised, text, player)));
    }
    if flags.out.is_none() {
        output::print(&if flags.alternatives { text + &alternatives(&quantised) } else { text })?;
    }
    output::note(&certainty(&quantised, source, flags.alternatives));
    Ok(())
}

/// A meter as it is written in rhythm text.
pub(super) fn meter(text: &str) -> Result<Meter, Failure> {
    let reading = rhythm::text::read(&format!("meter: {text}\n| (1) |"));
    match reading.rhythm.filter(|_| !text.contains(['\n', '#'])) {
        Some(rhythm) => Ok(rhythm.bars()[0].meter()),
        None => {
            let why = reading.diagnostics.first().map_or_else(
                || "a meter is written 4/4, 6/8, `6/8 in 6`".to_owned(),
                |diagnostic| format!("{}; {}", diagnostic.message, diagnostic.help),
            );
            Err(Failure::Call(format!("\"{text}\" is not a meter: {why}")))
        }
    }
}

/// Whose strokes are written down.
fn player<'a>(take: &'a TakeFile, label: Option<&str>) -> Result<&'a Player, Failure> {
    let players = &take.midi.players;
    let names =
        || players.iter().map(|player| format!("\"{}\"", player.label)).collect::<Vec<_>>().join(", ");
    if let Some(label) = label {
        let found = players.iter().find(|player| player.label.eq_ignore_ascii_case(label));
        return found.ok_or_else(|| {
            Failure::Call(format!("nobody in this take is called \"{label}\": there are {}", names()))
        });
    }
    let mut playing =
        players.iter().filter(|player| player.strokes.iter().any(|stroke| stroke.role == Role::Attack));
    match (playing.next(), playing.next()) {
        (Some(player), None) => Ok(player),
        (None, _) => {
            Err(Failure::Job("nobody struck anything in this take: tap the exercise in first".to_owned()))
        }
        _ => {
            Err(Failure::Call(format!("several play in this take: choose one with --player, of {}", names())))
        }
    }
}

fn taps(player: &Player) -> Vec<Tap> {
    let tap =
        |stroke: &Stroke| Tap { at: stroke.at, released: stroke.released, velocity: Some(stroke.velocity) };
    player.strokes.iter().filter(|stroke| stroke.role == Role::Attack).map(tap).collect()
}

/// Where the beat is from, for the person who reads it.
type Source = &'static str;

const FROM_CLICK: Source = "as the click went";
const FROM_FILE: Source = "as the file says";
const FOUND: Source = "as it was found";

/// What may be known of the beat; of several the one under which the strokes are likeliest is taken.
fn timings(
    flags: &WriteFlags,
    file: &Path,
    take: &TakeFile,
    meter: Option<Meter>,
) -> Result<Vec<(Timing, Source)>, Failure> {
    let free = |tempo: Option<Ratio<u32>>| {
        let beat = meter.unwrap_or(Meter::COMMON).felt_beat();
        let tempo = tempo.map(|bpm| Tempo::new(beat, bpm)).transpose().map_err(super::call)?;
        // With a tempo but no meter, the beat of the tempo is the quarter.
        let meter = meter.or(tempo.map(|_| Meter::COMMON));
        Ok::<_, Failure>((Timing::Free(Free { tempo, meter }), FOUND))
    };
    if flags.free {
        return Ok(vec![free(flags.tempo)?]);
    }
    let start = flags.start_ms.map(|ms| Moment::ZERO + Seconds::from_millis_f64(ms));
    let grid = file_grid(file)?;
    // A file that says its meters says more than its clicks do, which are all beats of one tempo to who reads them.
    let says_all = |grid: &MidiGrid| grid.says_meter && meter.is_none() && flags.tempo.is_none();
    if !grid.as_ref().is_some_and(says_all)
        && let Some((tempo, bar_one, its_meter)) = clicked(flags, file, take, meter)?
    {
        let grid = Grid::new(TempoMap::constant(tempo), start.unwrap_or(bar_one), its_meter);
        return Ok(vec![(Timing::Known(grid), FROM_CLICK)]);
    }
    let Some(grid) = grid else { return Ok(vec![free(flags.tempo)?]) };
    if flags.tempo.is_some() && start.is_none() {
        return Ok(vec![free(flags.tempo)?]);
    }
    let tempo = match flags.tempo {
        Some(bpm) => TempoMap::constant(
            Tempo::new(grid.tempo.tempo_at(timebase::Position::ZERO).beat(), bpm).map_err(super::call)?,
        ),
        None => grid.tempo,
    };
    let meters = meter.map_or(grid.meters, |meter| vec![(1, meter)]);
    let known = Grid::new(tempo, start.unwrap_or(grid.bar_one), meters[0].1)
        .with_meters(meters)
        .map_err(Failure::job)?;
    let known = (Timing::Known(known), FROM_FILE);
    // A file that says no meter may have been played without regard to its bars.
    Ok(if grid.says_meter || start.is_some() { vec![known] } else { vec![known, free(None)?] })
}

/// Tempo, count 1 and meter of a take with a click.
fn clicked(
    flags: &WriteFlags,
    file: &Path,
    take: &TakeFile,
    meter: Option<Meter>,
) -> Result<Option<(Tempo, Moment, Meter)>, Failure> {
    let Some(first) = take.midi.clicks.first() else { return Ok(None) };
    let meter = match meter {
        Some(meter) => meter,
        None => drilled(file)?.unwrap_or(Meter::COMMON),
    };
    let bpm = flags.tempo.or_else(|| bpm_of_clicks(take, meter.felt_beat(), meter.felt_beat()));
    let Some(bpm) = bpm else {
        return Err(Failure::Job(
            "this take has a single click, which tells no tempo: give it with --tempo".to_owned(),
        ));
    };
    let accented = take.midi.clicks.iter().find(|click| click.accented).unwrap_or(first);
    let bar_one = take.midi.bar_one.unwrap_or(accented.at);
    Ok(Some((Tempo::new(meter.felt_beat(), bpm).map_err(super::call)?, bar_one, meter)))
}

/// The meter of the rhythm that a take's folder says was drilled.
fn drilled(path: &Path) -> Result<Option<Meter>, Failure> {
    if !path.is_dir() {
        return Ok(None);
    }
    let take = Take::open(path).map_err(Failure::job)?;
    let rhythm = rhythm::text::read(&take.header().rhythm).rhythm;
    Ok(rhythm.and_then(|rhythm| rhythm.bars().iter().find(|bar| !bar.is_pickup()).map(Bar::meter)))
}

/// What the MIDI file says of its own bars.
fn file_grid(path: &Path) -> Result<Option<MidiGrid>, Failure> {
    if path.is_dir() || recording::is_wav(path) {
        return Ok(None);
    }
    let bytes = std::fs::read(path).map_err(|error| Failure::file("read", path, &error))?;
    read_grid(&bytes).map_err(|error| Failure::Job(format!("{}: {error}", path.display())))
}

fn best(
    taps: &[Tap],
    timings: Vec<(Timing, Source)>,
    settings: &Settings,
) -> Result<(Quantised, Source), Failure> {
    let mut best: Option<(Quantised, Source)> = None;
    let mut failed = None;
    for (timing, source) in timings {
        match quantise(taps, &timing, settings) {
            Ok(quantised) => {
                if best.as_ref().is_none_or(|(before, _)| quantised.evidence > before.evidence) {
                    best = Some((quantised, source));
                }
            }
            Err(error) => failed = Some(error),
        }
    }
    best.ok_or_else(|| failed.map_or(Failure::Told, Failure::job))
}

/// The text of one bar without its bar lines.
fn bar_text(bar: &Bar) -> String {
    // A bar that goes on from the one before is written behind a note, which is then taken away again.
    let alone = |bar: Bar| Rhythm::new(None, None, vec![bar], Vec::new()).ok();
    let events = bar.events().iter().map(|event| match (event.deed, event.at == bar.start()) {
        (rhythm::Deed::Hold, true) => rhythm::Event { deed: rhythm::Deed::Attack, ..*event },
        _ => *event,
    });
    let held = bar.events().first().is_some_and(|event| event.deed == rhythm::Deed::Hold);
    let number = u32::from(!bar.is_pickup());
    let Ok(again) = Bar::cut(number, bar.meter(), bar.form(), events.collect()) else { return String::new() };
    let Some(rhythm) = alone(again) else { return String::new() };
    let text = rhythm::text::write(&rhythm);
    let body: Vec<&str> = text.lines().skip_while(|line| !line.is_empty()).collect();
    let body = body.join(" ");
    let body = body.trim().trim_matches('|').trim();
    if held { format!("_{body}") } else { body.to_owned() }
}

fn percent(probability: f64) -> String {
    // Nothing is told as certain that is not.
    let percent = 100.0 * probability;
    if percent > 99.5 && probability < 0.9999 { "over 99 %".to_owned() } else { format!("{percent:.0} %") }
}

fn name(bar: &Bar) -> String {
    if bar.is_pickup() { "pickup".to_owned() } else { format!("bar {}", bar.number()) }
}

/// The alternatives of the bars that have some, as comments behind the rhythm.
fn alternatives(quantised: &Quantised) -> String {
    let mut text = String::new();
    for (bar, sure) in quantised.rhythm.bars().iter().zip(&quantised.bars) {
        for (other, probability) in &sure.alternatives {
            let _ = writeln!(text, "# {}, {}: | {} |", name(bar), percent(*probability), bar_text(other));
        }
    }
    if text.is_empty() { text } else { format!("\n# What else it may be:\n{text}") }
}

/// What a person wants to know: where the beat is from, and which bars to look at.
fn certainty(quantised: &Quantised, source: Source, all: bool) -> String {
    let meter = quantised.rhythm.bars()[quantised.rhythm.bars().len() - 1].meter();
    let mut text = format!("{meter}, {} {source}", quantised.tempo);
    if let Some(sure) = quantised.count_one {
        let _ = write!(text, " (count 1 and meter {})", percent(sure));
    }
    let _ = write!(text, "; spread {:.0} ms", quantised.spread.as_millis_f64());
    if let Some(bias) = quantised.bias.map(Seconds::as_millis_f64).filter(|bias| bias.abs() >= 0.5) {
        let side = if bias < 0.0 { "before" } else { "behind" };
        let _ = write!(text, ", {:.0} ms {side} the beat on the whole", bias.abs());
    }
    for (bar, sure) in quantised.rhythm.bars().iter().zip(&quantised.bars) {
        let _ = write!(text, "\n{}: {}", name(bar), percent(sure.probability));
        let unsure = all || sure.probability < SURE;
        for (other, probability) in sure.alternatives.iter().filter(|_| unsure) {
            let _ = write!(text, "; {} | {} |", percent(*probability), bar_text(other));
        }
    }
    if !quantised.left_out.is_empty() {
        let at: Vec<String> = quantised.left_out.iter().map(|at| at.since_zero().to_string()).collect();
        let _ = write!(text, "\nnot written: strokes at {}", at.join(", "));
    }
    text
}

fn form(quantised: &Quantised, text: String, player: &Player) -> WriteFile {
    let form = WriteFile::new(text, player.label.clone(), quantised.spread, &quantised.left_out)
        .with_beat(quantised.bias, quantised.count_one);
    quantised.rhythm.bars().iter().zip(&quantised.bars).fold(form, |form, (bar, sure)| {
        let others = sure.alternatives.iter().map(|(other, probability)| (bar_text(other), *probability));
        form.with_bar(bar.number(), sure.probability, others.collect())
    })
}
