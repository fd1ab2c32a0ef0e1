//! Numbers that cannot be right are refused before anything is calculated from them.

use super::{CourseRefusal, CourseSpec, SECTIONS_TOLERANCE_M, TapeAccuracy};

/// Refuses a value outside `low..=high`, not-a-number included.
fn within(
    what: &'static str,
    value: f64,
    (low, high): (f64, f64),
    unit: &'static str,
) -> Result<(), CourseRefusal> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(CourseRefusal::OutOfRange { what, value, low, high, unit })
}

/// The same for a value that may be missing.
fn if_given(
    what: &'static str,
    value: Option<f64>,
    range: (f64, f64),
    unit: &'static str,
) -> Result<(), CourseRefusal> {
    value.map_or(Ok(()), |value| within(what, value, range, unit))
}

/// The course itself: lengths, height and pegs.
pub(super) fn course(spec: &CourseSpec) -> Result<(), CourseRefusal> {
    // A course of under a metre or over ten kilometres is a wrong unit.
    within("nominal length of the course", spec.nominal_m, (1.0, 10_000.0), "m")?;
    for section in &spec.sections_m {
        within("length of a section", *section, (0.001, 10_000.0), "m")?;
    }
    let sum_m: f64 = spec.layings_m().iter().sum();
    if (sum_m - spec.nominal_m).abs() > SECTIONS_TOLERANCE_M {
        return Err(CourseRefusal::SectionsDoNotAddUp { nominal_m: spec.nominal_m, sum_m });
    }
    if let Some(tape_m) = spec.tape.tape_length_m {
        within("length of the tape", tape_m, (0.1, 1000.0), "m")?;
        let longest_m = spec.layings_m().into_iter().fold(0.0, f64::max);
        if longest_m > tape_m + SECTIONS_TOLERANCE_M {
            return Err(CourseRefusal::SectionLongerThanTape { section_m: longest_m, tape_m });
        }
    }
    // Steeper than one in five is no course for this.
    let steepest_m = 0.2 * spec.nominal_m;
    let limits = (-steepest_m, steepest_m);
    if_given("difference in height", spec.height_difference_m, limits, "m")?;
    within("uncertainty of the difference in height", spec.height_difference_u_m, (0.0, 5.0), "m")?;
    within("placement of the pegs (half-width)", spec.peg_placement_m, (0.0, 1.0), "m")
}

/// The tape: every number of it, and what is needed but missing.
pub(super) fn tape(spec: &CourseSpec) -> Result<(), CourseRefusal> {
    let tape = &spec.tape;
    if let TapeAccuracy::Certificate { standard_uncertainty_m, certified_length_m } = tape.accuracy
    {
        within("standard uncertainty of the tape", standard_uncertainty_m, (0.0, 1.0), "m")?;
        if_given("certified length of the tape", certified_length_m, (0.1, 1000.0), "m")?;
    }
    if let Some((nominal_m, true_m)) = tape.standard_length_m {
        within("length the tape says", nominal_m, (0.1, 1000.0), "m")?;
        // A tape is not a per cent long; a digit is wrong.
        within("true length of the tape", true_m, (0.99 * nominal_m, 1.01 * nominal_m), "m")?;
    }
    if_given("temperature of the tape", tape.temperature_c, (-40.0, 70.0), "°C")?;
    let half_width_c = tape.temperature_half_width_c;
    if_given("uncertainty of the temperature", half_width_c, (0.0, 50.0), "°C")?;
    let reference_c = tape.reference_temperature_c;
    within("reference temperature of the tape", reference_c, (-10.0, 40.0), "°C")?;
    if_given("expansion of the tape", tape.expansion_per_c, (0.0, 2e-4), "per °C")?;
    let half_width_per_c = tape.expansion_half_width_per_c;
    if_given("uncertainty of the expansion", half_width_per_c, (0.0, 2e-4), "per °C")?;
    if_given("tension of the tape", tape.tension_n, (1.0, 500.0), "N")?;
    if_given("uncertainty of the tension", tape.tension_half_width_n, (0.0, 500.0), "N")?;
    within("reference tension of the tape", tape.reference_tension_n, (1.0, 500.0), "N")?;
    if_given("cross-section of the tape", tape.cross_section_mm2, (0.1, 100.0), "mm²")?;
    within("elastic modulus of the tape", tape.elastic_modulus_gpa, (0.1, 1000.0), "GPa")?;
    if_given("mass of the tape", tape.mass_kg_per_m, (0.0001, 1.0), "kg/m")?;
    within("mark between layings (half-width)", tape.join_half_width_m, (0.0, 0.5), "m")?;
    needed(spec)
}

/// What the way the tape was laid makes necessary.
fn needed(spec: &CourseSpec) -> Result<(), CourseRefusal> {
    let tape = &spec.tape;
    let reference_n = tape.reference_tension_n;
    if let (Some(tension_n), None) = (tape.tension_n, tape.cross_section_mm2) {
        // Within a newton the stretch of any tape over 100 m is below a millimetre.
        if (tension_n - reference_n).abs() > 1.0 {
            return Err(CourseRefusal::CrossSectionUnknown { tension_n, reference_n });
        }
    }
    let mut spans_m = 0.0;
    for span in &tape.hanging_spans_m {
        within("length of a hanging span", *span, (0.001, 1000.0), "m")?;
        spans_m += span;
    }
    let course_m: f64 = spec.layings_m().iter().sum();
    if spans_m > course_m + SECTIONS_TOLERANCE_M {
        return Err(CourseRefusal::SpansTooLong { spans_m, course_m });
    }
    if spans_m > 0.0 && tape.mass_kg_per_m.is_none() {
        return Err(CourseRefusal::MassUnknown);
    }
    Ok(())
}
