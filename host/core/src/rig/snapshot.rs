//! A rig with everything that it names, as it stood at one moment.

use super::{Entry, FieldKind, Thing};
use crate::survey::ride::axle::Mounting;
use serde::{Deserialize, Serialize};

/// Standard uncertainty of an antenna position that was given without one, metres: read off a
/// folding rule beside the tractor; common practice, no source.
pub const ANTENNA_UNCERTAINTY_M: f64 = 0.03;

/// A rig and what it names.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Snapshot {
    /// The entry of the rig itself.
    pub rig: Entry,
    /// The tractor of the rig.
    pub tractor: Option<Entry>,
    /// The tyres of the tractor.
    pub tyres: Option<Entry>,
    /// The tape of its course.
    pub tape: Option<Entry>,
    /// The person who measures.
    pub operator: Option<Entry>,
    /// The person whose tractor it is.
    pub customer: Option<Entry>,
}

impl Snapshot {
    /// Where the antenna sits, when both offsets are known.
    #[must_use]
    pub fn mounting(&self) -> Option<Mounting> {
        let (uncertainty, _) = self.antenna_uncertainty_m();
        Some(Mounting {
            right_m: self.rig.number("antenna_right")?,
            u_right_m: uncertainty,
            ahead_m: self.rig.number("antenna_ahead")?,
            u_ahead_m: uncertainty,
        })
    }

    /// Standard uncertainty of the antenna's offsets as they were given, metres, and whether it is
    /// assumed.
    #[must_use]
    pub fn antenna_uncertainty_m(&self) -> (f64, bool) {
        let given = self.rig.number("antenna_uncertainty").map(f64::abs);
        (given.unwrap_or(ANTENNA_UNCERTAINTY_M), given.is_none())
    }

    /// `wheel`, `radar` or `satellite`, when it was chosen.
    #[must_use]
    pub fn source(&self) -> Option<&str> {
        self.rig.text("source")
    }

    /// Everything, in the order of paper: the key in the rig's table, the kind, the entry.
    #[must_use]
    pub fn parts(&self) -> [(&'static str, Thing, Option<&Entry>); 6] {
        [
            ("rig", Thing::Rig, Some(&self.rig)),
            ("tractor", Thing::Tractor, self.tractor.as_ref()),
            ("tyres", Thing::Tyres, self.tyres.as_ref()),
            ("tape", Thing::Tape, self.tape.as_ref()),
            ("operator", Thing::Person, self.operator.as_ref()),
            ("customer", Thing::Person, self.customer.as_ref()),
        ]
    }

    /// The place for what the rig names by `key`; `None` when `key` is no link.
    pub fn linked(&mut self, key: &str) -> Option<&mut Option<Entry>> {
        Some(match key {
            "tractor" => &mut self.tractor,
            "tyres" => &mut self.tyres,
            "tape" => &mut self.tape,
            "operator" => &mut self.operator,
            "customer" => &mut self.customer,
            _ => return None,
        })
    }

    /// The rig's links: key, kind of thing, name.
    pub fn links(rig: &Entry) -> impl Iterator<Item = (&'static str, Thing, &str)> {
        Thing::Rig.fields().iter().filter_map(|field| match field.kind {
            FieldKind::Link(thing) => rig.text(field.key).map(|name| (field.key, thing, name)),
            _ => None,
        })
    }
}
