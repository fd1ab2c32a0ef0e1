//! What a tape may be off by.

/// Accuracy class of a tape by Directive 2014/32/EU, annex X (MI-008), chapter I.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TapeClass {
    /// ± (0.1 + 0.1·L) mm.
    I,
    /// ± (0.3 + 0.2·L) mm.
    II,
    /// ± (0.6 + 0.4·L) mm.
    III,
}

impl TapeClass {
    /// Maximum permissible error between two marks this far apart: ± (a + b·L) mm with L in
    /// metres, rounded **up** to the next whole metre (annex X, chapter I, "accuracy").
    #[must_use]
    pub fn limit_of_error_m(self, length_m: f64) -> f64 {
        let (fixed_mm, mm_per_m) = match self {
            Self::I => (0.1, 0.1),
            Self::II => (0.3, 0.2),
            Self::III => (0.6, 0.4),
        };
        // A sum of sections can come out a hair above a whole metre; that is not another metre.
        let whole_m = (length_m - 1e-9).ceil();
        (fixed_mm + mm_per_m * whole_m) / 1000.0
    }

    /// The numeral printed on the tape.
    #[must_use]
    pub fn numeral(self) -> &'static str {
        match self {
            Self::I => "I",
            Self::II => "II",
            Self::III => "III",
        }
    }
}

/// How well the tape is known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum TapeAccuracy {
    /// By the class printed on it.
    Class(TapeClass),
    /// The accuracy that a certificate states.
    Certificate {
        /// Standard uncertainty of the tape, m: half of the expanded one if that was stated with
        /// k = 2.
        standard_uncertainty_m: f64,
        /// The length the certificate is for, m. Shorter layings get their share of the
        /// uncertainty; without it each laying is taken to have all of it.
        certified_length_m: Option<f64>,
    },
    /// Nothing is known: class III is assumed, and said to be.
    #[default]
    Unstated,
}

/// What the tape is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TapeMaterial {
    /// Carbon steel, the usual tape.
    Steel,
    /// Glass-fibre reinforced plastic: no published coefficient is relied on, so that without one a
    /// range is taken.
    Fibreglass,
    /// Anything else: the same.
    Other,
    /// Not stated: the coefficient of steel is taken, with all of itself as its uncertainty.
    #[default]
    Unstated,
}

/// Linear expansion of steel tapes, per °C: 11.6e-6, the value taught for surveying (6.45e-6 per
/// °F).
pub const STEEL_EXPANSION_PER_C: f64 = 11.6e-6;

/// Half-width of that coefficient among carbon steels, per °C (common practice, no source).
pub const STEEL_EXPANSION_HALF_WIDTH_PER_C: f64 = 0.5e-6;
