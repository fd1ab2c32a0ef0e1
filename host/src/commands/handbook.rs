//! `trundle completions` and `trundle manual`: what shells and manuals want to know.

use super::args::Args;
use crate::ports::open;
use crate::shell::exit::{self, OK, Trouble};
use crate::shell::out;
use crate::store::place::DataFolder;
use crate::store::register::{Register, Wanted};
use clap::CommandFactory as _;
use clap_complete::engine::{ArgValueCompleter, CompletionCandidate};
use clap_complete::env::Shells;
use std::ffi::OsStr;
use std::path::PathBuf;
use trundle_core::rig::Thing;

/// The variable by which a shell asks for completions.
pub const ASKED_BY: &str = "COMPLETE";

/// Completions for a shell, with the names of rigs, records and ports.
#[derive(Debug, clap::Args)]
pub struct CompletionsArgs {
    /// The shell that is to complete.
    #[arg(value_parser = ["bash", "zsh", "fish", "elvish", "powershell"])]
    pub shell: String,
}

/// Where manual pages are written to.
#[derive(Debug, clap::Args)]
pub struct ManualArgs {
    /// Folder to write them to; made if it is not there.
    pub folder: PathBuf,
}

/// Print what the shell is to read at its start; gives the exit code.
///
/// # Errors
/// A fault of the program itself.
pub fn completions(args: &CompletionsArgs) -> Result<u8, Trouble> {
    let shells = Shells::builtins();
    let shell = shells.completer(&args.shell);
    let shell = shell.ok_or_else(|| Trouble::internal(format!("no shell {}", args.shell)))?;
    let mut script = Vec::new();
    shell
        .write_registration(ASKED_BY, "trundle", "trundle", "trundle", &mut script)
        .map_err(|e| Trouble::internal(e.to_string()))?;
    out::say_raw(&String::from_utf8_lossy(&script));
    Ok(OK)
}

/// Write the manual pages; gives the exit code.
///
/// # Errors
/// Exit code 6.
pub fn manual(args: &ManualArgs) -> Result<u8, Trouble> {
    let written = std::fs::create_dir_all(&args.folder)
        .and_then(|()| clap_mangen::generate_to(Args::command(), &args.folder));
    written.map_err(|e| {
        let what = format!("{} cannot be written: {e}.", args.folder.display());
        Trouble::new(exit::STORAGE, what, "There are no pages.", "Choose another folder.")
    })?;
    out::say(&format!("The pages are in {}", args.folder.display()));
    Ok(OK)
}

/// Completes names of rigs.
#[must_use]
pub fn rigs() -> ArgValueCompleter {
    things(Thing::Rig)
}

/// Completes names of things of one kind.
#[must_use]
pub fn things(thing: Thing) -> ArgValueCompleter {
    ArgValueCompleter::new(move |typed: &OsStr| {
        let names = register().and_then(|register| register.list(thing).ok()).unwrap_or_default();
        candidates(typed, names.into_iter().map(|one| one.entry.name))
    })
}

/// Completes identities of records.
#[must_use]
pub fn records() -> ArgValueCompleter {
    ArgValueCompleter::new(|typed: &OsStr| {
        let wanted = Wanted { most: Some(200), ..Wanted::default() };
        let all = register().and_then(|register| register.records(&wanted).ok());
        candidates(typed, all.unwrap_or_default().into_iter().map(|one| one.id))
    })
}

/// Completes names of serial ports.
#[must_use]
pub fn serial_ports() -> ArgValueCompleter {
    ArgValueCompleter::new(|typed: &OsStr| {
        candidates(typed, open::list().into_iter().map(|port| port.path))
    })
}

/// Nothing is said when there is no register: a completion has nowhere to say it.
fn register() -> Option<Register> {
    Register::read(&DataFolder::in_force().ok()?).ok()
}

fn candidates(typed: &OsStr, all: impl Iterator<Item = String>) -> Vec<CompletionCandidate> {
    let typed = typed.to_string_lossy();
    all.filter(|name| name.starts_with(&*typed)).map(CompletionCandidate::new).collect()
}
