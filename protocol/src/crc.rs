//! The one checksum: CRC-32C, in the catalogue of parametrised CRC algorithms CRC-32/ISCSI.
//!
//! Polynomial 0x1EDC6F41, initial value and final exclusive-or 0xFFFFFFFF, reflected both ways;
//! check value 0xE3069283 (RFC 3720, appendix B.4, uses the same algorithm).
//!
//! Thirty-two bits, because byte stuffing turns one flipped bit of a length code into a burst: a
//! 16-bit checksum was seen to let two-bit errors through, this one was not.
//!
//! Two ways, one value. A processor without an operating system gets a table of 256 words (1 KiB):
//! the board makes some 5 KB of frames a second, and a faster table alone would fill half of its
//! 32 KiB of flash. A host reads whole days back at once and uses its processor's own instruction
//! for this very sum, or a large table where it has none. A test compares the two.

/// CRC-32C of `bytes`.
#[cfg(target_os = "none")]
#[must_use]
pub fn crc32c(bytes: &[u8]) -> u32 {
    use ::crc::{CRC_32_ISCSI, Crc, Table};
    static CRC_32C: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISCSI);
    CRC_32C.checksum(bytes)
}

/// CRC-32C of `bytes`.
#[cfg(not(target_os = "none"))]
#[must_use]
pub fn crc32c(bytes: &[u8]) -> u32 {
    ::crc32c::crc32c(bytes)
}

#[cfg(test)]
mod tests {
    use ::crc::{CRC_32_ISCSI, Crc, Table};

    #[test]
    fn the_instruction_and_the_boards_table_agree_at_every_length_and_place() {
        let small = Crc::<u32, Table<1>>::new(&CRC_32_ISCSI);
        let bytes: [u8; 1600] = core::array::from_fn(|i| (i as u8).wrapping_mul(167) ^ 0x5A);
        for from in 0..9 {
            for to in from..=bytes.len() {
                let part = &bytes[from..to];
                assert_eq!(super::crc32c(part), small.checksum(part), "{from}..{to}");
            }
        }
    }
}
