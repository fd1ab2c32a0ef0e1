//! Where things are saved: the platform's folder for data, or the one that was named.

use super::settings::Settings;
use crate::shell::exit::{self, Trouble};
use etcetera::BaseStrategy as _;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Names the folder for data; the option `--data` wins over it.
pub const VARIABLE: &str = "TRUNDLE_DATA";
/// Our folder in the platform's folders.
const OURS: &str = "trundle";

/// The folder named by `--data`, set once by `main`.
static NAMED: OnceLock<PathBuf> = OnceLock::new();

/// A folder with a register, captures beside it, and the lock.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DataFolder {
    folder: PathBuf,
    origin: &'static str,
}

/// Note the folder that `--data` names.
pub fn name(folder: PathBuf) {
    // Only the first call counts; `main` calls once.
    let _ = NAMED.set(folder);
}

impl DataFolder {
    /// The place in force: `--data`, else [`VARIABLE`], else what the settings name, else the
    /// platform's folder.
    ///
    /// # Errors
    /// Exit code 6 when there is no home folder to keep anything in; those of the settings.
    pub fn in_force() -> Result<Self, Trouble> {
        if let Some(folder) = NAMED.get() {
            return Ok(Self { folder: folder.clone(), origin: "--data" });
        }
        if let Some(folder) = std::env::var_os(VARIABLE).filter(|value| !value.is_empty()) {
            return Ok(Self { folder: folder.into(), origin: VARIABLE });
        }
        if let Some(folder) = Settings::read()?.data {
            return Ok(Self { folder, origin: "the settings" });
        }
        let folders = etcetera::choose_base_strategy().map_err(|e| {
            Trouble::new(
                exit::STORAGE,
                format!("There is no home folder to save records in ({e})."),
                "Nothing can be saved or looked up.",
                format!("Name a folder with --data or {VARIABLE}."),
            )
        })?;
        Ok(Self { folder: folders.data_dir().join(OURS), origin: "this system's usual place" })
    }

    /// A place in this folder.
    #[must_use]
    pub fn at(folder: &Path) -> Self {
        Self { folder: folder.to_owned(), origin: "named" }
    }

    /// The folder of all data.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Why it is this folder.
    #[must_use]
    pub const fn origin(&self) -> &'static str {
        self.origin
    }

    /// The register of rigs and records.
    #[must_use]
    pub fn register(&self) -> PathBuf {
        self.folder.join("register.db")
    }

    /// Captures of signed-off records, named by their digests.
    #[must_use]
    pub fn captures(&self) -> PathBuf {
        self.folder.join("captures")
    }

    /// Held by the program that writes.
    #[must_use]
    pub fn lock(&self) -> PathBuf {
        self.folder.join("writer.lock")
    }

    /// Make the folders, readable by their owner alone.
    ///
    /// # Errors
    /// Exit code 6.
    pub fn make(&self) -> Result<(), Trouble> {
        make_private(&self.folder).and_then(|()| make_private(&self.captures()))
    }
}

/// Make a folder that is there already, or is readable by its owner alone.
///
/// # Errors
/// Exit code 6.
pub fn make_private(folder: &Path) -> Result<(), Trouble> {
    private(folder).map_err(|e| {
        Trouble::new(
            exit::STORAGE,
            format!("{} cannot be made: {e}.", folder.display()),
            "Nothing can be saved there.",
            format!("Name another folder with --data or {VARIABLE}."),
        )
    })
}

fn private(folder: &Path) -> std::io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.recursive(true).create(folder)
}
