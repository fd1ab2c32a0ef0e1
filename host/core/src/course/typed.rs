//! A course as it is typed, value by value, and the course file that it makes.
//!
//! A change touches only the keys that it names: what else stands in a file, as the conditions of
//! a day, stays there.

use super::file::CourseFileFault;
use crate::units::typed::Measure;
use crate::units::{parse_length_m, with_point};
pub use toml::{Table, Value};

/// What a value of the course is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// A quantity with a unit.
    Measure(Measure),
    /// A length of either sign, metres, however long.
    Height,
    /// A length of a few millimetres, metres.
    Small,
    /// Several lengths, metres, with semicolons between them.
    Lengths,
    /// A number in this unit.
    Plain(&'static str),
    /// One of these words.
    Word(&'static [&'static str]),
}

/// One value of a course.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CourseField {
    /// Table of the file that it stands in.
    pub table: &'static str,
    /// Its key there.
    pub key: &'static str,
    /// Its name on screen.
    pub label: &'static str,
    /// What it is, in one line.
    pub about: &'static str,
    /// The kind of its value.
    pub kind: Kind,
}

const fn course(
    key: &'static str,
    label: &'static str,
    about: &'static str,
    kind: Kind,
) -> CourseField {
    CourseField { table: "course", key, label, about, kind }
}

const fn tape(
    key: &'static str,
    label: &'static str,
    about: &'static str,
    kind: Kind,
) -> CourseField {
    CourseField { table: "tape", key, label, about, kind }
}

/// All that a course file can say of course and tape, in the order of typing.
pub const COURSE_FIELDS: &[CourseField] = &[
    course("nominal_m", "Length", "What the course is to be", Kind::Measure(Measure::Length)),
    course(
        "sections_m",
        "Sections",
        "Each laying of the tape as it was read; empty: one laying of the whole length",
        Kind::Lengths,
    ),
    course(
        "height_difference_m",
        "Height difference",
        "Of the finish peg over the start peg; negative below it",
        Kind::Height,
    ),
    course(
        "height_difference_u_m",
        "Uncertainty of the height difference",
        "Standard uncertainty; 5 cm if empty",
        Kind::Small,
    ),
    course(
        "peg_placement_m",
        "Uncertainty of a peg",
        "How far a peg may stand off its mark, either way; 1 cm if empty",
        Kind::Small,
    ),
    tape("class", "Accuracy class of the tape", "As printed on it", Kind::Word(&CLASSES)),
    tape("material", "Material of the tape", "What it is made of", Kind::Word(&MATERIALS)),
    tape(
        "tape_length_m",
        "Length of the tape",
        "Of the whole tape; no section can be longer",
        Kind::Measure(Measure::Length),
    ),
    tape(
        "certified_length_m",
        "Certified length",
        "The length that the certificate is for",
        Kind::Measure(Measure::Length),
    ),
    tape(
        "standard_uncertainty_m",
        "Uncertainty by the certificate",
        "Standard uncertainty: half of one stated with k = 2",
        Kind::Small,
    ),
    tape(
        "standard_length_m",
        "Comparison of the tape",
        "The length that it says; the length that it truly has",
        Kind::Lengths,
    ),
    tape(
        "temperature_c",
        "Temperature of the tape",
        "As read on the course",
        Kind::Measure(Measure::Temperature),
    ),
    tape(
        "temperature_half_width_c",
        "Uncertainty of the temperature",
        "Either way",
        Kind::Plain("\u{b0}C"),
    ),
    tape("tension_n", "Tension", "What it was pulled with", Kind::Plain("N")),
    tape("tension_half_width_n", "Uncertainty of the tension", "Either way", Kind::Plain("N")),
    tape(
        "reference_temperature_c",
        "Right at",
        "Temperature that the tape is right at; 20 \
        \u{b0}C if empty",
        Kind::Measure(Measure::Temperature),
    ),
    tape(
        "reference_tension_n",
        "Right at a tension of",
        "Tension that the tape is right at; 50 N if empty",
        Kind::Plain("N"),
    ),
    tape("cross_section_mm2", "Cross-section", "Width times thickness", Kind::Plain("mm\u{b2}")),
    tape("elastic_modulus_gpa", "Elastic modulus", "200 GPa if empty", Kind::Plain("GPa")),
    tape("mass_kg_per_m", "Mass per metre", "Needed where it hung free", Kind::Plain("kg/m")),
    tape(
        "hanging_spans_m",
        "Hanging spans",
        "Lengths that did not touch the ground",
        Kind::Lengths,
    ),
    tape(
        "join_half_width_m",
        "Uncertainty of a mark between layings",
        "Either way; 3 mm if empty",
        Kind::Small,
    ),
    tape("expansion_per_c", "Expansion", "By the tape's maker", Kind::Plain("per \u{b0}C")),
    tape(
        "expansion_half_width_per_c",
        "Uncertainty of the expansion",
        "Either way",
        Kind::Plain("per \u{b0}C"),
    ),
];
const CLASSES: [&str; 3] = ["i", "ii", "iii"];
const MATERIALS: [&str; 3] = ["steel", "fibreglass", "other"];
/// The first field that is rarely needed.
pub const RARE: &str = "tension_n";

impl CourseField {
    /// What may be typed.
    #[must_use]
    pub fn wanted(&self) -> String {
        match self.kind {
            Kind::Measure(measure) => measure.wanted().to_owned(),
            Kind::Height => "a height like \"0.8 m\", \"-35 cm\" or \"2.5 ft\"".to_owned(),
            Kind::Small => "a length like \"3 mm\", \"1 cm\" or \"0.5 in\"".to_owned(),
            Kind::Lengths => "lengths like \"50 m; 49.98 m\"".to_owned(),
            Kind::Plain(unit) => format!("a number in {unit}"),
            Kind::Word(words) => words.join(", "),
        }
    }

    /// Read what was typed.
    ///
    /// # Errors
    /// A sentence with what may be typed.
    pub fn read(&self, typed: &str) -> Result<Value, String> {
        let typed = typed.trim();
        let found: String = typed.chars().take(40).collect();
        let fault = || format!("{}: {found:?} is not {}.", self.label, self.wanted());
        let number = match self.kind {
            Kind::Measure(measure) => measure.read(typed).ok(),
            Kind::Small => Measure::Offset.read(typed).ok().filter(|metres| *metres >= 0.0),
            Kind::Height => height(typed),
            Kind::Lengths => return lengths(typed).ok_or_else(fault),
            Kind::Plain(unit) => plain(typed, unit),
            Kind::Word(words) => {
                let word = typed.to_lowercase();
                let known = words.contains(&word.as_str());
                return known.then_some(Value::String(word)).ok_or_else(fault);
            }
        };
        number.map(Value::Float).ok_or_else(fault)
    }

    /// The value in the text of a course file.
    #[must_use]
    pub fn in_file(&self, table: &Table) -> Option<Value> {
        table.get(self.table)?.as_table()?.get(self.key).cloned()
    }
}

fn height(typed: &str) -> Option<f64> {
    if let Ok(metres) = Measure::Offset.read(typed) {
        return Some(metres);
    }
    let (sign, rest) = match typed.strip_prefix('-') {
        Some(rest) => (-1.0, rest),
        None => (1.0, typed.strip_prefix('+').unwrap_or(typed)),
    };
    parse_length_m(rest).ok().map(|metres| sign * metres)
}

fn plain(typed: &str, unit: &str) -> Option<f64> {
    let number = with_point(typed.strip_suffix(unit).unwrap_or(typed).trim());
    number.parse().ok().filter(|number: &f64| number.is_finite())
}

fn lengths(typed: &str) -> Option<Value> {
    let parts = typed.split([';', '\n', '+']).map(str::trim).filter(|part| !part.is_empty());
    let read: Option<Vec<f64>> = parts.map(|part| parse_length_m(part).ok()).collect();
    let read = read.filter(|read| !read.is_empty())?;
    Some(Value::Array(read.into_iter().map(Value::Float).collect()))
}

/// The text of a course file as a table; an empty one of no text.
///
/// # Errors
/// [`CourseFileFault::Toml`].
pub fn table(text: &str) -> Result<Table, CourseFileFault> {
    text.parse()
        .map_err(|e: toml::de::Error| CourseFileFault::Toml(e.to_string().trim().to_owned()))
}

/// The text of a course file after these changes; `None` takes a key out.
///
/// # Errors
/// [`CourseFileFault::Toml`] for a text that is none.
pub fn put(
    text: &str,
    changes: &[(&CourseField, Option<Value>)],
) -> Result<String, CourseFileFault> {
    let mut file = table(text)?;
    for (field, value) in changes {
        let held = file.entry(field.table).or_insert_with(|| Value::Table(Table::new()));
        let Some(held) = held.as_table_mut() else {
            let words = format!("[{}] is no table", field.table);
            return Err(CourseFileFault::Toml(words));
        };
        match value {
            Some(value) => held.insert(field.key.to_owned(), value.clone()),
            None => held.remove(field.key),
        };
    }
    file.retain(|_, value| value.as_table().is_none_or(|table| !table.is_empty()));
    Ok(toml::to_string(&file).expect("a table that was read can be written"))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::file::parse;
    use super::super::tape::{TapeAccuracy, TapeClass};
    use super::*;

    fn field(key: &str) -> &'static CourseField {
        COURSE_FIELDS.iter().find(|field| field.key == key).unwrap()
    }

    #[test]
    fn every_value_that_is_typed_is_one_that_the_file_knows() {
        let mut text = String::new();
        for one in COURSE_FIELDS {
            let typed = match one.kind {
                Kind::Measure(Measure::Temperature) => "12 C",
                Kind::Measure(_) | Kind::Height => "50 m",
                Kind::Small => "3 mm",
                Kind::Lengths => "25 m; 25 m",
                Kind::Plain(_) => "1.5",
                Kind::Word(words) => words[0],
            };
            text = put(&text, &[(one, Some(one.read(typed).unwrap()))]).unwrap();
        }
        let read = parse(&text).unwrap();
        assert_eq!(read.unknown, Vec::<String>::new());
        assert_eq!(read.spec.sections_m, [25.0, 25.0]);
        assert!((read.spec.tape.join_half_width_m - 0.003).abs() < 1e-12);
        assert_eq!(
            read.spec.tape.accuracy,
            TapeAccuracy::Certificate {
                standard_uncertainty_m: 0.003,
                certified_length_m: Some(50.0)
            }
        );
    }

    #[test]
    fn a_change_leaves_the_rest_of_the_file_as_it_was() {
        let text = "[course]\nnominal_m = 100.0\n[tape]\nclass = \"II\"\n\
                    [conditions]\nsurface = \"stubble\"\n";
        let after = put(text, &[(field("nominal_m"), Some(Value::Float(80.0)))]).unwrap();
        let read = parse(&after).unwrap();
        assert_eq!(read.spec.tape.accuracy, TapeAccuracy::Class(TapeClass::II));
        assert!(after.contains("surface = \"stubble\"") && after.contains("80.0"), "{after}");
        let bare = put(&after, &[(field("class"), None)]).unwrap();
        assert!(!bare.contains("[tape]"), "{bare}");
        assert!(put("nominal_m", &[]).is_err());
        assert!(put("course = 1", &[(field("nominal_m"), None)]).is_err());
    }

    #[test]
    fn what_cannot_be_read_is_refused_with_what_can() {
        for (key, typed) in [
            ("nominal_m", "0 m"),
            ("nominal_m", "1,500 m"),
            ("sections_m", "50 m; far"),
            ("sections_m", ";"),
            ("peg_placement_m", "-1 cm"),
            ("tension_n", "nan"),
            ("class", "iv"),
            ("temperature_c", "warm"),
        ] {
            let said = field(key).read(typed).unwrap_err();
            assert!(said.contains(&field(key).wanted()), "{said}");
        }
        assert_eq!(field("height_difference_m").read("-12.5 m").unwrap(), Value::Float(-12.5));
        assert_eq!(field("height_difference_m").read("0").unwrap(), Value::Float(0.0));
        assert_eq!(field("tension_n").read("50 N").unwrap(), Value::Float(50.0));
    }
}
