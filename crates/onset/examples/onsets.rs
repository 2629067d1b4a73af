//! Prints where strokes begin in WAV files, in seconds, for `tests/readers/onsets.py`.
//!
//!     onsets [--beside] [--rise DB] [--range DB] [--time N] FILE...
//!
//! A line a file: the times, blanks between them. The first channel is searched; with `--beside` the second is, and
//! the first is what the loudspeaker played. `--time N` searches N times and prints the best time it took, in seconds,
//! in front.

use std::time::Instant;

use hound::{SampleFormat, WavReader};
use onset::{Settings, strokes, strokes_beside};
use timebase::SampleRate;

#[expect(clippy::print_stdout, reason = "printing is what this program is for")]
fn main() {
    let (mut beside, mut times, mut settings) = (false, 0, Settings::default());
    let mut arguments = std::env::args().skip(1);
    let number = |text: Option<String>| text.and_then(|text| text.parse().ok()).expect("a number of dB");
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--beside" => beside = true,
            "--time" => times = arguments.next().and_then(|n| n.parse().ok()).expect("--time N"),
            "--rise" => settings = settings.with_rise_db(number(arguments.next())).expect("in range"),
            "--range" => settings = settings.with_range_db(number(arguments.next())).expect("in range"),
            path => println!("{}", line(path, beside, times, &settings)),
        }
    }
}

fn line(path: &str, beside: bool, times: u32, settings: &Settings) -> String {
    let (rate, channels) = read(path);
    let search = || match &channels[..] {
        [played, recorded, ..] if beside => strokes_beside(recorded, played, rate, settings),
        [recorded, ..] => strokes(recorded, rate, settings),
        [] => Ok(Vec::new()),
    };
    let mut words = Vec::new();
    let best = (0..times).map(|_| {
        let started = Instant::now();
        std::hint::black_box(search()).expect("a recording that can be searched");
        started.elapsed()
    });
    words.extend(best.min().map(|best| best.as_secs_f64().to_string()));
    let found = search().expect("a recording that can be searched");
    words.extend(found.iter().map(|stroke| format!("{:.6}", stroke.at.moment(rate).as_secs_f64())));
    words.join(" ")
}

fn read(path: &str) -> (SampleRate, Vec<Vec<f32>>) {
    let mut reader = WavReader::open(path).unwrap_or_else(|error| panic!("{path}: {error}"));
    let spec = reader.spec();
    let samples: Vec<f32> = match spec.sample_format {
        SampleFormat::Float => reader.samples::<f32>().map(|s| s.expect("a sample")).collect(),
        SampleFormat::Int => {
            let scale = (1_u64 << (spec.bits_per_sample - 1)) as f32;
            reader.samples::<i32>().map(|s| s.expect("a sample") as f32 / scale).collect()
        }
    };
    let channels = usize::from(spec.channels);
    let channel = |index| samples.iter().skip(index).step_by(channels).copied().collect();
    (SampleRate::new(spec.sample_rate).expect("a rate"), (0..channels).map(channel).collect())
}
