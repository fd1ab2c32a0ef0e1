//! What the program is: its version, the commit it was built from, the formats it keeps to.

use crate::packed;
use crate::recorder::capture_read::CAPTURE_VERSION;
use crate::store::register;
use std::sync::LazyLock;
use trundle_core::result::{record_v1, settings_v1};
use trundle_core::rig::RIG_FILE_VERSION;

/// Said by `--version`; `-V` says the number alone. The commit is that of `TRUNDLE_COMMIT` at the
/// time of building.
static LONG: LazyLock<String> = LazyLock::new(|| {
    let formats = [
        ("protocol", usize::from(trundle_protocol::version::CURRENT)),
        ("capture", CAPTURE_VERSION as usize),
        ("packed capture", usize::from(packed::VERSION)),
        ("record", record_v1::VERSION as usize),
        ("settings sheet", settings_v1::VERSION as usize),
        ("rig file", RIG_FILE_VERSION as usize),
        ("register", register::VERSION),
    ];
    let commit = option_env!("TRUNDLE_COMMIT").filter(|commit| !commit.is_empty());
    trundle_show::words::version::long(env!("CARGO_PKG_VERSION"), commit, &formats)
});

/// The long answer to `--version`.
#[must_use]
pub fn long() -> &'static str {
    &LONG
}
