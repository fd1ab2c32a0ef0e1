//! The length of the course, by tape.
//!
//! The tape is laid along the ground in one or more sections, and the wheel rolls along the same
//! slope: the length wanted is the **slope** length, and no slope correction belongs to it. Only a
//! satellite's horizontal distance needs one, which is why the horizontal length is calculated as
//! well when the difference in height is known.
//!
//! One tape laid four times is wrong the same way four times: its error adds up linearly. The marks
//! between layings are independent of each other, and so are the two pegs.
//!
//! Model: `L = (ΣR·s + e)·(1 + α·ΔT) + tension + sag + joins + pegs`, with R the readings, s the
//! standard-length ratio and e the error of the tape. What was not stated is assumed, and every
//! assumption is returned in words.

mod check;
mod class;
mod formulae;
mod refusal;
mod spec;

pub use class::{
    STEEL_EXPANSION_HALF_WIDTH_PER_C, STEEL_EXPANSION_PER_C, TapeAccuracy, TapeClass, TapeMaterial,
};
pub use formulae::{
    STANDARD_GRAVITY_M_S2, horizontal_from_slope_m, sag_correction_m, standard_length_correction_m,
    tension_correction_m,
};
pub use refusal::CourseRefusal;
pub use spec::{
    CourseSpec, DEFAULT_JOIN_M, DEFAULT_PEG_PLACEMENT_M, DEFAULT_TEMPERATURE_HALF_WIDTH_C,
    DEFAULT_TENSION_HALF_WIDTH_N, MASS_HALF_WIDTH_SHARE, SECTIONS_TOLERANCE_M, STEEL_MODULUS_GPA,
    TapeSpec, UNREAD_TEMPERATURE_HALF_WIDTH_C, UNREAD_TENSION_HALF_WIDTH_N,
};

use crate::stats::budget::{Quantity, Source, SourceId, Sources};

/// One correction, or one uncertainty with a correction of zero.
#[derive(Debug, Clone, PartialEq)]
pub struct Correction {
    /// What it is for.
    pub name: String,
    /// What was added to the reading, m.
    pub value_m: f64,
    /// Its standard uncertainty, m.
    pub standard_uncertainty_m: f64,
}

/// The length of a course and how it came about.
#[derive(Debug, Clone, PartialEq)]
pub struct CourseLength {
    /// Along the ground, m.
    pub length: Quantity,
    /// Between the same pegs on the level, m; only when the difference in height is known.
    pub horizontal: Option<Quantity>,
    /// Each correction and uncertainty, in the order applied.
    pub corrections: Vec<Correction>,
    /// What was assumed, in words for the report.
    pub assumptions: Vec<String>,
}

/// What is being worked on.
struct Work<'a> {
    spec: &'a CourseSpec,
    layings_m: Vec<f64>,
    sources: &'a mut Sources,
    corrections: Vec<Correction>,
    assumptions: Vec<String>,
}

/// Length of a course measured by tape, its uncertainties added to `sources` under the keys
/// `tape.…` and `course.…`.
///
/// # Errors
/// [`CourseRefusal`] when a number cannot be right or one that is needed is missing.
pub fn course_length(
    spec: &CourseSpec,
    sources: &mut Sources,
) -> Result<CourseLength, CourseRefusal> {
    check::course(spec)?;
    check::tape(spec)?;
    let mut work = Work {
        spec,
        layings_m: spec.layings_m(),
        sources,
        corrections: Vec::new(),
        assumptions: Vec::new(),
    };
    let read = work.tape_itself();
    let warm = work.temperature(&read);
    let tension = work.tension_source();
    let pulled = work.tension(&read, &tension);
    let sagged = work.sag(&tension)?;
    let joins = work.joins();
    let pegs = work.pegs();
    let parts = [(&warm, 1.0), (&pulled, 1.0), (&sagged, 1.0), (&joins, 1.0), (&pegs, 1.0)];
    let length = Quantity::weighted_sum(&parts);
    let horizontal = work.horizontal(&length);
    let Work { corrections, assumptions, .. } = work;
    Ok(CourseLength { length, horizontal, corrections, assumptions })
}

impl Work<'_> {
    fn note(&mut self, name: &str, correction: &Quantity) {
        self.corrections.push(Correction {
            name: name.to_owned(),
            value_m: correction.value(),
            standard_uncertainty_m: correction.standard_uncertainty(),
        });
    }

    fn assume(&mut self, words: impl Into<String>) {
        self.assumptions.push(words.into());
    }

    fn quantity(&mut self, value: f64, source: Source) -> (Quantity, SourceId) {
        let id = self.sources.add(source);
        (Quantity::from_source(value, id, self.sources), id)
    }

    /// Readings, standard length and the error of the tape, at reference conditions.
    fn tape_itself(&mut self) -> Quantity {
        let total: f64 = self.layings_m.iter().sum();
        let mut value = total;
        if let Some((nominal_m, true_m)) = self.spec.tape.standard_length_m {
            let correction = standard_length_correction_m(total, nominal_m, true_m);
            self.note("standard length of the tape", &Quantity::exact(correction));
            value += correction;
        }
        let source = self.tape_error();
        let (error, _) = self.quantity(0.0, source);
        self.note("error of the tape", &error);
        error.shifted(value)
    }

    /// The error of one tape over all layings: limits add up linearly, it is one tape.
    fn tape_error(&mut self) -> Source {
        let class = match self.spec.tape.accuracy {
            TapeAccuracy::Certificate { standard_uncertainty_m: u, certified_length_m } => {
                let layings = self.layings_m.iter();
                let total = match certified_length_m {
                    Some(certified) => layings.sum::<f64>() / certified * u,
                    None => layings.count() as f64 * u,
                };
                return Source::normal("tape.certificate", "tape, by its certificate", total);
            }
            TapeAccuracy::Class(class) => class,
            TapeAccuracy::Unstated => {
                self.assume("The class of the tape is not given: class III is assumed.");
                TapeClass::III
            }
        };
        let limit: f64 = self.layings_m.iter().map(|m| class.limit_of_error_m(*m)).sum();
        let name = format!("tape, class {} (2014/32/EU, annex X)", class.numeral());
        Source::rectangular("tape.class", &name, limit)
    }

    /// The tape at the temperature it had.
    fn temperature(&mut self, read: &Quantity) -> Quantity {
        let tape = &self.spec.tape;
        let reference_c = tape.reference_temperature_c;
        let half_width_c = tape.temperature_half_width_c;
        let (expansion, uncertainty, assumption) = expansion(tape);
        let (temperature_c, half_width_c) = match tape.temperature_c {
            Some(read_c) => (read_c, half_width_c.unwrap_or(DEFAULT_TEMPERATURE_HALF_WIDTH_C)),
            None => (reference_c, half_width_c.unwrap_or(UNREAD_TEMPERATURE_HALF_WIDTH_C)),
        };
        if tape.temperature_c.is_none() {
            self.assume(format!(
                "The temperature of the tape is not given: {reference_c} °C ± {half_width_c} °C \
                 is assumed."
            ));
        } else if tape.temperature_half_width_c.is_none() {
            self.assume(format!(
                "The temperature of the tape is taken as read ± {half_width_c} °C."
            ));
        }
        if let Some(words) = assumption {
            self.assume(words);
        }
        let name = "expansion of the tape";
        let source = Source::rectangular("tape.expansion", name, uncertainty);
        let (expansion, _) = self.quantity(expansion, source);
        let name = "temperature of the tape";
        let source = Source::rectangular("tape.temperature", name, half_width_c);
        let (warmer, _) = self.quantity(temperature_c - reference_c, source);
        let strain = &expansion * &warmer;
        self.note("temperature", &strain.scaled(read.value()));
        read * &strain.shifted(1.0)
    }

    /// Tension pulled with; it both stretches the tape and lifts its sag.
    fn tension_source(&mut self) -> Quantity {
        let tape = &self.spec.tape;
        let (tension_n, default) = match tape.tension_n {
            Some(read_n) => (read_n, DEFAULT_TENSION_HALF_WIDTH_N),
            None => (tape.reference_tension_n, UNREAD_TENSION_HALF_WIDTH_N),
        };
        // An uncertainty as large as the tension itself would say that the tape may have been
        // slack.
        let half_width_n = tape.tension_half_width_n.unwrap_or(default).min(tension_n / 2.0);
        let matters = tape.cross_section_mm2.is_some() || !tape.hanging_spans_m.is_empty();
        if !matters {
            self.assume(format!(
                "The tape is taken to have been pulled with {tension_n} N; without its \
                 cross-section no uncertainty is allowed for its stretch."
            ));
            return Quantity::exact(tension_n);
        }
        if tape.tension_n.is_none() || tape.tension_half_width_n.is_none() {
            self.assume(format!("The tension is taken as {tension_n} N ± {half_width_n} N."));
        }
        let source = Source::rectangular("tape.tension", "tension of the tape", half_width_n);
        self.quantity(tension_n, source).0
    }

    fn tension(&mut self, read: &Quantity, tension: &Quantity) -> Quantity {
        let tape = &self.spec.tape;
        let Some(section_mm2) = tape.cross_section_mm2 else {
            return Quantity::exact(0.0);
        };
        let (reference_n, modulus) = (tape.reference_tension_n, tape.elastic_modulus_gpa);
        let per_n = tension_correction_m(read.value(), 1.0, 0.0, section_mm2, modulus);
        let correction = tension.shifted(-reference_n).scaled(per_n);
        self.note("tension", &correction);
        correction
    }

    fn sag(&mut self, tension: &Quantity) -> Result<Quantity, CourseRefusal> {
        let tape = &self.spec.tape;
        if tape.hanging_spans_m.is_empty() {
            return Ok(Quantity::exact(0.0));
        }
        let mass = tape.mass_kg_per_m.ok_or(CourseRefusal::MassUnknown)?;
        let weight = mass * STANDARD_GRAVITY_M_S2;
        let pull = tension.value();
        let spans = tape.hanging_spans_m.iter();
        let sag_m: f64 = spans.map(|span| sag_correction_m(*span, weight, pull)).sum();
        let name = "mass of the tape";
        let source = Source::rectangular("tape.mass", name, mass * MASS_HALF_WIDTH_SHARE);
        let (mass_quantity, _) = self.quantity(mass, source);
        // Sag goes with the square of mass over tension.
        let partials = [(&mass_quantity, 2.0 * sag_m / mass), (tension, -2.0 * sag_m / pull)];
        let correction = Quantity::combine(sag_m, &partials);
        self.assume("The mass of the tape is taken as given ± 5 %.");
        self.note("sag", &correction);
        Ok(correction)
    }

    fn joins(&mut self) -> Quantity {
        let joins = self.layings_m.len() - 1;
        let half_width_m = self.spec.tape.join_half_width_m;
        if joins == 0 || half_width_m <= 0.0 {
            return Quantity::exact(0.0);
        }
        let source = if joins == 1 {
            Source::rectangular("tape.join", "mark between layings", half_width_m)
        } else {
            // The sum of several equal independent marks is as good as normal.
            let u = half_width_m * (joins as f64 / 3.0).sqrt();
            Source::normal("tape.joins", &format!("{joins} marks between layings"), u)
        };
        let (quantity, _) = self.quantity(0.0, source);
        self.note("marks between layings", &quantity);
        quantity
    }

    fn pegs(&mut self) -> Quantity {
        let half_width_m = self.spec.peg_placement_m;
        let start = Source::rectangular("course.peg.start", "start peg", half_width_m);
        let finish = Source::rectangular("course.peg.finish", "finish peg", half_width_m);
        let both = &self.quantity(0.0, finish).0 - &self.quantity(0.0, start).0;
        self.note("placement of the pegs", &both);
        both
    }

    fn horizontal(&mut self, length: &Quantity) -> Option<Quantity> {
        let Some(height_m) = self.spec.height_difference_m else {
            self.assume("The tape lay along the ground, as the wheel rolls: no slope correction.");
            return None;
        };
        let u = self.spec.height_difference_u_m;
        let (height, _) =
            self.quantity(height_m, Source::normal("course.height", "height difference", u));
        let level = horizontal_from_slope_m(length.value(), height_m);
        let partials = [(length, length.value() / level), (&height, -height_m / level)];
        Some(Quantity::combine(level, &partials))
    }
}

/// Expansion of the tape per °C, its half-width, and what was assumed.
fn expansion(tape: &TapeSpec) -> (f64, f64, Option<&'static str>) {
    let stated = tape.expansion_half_width_per_c;
    match (tape.expansion_per_c, tape.material) {
        // A typed-in coefficient without an uncertainty gets 10 % of itself (common practice, no
        // source).
        (Some(typed), _) => (typed, stated.unwrap_or(typed.abs() * 0.1), None),
        (None, TapeMaterial::Steel) => {
            (STEEL_EXPANSION_PER_C, stated.unwrap_or(STEEL_EXPANSION_HALF_WIDTH_PER_C), None)
        }
        (None, TapeMaterial::Unstated) => {
            let words = "The material of the tape is not given: the expansion of steel is \
                         assumed, and may be anything from none to twice that.";
            (STEEL_EXPANSION_PER_C, stated.unwrap_or(STEEL_EXPANSION_PER_C), Some(words))
        }
        (None, TapeMaterial::Fibreglass | TapeMaterial::Other) => {
            let words = "The expansion of the tape is not given: anything from none to twice that \
                         of steel is allowed for.";
            (STEEL_EXPANSION_PER_C, stated.unwrap_or(STEEL_EXPANSION_PER_C), Some(words))
        }
    }
}
