//! What is entered about a course and its tape, and what is taken when it is not.

use super::class::{TapeAccuracy, TapeMaterial};

/// Half-width of a peg's placement at the mark, m: a finger's width either way (common practice,
/// no source).
pub const DEFAULT_PEG_PLACEMENT_M: f64 = 0.01;
/// Half-width of the mark between two layings, m (common practice, no source).
pub const DEFAULT_JOIN_M: f64 = 0.003;
/// Half-width of the tape's temperature where it was read, °C (common practice, no source).
pub const DEFAULT_TEMPERATURE_HALF_WIDTH_C: f64 = 2.0;
/// Half-width of the tape's temperature where nobody looked, °C: 5 °C to 35 °C (our choice).
pub const UNREAD_TEMPERATURE_HALF_WIDTH_C: f64 = 15.0;
/// Half-width of a tension read off a spring balance, N (common practice, no source).
pub const DEFAULT_TENSION_HALF_WIDTH_N: f64 = 10.0;
/// Half-width of a tension pulled by feel, N (common practice, no source).
pub const UNREAD_TENSION_HALF_WIDTH_N: f64 = 25.0;
/// Elastic modulus of steel, GPa: 29e6 lb/in², as taught for surveying.
pub const STEEL_MODULUS_GPA: f64 = 200.0;
/// Half-width of the tape's mass per metre, as a share (common practice, no source).
pub const MASS_HALF_WIDTH_SHARE: f64 = 0.05;
/// How far the sections may miss the nominal length, m.
pub const SECTIONS_TOLERANCE_M: f64 = 0.05;

/// A tape and how it was laid.
#[derive(Debug, Clone, PartialEq)]
pub struct TapeSpec {
    /// How well the tape is known.
    pub accuracy: TapeAccuracy,
    /// Length of the tape itself, m, if stated; a section may not be longer.
    pub tape_length_m: Option<f64>,
    /// (length it says, length it truly has) at the reference conditions, m, from a comparison.
    pub standard_length_m: Option<(f64, f64)>,
    /// What it is made of.
    pub material: TapeMaterial,
    /// Linear expansion per °C; that of steel if not given and the material is steel or unstated.
    pub expansion_per_c: Option<f64>,
    /// Half-width of the expansion per °C.
    pub expansion_half_width_per_c: Option<f64>,
    /// Temperature of the tape, °C.
    pub temperature_c: Option<f64>,
    /// Half-width of that temperature, °C.
    pub temperature_half_width_c: Option<f64>,
    /// Temperature the tape is right at, °C (20 by 2014/32/EU, annex X, unless marked).
    pub reference_temperature_c: f64,
    /// Tension it was pulled with, N.
    pub tension_n: Option<f64>,
    /// Half-width of that tension, N.
    pub tension_half_width_n: Option<f64>,
    /// Tension the tape is right at, N (50 by 2014/32/EU, annex X, unless marked).
    pub reference_tension_n: f64,
    /// Cross-section of the blade, mm².
    pub cross_section_mm2: Option<f64>,
    /// Elastic modulus of the blade, GPa.
    pub elastic_modulus_gpa: f64,
    /// Mass per metre, kg; needed only for hanging spans.
    pub mass_kg_per_m: Option<f64>,
    /// Lengths that hung free between their ends, m; all else lay on the ground.
    pub hanging_spans_m: Vec<f64>,
    /// Half-width of each mark between two layings, m.
    pub join_half_width_m: f64,
}

impl Default for TapeSpec {
    fn default() -> Self {
        Self {
            accuracy: TapeAccuracy::Unstated,
            tape_length_m: None,
            standard_length_m: None,
            material: TapeMaterial::Unstated,
            expansion_per_c: None,
            expansion_half_width_per_c: None,
            temperature_c: None,
            temperature_half_width_c: None,
            reference_temperature_c: 20.0,
            tension_n: None,
            tension_half_width_n: None,
            reference_tension_n: 50.0,
            cross_section_mm2: None,
            elastic_modulus_gpa: STEEL_MODULUS_GPA,
            mass_kg_per_m: None,
            hanging_spans_m: Vec::new(),
            join_half_width_m: DEFAULT_JOIN_M,
        }
    }
}

/// A course and how it was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct CourseSpec {
    /// What the course is meant to be, m.
    pub nominal_m: f64,
    /// Reading of each laying of the tape, m; empty means one laying of the nominal length.
    pub sections_m: Vec<f64>,
    /// Height of the finish peg over the start peg, m.
    pub height_difference_m: Option<f64>,
    /// Its standard uncertainty, m.
    pub height_difference_u_m: f64,
    /// Half-width of a peg's placement at its mark, m, each end.
    pub peg_placement_m: f64,
    /// The tape it is measured with.
    pub tape: TapeSpec,
}

impl CourseSpec {
    /// A course of this length, all else at its default.
    #[must_use]
    pub fn new(nominal_m: f64) -> Self {
        Self {
            nominal_m,
            sections_m: Vec::new(),
            height_difference_m: None,
            height_difference_u_m: 0.05,
            peg_placement_m: DEFAULT_PEG_PLACEMENT_M,
            tape: TapeSpec::default(),
        }
    }

    /// The layings there were: the sections, or the nominal length at once.
    pub(super) fn layings_m(&self) -> Vec<f64> {
        if self.sections_m.is_empty() { vec![self.nominal_m] } else { self.sections_m.clone() }
    }
}
