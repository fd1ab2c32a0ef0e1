//! What a 29-bit identifier says: priority, parameter group, who sent it and to whom.
//!
//! ISO 11783-3 and SAE J1939-21: priority (3 bits), reserved (1), data page (1), PDU format (8),
//! PDU specific (8), source address (8). From PDU format 240 on the PDU specific byte belongs to
//! the number of the group and the message is for everyone; below, it is the address meant.

use super::frame::ExtendedId;

/// PDU formats from here on are for everyone.
const BROADCAST_FROM: u32 = 240;

/// An identifier taken apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GroupId {
    /// 0 is the most urgent, 7 the least.
    pub priority: u8,
    /// Number of the parameter group, 18 bits.
    pub group: u32,
    /// Whom it is for; `None`: everyone.
    pub destination: Option<u8>,
    /// Address of the control unit that sent it.
    pub source: u8,
}

impl GroupId {
    /// Take an identifier apart.
    #[must_use]
    pub fn of(id: ExtendedId) -> Self {
        let raw = id.as_raw();
        let (priority, source) = ((raw >> 26) as u8, raw as u8);
        let number = raw >> 8 & 0x3_FFFF;
        let (format, specific) = (number >> 8 & 0xFF, number as u8);
        if format >= BROADCAST_FROM {
            return Self { priority, group: number, destination: None, source };
        }
        Self { priority, group: number & 0x3_FF00, destination: Some(specific), source }
    }
}
