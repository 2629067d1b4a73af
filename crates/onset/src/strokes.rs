use timebase::{SampleRate, Seconds};

use crate::bands::{Bands, Lens, frames};
use crate::limits::RECORDING_SECONDS;
use crate::place::Placer;
use crate::rise::{Floors, rises};
use crate::{Error, Settings, Stroke, leak};

/// A rise must be the greatest within so much to either side.
const ALONE: Seconds = Seconds::from_millis(10);
/// A restless recording asks for more: the rises about this long to either side, on average, are added to what a
/// stroke must rise by.
const RESTLESS: Seconds = Seconds::from_millis(150);
/// Strokes themselves make a recording no more restless than this, in dB.
const MOST_RESTLESS_DB: f32 = 3.0;
/// A stroke reaches its strength within so much …
const STRENGTH: Seconds = Seconds::from_micros(7_500);
/// … and is compared with what was so long before.
const AGO: [Seconds; 2] = [Seconds::from_millis(7), Seconds::from_millis(15)];
/// One stroke in ten is louder than the loud strokes that the others are compared with.
const LOUD_SHARE: f64 = 0.9;
/// Within so much of the loud strokes, in dB, half the rise is enough: out of the sound of the stroke before it a
/// flam's second cannot rise far, and no syllable is so loud up there.
const NEAR_LOUD_DB: f64 = 10.0;
/// A noise this much softer that comes shortly before a stroke is no stroke and does not hide it, in dB.
const TAKES_OVER_DB: f64 = 12.0;

/// The strokes in a recording, in order of time, no two closer than [`Settings::retrigger`].
///
/// `samples` are one channel, nominally within ±1; what is no number counts as silence. A recording may be empty. The
/// player may count aloud. A loudspeaker that clicks is taken for a player: see [`strokes_beside`].
///
/// # Errors
/// Longer than [`RECORDING_SECONDS`].
pub fn strokes(samples: &[f32], rate: SampleRate, settings: &Settings) -> Result<Vec<Stroke>, Error> {
    check_length(samples, rate)?;
    let lens = Lens::new(rate);
    let bands = lens.look(samples);
    let floors = Floors::of(&bands, &lens, rate);
    let rises = rises(&bands, &floors, &lens, rate);
    Ok(found(&rises, &bands, Placer::new(samples, None, rate), &lens, rate, settings))
}

/// The strokes in a recording in which a loudspeaker is heard that played `reference`, such as click and count:
/// what is only the loudspeaker is no stroke, and a stroke together with a click is one.
///
/// Both are one channel at the same rate and begin together; the shorter is silent at its end. The loudspeaker may be
/// heard up to 300 ms later than it was played, or up to 50 ms earlier, softer or louder and through a room; how late and how loud is found out
/// from the two. Where nothing of the reference is heard, this is [`strokes`].
///
/// A stroke softer than the click it falls on is lost. A `reference` that is the player's own recording explains it
/// all, and no stroke is left.
///
/// # Errors
/// One of them longer than [`RECORDING_SECONDS`].
pub fn strokes_beside(
    samples: &[f32],
    reference: &[f32],
    rate: SampleRate,
    settings: &Settings,
) -> Result<Vec<Stroke>, Error> {
    check_length(samples, rate)?;
    check_length(reference, rate)?;
    let lens = Lens::new(rate);
    let mut bands = lens.look(samples);
    // What is quiet is asked before anything is taken out: nothing left is no quiet room.
    let floors = Floors::of(&bands, &lens, rate);
    let mut heard = leak::heard(samples, reference, rate);
    if let Some(heard) = &mut heard {
        leak::take_out(&mut bands, heard, &lens, rate);
    }
    let rises = rises(&bands, &floors, &lens, rate);
    let placer = Placer::new(samples, heard.as_ref().map(|heard| &heard.plain[..]), rate);
    Ok(found(&rises, &bands, placer, &lens, rate, settings))
}

fn check_length(samples: &[f32], rate: SampleRate) -> Result<(), Error> {
    let hz = usize::try_from(rate.hz()).unwrap_or(usize::MAX);
    let seconds = i64::try_from(samples.len().div_ceil(hz)).unwrap_or(i64::MAX);
    if RECORDING_SECONDS.holds(seconds) {
        Ok(())
    } else {
        Err(Error::TooLong { given: seconds, limit: RECORDING_SECONDS })
    }
}

/// A step at which a stroke may be seen.
struct Candidate {
    step: usize,
    /// Whether it rises by all that is asked, and not only by half.
    rises: bool,
    /// What came in the bright bands, in dB.
    strength_db: f64,
}

fn found(
    rises: &[f32],
    bands: &Bands,
    mut placer: Placer<'_>,
    lens: &Lens,
    rate: SampleRate,
    settings: &Settings,
) -> Vec<Stroke> {
    let mut candidates: Vec<Candidate> = peaks(rises, lens, rate, settings)
        .into_iter()
        .map(|(step, rises)| Candidate { step, rises, strength_db: strength_db(bands, step, lens, rate) })
        .collect();
    let loud = loud_db(&candidates);
    let softest =
        |rises| loud - if rises { settings.range_db() } else { NEAR_LOUD_DB.min(settings.range_db()) };
    candidates.retain(|candidate| candidate.strength_db >= softest(candidate.rises));
    let strokes = candidates.iter().map(|candidate| placer.stroke(candidate.step * lens.step)).collect();
    apart(strokes, frames(settings.retrigger(), rate))
}

/// The steps that rise by at least half of what is asked and more than their neighbours, and whether by all of it.
fn peaks(rises: &[f32], lens: &Lens, rate: SampleRate, settings: &Settings) -> Vec<(usize, bool)> {
    let alone = lens.steps(ALONE, rate);
    let about = lens.steps(RESTLESS, rate);
    let least = crate::bands::narrow(settings.rise_db());
    let restless = |step: usize| rises.get(step).map_or(0.0, |rise| rise.min(MOST_RESTLESS_DB));
    // A sum that moves along: what comes in at one end and goes out at the other.
    let mut sum: f32 = (0..about).map(restless).sum();
    let mut peaks = Vec::new();
    for (step, &rise) in rises.iter().enumerate() {
        sum += restless(step + about);
        if let Some(gone) = step.checked_sub(about + 1) {
            sum -= restless(gone);
        }
        let before = &rises[step.saturating_sub(alone)..step];
        let behind = &rises[step + 1..(step + 1 + alone).min(rises.len())];
        let clear = rise - sum / (2 * about + 1) as f32;
        if clear >= 0.5 * least
            && before.iter().all(|&other| other < rise)
            && behind.iter().all(|&other| other <= rise)
        {
            peaks.push((step, clear >= least));
        }
    }
    peaks
}

/// The energy in the bright bands that a stroke brings, in dB below full scale.
fn strength_db(bands: &Bands, step: usize, lens: &Lens, rate: SampleRate) -> f64 {
    let bright = |step: usize| bands.at(step).iter().skip(lens.bright).sum::<f32>();
    let greatest = |steps: std::ops::RangeInclusive<usize>| steps.map(bright).fold(0.0, f32::max);
    let [near, far] = AGO.map(|ago| lens.steps(ago, rate));
    let now = greatest(step..=step + lens.steps(STRENGTH, rate));
    let before = if step < near { 0.0 } else { greatest(step.saturating_sub(far)..=step - near) };
    10.0 * f64::from((now - before).max(f32::MIN_POSITIVE)).log10()
}

/// How strong the loud ones are, of those that rise by all that is asked.
fn loud_db(candidates: &[Candidate]) -> f64 {
    let mut strengths: Vec<f64> = candidates
        .iter()
        .filter(|candidate| candidate.rises)
        .map(|candidate| candidate.strength_db)
        .collect();
    strengths.sort_by(f64::total_cmp);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index of a list")]
    let place = (strengths.len().saturating_sub(1) as f64 * LOUD_SHARE) as usize;
    strengths.get(place).copied().unwrap_or(f64::INFINITY)
}

/// The strokes without those that follow another within `retrigger` frames.
fn apart(mut strokes: Vec<Stroke>, retrigger: usize) -> Vec<Stroke> {
    let retrigger = i64::try_from(retrigger).unwrap_or(i64::MAX);
    strokes.sort_by_key(|stroke| stroke.at);
    let mut kept: Vec<Stroke> = Vec::with_capacity(strokes.len());
    for stroke in strokes {
        match kept.last_mut() {
            Some(last) if (stroke.at - last.at).count() < retrigger => {
                if stroke.peak_dbfs >= last.peak_dbfs + TAKES_OVER_DB {
                    *last = stroke;
                }
            }
            _ => kept.push(stroke),
        }
    }
    kept
}
