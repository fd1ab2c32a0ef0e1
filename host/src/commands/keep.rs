//! `trundle bin`, `undo`, `backup`, `restore`, `where`: the bin, undo, backup and restore.

use crate::shell::exit::{FLAGGED, OK, Trouble};
use crate::shell::out;
use crate::store::backup;
use crate::store::place::DataFolder;
use crate::store::register::{Change, Register};
use crate::store::settings;
use serde_json::json;
use std::path::PathBuf;
use trundle_core::rig::{NAME_MAX, Thing};

/// What to do with the bin.
#[derive(Debug, clap::Subcommand)]
pub enum BinVerb {
    /// What is in it.
    List {
        /// Print one JSON object and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// Take one out again.
    Back {
        /// What kind of thing it is.
        #[arg(value_name = "KIND", value_parser = ["tractor", "tyres", "tape", "person", "rig"])]
        kind: String,
        /// Name of the thing.
        name: String,
    },
    /// Empty it for good. What a record or another thing names stays.
    Empty(BinEmpty),
}

/// How the bin is emptied.
#[derive(Debug, clap::Args)]
#[group(required = true, multiple = false)]
pub struct BinEmpty {
    /// Only show what would be deleted.
    #[arg(long)]
    dry_run: bool,
    /// Empty it; nothing comes back.
    #[arg(long)]
    for_good: bool,
}

/// Undoing the last change.
#[derive(Debug, clap::Args)]
pub struct UndoArgs {
    /// Only show what would be undone.
    #[arg(long)]
    dry_run: bool,
}

/// What to back up into.
#[derive(Debug, clap::Args)]
pub struct BackupArgs {
    /// The file to write; one that exists is never overwritten.
    file: PathBuf,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    json: bool,
}

/// What to restore from.
#[derive(Debug, clap::Args)]
pub struct RestoreArgs {
    /// The backup file to read.
    file: PathBuf,
    /// Only say what it holds and whether it is sound.
    #[arg(long)]
    dry_run: bool,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    json: bool,
}

/// Shows where everything is saved.
#[derive(Debug, clap::Args)]
pub struct WhereArgs {
    /// Print one JSON object and nothing else.
    #[arg(long)]
    json: bool,
}

/// `trundle bin`; gives the exit code.
///
/// # Errors
/// Names (2), the register (4, 5, 6).
pub fn bin(verb: &BinVerb) -> Result<u8, Trouble> {
    let place = DataFolder::in_force()?;
    match verb {
        BinVerb::List { json } => bin_list(&Register::read(&place)?, *json)?,
        BinVerb::Back { kind, name } => {
            let thing = Thing::named(kind).unwrap_or(Thing::Rig);
            Register::write(&place)?.take_out(thing, name)?;
            out::say(&format!("The {} \"{}\" is back.", thing.word(), shown(name)));
        }
        BinVerb::Empty(empty) => {
            let done = Register::write(&place)?.empty_bin(empty.dry_run)?;
            let gone = if empty.dry_run { "would be deleted" } else { "deleted" };
            let stays = "stays, because a record or another thing names it";
            for (all, what) in [(&done.gone, gone), (&done.kept, stays)] {
                for (thing, name) in all {
                    out::say(&format!("{} \"{}\": {what}", thing.word(), shown(name)));
                }
            }
            if done.gone.is_empty() && done.kept.is_empty() {
                out::say("The bin is empty.");
            }
        }
    }
    Ok(OK)
}

fn bin_list(register: &Register, json: bool) -> Result<(), Trouble> {
    let all = register.bin()?;
    if json {
        let entries: Vec<_> = all
            .iter()
            .map(|one| {
                let (thing, name) = (one.thing.word(), &one.named.entry.name);
                json!({"thing": thing, "name": name, "since_utc": one.since_utc})
            })
            .collect();
        let object = json!({"format": "trundle-bin", "version": 1, "entries": entries});
        out::say(&object.to_string());
        return Ok(());
    }
    for one in &all {
        let name = shown(&one.named.entry.name);
        out::say(&format!("{} \"{name}\", removed {}", one.thing.word(), one.since_utc));
    }
    if all.is_empty() {
        out::say("The bin is empty.");
    }
    Ok(())
}

/// `trundle undo`; gives the exit code.
///
/// # Errors
/// Exit code 2 when there is nothing to undo; the register's (4, 5, 6).
pub fn undo(args: &UndoArgs) -> Result<u8, Trouble> {
    let done = Register::write(&DataFolder::in_force()?)?.undo(args.dry_run)?;
    for Change { at_utc, action, thing, name } in done {
        let what = match action {
            "add" => "added",
            "edit" => "changed",
            "remove" => "removed",
            "return" => "taken out of the bin",
            _ => "made the active rig",
        };
        let verb = if args.dry_run { "Would undo" } else { "Undone" };
        let name = shown(&name);
        out::say(&format!("{verb}: {} \"{name}\" was {what} at {at_utc}.", thing.word()));
    }
    Ok(OK)
}

/// `trundle backup`; gives the exit code: 1 when something is damaged.
///
/// # Errors
/// Exit code 2 when the file exists; the register's (4, 5, 6).
pub fn backup(args: &BackupArgs) -> Result<u8, Trouble> {
    let done = backup::write(&DataFolder::in_force()?, &args.file)?;
    Ok(summarised(&done, &format!("Backed up into {}", args.file.display()), args.json))
}

/// `trundle restore`; gives the exit code: 1 when something is damaged.
///
/// # Errors
/// Exit code 2 where a register is already, 5 for no backup, 6 when it cannot be written.
pub fn restore(args: &RestoreArgs) -> Result<u8, Trouble> {
    restore_into(&DataFolder::in_force()?, args)
}

/// The same into the place that is named.
///
/// # Errors
/// As [`restore`].
pub fn restore_into(place: &DataFolder, args: &RestoreArgs) -> Result<u8, Trouble> {
    let done = backup::restore(place, &args.file, args.dry_run)?;
    let verb = if args.dry_run { "The backup holds" } else { "Restored" };
    Ok(summarised(&done, verb, args.json))
}

fn summarised(done: &backup::Done, verb: &str, json: bool) -> u8 {
    if json {
        let object = json!({
            "format": "trundle-backup", "version": 1,
            "records": done.records, "captures": done.captures, "damaged": done.damaged,
        });
        out::say(&object.to_string());
    } else {
        out::say(&format!("{verb}: {} records, {} captures.", done.records, done.captures));
        for damaged in &done.damaged {
            out::say(&format!("DAMAGED: {}", out::scrub(damaged, 200)));
        }
    }
    if done.damaged.is_empty() { OK } else { FLAGGED }
}

/// `trundle where`; gives the exit code.
///
/// # Errors
/// Exit code 6 when there is no home folder.
pub fn places(args: &WhereArgs) -> Result<u8, Trouble> {
    let place = DataFolder::in_force()?;
    let register = place.register();
    let exists = register.exists();
    let settings = settings::path().unwrap_or_default();
    let set = settings.exists();
    if args.json {
        let object = json!({
            "format": "trundle-where", "version": 1,
            "folder": place.folder(), "chosen_by": place.origin(),
            "register": register, "register_exists": exists, "captures": place.captures(),
            "settings": settings, "settings_exist": set,
        });
        out::say(&object.to_string());
        return Ok(OK);
    }
    let there = if exists { "" } else { " (not there yet)" };
    out::say(&format!("folder:   {} ({})", place.folder().display(), place.origin()));
    out::say(&format!("register: {}{there}", register.display()));
    out::say(&format!("captures: {}", place.captures().display()));
    let there = if set { "" } else { " (not there; none is needed)" };
    out::say(&format!("settings: {}{there}", settings.display()));
    if exists {
        let records = Register::read(&place)?.record_count()?;
        out::say(&format!("records:  {records}"));
    }
    Ok(OK)
}

fn shown(name: &str) -> String {
    out::scrub(name.trim(), NAME_MAX)
}
