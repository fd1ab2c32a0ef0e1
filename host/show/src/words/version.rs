//! What the program says of itself: version, sources, formats.

/// The long answer to `--version`, without the program's name, which stands before it. `commit`:
/// that of the sources, where it is known; `formats`: each by its name, with its version.
#[must_use]
pub fn long(version: &str, commit: Option<&str>, formats: &[(&str, usize)]) -> String {
    let commit = match commit {
        Some(commit) => format!("commit {commit}"),
        None => "commit not stated: not built as a release is".to_owned(),
    };
    let formats: Vec<String> =
        formats.iter().map(|(name, version)| format!("{name} {version}")).collect();
    format!("{version}\n{commit}\nversions of the formats: {}", formats.join(", "))
}

#[cfg(test)]
mod tests {
    use super::long;

    #[test]
    fn version_commit_and_formats_have_a_line_each() {
        let said = long("9.1.0", Some("0123abcd"), &[("capture", 2), ("record", 1)]);
        assert_eq!(said, "9.1.0\ncommit 0123abcd\nversions of the formats: capture 2, record 1");
        assert!(long("9.1.0", None, &[]).contains("not stated"));
    }
}
