//! Names of serial ports: which two mean the same port, and in what order people look for them.
//!
//! Windows calls its ports `COM1`, `COM2` and so on, in capitals or not. From `COM10` on only the
//! long form `\\.\COM10` opens; the serial library puts that in front itself, and people copy it
//! from other programs, so that both forms come in.

/// What Windows puts before the name of a device (its documentation of file names, "Win32 device
/// namespaces").
const PREFIXES: [&str; 2] = [r"\\.\", r"\\?\"];

/// Number of a port that is named as Windows does, in any of the forms people write: `COM7`,
/// `com7:`, `\\.\COM7`.
#[must_use]
pub fn number(name: &str) -> Option<u32> {
    let bare = PREFIXES.iter().find_map(|prefix| name.strip_prefix(prefix)).unwrap_or(name);
    let bare = bare.strip_suffix(':').unwrap_or(bare);
    let (word, digits) = bare.split_at_checked(3)?;
    // `+7` would be read as a number too.
    let plain = !digits.starts_with('0') && digits.bytes().all(|b| b.is_ascii_digit());
    (word.eq_ignore_ascii_case("COM") && plain).then(|| digits.parse().ok()).flatten()
}

/// The short form of a port that Windows names, any other name as it stands.
#[must_use]
pub fn plain(name: &str) -> String {
    number(name).map_or_else(|| name.to_owned(), |number| format!("COM{number}"))
}

/// For sorting: `COM9` before `COM10`, `ttyACM9` before `ttyACM10`.
#[must_use]
pub fn order(name: &str) -> (String, u64) {
    let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
    // More digits than fit a number are no number of a port.
    let number = name[stem.len()..].parse().unwrap_or(0);
    (stem.to_owned(), number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_of_a_name_is_the_same_port() {
        for name in ["COM12", "com12", "Com12:", r"\\.\COM12", r"\\.\com12", r"\\?\COM12"] {
            assert_eq!((number(name), &*plain(name)), (Some(12), "COM12"), "{name}");
        }
        assert_eq!(number("COM9"), Some(9));
        assert_eq!(number("COM256"), Some(256));
    }

    #[test]
    fn other_names_stay_as_they_are() {
        let others = [
            "COM",
            "COM0",
            "COM01",
            "COM+7",
            "COM7x",
            "COMMON",
            "LPT1",
            r"\\.\CNCA0",
            r"\\server\COM7",
            "/dev/ttyACM0",
            "co\u{df}7",
            "",
        ];
        for name in others {
            assert_eq!((number(name), &*plain(name)), (None, name));
        }
    }

    #[test]
    fn ports_stand_in_the_order_of_their_numbers() {
        let mut names = ["COM10", "COM9", "COM1", "/dev/ttyACM10", "/dev/ttyACM2"];
        names.sort_by_key(|name| order(name));
        assert_eq!(names, ["/dev/ttyACM2", "/dev/ttyACM10", "COM1", "COM9", "COM10"]);
        assert_eq!(order("x99999999999999999999999").1, 0);
    }
}
