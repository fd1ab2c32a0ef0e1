//! The one checksum: CRC-32C, in the catalogue of parametrised CRC algorithms CRC-32/ISCSI.
//!
//! Polynomial 0x1EDC6F41, initial value and final exclusive-or 0xFFFFFFFF, reflected both ways;
//! check value 0xE3069283 (RFC 3720, appendix B.4, uses the same algorithm).
//!
//! Thirty-two bits, because byte stuffing turns one flipped bit of a length code into a burst: a
//! 16-bit checksum was seen to let two-bit errors through, this one was not.
//!
//! Two widths of table, one value. A processor without an operating system gets the table of
//! 256 words (1 KiB): the board makes some 5 KB of frames a second, and the fast table alone
//! would fill half of its 32 KiB of flash. A host reads whole days back at once and gets the
//! sixteen-lane table (16 KiB). A test compares the two.

use ::crc::{CRC_32_ISCSI, Crc, Table};

#[cfg(target_os = "none")]
type Lanes = Table<1>;
#[cfg(not(target_os = "none"))]
type Lanes = Table<16>;

static CRC_32C: Crc<u32, Lanes> = Crc::<u32, Lanes>::new(&CRC_32_ISCSI);

/// CRC-32C of `bytes`.
#[must_use]
pub fn crc32c(bytes: &[u8]) -> u32 {
    CRC_32C.checksum(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_tables_agree_at_every_length() {
        let small = Crc::<u32, Table<1>>::new(&CRC_32_ISCSI);
        let large = Crc::<u32, Table<16>>::new(&CRC_32_ISCSI);
        let bytes: [u8; 256] = core::array::from_fn(|i| (i as u8).wrapping_mul(167) ^ 0x5A);
        for len in 0..=bytes.len() {
            assert_eq!(small.checksum(&bytes[..len]), large.checksum(&bytes[..len]), "{len}");
            assert_eq!(crc32c(&bytes[..len]), small.checksum(&bytes[..len]), "{len}");
        }
    }
}
