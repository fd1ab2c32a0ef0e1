//! The firmware on a counter board against what this program expects.

use trundle_protocol::message::Hello;

/// The version this program was made with: that of the board's counting package beside it.
pub const EXPECTED: [u8; 3] = trundle_counter::FIRMWARE;

crate::units::words! {
    /// How a board's firmware stands to the expected one.
    pub enum FirmwareAge {
        /// The board's is older.
        Older = "older",
        /// They are the same.
        AsExpected = "as_expected",
        /// The board's is newer.
        Newer = "newer",
    }
}

/// How to put a new file on a board. Counts are lost by it, so it is no work for between passes.
pub const HOW_TO_UPDATE: &str = "To put a new file on: do it before a job, not during one, since \
    counting begins anew and a pass that is open is lost. Unplug the board, hold its BOOTSEL \
    button and plug it in: a drive appears. Drag `trundle-board.uf2` of the release's folder \
    `board` onto it (`trundle-board-uart.uf2` where the board is joined by the isolated serial \
    line): the board restarts by itself. Then run `trundle check --bench`.";

/// How this firmware stands to the expected one.
#[must_use]
pub fn age(firmware: [u8; 3]) -> FirmwareAge {
    match firmware.cmp(&EXPECTED) {
        std::cmp::Ordering::Less => FirmwareAge::Older,
        std::cmp::Ordering::Equal => FirmwareAge::AsExpected,
        std::cmp::Ordering::Greater => FirmwareAge::Newer,
    }
}

/// A version as people write it.
#[must_use]
pub fn version_words([major, minor, patch]: [u8; 3]) -> String {
    format!("{major}.{minor}.{patch}")
}

/// The version and how it stands to the expected one, in words.
#[must_use]
pub fn stands(firmware: [u8; 3]) -> String {
    let version = version_words(firmware);
    let expected = version_words(EXPECTED);
    match age(firmware) {
        FirmwareAge::Older => format!("firmware {version}, older than the expected {expected}"),
        FirmwareAge::AsExpected => format!("firmware {version}, as expected"),
        FirmwareAge::Newer => format!("firmware {version}, newer than the expected {expected}"),
    }
}

/// What another version means for the calibration value; empty where it is the expected one.
#[must_use]
pub const fn means(age: FirmwareAge) -> &'static str {
    match age {
        FirmwareAge::Older => {
            "What it sends is understood, and what is recorded stays usable; faults of its \
             counting that were repaired since are still in it, and it may have no test signal."
        }
        FirmwareAge::AsExpected => "",
        FirmwareAge::Newer => {
            "What it sends is understood, and what is recorded stays usable; this program does not \
             know what was changed in it. Update this program."
        }
    }
}

/// What to do about it; empty where there is nothing to do.
#[must_use]
pub const fn next(age: FirmwareAge) -> &'static str {
    match age {
        FirmwareAge::Older => HOW_TO_UPDATE,
        FirmwareAge::AsExpected | FirmwareAge::Newer => "",
    }
}

/// What another version means and where it says more, for a live screen; `None` where it is the
/// expected one.
#[must_use]
pub fn remark(hello: &Hello) -> Option<String> {
    let age = age(hello.firmware);
    let more = match age {
        FirmwareAge::AsExpected => return None,
        FirmwareAge::Older => " `trundle ports` shows how to update it, before the next job.",
        FirmwareAge::Newer => "",
    };
    Some(format!("{}{more}", means(age)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_older_board_is_told_which_file_to_drag() {
        let said = HOW_TO_UPDATE;
        assert!(said.contains("Drag `trundle-board.uf2` of"), "{said}");
        assert!(said.contains("`trundle-board-uart.uf2` where"), "{said}");
    }

    #[test]
    fn versions_are_compared_number_by_number() {
        let [major, minor, patch] = EXPECTED;
        assert_eq!(age(EXPECTED), FirmwareAge::AsExpected);
        assert_eq!(age([major, minor, patch + 1]), FirmwareAge::Newer);
        assert_eq!(age([major, minor + 1, 0]), FirmwareAge::Newer);
        assert_eq!(age([major, minor - 1, 250]), FirmwareAge::Older);
        // 0.10 comes after 0.9: numbers, not text.
        assert!([0, 10, 0] > [0, 9, 0]);
    }

    #[test]
    fn only_another_version_is_remarked_on() {
        let hello = |firmware| Hello { firmware, ..Hello::default() };
        assert_eq!(remark(&hello(EXPECTED)), None);
        let old = remark(&hello([0, 1, 0])).unwrap_or_default();
        assert!(old.contains("stays usable") && old.contains("trundle ports"), "{old}");
        assert!(stands([0, 1, 0]).contains("firmware 0.1.0, older than the expected"));
        let new = remark(&hello([9, 0, 0])).unwrap_or_default();
        assert!(new.contains("Update this program"), "{new}");
        assert!(stands([9, 0, 0]).contains("newer"));
    }
}
