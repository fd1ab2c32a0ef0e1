//! Why a course has no length, in words for the person with the tape.

/// Why no length is given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CourseRefusal {
    /// A number that cannot be what it is said to be.
    #[error("The {what} is given as {value} {unit}; between {low} and {high} is taken.")]
    OutOfRange {
        /// What it is, in words.
        what: &'static str,
        /// The value that was given.
        value: f64,
        /// Least that is taken.
        low: f64,
        /// Most that is taken.
        high: f64,
        /// Unit of all three.
        unit: &'static str,
    },
    /// The sections do not add up to the length the course is said to have.
    #[error("The sections add up to {sum_m:.3} m, and the course is said to be {nominal_m:.3} m.")]
    SectionsDoNotAddUp {
        /// Length the course is said to have, m.
        nominal_m: f64,
        /// Sum of the sections, m.
        sum_m: f64,
    },
    /// A section is longer than the tape.
    #[error("A section of {section_m:.3} m was laid with a tape of {tape_m:.3} m.")]
    SectionLongerThanTape {
        /// Length of the section, metres.
        section_m: f64,
        /// Length of the tape, metres.
        tape_m: f64,
    },
    /// The tension is not the reference tension, and how far the tape stretches is not known.
    #[error(
        "The tape was pulled with {tension_n} N and is made for {reference_n} N, and its \
         cross-section is not given."
    )]
    CrossSectionUnknown {
        /// Tension pulled with, N.
        tension_n: f64,
        /// Tension the tape was made for, N.
        reference_n: f64,
    },
    /// Spans hang free, and the tape's mass is not known.
    #[error("Part of the tape hung free, and its mass per metre is not given.")]
    MassUnknown,
    /// More tape hangs free than was laid.
    #[error("The hanging spans add up to {spans_m:.3} m, more than the {course_m:.3} m laid.")]
    SpansTooLong {
        /// Sum of the hanging spans, m.
        spans_m: f64,
        /// Sum of the sections, m.
        course_m: f64,
    },
}

impl CourseRefusal {
    /// What it means for the value.
    #[must_use]
    pub fn meaning(&self) -> &'static str {
        match self {
            Self::OutOfRange { .. }
            | Self::SectionsDoNotAddUp { .. }
            | Self::SectionLongerThanTape { .. }
            | Self::SpansTooLong { .. } => {
                "The length of the course is uncertain, so no value is given by tape."
            }
            Self::CrossSectionUnknown { .. } => {
                "How far it stretched cannot be determined, so no value is given by tape."
            }
            Self::MassUnknown => {
                "How far it sagged cannot be determined, so no value is given by tape."
            }
        }
    }

    /// What to do next.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::OutOfRange { .. } => "Check the number and its unit, and enter it again.",
            Self::SectionsDoNotAddUp { .. } => {
                "Compare the sections with your notes: one may be missing, or counted twice."
            }
            Self::SectionLongerThanTape { .. } => {
                "Enter each laying of the tape as a section of its own, or correct its length."
            }
            Self::CrossSectionUnknown { .. } => {
                "Enter width times thickness of the blade in mm², or lay the tape again at the \
                 tension marked on it."
            }
            Self::MassUnknown => {
                "Enter the mass per metre of the tape, or lay it on the ground all the way."
            }
            Self::SpansTooLong { .. } => "Enter only the spans that did not touch the ground.",
        }
    }
}
