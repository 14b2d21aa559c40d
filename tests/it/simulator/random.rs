//! Draws for a simulated lake, from the library's seeded generator, so that it is the same on every machine.

use shoalwright::terms::random::Random as Bits;

/// Draws of a seed.
pub(crate) struct Random(Bits);

impl Random {
    pub(crate) fn seeded(seed: u64) -> Self {
        Self(Bits::from_state(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5eed))
    }

    /// Even between two numbers.
    pub(crate) fn even(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.0.unit()
    }

    /// Below `n`, which is above zero.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        self.0.below(n)
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
