//! A small seeded generator, so that a simulated lake is the same on every machine and with every release.

/// `SplitMix64` (Steele, Lea and Flood 2014).
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn seeded(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5eed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Even between two numbers.
    pub(crate) fn even(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Below `n`, which is above zero.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        (self.even(0.0, n as f64) as usize).min(n - 1)
    }

    pub(crate) fn chance(&mut self, p: f64) -> bool {
        self.even(0.0, 1.0) < p
    }

    /// Normal about zero (Box and Muller 1958).
    pub(crate) fn normal(&mut self, sd: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.even(0.0, 1.0)).ln()).sqrt();
        sd * radius * self.even(0.0, std::f64::consts::TAU).cos()
    }
}
