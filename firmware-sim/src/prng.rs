//! The simulator's own random numbers: seeded, small, and the same for ever.
//!
//! A library's generator may change its stream with a new version, and every frozen capture and
//! every seed written in a failing test would then mean something else. Each part of the
//! simulator draws from a stream of its own, so that switching one fault on does not change the
//! noise of everything else. The generator is xoshiro256++ of Blackman and Vigna (2019), seeded
//! through SplitMix64 as its authors advise; the mathematical functions come from `libm`, so the
//! numbers do not depend on the platform.

/// A stream of random numbers.
#[derive(Clone, Debug)]
pub(crate) struct Prng {
    state: [u64; 4],
    spare_normal: Option<f64>,
}

/// The next number of the SplitMix64 sequence.
fn split_mix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

impl Prng {
    /// The stream named `stream` of the seed.
    pub(crate) fn new(seed: u64, stream: &str) -> Self {
        // FNV-1a turns the name into a number; any fixed hash would do.
        let name = stream.bytes().fold(0xCBF2_9CE4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3)
        });
        let mut mixer = seed;
        let mut mixer = split_mix(&mut mixer) ^ name;
        let state = std::array::from_fn(|_| split_mix(&mut mixer));
        Self { state, spare_normal: None }
    }

    /// 64 random bits.
    pub(crate) fn bits(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let shifted = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= shifted;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Uniform in `[0, 1)`.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in `[-half_width, half_width)`.
    pub(crate) fn within(&mut self, half_width: f64) -> f64 {
        half_width * (2.0 * self.unit() - 1.0)
    }

    /// True with the given probability.
    pub(crate) fn chance(&mut self, probability: f64) -> bool {
        probability > 0.0 && self.unit() < probability
    }

    /// Standard normal, by Marsaglia's polar method.
    pub(crate) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare_normal.take() {
            return spare;
        }
        loop {
            let (u, v) = (self.within(1.0), self.within(1.0));
            let q = u * u + v * v;
            if q > 0.0 && q < 1.0 {
                let scale = libm::sqrt(-2.0 * libm::log(q) / q);
                self.spare_normal = Some(v * scale);
                return u * scale;
            }
        }
    }
}

/// First-order Gauss-Markov process of unit variance: noise that forgets itself exponentially.
#[derive(Clone, Debug)]
pub(crate) struct Markov {
    value: f64,
}

impl Markov {
    /// Starts in the stationary distribution.
    pub(crate) fn new(random: &mut Prng) -> Self {
        Self { value: random.normal() }
    }

    /// Moves on by `step`, in the same unit as `constant`, and returns the new value.
    pub(crate) fn advance(&mut self, step: f64, constant: f64, random: &mut Prng) -> f64 {
        let keep = if constant > 0.0 { libm::exp(-step / constant) } else { 0.0 };
        self.value = keep * self.value + libm::sqrt(1.0 - keep * keep) * random.normal();
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::{Markov, Prng};

    #[test]
    fn the_stream_is_the_same_for_ever() {
        // Frozen from the first run: a change here changes the meaning of every seed.
        let mut random = Prng::new(1, "frozen");
        let drawn: Vec<u64> = (0..3).map(|_| random.bits()).collect();
        assert_eq!(drawn, FROZEN);
    }

    const FROZEN: [u64; 3] =
        [4_019_738_389_182_424_987, 7_190_812_419_857_189_495, 10_582_936_950_190_444_044];

    #[test]
    fn split_mix_agrees_with_its_reference_values() {
        // Published with java.util.SplittableRandom and repeated on Rosetta Code for the
        // seed 1234567 (from memory).
        let mut state = 1_234_567;
        assert_eq!(super::split_mix(&mut state), 6_457_827_717_110_365_317);
        assert_eq!(super::split_mix(&mut state), 3_203_168_211_198_807_973);
    }

    #[test]
    fn normal_variates_have_the_moments_of_the_normal_distribution() {
        let mut random = Prng::new(7, "moments");
        let drawn: Vec<f64> = (0..100_000).map(|_| random.normal()).collect();
        let mean = drawn.iter().sum::<f64>() / 1e5;
        let second = drawn.iter().map(|x| x * x).sum::<f64>() / 1e5;
        let fourth = drawn.iter().map(|x| x.powi(4)).sum::<f64>() / 1e5;
        // Four standard errors each: 1, sqrt 2 and sqrt 96 over the root of the sample size.
        assert!(mean.abs() < 0.0127, "mean {mean}");
        assert!((second - 1.0).abs() < 0.018, "second moment {second}");
        assert!((fourth - 3.0).abs() < 0.124, "fourth moment {fourth}");
    }

    #[test]
    fn a_markov_process_forgets_by_its_constant() {
        let mut random = Prng::new(8, "markov");
        let mut process = Markov::new(&mut random);
        let values: Vec<f64> =
            (0..200_000).map(|_| process.advance(1.0, 10.0, &mut random)).collect();
        let lagged =
            |lag: usize| values.iter().zip(&values[lag..]).map(|(a, b)| a * b).sum::<f64>() / 2e5;
        assert!((lagged(0) - 1.0).abs() < 0.05, "variance {}", lagged(0));
        // After one constant the correlation is 1/e.
        assert!((lagged(10) - 0.3679).abs() < 0.05, "correlation {}", lagged(10));
    }
}
