//! `trundle guide`: a whole job, step by step.
//!
//! Each step runs one of the other commands as a program of its own, in this terminal, and shows
//! how it is called: whoever has done it a few times types it directly.

use super::recording::PortArgs;
use crate::recorder::capture_file::new_name;
use crate::shell::exit::{self, OK, Trouble};
use crate::shell::{out, tongue};
use crate::store::place::DataFolder;
use crate::store::register::Register;
use std::ffi::OsStr;
use std::io::IsTerminal as _;
use std::path::PathBuf;
use std::process::Command;
use trundle_core::cautions;
use trundle_core::rig::conditions::{CONDITIONS, option, read};
use trundle_core::rig::{Entry, NAME_MAX, Thing, Value};
use trundle_show::live::guide::{Guide, GuideWish, Task, wish};

/// What can be typed between steps.
const KEYS: &str = "Enter does it, s skips it, b goes back, a number goes there, q ends.";

/// A whole job, step by step, in the order of the work.
#[derive(Debug, clap::Args)]
pub struct GuideArgs {
    /// Ports, and the capture of the passes.
    #[command(flatten)]
    pub ports: PortArgs,
}

/// What was said so far.
struct Job<'a> {
    ports: &'a PortArgs,
    place: DataFolder,
    course: Option<[String; 2]>,
    capture: Option<PathBuf>,
    as_found: Option<String>,
    /// The conditions as options, once they were asked for or given.
    conditions: Option<Vec<String>>,
    /// Capture of the PTO, once that gave a number.
    shaft: Option<PathBuf>,
}

/// Run it; gives the exit code.
///
/// # Errors
/// Exit code 2 without a terminal; what goes wrong in a step is shown there, and the guide goes on.
pub fn run(args: &GuideArgs) -> Result<u8, Trouble> {
    if !(std::io::stdin().is_terminal() && std::io::stdout().is_terminal()) {
        let what = "The guide asks questions, and there is no terminal to ask in.";
        let next = "Give the commands one by one: rig, check, course, drive, work, pto, bus, sign.";
        return Err(Trouble::new(exit::USAGE, what, "Nothing was begun.", next));
    }
    let place = DataFolder::in_force()?;
    let ports = &args.ports;
    let capture = ports.capture.clone().filter(|capture| capture.exists());
    let given: Vec<String> = ports.conditions.options().collect();
    let conditions = (!given.is_empty()).then_some(given);
    let mut job =
        Job { ports, place, course: None, capture, as_found: None, conditions, shaft: None };
    let mut guide = Guide::default();
    for caution in cautions::ALL {
        out::say(&format!("- {caution}"));
    }
    while let Some(step) = guide.step() {
        out::say("");
        for line in guide.lines() {
            out::say(&line);
        }
        let (title, about) = step.title_and_about();
        out::say(&format!("{title}: {about}"));
        let Some(typed) = ask(KEYS) else { return Ok(OK) };
        match wish(&typed) {
            GuideWish::Go => match job.go(step) {
                Ok(code) => guide.ended(code),
                Err(trouble) => {
                    out::notice(&trouble.to_string());
                    guide.ended(trouble.code);
                }
            },
            GuideWish::Quit => return Ok(OK),
            GuideWish::Unclear => {}
            other => guide.wish(other),
        }
    }
    out::say("That is all.");
    Ok(OK)
}

/// Ask and wait for a line; `None` when nobody answers any more.
fn ask(question: &str) -> Option<String> {
    out::say(question);
    let mut line = String::new();
    match std::io::stdin().read_line(&mut line) {
        Ok(read) if read > 0 => Some(line.trim().to_owned()),
        _ => None,
    }
}

/// Ask for something that may be skipped.
fn may(question: &str) -> Option<String> {
    ask(&format!("{question} (Enter: skip)")).filter(|answer| !answer.is_empty())
}

/// Ask for each condition; what cannot be is asked again.
fn ask_conditions() -> Vec<String> {
    let mut options: Vec<String> = Vec::new();
    let question = "Enter the conditions now: ground, inflation, gear ...? They are printed on the \
                    record. y: yes.";
    if !may(question).is_some_and(|answer| answer.eq_ignore_ascii_case("y")) {
        return options;
    }
    for field in CONDITIONS {
        // That of an axle makes no sense beside that of all tyres.
        let option = format!("--{}", option(field));
        let all = options.iter().any(|said| said == "--inflation");
        if all && option.starts_with("--inflation-") {
            continue;
        }
        while let Some(typed) = may(&format!("{}?", field.about)) {
            match read(field, &typed) {
                Ok(_) => {
                    options.extend([option, typed]);
                    break;
                }
                Err(fault) => out::notice(&format!("{fault}.")),
            }
        }
    }
    options
}

impl Job<'_> {
    fn go(&mut self, step: Task) -> Result<u8, Trouble> {
        match step {
            Task::Rig => self.rig(),
            Task::Check => self.live(&["check"], None),
            Task::Course => self.course(),
            Task::Passes => self.passes(),
            Task::Result => self.result(),
            Task::Pto => self.pto(),
            Task::Bus => self.live(&["bus"], Some(&new_name())),
            Task::SignOff => self.sign(),
        }
    }

    fn rig(&self) -> Result<u8, Trouble> {
        self.program(&["rig", "list"])?;
        let question = "Name of the rig: one of these, or a new one. Enter: the active one stays.";
        let Some(name) = ask(question).filter(|name| !name.is_empty()) else {
            return self.program(&["rig", "show"]);
        };
        let register = Register::read(&self.place)?;
        let known = register.list(Thing::Rig)?.into_iter();
        if known.map(|rig| rig.entry.name.to_lowercase()).any(|rig| rig == name.to_lowercase()) {
            return self.program(&["rig", "use", &name]);
        }
        drop(register);
        let mut rig = Entry { name, ..Entry::default() };
        let register = Register::write(&self.place)?;
        for (thing, question, field) in [
            (Thing::Tractor, "Name of the tractor?", None),
            (Thing::Tyres, "Name of the set of tyres?", Some("size")),
        ] {
            let Some(name) = may(question) else { continue };
            if register.get(thing, &name).is_err() {
                let mut entry = Entry { name: name.clone(), ..Entry::default() };
                if let Some(key) = field
                    && let Some(typed) = may("Their size, as moulded on the side?")
                {
                    entry.values.insert(key.to_owned(), Value::Text(typed));
                }
                register.add(thing, &entry)?;
            }
            rig.values.insert(thing.word().to_owned(), Value::Text(name));
        }
        register.add(Thing::Rig, &rig)?;
        register.use_rig(&rig.name)?;
        drop(register);
        self.program(&["rig", "show"])
    }

    fn course(&mut self) -> Result<u8, Trouble> {
        let Some(typed) = may("Length of the course, like 100 m, or a course file?") else {
            return Ok(exit::FLAGGED);
        };
        let (option, shown) = match PathBuf::from(&typed).is_file() {
            true => ("--course", vec!["course", &typed]),
            false => ("--length", vec!["course", "--length", &typed]),
        };
        let code = self.program(&shown)?;
        if code <= exit::FLAGGED {
            self.course = Some([option.to_owned(), typed]);
        }
        Ok(code)
    }

    fn passes(&mut self) -> Result<u8, Trouble> {
        let capture = self.ports.capture.clone().filter(|capture| !capture.exists());
        let capture = capture.unwrap_or_else(new_name);
        let conditions = self.conditions();
        let said = self.course.iter().flatten().chain(&conditions).map(String::as_str);
        let command: Vec<&str> = std::iter::once("drive").chain(said).collect();
        let code = self.live(&command, Some(&capture))?;
        if capture.exists() {
            self.capture = Some(capture);
        }
        Ok(code)
    }

    /// The conditions as options: those the guide was given, or else asked for once.
    fn conditions(&mut self) -> Vec<String> {
        self.conditions.get_or_insert_with(ask_conditions).clone()
    }

    fn result(&mut self) -> Result<u8, Trouble> {
        let capture = self.recorded()?;
        self.as_found = may("Value found in the terminal before?");
        let found = self.as_found.iter().flat_map(|n| ["--as-found", n]);
        self.program(&["work", &capture].into_iter().chain(found).collect::<Vec<_>>())
    }

    /// Signed off with the rest when it gave a number.
    fn pto(&mut self) -> Result<u8, Trouble> {
        let capture = new_name();
        let code = self.live(&["pto"], Some(&capture))?;
        if code == OK && capture.exists() {
            self.shaft = Some(capture);
        }
        Ok(code)
    }

    fn sign(&mut self) -> Result<u8, Trouble> {
        let mut args = vec!["sign".to_owned()];
        // The PTO may be all that was measured.
        let course = self.capture.is_some() || self.shaft.is_none();
        if course {
            args.push(self.recorded()?);
        }
        let pto = self.shaft.iter().map(|capture| capture.display().to_string());
        args.extend(pto.flat_map(|capture| ["--pto".to_owned(), capture]));
        args.extend(self.as_found.iter().flat_map(|n| ["--as-found".to_owned(), n.clone()]));
        let left = course.then_some(("--as-left", "Value read in the terminal after entering?"));
        for (option, question) in left.into_iter().chain([
            ("--location", "Where is this?"),
            ("--because", "If the result is flagged: why is it accepted anyway?"),
        ]) {
            if let Some(typed) = may(question) {
                args.extend([option.to_owned(), typed]);
            }
        }
        args.extend(self.conditions());
        let code = self.program(&args)?;
        if code == OK {
            out::say("The paper to hand over: trundle record print, with the record's name.");
        }
        Ok(code)
    }

    fn recorded(&self) -> Result<String, Trouble> {
        let capture = self.capture.as_ref().map(|capture| capture.display().to_string());
        capture.ok_or_else(|| {
            let what = "No pass was recorded yet.";
            let next = "Do step 4 first, or name a capture: trundle guide --capture FILE.";
            Trouble::new(exit::USAGE, what, "There is no value.", next)
        })
    }

    /// A command that records, with the ports that the guide was given.
    fn live(&self, command: &[&str], capture: Option<&PathBuf>) -> Result<u8, Trouble> {
        let mut args: Vec<String> = command.iter().map(|&word| word.to_owned()).collect();
        let ports = self.ports;
        let named =
            [("--board", &ports.board), ("--receiver", &ports.receiver), ("--bus", &ports.bus)];
        for (option, value) in named {
            args.extend(value.iter().flat_map(|value| [option.to_owned(), value.clone()]));
        }
        if ports.no_receiver {
            args.push("--no-receiver".to_owned());
        }
        if let Some(baud) = ports.receiver_speed {
            args.extend(["--receiver-speed".to_owned(), baud.to_string()]);
        }
        args.extend(ports.practice.options_for(command[0]));
        if (ports.pace - 1.0).abs() > f64::EPSILON {
            args.extend(["--pace".to_owned(), ports.pace.to_string()]);
        }
        let capture = capture.map(|capture| capture.display().to_string());
        args.extend(capture.into_iter().flat_map(|file| ["--capture".to_owned(), file]));
        self.program(&args)
    }

    /// Run this program with other arguments, in this terminal.
    fn program(&self, args: &[impl AsRef<str> + AsRef<OsStr>]) -> Result<u8, Trouble> {
        let quoted =
            |arg: &str| if arg.contains(' ') { format!("\"{arg}\"") } else { arg.to_owned() };
        let shown: Vec<String> = args.iter().map(|arg| quoted(arg.as_ref())).collect();
        out::say(&format!("$ trundle {}", out::scrub(&shown.join(" "), 10 * NAME_MAX)));
        let run = || -> std::io::Result<Option<i32>> {
            let program = std::env::current_exe()?;
            let folder = self.place.folder();
            let language =
                tongue::said().map_or_else(Vec::new, |one| vec!["--language", one.code()]);
            let mut own = Command::new(program);
            Ok(own.args(language).arg("--data").arg(folder).args(args).status()?.code())
        };
        let code = run().map_err(|e| Trouble::internal(format!("a step could not run: {e}")))?;
        // Ended by a signal: the step was not finished.
        Ok(code.and_then(|code| u8::try_from(code).ok()).unwrap_or(exit::INTERRUPTED))
    }
}
