//! The program's own click, found again in the channel in which it was played.

use std::ops::Range;

use onset::{Settings, strokes};
use take::Click;
use timebase::{Frames, Moment, SampleRate, Seconds};
use voice::percussion;

/// A click begins within so much of where a stroke was found.
const REACH: Seconds = Seconds::from_millis(4);
/// So much of a click is compared: a count that is said with it is soft beside its beginning.
const COMPARED: Seconds = Seconds::from_millis(12);
/// Clicks of one tempo fall on the nearest frame; under a count one may be found a period of its tone off.
const EVEN: Seconds = Seconds::from_micros(2_500);
/// So many sounds behind the first are tried for the second of the row.
const ROW: usize = 8;
/// One click in so many may be covered by a count.
const COVERED: usize = 4;
/// What correlates with a click at least so well is one: a count that is said with it leaves 0.37 or more, the count alone comes to 0.1, a clap to 0.5.
const ALIKE: f64 = 0.25;

/// The clicks in the channel `model`, in order of time. A count, or a clap between the beats, is none.
///
/// # Errors
/// If the recording is too long to be searched.
pub(crate) fn heard(model: &[f32], rate: SampleRate) -> Result<Vec<Click>, onset::Error> {
    let found = strokes(model, rate, &Settings::default())?;
    let compared = count(COMPARED, rate);
    let forms = [false, true].map(|accented| {
        let click = percussion::click(accented, rate);
        (accented, click.sample.data().iter().copied().take(compared).collect::<Vec<f32>>())
    });
    let reach = count(REACH, rate);
    let mut heard: Vec<[Match; 2]> = Vec::new();
    for stroke in found {
        let Ok(at) = usize::try_from(stroke.at.index()) else { continue };
        let places = at.saturating_sub(reach)..(at + reach).min(model.len());
        let each =
            forms.each_ref().map(|(accented, form)| Match::best(model, places.clone(), form, *accented));
        if let [Some(plain), Some(accented)] = each
            && plain.alike.max(accented.alike) >= ALIKE
        {
            heard.push([plain, accented]);
        }
    }
    let gain = usual_gain(&heard);
    let mut clicks: Vec<Click> = heard
        .iter()
        .map(|[plain, accented]| {
            let best = if accented.explains(gain) > plain.explains(gain) { accented } else { plain };
            let frame = timebase::Frame::new(i64::try_from(best.place).unwrap_or(i64::MAX));
            Click { at: frame.moment(rate), accented: best.accented }
        })
        .collect();
    clicks.sort_by_key(|click| click.at);
    clicks.dedup_by_key(|click| click.at);
    Ok(even(&clicks).unwrap_or(clicks))
}

/// Where count 1 of bar 1 is by the click: the second accented one, for one bar is counted in unless a call says otherwise.
pub(crate) fn bar_one(clicks: &[Click]) -> Option<Moment> {
    clicks.iter().filter(|click| click.accented).nth(1).map(|click| click.at)
}

/// How that is told.
pub(crate) fn bar_one_in_words(at: Moment) -> String {
    format!(
        "count 1 of bar 1 is taken to be the second accented click, at {:.3} s: one bar counted in; --start-ms says otherwise",
        at.as_secs_f64()
    )
}

/// A click where it fits a sound best.
#[derive(Clone, Copy, Debug)]
struct Match {
    accented: bool,
    place: usize,
    /// How alike they are, whatever the level.
    alike: f64,
    /// The product of the two, and of the click with itself.
    product: f64,
    power: f64,
}

impl Match {
    fn best(model: &[f32], places: Range<usize>, form: &[f32], accented: bool) -> Option<Self> {
        // A tone that dies away is as alike to itself a period later, only softer: it begins where it is loudest.
        let place = places
            .max_by(|&one, &other| level(&model[one..], form).total_cmp(&level(&model[other..], form)))?;
        let sound = &model[place..];
        let (alike, product) = (correlation(sound, form), level(sound, form));
        Some(Self { accented, place, alike, product, power: level(form, form) })
    }

    /// How much of a sound this click explains if it is so loud: half of what it takes from the sound's power. A count said
    /// with a click may look more like the other click than like none; but that one would be louder or softer.
    fn explains(&self, gain: f64) -> f64 {
        gain * self.product - gain * gain * self.power / 2.0
    }
}

/// How loud the clicks are against what they are made as: the median of those that are plainly clicks.
fn usual_gain(heard: &[[Match; 2]]) -> f64 {
    let better =
        |[plain, accented]: &[Match; 2]| if accented.alike > plain.alike { *accented } else { *plain };
    let mut gains: Vec<f64> =
        heard.iter().map(better).filter(|found| found.alike >= 0.5).map(|f| f.product / f.power).collect();
    gains.sort_unstable_by(f64::total_cmp);
    gains.get(gains.len() / 2).copied().unwrap_or(1.0)
}

/// Those that make the closest even row from the first to the end; claps that sound like clicks fall between them, for
/// none is in the count-in. A click that a count covers stands where the row has it, accented where the others' accents
/// say so. `None` where there is no such row: at a changing tempo.
fn even(clicks: &[Click]) -> Option<Vec<Click>> {
    let (first, last) = (clicks.first()?, clicks.last()?);
    let intervals = clicks.iter().skip(1).take(ROW).map(|click| click.at - first.at);
    intervals.filter(|interval| *interval > EVEN).find_map(|interval| {
        let mut row = vec![*first];
        let (mut next, mut covered) = (first.at + interval, Vec::new());
        while next <= last.at + EVEN {
            let near = clicks.partition_point(|click| click.at < next - EVEN);
            let found = clicks.get(near).filter(|click| click.at <= next + EVEN);
            if found.is_none() {
                covered.push(row.len());
            }
            let click = found.copied().unwrap_or(Click { at: next, accented: false });
            row.push(click);
            next = click.at + interval;
        }
        accent(&mut row, &covered);
        // A row that leaves out more than it has is that of the accents, where too many of the others are covered.
        let left_out = (clicks.len() + covered.len()).saturating_sub(row.len());
        (covered.len() * COVERED <= row.len() && left_out <= row.len()).then_some(row)
    })
}

/// Accents the covered clicks of a row that stand as far from the first accented one as accents do from each other.
fn accent(row: &mut [Click], covered: &[usize]) {
    let accented: Vec<usize> = (0..row.len()).filter(|&index| row[index].accented).collect();
    let Some(every) = accented.windows(2).map(|pair| pair[1] - pair[0]).min() else { return };
    for &index in covered {
        row[index].accented = index.abs_diff(accented[0]) % every == 0;
    }
}

/// Whether they are equally far apart, so that none is missing and none too many.
pub(crate) fn are_even(clicks: &[Click]) -> bool {
    let apart = |pair: &[Click]| pair[1].at - pair[0].at;
    let mut intervals = clicks.windows(2).map(apart);
    intervals.next().is_some_and(|first| intervals.all(|interval| (interval - first).abs() <= EVEN))
}

/// How alike the beginning of `sound` is to `form`, whatever its level: 1 where it is the same.
fn correlation(sound: &[f32], form: &[f32]) -> f64 {
    let (mut product, mut sounds, mut forms) = (0.0, f64::MIN_POSITIVE, f64::MIN_POSITIVE);
    for (&sound, &form) in sound.iter().zip(form) {
        let (sound, form) = (f64::from(sound), f64::from(form));
        product += sound * form;
        sounds += sound * sound;
        forms += form * form;
    }
    product / (sounds * forms).sqrt()
}

/// How loud `form` is in the beginning of `sound`, against what it is itself.
fn level(sound: &[f32], form: &[f32]) -> f64 {
    sound.iter().zip(form).map(|(&sound, &form)| f64::from(sound) * f64::from(form)).sum()
}

fn count(length: Seconds, rate: SampleRate) -> usize {
    usize::try_from(Frames::of(length, rate).count()).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use timebase::Moment;

    use super::*;

    #[test]
    fn a_click_that_a_count_covers_is_told_by_the_others() {
        let row = |covered: &[i64]| -> Vec<Click> {
            let places = (0..16).filter(|place| !covered.contains(place));
            let at = |place| Moment::ZERO + Seconds::from_millis(600 * place);
            places.map(|place| Click { at: at(place), accented: place % 4 == 0 }).collect()
        };
        // The accented one of the first bar, after the bar that is counted in.
        assert_eq!(even(&row(&[4])), Some(row(&[])));
        assert_eq!(even(&row(&[6])), Some(row(&[])));
        assert_eq!(even(&row(&[5, 6, 9, 11])), Some(row(&[])));
        assert_eq!(even(&row(&[2, 5, 6, 9, 11])), None, "and no row of the accents instead");
    }

    #[test]
    fn clicks_are_found_to_the_frame_and_their_accents_are_told() {
        for hz in [44_100, 48_000] {
            let rate = SampleRate::new(hz).expect("in range");
            let unit = usize::try_from(hz).expect("small") / 100;
            let mut model = vec![0.0_f32; 300 * unit];
            let beats = [(50, true), (100, false), (150, false), (200, true)];
            for (at, accented) in beats {
                for (place, sample) in
                    model[at * unit..].iter_mut().zip(percussion::click(accented, rate).sample.data())
                {
                    *place += 0.5 * sample;
                }
            }
            for (place, sample) in model[230 * unit..].iter_mut().zip(percussion::clap(rate).sample.data()) {
                *place += sample;
            }
            let found = heard(&model, rate).expect("short");
            let expected = beats.map(|(at, accented)| Click {
                at: Moment::ZERO + Frames::new(i64::try_from(at * unit).expect("small")).seconds(rate),
                accented,
            });
            assert_eq!(found, expected);
        }
    }
}
