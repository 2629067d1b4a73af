//! Numbers that look random and are the same every time.

/// A linear congruential generator with Knuth's constants for 64 bits (The Art of Computer Programming 2, 3.3.4, from
/// memory), its upper half used.
#[derive(Clone, Debug)]
pub(crate) struct Chance(u64);

impl Chance {
    pub(crate) fn new(seed: u64) -> Self {
        // Neighbouring seeds must not begin alike, so their bits are spread first.
        let mut chance = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ (seed >> 29));
        for _ in 0..4 {
            chance.even();
        }
        chance
    }

    /// Evenly between 0 and 1, the ends left out.
    pub(crate) fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as f64 + 0.5) / (1_u64 << 31) as f64
    }

    /// Normal, mean 0 and standard deviation 1 (Box and Muller).
    pub(crate) fn normal(&mut self) -> f64 {
        (-2.0 * self.even().ln()).sqrt() * (std::f64::consts::TAU * self.even()).cos()
    }

    /// Evenly between two ends.
    pub(crate) fn between(&mut self, least: f64, most: f64) -> f64 {
        least + (most - least) * self.even()
    }

    /// A whole number below `end`, which must not be 0.
    pub(crate) fn below(&mut self, end: usize) -> usize {
        self.even();
        usize::try_from(self.0 >> 33).unwrap_or(0) % end
    }

    /// Yes in so many of a hundred.
    pub(crate) fn percent(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    /// One of these; `None` of none.
    pub(crate) fn pick<'a, T>(&mut self, choices: &'a [T]) -> Option<&'a T> {
        if choices.is_empty() { None } else { choices.get(self.below(choices.len())) }
    }

    /// The same things in another order.
    pub(crate) fn shuffled<T>(&mut self, mut things: Vec<T>) -> Vec<T> {
        for last in (1..things.len()).rev() {
            things.swap(last, self.below(last + 1));
        }
        things
    }
}

/// The numbers of a seed as it is, for seeds that lie apart by themselves.
impl From<u64> for Chance {
    fn from(seed: u64) -> Self {
        let mut chance = Self(seed);
        chance.even();
        chance
    }
}
