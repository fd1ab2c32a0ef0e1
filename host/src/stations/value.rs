//! The station at which the value is read: the result of the newest drive, or of a capture chosen.

use super::form::{self, Of, Sent};
use super::house::{Acted, House, Refused, lock, say_refused};
use super::keys::Done;
use crate::commands::args::Command;
use crate::commands::work::{Worked, facts, worked};
use crate::shell::exit::Trouble;
use crate::shell::files;
use crate::web::guard::Role;
use crate::web::stations::{Reply, Visit, value};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::SystemTime;
use trundle_core::result::work_v1::WorkV1;
use trundle_show::html::{with_way_back, work as html};
use trundle_show::stations::form::{Field, Form, Kind};
use trundle_show::stations::value as page;
use trundle_show::stations::{Markup, parts};
use trundle_show::words::station::Station;
use trundle_show::words::stations_drive as words;

/// Results that are kept: going back and forth between a few captures works nothing twice.
const KEPT: usize = 4;

/// A capture and what was asked of it; another length or time of the file is another one.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Asked {
    argv: Vec<String>,
    files: Vec<Option<(u64, SystemTime)>>,
}

/// A result with its pages.
struct Answer {
    work: WorkV1,
    facts: html::Facts,
    remarks: Vec<String>,
}

/// The results worked last, the newest at the end.
static RESULTS: Mutex<Vec<(Asked, Arc<Answer>)>> = Mutex::new(Vec::new());

fn of() -> Of {
    let options = words::VALUE.iter();
    Of {
        command: vec!["work"],
        options: options.map(|(name, label)| ((*name).to_owned(), (*label).to_owned())).collect(),
    }
}

/// The captures of the job, the newest first.
fn captures(house: &House) -> Vec<PathBuf> {
    let job = house.job();
    let of = job.captures.get(Station::Drive.word());
    of.into_iter().flatten().rev().cloned().collect()
}

/// What was typed last. A capture that was chosen counts until a newer one is there: whoever has
/// just driven wants to see that.
fn typed(house: &House) -> impl Fn(&str) -> String {
    let (job, newest) = (house.job(), newest(house));
    move |name: &str| {
        let typed = job.typed(Station::Value, name);
        let newer = job.typed(Station::Value, NEWEST) != newest;
        match name {
            CAPTURE | ELSEWHERE if newer => String::new(),
            "as-found" if typed.is_empty() => job.typed(Station::Drive, name),
            _ => typed,
        }
    }
}

/// Names of fields that are no options of the command.
const CAPTURE: &str = "chosen";
const ELSEWHERE: &str = "elsewhere";
/// The newest capture when something was chosen.
const NEWEST: &str = "newest";

fn newest(house: &House) -> String {
    captures(house).first().map(|path| path.display().to_string()).unwrap_or_default()
}

/// The capture that was meant: a path typed, else the one chosen, else the newest.
fn meant(house: &House, typed: &dyn Fn(&str) -> String) -> Option<PathBuf> {
    let given = [typed(ELSEWHERE), typed(CAPTURE)].into_iter().find(|path| !path.trim().is_empty());
    given.map(|path| PathBuf::from(path.trim())).or_else(|| captures(house).into_iter().next())
}

/// The command for it.
fn argv(typed: &dyn Fn(&str) -> String, capture: &Path) -> Vec<String> {
    let of = of();
    let sent: Vec<(String, String)> =
        of.options.iter().map(|(name, _)| (name.clone(), typed(name))).collect();
    let mut argv = of.argv(&sent);
    argv.extend(["--".to_owned(), capture.display().to_string()]);
    argv
}

/// The result, worked now or not long ago.
fn result(argv: Vec<String>) -> Result<Arc<Answer>, Refused> {
    let Command::Work(args) = form::read(&argv).map_err(Refused::Misread)? else {
        return Err(Refused::Trouble(Trouble::internal(
            "The command of this page is another one.",
        )));
    };
    let of_file = |path: &Path| {
        let about = std::fs::metadata(path).ok()?;
        Some((about.len(), about.modified().ok()?))
    };
    let files = [Some(&args.capture), args.course.course.as_ref()];
    let files = files.into_iter().flatten().map(|path| of_file(path)).collect();
    let asked = Asked { argv, files };
    let kept = lock(&RESULTS).iter().find(|(one, _)| *one == asked).map(|(_, done)| done.clone());
    if let Some(done) = kept {
        return Ok(done);
    }
    let Worked { work, session, given, remarks } = worked(&args).map_err(Refused::Trouble)?;
    let facts = facts(&session, &args.capture, given.as_deref(), false);
    let facts = facts.map_err(Refused::Trouble)?;
    let done = Arc::new(Answer { work: WorkV1::of(&work), facts, remarks });
    let mut results = lock(&RESULTS);
    results.retain(|(one, _)| *one != asked);
    let over = (results.len() + 1).saturating_sub(KEPT);
    results.drain(..over);
    results.push((asked, Arc::clone(&done)));
    Ok(done)
}

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let typed = typed(house);
    show(house, visit, 200, form(house, &typed), &typed)
}

fn show(
    house: &House,
    visit: &Visit,
    status: u16,
    mut form: Form,
    typed: &dyn Fn(&str) -> String,
) -> Reply {
    let mut main = vec![parts::about(Station::Value)];
    let mut status = status;
    match meant(house, typed) {
        None => main.extend([none(), parts::go(Station::Drive.path(), words::TO_DRIVE)]),
        Some(capture) => {
            let argv = argv(typed, &capture);
            form.command = form::shown(&argv);
            match result(argv) {
                Ok(done) => {
                    let Answer { work, facts, remarks } = &*done;
                    main.push(page::value(work, facts, remarks, &house.reading()));
                }
                Err(refused) => {
                    say_refused(&mut form, &refused);
                    status = 422;
                }
            }
        }
    }
    if visit.role == Some(Role::Full) {
        main.push(form.markup());
    } else if !form.fault.is_empty() {
        main.push(parts::sentences(&form.fault));
    }
    house.page(Station::Value, visit, status, parts::all(&main))
}

fn none() -> Markup {
    parts::sentences(&words::NO_CAPTURE.map(str::to_owned))
}

/// The form: which capture, and what is asked of it.
fn form(house: &House, typed: &dyn Fn(&str) -> String) -> Form {
    let mut form = house.form(&of(), Station::Value.path(), words::WORK, typed);
    words::ASK.clone_into(&mut form.heading);
    let name = |path: PathBuf| (path.display().to_string(), files::name(&path));
    let choices = captures(house).into_iter().map(name).collect();
    let mut chosen = Field::text(CAPTURE, words::CAPTURE, &typed(CAPTURE));
    words::CAPTURE_HINT.clone_into(&mut chosen.hint);
    chosen.kind = Kind::Choice(choices);
    let mut elsewhere = Field::text(ELSEWHERE, words::OTHER_CAPTURE, &typed(ELSEWHERE));
    words::OTHER_HINT.clone_into(&mut elsewhere.hint);
    form.fields.extend([chosen, elsewhere]);
    form
}

/// Take what is asked: it stands with the job, and the page shows it.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let typed = |name: &str| value(sent, name).to_owned();
    let again = |refused: &dyn Fn(&mut Form)| {
        let mut form = form(house, &typed);
        refused(&mut form);
        form
    };
    let stale = |fault: &[String]| {
        show(house, visit, 409, again(&|form| form.fault = fault.to_vec()), &typed)
    };
    house.once(visit, sent, stale, || {
        let Some(capture) = meant(house, &typed) else {
            let form = again(&|form| form.fault = words::NO_CAPTURE.map(str::to_owned).to_vec());
            return Acted::Refused(show(house, visit, 422, form, &typed));
        };
        if let Err(refused) = result(argv(&typed, &capture)) {
            let form = again(&|form| say_refused(form, &refused));
            return Acted::Refused(house_page(house, visit, &form));
        }
        let names = of().options.into_iter().map(|(name, _)| name);
        let names = names.chain([CAPTURE, ELSEWHERE].map(str::to_owned));
        let mut noted: Vec<(String, String)> =
            names.map(|name| (name.clone(), typed(&name))).collect();
        noted.push((NEWEST.to_owned(), newest(house)));
        match house.change(|job| job.note(Station::Value, noted)) {
            Ok(()) => Acted::Done(Done {
                path: Station::Value.path().to_owned(),
                lines: Vec::new(),
                good: true,
                command: String::new(),
            }),
            Err(trouble) => {
                let refused = Refused::Trouble(trouble);
                Acted::Refused(house_page(
                    house,
                    visit,
                    &again(&|form| say_refused(form, &refused)),
                ))
            }
        }
    })
}

/// The page with what was typed, and what is wrong with it.
fn house_page(house: &House, visit: &Visit, form: &Form) -> Reply {
    let main = parts::all(&[parts::about(Station::Value), form.markup()]);
    house.page(Station::Value, visit, 422, main)
}

/// The report as paper or file, and the result as a file.
pub fn look_file(house: &House, visit: &Visit) -> Reply {
    let typed = typed(house);
    let done = meant(house, &typed).map(|capture| result(argv(&typed, &capture)));
    // What is wrong is said where the form is.
    let Some(Ok(done)) = done else { return Reply::See(Station::Value.path().to_owned()) };
    let stem = done.facts.capture_name.split('.').next().unwrap_or_default();
    let plain = |c: char| if c.is_ascii_alphanumeric() || "-_".contains(c) { c } else { '_' };
    let stem: String = stem.chars().map(plain).collect();
    let report = || html::page(&done.work, &done.facts);
    match visit.name().as_str() {
        "report" => Reply::Paper(with_way_back(&report(), Station::Value.path())),
        "report.html" => Reply::File { name: format!("{stem}.html"), bytes: report().into_bytes() },
        "result.json" => {
            let mut json = done.work.to_json();
            json.push('\n');
            Reply::File { name: format!("{stem}.json"), bytes: json.into_bytes() }
        }
        _ => Reply::See(Station::Value.path().to_owned()),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::{commands, shell::out};

    fn asked(capture: &Path, typed: &[(&str, &str)]) -> Vec<String> {
        let find = |name: &str| {
            let found = typed.iter().find(|(own, _)| *own == name);
            found.map(|(_, typed)| (*typed).to_owned()).unwrap_or_default()
        };
        argv(&find, capture)
    }

    fn answer(argv: &[String]) -> Arc<Answer> {
        result(argv.to_vec()).ok().unwrap()
    }

    #[test]
    fn the_station_shows_what_the_command_gives_and_works_a_capture_once() {
        let folder = std::env::temp_dir().join(format!("trundle-value-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let capture = folder.join("a capture.capture");
        let log = Path::new(env!("CARGO_MANIFEST_DIR")).join("../logs/simulated-rtk.capture");
        std::fs::copy(log, &capture).unwrap();
        let argv = asked(&capture, &[("as-found", "12000"), ("rate", "200")]);
        let first = answer(&argv);
        let mut typed = argv.clone();
        typed.insert(1, "--json".to_owned());
        let command = form::read(&typed).unwrap();
        let (done, heard) = out::heard_whole(|| commands::run(command));
        assert!(done.is_ok());
        assert_eq!(String::from_utf8_lossy(&heard.out).trim_end(), first.work.to_json().trim_end());
        assert!(Arc::ptr_eq(&first, &answer(&argv)), "worked twice");
        // Another question, another length of the file: worked anew.
        let other = answer(&asked(&capture, &[("length", "200 m")]));
        assert!((other.work.course.unwrap().length_m - 200.0).abs() < 1e-9);
        let mut bytes = std::fs::read(&capture).unwrap();
        bytes.truncate(bytes.len() - 20);
        std::fs::write(&capture, bytes).unwrap();
        assert!(!Arc::ptr_eq(&first, &answer(&argv)), "an old result of another file");
        // What the command refuses is refused beside the field that is at fault.
        let refused = |typed: &[(&str, &str)]| match result(asked(&capture, typed)) {
            Err(Refused::Misread(misread)) => misread.option,
            _ => None,
        };
        assert_eq!(refused(&[("as-found", "many")]).as_deref(), Some("as-found"));
        assert_eq!(refused(&[("monte-carlo", "3")]).as_deref(), Some("monte-carlo"));
        for field in of().fields(&|_| String::new()) {
            assert!(!field.hint.is_empty(), "{} is none of its options", field.name);
        }
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
