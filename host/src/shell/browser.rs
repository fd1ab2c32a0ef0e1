//! The reader's own browser.

use std::ffi::OsStr;
use std::time::Duration;

/// What opens the browser is given so long to fail.
const WAIT: Duration = Duration::from_millis(1500);

/// Open a page or a file in it; `false` where that cannot be done.
#[must_use]
pub fn browse(what: impl AsRef<OsStr>) -> bool {
    has_screen() && open::that_detached_with_timeout(what, WAIT).is_ok()
}

/// Without a screen what opens a browser would look for one that shows itself in this terminal.
fn has_screen() -> bool {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let screens = ["DISPLAY", "WAYLAND_DISPLAY", "BROWSER", "WSL_DISTRO_NAME"];
    cfg!(any(windows, target_os = "macos")) || screens.iter().any(|name| set(name))
}
