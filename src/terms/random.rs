//! Random numbers that are the same on every machine and in every release.

/// `SplitMix64` (Steele, Lea & Flood 2014, doi 10.1145/2660193.2660195).
#[derive(Clone, Debug)]
pub struct Random(u64);

impl Random {
    /// The stream of a seed; `stream` tells independent streams of one seed apart.
    #[must_use]
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut mix = Self(seed ^ stream.wrapping_mul(0xd134_2543_de82_ef95));
        Self(mix.bits())
    }

    /// The stream that goes on from a state, as the publication writes it.
    #[must_use]
    pub const fn from_state(state: u64) -> Self {
        Self(state)
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Uniform in `[0, 1)`, to 53 bits.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in `0..end`; 0 when `end` is 0. Cutting 53 bits down biases it by at most end / 2^53.
    pub fn below(&mut self, end: usize) -> usize {
        ((self.unit() * end as f64) as usize).min(end.saturating_sub(1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stream_of_a_seed_is_the_published_one() {
        // First outputs for seed 1234567, listed by Rosetta Code ("Pseudo-random numbers/Splitmix64"; from memory).
        let mut random = Random::from_state(1_234_567);
        let first = [6_457_827_717_110_365_317_u64, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423];
        assert_eq!([random.bits(), random.bits(), random.bits()], first);
    }
}
