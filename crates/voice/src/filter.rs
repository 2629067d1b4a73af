//! Butterworth filters that do not delay: each runs forwards and then backwards over the whole sound.
//!
//! Designed in the usual way: the poles of the analogue low-pass, moved to the band wanted, and the bilinear
//! transform with its frequencies bent back (Oppenheim & Schafer, *Discrete-Time Signal Processing*, chapter 7;
//! from memory).

use std::f64::consts::PI;
use std::ops::{Add, Div, Mul, Sub};

/// First or second order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Order {
    First,
    Second,
}

/// A filter of one or two sections.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Filter {
    sections: Vec<Section>,
}

/// `(b0 + b1/z + b2/z²) / (1 + a1/z + a2/z²)`.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Section {
    b: [f64; 3],
    a: [f64; 2],
}

impl Filter {
    /// What lies between two frequencies; 3 dB down at both.
    pub(crate) fn band(order: Order, low_hz: f64, high_hz: f64, rate_hz: f64) -> Self {
        let [low, high] = [low_hz, high_hz].map(|hz| bent(hz, rate_hz));
        let (width, centre) = (high - low, (low * high).sqrt());
        // A pole of the low-pass becomes two of the band-pass.
        let moved = |pole: Complex| {
            let half = pole * Complex::real(width / 2.0);
            let root = (half * half - Complex::real(centre * centre)).sqrt();
            [half + root, half - root].map(|pole| in_z(pole, rate_hz))
        };
        let poles = match order {
            Order::First => vec![moved(Complex::real(-1.0))],
            Order::Second => moved(SECOND_ORDER_POLE).map(|pole| [pole, pole.conjugate()]).to_vec(),
        };
        let turn = 2.0 * (centre / (2.0 * rate_hz)).atan();
        Self::with_unit_gain(&poles, [1.0, 0.0, -1.0], turn)
    }

    /// What lies below a frequency; 3 dB down at it.
    pub(crate) fn low_pass(order: Order, hz: f64, rate_hz: f64) -> Self {
        let edge = Complex::real(bent(hz, rate_hz));
        match order {
            Order::First => {
                let pole = in_z(Complex::real(-1.0) * edge, rate_hz);
                Self::with_unit_gain(&[[pole, Complex::real(0.0)]], [1.0, 1.0, 0.0], 0.0)
            }
            Order::Second => {
                let pole = in_z(SECOND_ORDER_POLE * edge, rate_hz);
                Self::with_unit_gain(&[[pole, pole.conjugate()]], [1.0, 2.0, 1.0], 0.0)
            }
        }
    }

    /// Sections with these pairs of poles, all with the same zeros, scaled to gain 1 at an angle of the unit circle.
    fn with_unit_gain(poles: &[[Complex; 2]], zeros: [f64; 3], turn: f64) -> Self {
        let back = Complex { re: turn.cos(), im: -turn.sin() };
        let value = |c: [f64; 3]| {
            Complex::real(c[0]) + back * Complex::real(c[1]) + back * back * Complex::real(c[2])
        };
        let section = |&[first, second]: &[Complex; 2]| {
            let a = [-(first + second).re, (first * second).re];
            let gain = (value(zeros) / value([1.0, a[0], a[1]])).size();
            Section { b: zeros.map(|zero| zero / gain), a }
        };
        Self { sections: poles.iter().map(section).collect() }
    }

    /// Filters in place, forwards and backwards.
    pub(crate) fn run_both_ways(&self, frames: &mut [f64]) {
        for section in &self.sections {
            section.run(frames.iter_mut());
        }
        for section in &self.sections {
            section.run(frames.iter_mut().rev());
        }
    }
}

impl Section {
    fn run<'a>(&self, frames: impl Iterator<Item = &'a mut f64>) {
        let mut kept = [0.0; 2];
        for frame in frames {
            let out = self.b[0] * *frame + kept[0];
            kept = [self.b[1] * *frame - self.a[0] * out + kept[1], self.b[2] * *frame - self.a[1] * out];
            *frame = out;
        }
    }
}

/// The upper pole of the second-order Butterworth low-pass.
const SECOND_ORDER_POLE: Complex =
    Complex { re: -std::f64::consts::FRAC_1_SQRT_2, im: std::f64::consts::FRAC_1_SQRT_2 };

/// The analogue frequency that the bilinear transform brings to `hz`.
fn bent(hz: f64, rate_hz: f64) -> f64 {
    2.0 * rate_hz * (PI * hz / rate_hz).tan()
}

/// The bilinear transform of a pole.
fn in_z(pole: Complex, rate_hz: f64) -> Complex {
    let twice = Complex::real(2.0 * rate_hz);
    (twice + pole) / (twice - pole)
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Complex {
    re: f64,
    im: f64,
}

impl Complex {
    const fn real(re: f64) -> Self {
        Self { re, im: 0.0 }
    }

    const fn conjugate(self) -> Self {
        Self { re: self.re, im: -self.im }
    }

    fn size(self) -> f64 {
        self.re.hypot(self.im)
    }

    fn sqrt(self) -> Self {
        let re = f64::midpoint(self.size(), self.re).max(0.0).sqrt();
        let im = ((self.size() - self.re) / 2.0).max(0.0).sqrt();
        Self { re, im: im.copysign(self.im) }
    }
}

impl Add for Complex {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { re: self.re + other.re, im: self.im + other.im }
    }
}

impl Sub for Complex {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { re: self.re - other.re, im: self.im - other.im }
    }
}

impl Mul for Complex {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self { re: self.re * other.re - self.im * other.im, im: self.re * other.im + self.im * other.re }
    }
}

impl Div for Complex {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let scale = other.re * other.re + other.im * other.im;
        let product = self * other.conjugate();
        Self { re: product.re / scale, im: product.im / scale }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(filter: &Filter, expected: &[([f64; 3], [f64; 2])]) {
        assert_eq!(filter.sections.len(), expected.len());
        for (section, (b, a)) in filter.sections.iter().zip(expected) {
            let pairs = section.b.iter().zip(b).chain(section.a.iter().zip(a));
            for (given, expected) in pairs {
                assert!((given - expected).abs() < 1e-9 * expected.abs().max(1e-6), "{section:?}");
            }
        }
    }

    /// Computed with scipy 1.17: `butter(1, [700, 1300], "band", fs=48000)`, `butter(1, 10, fs=48000)` and
    /// `butter(2, 25, fs=48000)`.
    #[test]
    fn coefficients_are_those_of_an_independent_design() {
        check(&Filter::band(Order::First, 700.0, 1_300.0, 48_000.0), &[BAND_1]);
        check(&Filter::low_pass(Order::First, 10.0, 48_000.0), &[LOW_1]);
        check(&Filter::low_pass(Order::Second, 25.0, 48_000.0), &[LOW_2]);
    }

    /// By definition: 3 dB down at both edges once, 6 dB after both ways; nothing lost in the middle.
    #[test]
    fn a_band_is_six_decibels_down_at_its_edges_after_both_ways() {
        let rate = 48_000.0;
        for order in [Order::First, Order::Second] {
            let filter = Filter::band(order, 288.0, 909.0, rate);
            let gain = |hz: f64| {
                let mut frames: Vec<f64> =
                    (0..48_000_u32).map(|n| (2.0 * PI * hz * f64::from(n) / rate).sin()).collect();
                filter.run_both_ways(&mut frames);
                frames[20_000..28_000].iter().fold(0.0_f64, |peak, frame| peak.max(frame.abs()))
            };
            assert!((gain(288.0) - 0.5).abs() < 1e-3 && (gain(909.0) - 0.5).abs() < 1e-3);
            assert!((gain((288.0_f64 * 909.0).sqrt()) - 1.0).abs() < 1e-3);
            assert!(gain(50.0) < 0.05 && gain(6_000.0) < 0.05);
        }
    }

    const BAND_1: ([f64; 3], [f64; 2]) =
        ([0.03780475417089648, 0.0, -0.03780475417089648], [-1.9093991417714504, 0.9243904916582071]);
    const LOW_1: ([f64; 3], [f64; 2]) =
        ([0.000654070474767538, 0.000654070474767538, 0.0], [-0.998691859050465, 0.0]);
    const LOW_2: ([f64; 3], [f64; 2]) = (
        [2.6711181912305723e-06, 5.3422363824611446e-06, 2.6711181912305723e-06],
        [-1.9953720051711816, 0.9953826896439466],
    );
}
