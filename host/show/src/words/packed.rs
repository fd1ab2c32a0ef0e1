//! What is said of captures that are packed and unpacked.

/// A capture was packed.
#[must_use]
pub fn packed(name: &str, plain: u64, length: u64) -> String {
    format!("{name}: packed, {} is now {}.", size(plain), size(length))
}

/// A capture was unpacked.
#[must_use]
pub fn unpacked(name: &str, plain: u64) -> String {
    format!("{name}: unpacked, now {}.", size(plain))
}

/// There was nothing to pack.
#[must_use]
pub fn packed_already(name: &str) -> String {
    format!("{name}: packed already.")
}

/// There was nothing to unpack.
#[must_use]
pub fn not_packed(name: &str) -> String {
    format!("{name}: not packed.")
}

/// A capture that may still be growing: what happened, what it means, what to do.
#[must_use]
pub fn recording(name: &str) -> [String; 3] {
    [
        format!("{name} has no end yet, and something was added within the last minute."),
        "It was not packed: only a capture that is closed is.".to_owned(),
        "Close the job first. Of a job that broke off, pack the capture a minute later.".to_owned(),
    ]
}

/// A capture that could not be packed or unpacked; `why` is a sentence without its end.
#[must_use]
pub fn as_it_was(name: &str, why: &str) -> [String; 3] {
    [
        format!("{name} was left as it is: {why}."),
        "Nothing in it was changed.".to_owned(),
        "Check file and disk, then try again. Every command reads captures packed or not."
            .to_owned(),
    ]
}

fn size(bytes: u64) -> String {
    let bytes = bytes as f64;
    match bytes {
        ..1e3 => format!("{bytes:.0} bytes"),
        ..1e6 => format!("{:.1} kB", bytes * 1e-3),
        _ => format!("{:.1} MB", bytes * 1e-6),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_said_in_three_units() {
        let said = [7, 12_340, 999_949, 212_099_000].map(size);
        assert_eq!(said, ["7 bytes", "12.3 kB", "999.9 kB", "212.1 MB"]);
        assert_eq!(packed("a", 212_099, 73_900), "a: packed, 212.1 kB is now 73.9 kB.");
        assert_eq!(unpacked("a", 212_099), "a: unpacked, now 212.1 kB.");
    }
}
