//! The stations of a job, in the order of the work.

use super::stations as words;

/// A station.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Station {
    /// What is plugged in, what is due, practice.
    Start,
    /// Tractor, tyres, antenna, tape, people.
    Rig,
    /// Board, receiver and sensors.
    Check,
    /// Tape and plan.
    Course,
    /// The passes.
    Drive,
    /// The value to enter.
    Value,
    /// Did the tractor take it.
    Proof,
    /// Impulses per revolution of the shaft.
    Pto,
    /// Position of the antenna.
    Antenna,
    /// Wheel, radar and satellite compared.
    Speeds,
    /// Slip and its map.
    Slip,
    /// The speeds on the implement bus.
    Bus,
    /// Signing off.
    Sign,
    /// What was signed off, papers, files.
    Records,
}

impl Station {
    /// All of them, in the order of the work.
    pub const ALL: [Self; 14] = [
        Self::Start,
        Self::Rig,
        Self::Check,
        Self::Course,
        Self::Drive,
        Self::Value,
        Self::Proof,
        Self::Pto,
        Self::Antenna,
        Self::Speeds,
        Self::Slip,
        Self::Bus,
        Self::Sign,
        Self::Records,
    ];

    /// Its path.
    #[must_use]
    pub const fn path(self) -> &'static str {
        match self {
            Self::Start => "/",
            Self::Rig => "/rig",
            Self::Check => "/check",
            Self::Course => "/course",
            Self::Drive => "/drive",
            Self::Value => "/value",
            Self::Proof => "/proof",
            Self::Pto => "/pto",
            Self::Antenna => "/antenna",
            Self::Speeds => "/speeds",
            Self::Slip => "/slip",
            Self::Bus => "/bus",
            Self::Sign => "/sign",
            Self::Records => "/records",
        }
    }

    /// A word for it in files: its path without the stroke.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            other => other.path().trim_start_matches('/'),
        }
    }

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        words::name(self)
    }

    /// What it is for, in one sentence.
    #[must_use]
    pub const fn about(self) -> &'static str {
        words::about(self)
    }
}
