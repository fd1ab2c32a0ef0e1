//! Random numbers for randomised checks: seeded, so that a failure can be run again.

/// SplitMix64 (Steele, Lea and Flood 2014): one number of state, good enough to pick places.
#[derive(Clone, Debug)]
pub struct Seeded(u64);

impl Seeded {
    /// The sequence of a seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A whole number below `end`; the bias of the remainder does not matter here.
    #[allow(dead_code)] // Each test file compiles its own copy of this module.
    pub fn below(&mut self, end: usize) -> usize {
        (self.bits() % end as u64) as usize
    }

    /// A standard normal number, by Box and Muller's formula.
    #[allow(dead_code)] // Each test file compiles its own copy of this module.
    pub fn normal(&mut self) -> f64 {
        let unit = |bits: u64| ((bits >> 11) as f64 + 0.5) / (1_u64 << 53) as f64;
        let (u, v) = (unit(self.bits()), unit(self.bits()));
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}
