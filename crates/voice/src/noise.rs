/// Noise that is the same every time: Marsaglia's xorshift (Journal of Statistical Software 8:14, 2003).
pub(crate) struct Noise(u64);

impl Noise {
    pub(crate) const fn new() -> Self {
        Self(0x9E37_79B9_7F4A_7C15)
    }

    /// The next value, from −1 to 1.
    pub(crate) fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 as f64 / (u64::MAX as f64) * 2.0 - 1.0
    }
}
