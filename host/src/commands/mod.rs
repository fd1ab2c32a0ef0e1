//! The commands, one file each. They read arguments, call the core and print.

pub mod active;
pub mod args;
pub mod book;
pub mod bus;
pub mod check;
pub mod conditions;
pub mod course;
pub mod demo;
pub mod doctor;
pub mod drive;
pub mod export;
pub mod guide;
pub mod handbook;
pub mod import;
pub mod keep;
pub mod mount;
pub mod pack;
pub mod parts;
pub mod piped;
pub mod ports;
pub mod proof;
pub mod pto;
pub mod record;
pub mod recording;
pub mod result;
pub mod sheet;
pub mod sign;
pub mod slip;
pub mod speeds;
pub mod things;
pub mod tongue;
pub mod typed;
pub mod version;
pub mod work;

use crate::packed::rewrite::Way;
use crate::shell::exit::Trouble;
use args::Command;

/// Run a command; gives its exit code.
///
/// # Errors
/// [`Trouble`], as each of them.
pub fn run(command: Command) -> Result<u8, Trouble> {
    match command {
        Command::Demo(args) => demo::run(&args),
        Command::Guide(args) => guide::run(&args),
        Command::Ports(args) => ports::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Drive(args) => drive::run(&args),
        Command::Course(args) => course::run(&args),
        Command::Work(args) => work::run(&args),
        Command::Slip(args) => slip::run(&args),
        Command::Speeds(args) => speeds::run(&args),
        Command::Bus(args) => bus::run(&args),
        Command::Pto(args) => pto::run(&args),
        Command::Proof(args) => proof::run(&args),
        Command::Mount(args) => mount::run(&args),
        Command::Rig(verb) => things::run_rig(&verb),
        Command::Tractor(verb) => things::run(&verb),
        Command::Tyres(verb) => things::run(&verb),
        Command::Tape(verb) => things::run(&verb),
        Command::Person(verb) => things::run(&verb),
        Command::Sign(args) => sign::run(&args),
        Command::Record(verb) => record::run(&verb),
        Command::Sheet(args) => sheet::run(&args),
        Command::Bin(verb) => keep::bin(&verb),
        Command::Undo(args) => keep::undo(&args),
        Command::Backup(args) => keep::backup(&args),
        Command::Restore(args) => keep::restore(&args),
        Command::Where(args) => keep::places(&args),
        Command::Doctor(args) => doctor::run(&args),
        Command::Completions(args) => handbook::completions(&args),
        Command::Manual(args) => handbook::manual(&args),
        Command::Handbook(args) => book::run(&args),
        Command::Export(args) => export::run(&args),
        Command::Import(args) => import::run(&args),
        Command::Pack(args) => pack::run(&args, Way::Pack),
        Command::Unpack(args) => pack::run(&args, Way::Unpack),
    }
}
