//! The files of the project.

use std::path::{Path, PathBuf};
use std::process::Command;

/// Largest tracked file, bytes; the lock file alone may be larger.
const FILE_BYTES: u64 = 256 * 1024;
/// What the top level holds, besides names that begin with a dot.
const TOP: [&str; 12] = [
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    "LICENSE-MIT",
    "LICENSE-APACHE",
    "host",
    "firmware-sim",
    "protocol",
    "tests",
    "logs",
];
/// Kinds of text that are written by hand.
const TEXTS: [&str; 7] = [".rs", ".md", ".toml", ".sh", ".py", ".json", ".ci/run"];

/// The project's folder.
pub struct Tree {
    root: PathBuf,
    /// The files under version control that are there, sorted, with `/` between the names: what a
    /// demonstration or a job leaves beside them is nobody's code. Where there is no repository,
    /// as in an unpacked archive, every file but build results.
    pub files: Vec<String>,
}

impl Tree {
    pub fn open() -> Self {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).ancestors().nth(2).unwrap().to_owned();
        let mut files = Vec::new();
        if root.join(".git").exists() {
            files = tracked(&root);
        } else {
            walk(&root, "", &mut files);
        }
        files.sort();
        Self { root, files }
    }

    pub fn read(&self, path: &str) -> String {
        std::fs::read_to_string(self.root.join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
    }

    /// Rust files.
    pub fn sources(&self) -> Vec<String> {
        self.files.iter().filter(|path| path.ends_with(".rs")).cloned().collect()
    }

    /// Texts written by hand; recordings and their papers are not.
    pub fn texts(&self) -> Vec<String> {
        let by_hand = |path: &&String| {
            TEXTS.iter().any(|end| path.ends_with(end)) && !path.starts_with("tests/data/")
        };
        self.files.iter().filter(by_hand).cloned().collect()
    }

    /// The files with their sizes in bytes.
    pub fn sizes(&self) -> Vec<(String, u64)> {
        let size = |path: &String| std::fs::metadata(self.root.join(path)).map(|m| m.len());
        self.files.iter().map(|path| (path.clone(), size(path).unwrap())).collect()
    }
}

fn tracked(root: &Path) -> Vec<String> {
    let run = Command::new("git").args(["ls-files", "-z"]).current_dir(root).output();
    let out = run.expect("git must be installed where the project is a git repository");
    assert!(out.status.success(), "git ls-files: {}", String::from_utf8_lossy(&out.stderr));
    let names = String::from_utf8(out.stdout).expect("file names are plain text");
    let there = |name: &&str| !name.is_empty() && root.join(name).exists();
    names.split('\0').filter(there).map(str::to_owned).collect()
}

fn walk(folder: &Path, prefix: &str, out: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{prefix}: {e}")) {
        let entry = entry.unwrap();
        let name = entry.file_name().into_string().expect("file names are plain text");
        let path = format!("{prefix}{name}");
        if entry.file_type().unwrap().is_dir() {
            if name != "target" && name != ".git" {
                walk(&entry.path(), &format!("{path}/"), out);
            }
        } else {
            out.push(path);
        }
    }
}

/// Tracked names at the top level that do not belong there.
pub fn strangers(tracked: &[String]) -> Vec<String> {
    let mut tops: Vec<&str> = tracked.iter().filter_map(|path| path.split('/').next()).collect();
    tops.dedup();
    tops.retain(|name| !name.starts_with('.') && !TOP.contains(name));
    tops.iter().map(|name| format!("{name}: the top level is fixed")).collect()
}

/// Tracked files that are too large.
pub fn large(sizes: &[(String, u64)]) -> Vec<String> {
    let too_large = |file: &&(String, u64)| file.1 > FILE_BYTES && file.0 != "Cargo.lock";
    let words = |(path, n): &(String, u64)| format!("{path}: {n} bytes, limit {FILE_BYTES}");
    sizes.iter().filter(too_large).map(words).collect()
}

#[test]
fn strangers_and_large_files_are_found() {
    let tracked = ["README.md", ".ci/run", "host/src/lib.rs", "notes.txt", "docs/a.md"];
    assert_eq!(strangers(&tracked.map(str::to_owned)).len(), 2);
    let sizes = [("a.bin", 262_145), ("b.bin", 262_144), ("Cargo.lock", 300_000)];
    let found = large(&sizes.map(|(path, n)| (path.to_owned(), n)));
    assert_eq!(found.len(), 1, "{found:?}");
}
