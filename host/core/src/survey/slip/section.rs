//! One section of distance.

use crate::survey::ride::parts::PartKind;

crate::units::words! {
    /// What keeps a section from being taken at its word.
    #[derive(PartialOrd, Ord)]
    pub enum SectionFlag {
        /// In a turn, and the antenna position is not known.
        MountingUnknown = "MOUNTING_UNKNOWN",
        /// No count was received for more than half a second near an end of it.
        LinkGap = "LINK_GAP",
        /// The kind of fix changed inside, or got worse shortly before.
        FixQualityChanged = "FIX_QUALITY_CHANGED",
        /// Fixes inside were rejected as implausible, did not move, or contradict their speed.
        FixUnreliable = "FIX_UNRELIABLE",
        /// Less sure than ±0.05.
        Unreliable = "UNRELIABLE",
    }
}

impl SectionFlag {
    /// All of them, in their order.
    pub const ALL: [Self; 5] = [
        Self::MountingUnknown,
        Self::LinkGap,
        Self::FixQualityChanged,
        Self::FixUnreliable,
        Self::Unreliable,
    ];
}

/// Slip over one section of distance.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// UTC of its middle, nanoseconds since 1970.
    pub utc_ns: i64,
    /// Board seconds since boot, start and finish.
    pub board_s: (f64, f64),
    /// The axle's way, degrees, about a metre from point to point.
    pub line: Vec<(f64, f64)>,
    /// The axle's way, metres along the ground.
    pub length_m: f64,
    /// Its standard uncertainty, metres.
    pub u_length_m: f64,
    /// The parts of it that the antenna position makes, right and ahead, a slope that is not known
    /// and the scale of the receiver's speed, with their signs: the same error in all sections.
    pub shared_m: [f64; 4],
    /// Impulses of the wheel sensor.
    pub impulses: f64,
    /// Mean ground speed, m/s.
    pub ground_speed_m_s: f64,
    /// 1 - actual/theoretical travel.
    pub slip: f64,
    /// Standard uncertainty of the slip, that of the zero-slip value included.
    pub standard_uncertainty: f64,
    /// Mean heading, degrees clockwise from north.
    pub heading_deg: f64,
    /// Change of heading, radians, clockwise positive.
    pub turned_rad: f64,
    /// Whether it is pass or turn.
    pub kind: PartKind,
    /// Number of its part, from 1.
    pub part: u32,
    /// The implement was in work all the way.
    pub in_work: bool,
    /// Warnings about this section.
    pub flags: Vec<SectionFlag>,
}

impl Section {
    /// Position of its middle, degrees.
    #[must_use]
    pub fn middle(&self) -> (f64, f64) {
        self.line.get(self.line.len() / 2).copied().unwrap_or_default()
    }
}
