//! A tape that is saved, as the tape of a course.

use super::{Entry, Value};

/// Keys of a saved tape, and those of a course file that say the same in the same unit.
const SAME: [(&str, &str); 5] = [
    ("class", "class"),
    ("material", "material"),
    ("length", "tape_length_m"),
    ("certified_length", "certified_length_m"),
    ("standard_uncertainty", "standard_uncertainty_m"),
];

/// Each key of a course file that a saved tape speaks of, with its value where it is known.
#[must_use]
pub fn of_course(tape: &Entry) -> [(&'static str, Option<&Value>); 5] {
    SAME.map(|(saved, course)| (course, tape.values.get(saved)))
}

#[test]
fn both_sides_know_the_keys() {
    use crate::course::typed::COURSE_FIELDS;
    for (saved, course) in SAME {
        assert!(super::Thing::Tape.field(saved).is_some(), "{saved}");
        assert!(COURSE_FIELDS.iter().any(|field| field.key == course), "{course}");
    }
}
