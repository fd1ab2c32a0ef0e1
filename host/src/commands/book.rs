//! `trundle handbook`: the book as one page, opened in the browser or written into a folder.

use super::args::Args;
use crate::shell::exit::{self, OK, Trouble};
use crate::shell::{browser, files, out, tongue};
use crate::store::place::DataFolder;
use crate::web::guard::Refusal;
use clap::CommandFactory as _;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use trundle_show::book::{self, CommandEntry, OptionEntry};
use trundle_show::tongue::Tongue;
use trundle_show::words::book as words;

/// Name of the book's file.
const NAME: &str = "handbook.html";

/// Where the handbook goes.
#[derive(Debug, clap::Args)]
pub struct HandbookArgs {
    /// Write it into this folder and open nothing; made if it is not there.
    #[arg(long, value_name = "FOLDER")]
    pub to: Option<PathBuf>,
}

/// Write the book and open it; gives the exit code.
///
/// # Errors
/// Exit code 6.
pub fn run(args: &HandbookArgs) -> Result<u8, Trouble> {
    let folder = match &args.to {
        Some(folder) => folder.clone(),
        // Nobody else writes there, as somebody might among the temporary files of the system.
        None => {
            let place = DataFolder::in_force()?;
            place.make()?;
            place.folder().to_owned()
        }
    };
    let file = written(&folder)?;
    out::say(&words::written(&file.display().to_string()));
    if args.to.is_none() {
        let opened = browser::browse(&file);
        out::say(if opened { words::OPENING } else { words::NOT_OPENED });
    }
    Ok(OK)
}

fn written(folder: &Path) -> Result<PathBuf, Trouble> {
    std::fs::create_dir_all(folder).map_err(|error| {
        let what = format!("{} cannot be made: {error}.", folder.display());
        let [means, next] = words::NOT_WRITTEN;
        Trouble::new(exit::STORAGE, what, means, next)
    })?;
    let file = folder.join(NAME);
    files::replace_text(&file, whole(tongue::in_force()))?;
    Ok(file)
}

/// The book, made when it is first wanted: asked for again, it costs a job that goes on no
/// more than its bytes.
static WHOLE: [LazyLock<String>; 2] =
    [LazyLock::new(|| made(Tongue::English)), LazyLock::new(|| made(Tongue::German))];

/// The whole book, as it is served and as it is written.
#[must_use]
pub fn whole(tongue: Tongue) -> &'static str {
    match tongue {
        Tongue::English => &WHOLE[0],
        Tongue::German => &WHOLE[1],
    }
}

fn made(tongue: Tongue) -> String {
    let refusals: Vec<[String; 3]> = Refusal::ALL
        .iter()
        .map(|one| [one.to_string(), one.means().to_owned(), one.next().to_owned()])
        .collect();
    book::page(&commands(), &refusals, tongue)
}

/// Every command with every option that it takes, from the parser itself.
#[must_use]
pub fn commands() -> Vec<CommandEntry> {
    let mut root = Args::command();
    root.build();
    let mut all = Vec::new();
    gather(&root, "trundle", &mut all);
    all
}

fn gather(command: &clap::Command, name: &str, all: &mut Vec<CommandEntry>) {
    let about = command.get_long_about().or_else(|| command.get_about());
    let options = command.get_arguments().filter(|arg| {
        let everywhere = arg.is_global_set() && name != "trundle";
        !everywhere && !arg.is_hide_set() && !["help", "version"].contains(&arg.get_id().as_str())
    });
    all.push(CommandEntry {
        name: name.to_owned(),
        about: about.map(ToString::to_string).unwrap_or_default(),
        options: options.map(option).collect(),
    });
    for below in command.get_subcommands().filter(|one| one.get_name() != "help") {
        gather(below, &format!("{name} {}", below.get_name()), all);
    }
}

fn option(arg: &clap::Arg) -> OptionEntry {
    let about = arg.get_long_help().or_else(|| arg.get_help());
    OptionEntry {
        id: arg.get_id().to_string(),
        shown: arg.to_string(),
        about: about.map(ToString::to_string).unwrap_or_default(),
    }
}
