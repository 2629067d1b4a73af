use timebase::{SampleRate, Seconds};

use crate::bands::{Bands, Lens};

/// The quiet of a band is taken from pieces of this length.
const PIECE: Seconds = Seconds::from_millis(400);
/// A quarter of a piece is quieter than its quiet.
const QUIET_SHARE: f64 = 0.25;
/// A piece's quiet is the least of its own and of so many to either side: a room does not change faster.
const PIECES_BESIDE: usize = 2;
/// What noise does about its quarter: it is twice as strong on average, and now and then four times that.
const ABOVE_QUIET: f32 = 8.0;
/// Nothing is quieter than this under the loudest of its band, or than full scale by 110 dB: a recording may be
/// digital silence between strokes, and any rounding would then be a rise.
const LEAST_OF_LOUDEST: f32 = 1e-6;
const LEAST: f32 = 1e-11;
/// A step is compared with the greatest of the looks this long before. Nearer ones share its sound.
const BEFORE: [Seconds; 2] = [Seconds::from_millis(5), Seconds::from_millis(15)];
/// More than this in one band does not count for more, in dB: a stroke rises in many bands.
const MOST_DB: f64 = 20.0;
/// How much a band below [`crate::bands::BRIGHT_HZ`] counts beside one above.
const LOW_WEIGHT: f32 = 0.5;

/// By how many dB each step rises out of what was before, on average over the bands.
pub(crate) fn rises(bands: &Bands, floors: &Floors, lens: &Lens, rate: SampleRate) -> Vec<f32> {
    let steps = bands.steps();
    let [near, far] = BEFORE.map(|before| lens.steps(before, rate));
    let weights: Vec<f32> =
        (0..lens.count()).map(|band| if band < lens.bright { LOW_WEIGHT } else { 1.0 }).collect();
    let weight: f32 = weights.iter().sum::<f32>().max(f32::MIN_POSITIVE);
    // The levels of the last looks, in a ring: one row a look. Before the recording there was quiet.
    let mut ring = vec![0.0_f32; (far + 1) * lens.count()];
    let most = crate::bands::narrow(MOST_DB);
    let mut rises = Vec::with_capacity(steps);
    for step in 0..steps {
        let floor = floors.at(step);
        let row = (step % (far + 1)) * lens.count();
        let mut sum = 0.0;
        for (band, (&energy, &floor)) in bands.at(step).iter().zip(floor).enumerate() {
            let level = 10.0 * (1.0 + energy / floor).log10();
            let before = (near..=far)
                .filter(|before| *before <= step)
                .map(|before| ring[((step - before) % (far + 1)) * lens.count() + band])
                .fold(0.0, f32::max);
            ring[row + band] = level;
            sum += weights[band] * (level - before).clamp(0.0, most);
        }
        rises.push(sum / weight);
    }
    rises
}

/// How quiet each band is when nothing happens, piece by piece.
pub(crate) struct Floors {
    steps_a_piece: usize,
    count: usize,
    energy: Vec<f32>,
}

impl Floors {
    pub(crate) fn of(bands: &Bands, lens: &Lens, rate: SampleRate) -> Self {
        let (steps_a_piece, count) = (lens.steps(PIECE, rate), lens.count());
        let pieces = bands.steps().div_ceil(steps_a_piece);
        let mut quiet = Vec::with_capacity(pieces * count);
        let mut loudest = vec![0.0_f32; count];
        let mut column = Vec::with_capacity(steps_a_piece);
        for piece in 0..pieces {
            let steps = piece * steps_a_piece..((piece + 1) * steps_a_piece).min(bands.steps());
            for (band, loudest) in loudest.iter_mut().enumerate() {
                column.clear();
                column.extend(steps.clone().map(|step| bands.at(step)[band]));
                *loudest = column.iter().copied().fold(*loudest, f32::max);
                quiet.push(quarter(&mut column));
            }
        }
        let energy = (0..pieces)
            .flat_map(|piece| {
                let about = piece.saturating_sub(PIECES_BESIDE)..(piece + PIECES_BESIDE + 1).min(pieces);
                let (quiet, loudest) = (&quiet, &loudest);
                (0..count).map(move |band| {
                    let least = about.clone().map(|p| quiet[p * count + band]).fold(f32::INFINITY, f32::min);
                    (least * ABOVE_QUIET).max(loudest[band] * LEAST_OF_LOUDEST).max(LEAST)
                })
            })
            .collect();
        Self { steps_a_piece, count, energy }
    }

    fn at(&self, step: usize) -> &[f32] {
        let piece = step / self.steps_a_piece;
        self.energy.get(piece * self.count..(piece + 1) * self.count).unwrap_or(&[])
    }
}

/// The value that a quarter of the others lie below.
fn quarter(values: &mut [f32]) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of a small number")]
    let place = ((values.len() - 1) as f64 * QUIET_SHARE) as usize;
    *values.select_nth_unstable_by(place, f32::total_cmp).1
}
