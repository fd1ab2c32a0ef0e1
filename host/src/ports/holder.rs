//! Which program holds a port. Only Linux can answer that.

use crate::shell::out::scrub;
use std::path::Path;

/// Programs that have the port open, as `name (pid n)`. Empty where the system does not say, or
/// does not say it to this user.
#[must_use]
pub fn holders(path: &str) -> Vec<String> {
    let Ok(device) = Path::new(path).canonicalize() else { return Vec::new() };
    let mut found = Vec::new();
    for process in std::fs::read_dir("/proc").into_iter().flatten().flatten() {
        let Ok(pid) = process.file_name().to_string_lossy().parse::<u32>() else { continue };
        let handles = std::fs::read_dir(process.path().join("fd")).into_iter().flatten();
        let holds =
            |link: std::path::PathBuf| std::fs::read_link(link).is_ok_and(|to| to == device);
        if handles.flatten().any(|handle| holds(handle.path())) {
            let name = std::fs::read_to_string(process.path().join("comm")).unwrap_or_default();
            let name = scrub(name.trim(), 40);
            found
                .push(format!("{} (pid {pid})", if name.is_empty() { "a program" } else { &name }));
        }
    }
    found.sort();
    found
}
