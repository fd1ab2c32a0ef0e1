//! The fields of every thing.

use super::field::Field;
use super::field::FieldKind::{self, Date, Link, Measure, Text, Word};
use crate::units::typed::Measure::{Length, Mass, Number, Offset, Percent, Pressure, Reach};

/// The kinds of thing that are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Thing {
    /// The tractor of a rig.
    Tractor,
    /// A set of tyres, as fitted and inflated.
    Tyres,
    /// The tape that measures courses.
    Tape,
    /// A person, operator or customer.
    Person,
    /// A tractor on its tyres, ready to be measured.
    Rig,
}

const TRACTOR: &[Field] = &[
    field("make", "Make", "Who built it", Text),
    field("model", "Model", "Its type", Text),
    field("serial", "Serial number", "As on its plate", Text),
    field("note", "Note", "Anything else", Text),
];

const TYRES: &[Field] = &[
    field("size", "Size", "As moulded on the side", Text),
    field("inflation", "Inflation", "Pressure, cold", Measure(Pressure)),
    field("ballast", "Ballast", "Mass added to the axle", Measure(Mass)),
    field("wear", "Wear", "Share of the lugs that is gone", Measure(Percent)),
    field("circumference", "Rolling circumference", "By the tyre's data", Measure(Length)),
    field(
        "impulses_per_turn",
        "Impulses per turn",
        "Of the wheel, as the sensor counts them",
        Measure(Number),
    ),
    field("note", "Note", "Anything else", Text),
];

const TAPE: &[Field] = &[
    field("length", "Length", "Of the whole tape", Measure(Length)),
    field("material", "Material", "What it is made of", Word(&["steel", "fibreglass", "other"])),
    field("class", "Accuracy class", "As printed on it", Word(&["i", "ii", "iii"])),
    field("serial", "Serial number", "As printed on it", Text),
    field("certificate", "Certificate", "Its number and who gave it", Text),
    field("certified_on", "Certified on", "Day of the certificate", Date),
    field(
        "certified_length",
        "Certified length",
        "What the certificate says of its length",
        Measure(Length),
    ),
    field(
        "standard_uncertainty",
        "Standard uncertainty",
        "Of the certified length",
        Measure(Length),
    ),
    field("note", "Note", "Anything else", Text),
];

const PERSON: &[Field] = &[
    field("company", "Company", "Who they work for", Text),
    field("address", "Address", "Where that is", Text),
    field("contact", "Contact", "Telephone or mail", Text),
    field("note", "Note", "Anything else", Text),
];

const RIG: &[Field] = &[
    field("tractor", "Tractor", "Name of a tractor", Link(Thing::Tractor)),
    field("tyres", "Tyres", "Name of a set of tyres", Link(Thing::Tyres)),
    field("tape", "Tape", "Name of the tape used for its course", Link(Thing::Tape)),
    field("operator", "Operator", "Who measures", Link(Thing::Person)),
    field("customer", "Customer", "Whose it is", Link(Thing::Person)),
    field(
        "source",
        "Implement speed from",
        "Which speed the implement goes by",
        Word(&["wheel", "radar", "satellite"]),
    ),
    field("receiver", "Receiver", "Satellite receiver and correction service", Text),
    field(
        "antenna_right",
        "Antenna to the right",
        "Of the tractor's middle; negative to the left",
        Measure(Offset),
    ),
    field("antenna_ahead", "Antenna ahead", "Of the rear axle; negative behind", Measure(Offset)),
    field(
        "antenna_uncertainty",
        "Uncertainty of the antenna position",
        "Standard uncertainty of both",
        Measure(Offset),
    ),
    field("antenna_height", "Antenna above ground", "Taped on level ground", Measure(Reach)),
    field(
        "axle_to_hitch",
        "Rear axle to coupling point",
        "Taped; the coupling point is behind the axle",
        Measure(Reach),
    ),
    field("board", "Counter board", "Its identity, as `trundle ports` shows it", Text),
    field(
        "pto_impulses",
        "PTO impulses per revolution",
        "As set in the implement's terminal",
        Measure(Number),
    ),
    field("note", "Note", "Anything else", Text),
];

pub(super) const fn field(
    key: &'static str,
    label: &'static str,
    about: &'static str,
    kind: FieldKind,
) -> Field {
    Field { key, label, about, kind }
}

impl Thing {
    /// All, those first that others name.
    pub const ALL: [Thing; 5] =
        [Thing::Tractor, Thing::Tyres, Thing::Tape, Thing::Person, Thing::Rig];

    /// The word for commands, tables and files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Thing::Tractor => "tractor",
            Thing::Tyres => "tyres",
            Thing::Tape => "tape",
            Thing::Person => "person",
            Thing::Rig => "rig",
        }
    }

    /// What one is called within a sentence: after "a", "no" or "which".
    #[must_use]
    pub const fn noun(self) -> &'static str {
        match self {
            Thing::Tyres => "set of tyres",
            other => other.word(),
        }
    }

    /// What the name of one is for.
    #[must_use]
    pub const fn name_about(self) -> &'static str {
        match self {
            Thing::Tractor => "What you call this tractor, such as its number in the yard",
            Thing::Tyres => "What you call this set of tyres, such as their width or season",
            Thing::Rig => "What you call this tractor on these tyres; records go by it",
            Thing::Tape => "What you call this tape, such as the number on its case",
            Thing::Person => "First and last name",
        }
    }

    /// The thing that a word names.
    #[must_use]
    pub fn named(word: &str) -> Option<Thing> {
        Self::ALL.into_iter().find(|thing| thing.word() == word)
    }

    /// What can be written down about it.
    #[must_use]
    pub const fn fields(self) -> &'static [Field] {
        match self {
            Thing::Tractor => TRACTOR,
            Thing::Tyres => TYRES,
            Thing::Tape => TAPE,
            Thing::Person => PERSON,
            Thing::Rig => RIG,
        }
    }

    /// The field with this key.
    #[must_use]
    pub fn field(self, key: &str) -> Option<&'static Field> {
        self.fields().iter().find(|field| field.key == key)
    }
}
