//! `course.toml`, read.
//!
//! A key that is not known is not an error, since a later version may know it, but it is reported:
//! a mistyped key would otherwise silently leave its default in force.

use super::tape::{CourseSpec, TapeAccuracy, TapeClass, TapeMaterial, TapeSpec};
use serde::Deserialize;

/// Why a course file cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CourseFileFault {
    /// Not TOML, or a key is missing, or a value is of the wrong kind.
    #[error("the course file cannot be read: {0}")]
    Toml(String),
    /// A word that is none of those known.
    #[error("{key} is {found:?}; it can be {known}")]
    Word {
        /// The key in the file.
        key: &'static str,
        /// What was found in its place.
        found: String,
        /// What is allowed there.
        known: &'static str,
    },
}

#[derive(Debug, Deserialize)]
struct File {
    course: Course,
    #[serde(default)]
    tape: Tape,
}

/// A table of the file, and the names of its keys.
macro_rules! table {
    ($table:ident, $keys:ident: $($key:ident: $type:ty,)*) => {
        #[derive(Debug, Default, Deserialize)]
        struct $table {
            $($key: $type,)*
        }
        const $keys: &[&str] = &[$(stringify!($key)),*];
    };
}

table! { Course, COURSE_KEYS:
    nominal_m: f64,
    sections_m: Option<Vec<f64>>,
    height_difference_m: Option<f64>,
    height_difference_u_m: Option<f64>,
    peg_placement_m: Option<f64>,
}

table! { Tape, TAPE_KEYS:
    class: Option<String>,
    standard_uncertainty_m: Option<f64>,
    certified_length_m: Option<f64>,
    tape_length_m: Option<f64>,
    standard_length_m: Option<(f64, f64)>,
    material: Option<String>,
    expansion_per_c: Option<f64>,
    expansion_half_width_per_c: Option<f64>,
    temperature_c: Option<f64>,
    temperature_half_width_c: Option<f64>,
    reference_temperature_c: Option<f64>,
    tension_n: Option<f64>,
    tension_half_width_n: Option<f64>,
    reference_tension_n: Option<f64>,
    cross_section_mm2: Option<f64>,
    elastic_modulus_gpa: Option<f64>,
    mass_kg_per_m: Option<f64>,
    hanging_spans_m: Option<Vec<f64>>,
    join_half_width_m: Option<f64>,
}

/// A course file, read.
#[derive(Clone, Debug, PartialEq)]
pub struct CourseFile {
    /// The course that was described.
    pub spec: CourseSpec,
    /// Keys that were not used, as `[table] key`.
    pub unknown: Vec<String>,
}

/// Read the text of a course file. Lengths that make no sense together are not judged here but
/// where the course is calculated.
///
/// # Errors
/// [`CourseFileFault`] with the place and what may stand there.
pub fn parse(text: &str) -> Result<CourseFile, CourseFileFault> {
    let file: File =
        toml::from_str(text).map_err(|e| CourseFileFault::Toml(e.to_string().trim().to_owned()))?;
    let course = file.course;
    let mut spec = CourseSpec::new(course.nominal_m);
    spec.sections_m = course.sections_m.unwrap_or_default();
    spec.height_difference_m = course.height_difference_m;
    set(&mut spec.height_difference_u_m, course.height_difference_u_m);
    set(&mut spec.peg_placement_m, course.peg_placement_m);
    spec.tape = tape(file.tape)?;
    Ok(CourseFile { spec, unknown: unknown(text) })
}

fn set<T>(target: &mut T, given: Option<T>) {
    if let Some(value) = given {
        *target = value;
    }
}

fn tape(tape: Tape) -> Result<TapeSpec, CourseFileFault> {
    let mut spec = TapeSpec { accuracy: accuracy(&tape)?, ..TapeSpec::default() };
    set(&mut spec.material, material(tape.material.as_deref())?);
    spec.tape_length_m = tape.tape_length_m;
    spec.standard_length_m = tape.standard_length_m;
    spec.expansion_per_c = tape.expansion_per_c;
    spec.expansion_half_width_per_c = tape.expansion_half_width_per_c;
    spec.temperature_c = tape.temperature_c;
    spec.temperature_half_width_c = tape.temperature_half_width_c;
    set(&mut spec.reference_temperature_c, tape.reference_temperature_c);
    spec.tension_n = tape.tension_n;
    spec.tension_half_width_n = tape.tension_half_width_n;
    set(&mut spec.reference_tension_n, tape.reference_tension_n);
    spec.cross_section_mm2 = tape.cross_section_mm2;
    set(&mut spec.elastic_modulus_gpa, tape.elastic_modulus_gpa);
    spec.mass_kg_per_m = tape.mass_kg_per_m;
    set(&mut spec.hanging_spans_m, tape.hanging_spans_m);
    set(&mut spec.join_half_width_m, tape.join_half_width_m);
    Ok(spec)
}

/// A certificate says more than the class printed on the tape, so it wins where both are given.
fn accuracy(tape: &Tape) -> Result<TapeAccuracy, CourseFileFault> {
    if let Some(standard_uncertainty_m) = tape.standard_uncertainty_m {
        let certified_length_m = tape.certified_length_m;
        return Ok(TapeAccuracy::Certificate { standard_uncertainty_m, certified_length_m });
    }
    let Some(word) = &tape.class else { return Ok(TapeAccuracy::Unstated) };
    let class = match word.trim().to_ascii_uppercase().as_str() {
        "I" | "1" => TapeClass::I,
        "II" | "2" => TapeClass::II,
        "III" | "3" => TapeClass::III,
        _ => return Err(unmeant("class", word, "\"I\", \"II\" or \"III\"")),
    };
    Ok(TapeAccuracy::Class(class))
}

fn material(word: Option<&str>) -> Result<Option<TapeMaterial>, CourseFileFault> {
    let Some(word) = word else { return Ok(None) };
    Ok(Some(match word.trim().to_ascii_lowercase().as_str() {
        "steel" => TapeMaterial::Steel,
        "fibreglass" | "fiberglass" => TapeMaterial::Fibreglass,
        "other" => TapeMaterial::Other,
        _ => return Err(unmeant("material", word, "\"steel\", \"fibreglass\" or \"other\"")),
    }))
}

fn unmeant(key: &'static str, found: &str, known: &'static str) -> CourseFileFault {
    CourseFileFault::Word { key, found: found.to_owned(), known }
}

fn unknown(text: &str) -> Vec<String> {
    let Ok(table) = text.parse::<toml::Table>() else { return Vec::new() };
    let mut found = Vec::new();
    for (name, value) in &table {
        let known = match name.as_str() {
            "course" => COURSE_KEYS,
            "tape" => TAPE_KEYS,
            // Read where a job begins: they are those of a day, not of the course.
            "conditions" => continue,
            _ => {
                found.push(format!("[{name}]"));
                continue;
            }
        };
        let keys = value.as_table().into_iter().flat_map(toml::Table::keys);
        let strange = keys.filter(|key| !known.contains(&key.as_str()));
        found.extend(strange.map(|key| format!("[{name}] {key}")));
    }
    found
}
