//! The groups of interest, decoded: speeds, distances, the shaft.
//!
//! Layouts of ISO 11783-7 as restated in public open-source code of the standard; the layout of
//! the shaft's message and the meaning of the sources of the selected speed from memory. Numbers
//! are little endian. A value that its sender calls an error or not available is absent here.

use super::frame::{CanFrame, Id};
use super::group::GroupId;

/// Group number of the wheel-based speed and distance.
pub const WHEEL_GROUP: u32 = 0xFE48;
/// Group number of the ground-based speed and distance.
pub const GROUND_GROUP: u32 = 0xFE49;
/// Group number of the speed that the tractor selected.
pub const SELECTED_GROUP: u32 = 0xF022;
/// Group number of the rear PTO's output shaft.
pub const REAR_SHAFT_GROUP: u32 = 0xFE43;

/// Raw values above these are no data: reserved, an error, or not available.
const DATA_MAX_16: u16 = 0xFAFF;
/// The same for 32 bits.
pub(super) const DATA_MAX_32: u32 = 0xFAFF_FFFF;
/// The shaft's speed in one bit, r/min.
const RPM_PER_BIT: f64 = 0.125;

/// Which of the bus's speeds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BusSpeed {
    /// By the control unit's impulses of wheel or gearbox over the value keyed in.
    Wheel,
    /// By the radar.
    Ground,
    /// The one that the tractor hands on to implements.
    Selected,
}

impl BusSpeed {
    /// All of them, in the order in which they are shown.
    pub const ALL: [Self; 3] = [Self::Wheel, Self::Ground, Self::Selected];
}

/// Where the selected speed comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SelectedSource {
    /// The wheel-based speed.
    Wheel,
    /// The ground-based speed.
    Ground,
    /// A satellite receiver on the bus.
    Navigation,
    /// Several of them, blended.
    Blended,
    /// None: it is made up.
    Simulated,
    /// One of the numbers that mean nothing yet.
    Reserved(u8),
}

/// Which way it drives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Backwards.
    Reverse,
    /// Ahead.
    Forward,
}

/// One message with a speed and a distance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SpeedMessage {
    /// Which speed.
    pub kind: BusSpeed,
    /// The speed, mm/s.
    pub speed_mm_s: Option<u16>,
    /// The running distance, mm; it wraps.
    pub distance_mm: Option<u32>,
    /// Which way it drives.
    pub direction: Option<Direction>,
    /// Where a selected speed comes from.
    pub source: Option<SelectedSource>,
}

/// One message of the rear PTO's shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShaftMessage {
    /// Speed of the shaft, r/min.
    pub shaft_rpm: Option<f64>,
    /// The speed it is to run at, r/min.
    pub set_point_rpm: Option<f64>,
}

/// What a frame said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BusMessage {
    /// A speed and a distance.
    Speed(SpeedMessage),
    /// The rear PTO.
    RearShaft(ShaftMessage),
}

/// What became of a frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Decoded {
    /// Not of a group that is read here.
    Other,
    /// Of such a group, but not of its length.
    WrongLength,
    /// A message of the control unit with this address.
    Message(u8, BusMessage),
}

/// Decode a frame.
#[must_use]
pub fn decode(frame: &CanFrame) -> Decoded {
    let Id::Extended(id) = frame.id else { return Decoded::Other };
    let GroupId { group, source, .. } = GroupId::of(id);
    let kind = match group {
        WHEEL_GROUP => Some(BusSpeed::Wheel),
        GROUND_GROUP => Some(BusSpeed::Ground),
        SELECTED_GROUP => Some(BusSpeed::Selected),
        REAR_SHAFT_GROUP => None,
        _ => return Decoded::Other,
    };
    let Ok(data) = <&[u8; 8]>::try_from(frame.data()) else { return Decoded::WrongLength };
    let message = match kind {
        Some(kind) => BusMessage::Speed(speed_message(kind, data)),
        None => BusMessage::RearShaft(shaft_message(data)),
    };
    Decoded::Message(source, message)
}

fn speed_message(kind: BusSpeed, data: &[u8; 8]) -> SpeedMessage {
    let [s0, s1, d0, d1, d2, d3, _, last] = *data;
    let distance = u32::from_le_bytes([d0, d1, d2, d3]);
    SpeedMessage {
        kind,
        speed_mm_s: data_16([s0, s1]),
        distance_mm: (distance <= DATA_MAX_32).then_some(distance),
        direction: match last & 0b11 {
            0 => Some(Direction::Reverse),
            1 => Some(Direction::Forward),
            _ => None,
        },
        source: (kind == BusSpeed::Selected).then(|| selected(last >> 2 & 0b111)).flatten(),
    }
}

/// 7 is not available; 6 is an error.
const fn selected(bits: u8) -> Option<SelectedSource> {
    Some(match bits {
        0 => SelectedSource::Wheel,
        1 => SelectedSource::Ground,
        2 => SelectedSource::Navigation,
        3 => SelectedSource::Blended,
        4 => SelectedSource::Simulated,
        5 => SelectedSource::Reserved(bits),
        _ => return None,
    })
}

fn shaft_message(data: &[u8; 8]) -> ShaftMessage {
    let [s0, s1, p0, p1, ..] = *data;
    let rpm = |bytes| data_16(bytes).map(|raw| f64::from(raw) * RPM_PER_BIT);
    ShaftMessage { shaft_rpm: rpm([s0, s1]), set_point_rpm: rpm([p0, p1]) }
}

fn data_16(bytes: [u8; 2]) -> Option<u16> {
    Some(u16::from_le_bytes(bytes)).filter(|raw| *raw <= DATA_MAX_16)
}
