//! The command line.

use clap::{Parser, Subcommand};
use trundle_show::tongue::Tongue;

/// Impulses per 100 m of a tractor's speed sensors, measured against tape and satellite, with
/// the uncertainty stated.
///
/// Exit codes: 0 done; 1 done, but the result is flagged or there is no value; 2 wrong usage or
/// an ambiguous choice; 3 port not found, disconnected or not what was asked for; 4 no permission,
/// or taken by another program; 5 damaged or foreign input; 6 a file could not be written; 70
/// internal error; 130 and 143 interrupted after the capture was closed in order.
#[derive(Debug, Parser)]
#[command(name = "trundle", version, long_version = super::version::long(), max_term_width = 100)]
#[command(args_conflicts_with_subcommands = false)]
pub struct Args {
    /// Folder for rigs, records and their captures, instead of this system's usual place.
    #[arg(long, value_name = "FOLDER", global = true)]
    pub data: Option<std::path::PathBuf>,
    /// Language of texts for people: en or de; else that of the settings. Files for programs, and
    /// what is saved, are the same in each.
    #[arg(long, value_name = "LANGUAGE", global = true, value_parser = tongue)]
    pub language: Option<Tongue>,
    /// How the job is opened on a page, without a command.
    #[command(flatten)]
    pub open: OpenArgs,
    /// The command to run; without one, the whole job is opened as a page in the browser.
    #[command(subcommand)]
    pub command: Option<Command>,
}

fn tongue(text: &str) -> Result<Tongue, String> {
    Tongue::of_code(text).ok_or_else(|| "en or de".to_owned())
}

/// The whole job on a page.
#[derive(Clone, Debug, Default, clap::Args)]
#[group(id = "open")]
pub struct OpenArgs {
    /// Only say the address of the page; open no browser.
    #[arg(long)]
    pub no_browser: bool,
    /// Port of the page; the same at every start if not given.
    #[arg(long, value_name = "PORT")]
    pub port: Option<u16>,
    /// Show the page to phones and tablets in the same network too; the address of this computer
    /// there, if it is not the one found.
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1)]
    pub lan: Option<Option<std::net::IpAddr>>,
}

/// The commands, in the order of the work.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Run a whole job of six passes on a simulated tractor, over real serial code; under a
    /// minute.
    Demo(super::demo::DemoArgs),
    /// A whole job step by step: rig, check, course, passes, result, PTO, sign-off.
    Guide(super::guide::GuideArgs),
    /// List the ports and say what is connected to each.
    Ports(super::ports::PortsArgs),
    /// Check board, receiver and sensors before the course is taped: live, or from a capture.
    Check(super::check::CheckArgs),
    /// Measure a course live: record both ports, mark the passes, show the value.
    Drive(super::drive::DriveArgs),
    /// Calculate the length of a taped course, or plan a job before driving.
    Course(super::course::CourseArgs),
    /// Calculate the result of a capture.
    Work(super::work::WorkArgs),
    /// Calculate wheel slip along the distance, live or from a capture.
    Slip(super::slip::SlipArgs),
    /// Compare wheel, radar and satellite speed, and find from which speed on they can be used.
    Speeds(super::speeds::SpeedsArgs),
    /// Listen to the implement bus: delay and scale of its speeds, and which one is handed on.
    Bus(super::bus::BusArgs),
    /// Find the impulses per revolution of the PTO shaft, from the seat.
    Pto(super::pto::PtoArgs),
    /// After the value was keyed in: did it take? What the terminal shows, against the truth.
    Proof(super::proof::ProofArgs),
    /// Calculate the antenna position on the tractor, from driving.
    Mount(super::mount::MountArgs),
    /// Rigs: a tractor on its tyres, with its receiver; one of them is active.
    #[command(subcommand)]
    Rig(super::things::RigVerb),
    /// Tractors: make, model and numbers that matter.
    #[command(subcommand)]
    Tractor(super::things::Verb<super::things::Tractor>),
    /// Sets of tyres, as fitted and inflated.
    #[command(subcommand)]
    Tyres(super::things::Verb<super::things::Tyres>),
    /// Measuring tapes and their certificates.
    #[command(subcommand)]
    Tape(super::things::Verb<super::things::Tape>),
    /// Operators and customers, by name.
    #[command(subcommand)]
    Person(super::things::Verb<super::things::Person>),
    /// Sign a visit off: values, rig, conditions and captures are saved as a record.
    ///
    /// Calculated once more: a measured course, and with --pto, --mount and --speeds what else was
    /// measured, each from its own capture. Any of them may be missing.
    Sign(super::sign::SignArgs),
    /// Signed-off records: look up, verify, compare, print, amend.
    #[command(subcommand)]
    Record(super::record::RecordVerb),
    /// The sheet of settings: all that is keyed into a terminal for a rig, on one sheet.
    ///
    /// From its records: each number with its uncertainty and the record that holds it, or that it
    /// was only taped or typed, or what to do where it is not known. It says when it is out of
    /// date: other tyres, another rig in use, a newer record that is damaged.
    Sheet(super::sheet::SheetArgs),
    /// What was removed, until the bin is emptied.
    #[command(subcommand)]
    Bin(super::keep::BinVerb),
    /// Undo the last change to rigs and what they name.
    Undo(super::keep::UndoArgs),
    /// Write everything that is saved into one file.
    Backup(super::keep::BackupArgs),
    /// Bring everything back from such a file into an empty folder.
    Restore(super::keep::RestoreArgs),
    /// Show where everything is saved.
    Where(super::keep::WhereArgs),
    /// Is everything in order for a day's work?
    Doctor(super::doctor::DoctorArgs),
    /// Completions for a shell.
    Completions(super::handbook::CompletionsArgs),
    /// Write the manual pages.
    Manual(super::handbook::ManualArgs),
    /// Open the handbook in the browser, or write it into a folder.
    Handbook(super::book::HandbookArgs),
    /// Write results as tables for other programs: CSV, JSON, Parquet, GeoJSON, GPX.
    Export(super::export::ExportArgs),
    /// Make a capture of recordings made elsewhere.
    Import(super::import::ImportArgs),
    /// Make closed captures smaller, each in its place. Every command reads them as they are.
    ///
    /// About a third of the size or less; not a byte of the plain capture is lost. What was cut off
    /// or damaged later is reported, and everything else is read.
    Pack(super::pack::PackArgs),
    /// Bring packed captures back to what they were before, byte for byte.
    Unpack(super::pack::PackArgs),
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::recording::PortArgs;
    use super::Args;
    use clap::error::ErrorKind;
    use clap::{Args as _, Parser};

    #[test]
    fn what_only_a_recording_uses_is_refused_beside_a_capture() {
        let ports = PortArgs::augment_args(clap::Command::new("ports"));
        for command in ["check", "slip", "speeds", "bus", "pto", "proof", "mount"] {
            for option in ports.get_arguments() {
                let name = format!("--{}", option.get_long().unwrap());
                let mut typed = vec!["trundle", command, "day.capture", &name];
                if option.get_action().takes_values() {
                    typed.push(match &*name {
                        "--receiver-speed" => "9600",
                        "--practice" => "plain",
                        "--receiver-class" => "rtk",
                        _ => "2",
                    });
                }
                let refused = Args::try_parse_from(&typed).unwrap_err();
                assert_eq!(refused.kind(), ErrorKind::ArgumentConflict, "{typed:?}: {refused}");
                assert!(refused.to_string().contains(&name), "{typed:?}: {refused}");
            }
        }
    }
}
