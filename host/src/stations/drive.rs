//! The station at which the course is driven: what is known before, then the live page.

use super::form::{Of, Sent};
use super::house::{Acted, House, Refused, say_refused};
use super::keys::Done;
use super::live::begin;
use super::measured;
use crate::commands::result::read_course;
use crate::shell::exit::Trouble;
use crate::shell::files;
use crate::web::guard::Role;
use crate::web::stations::{Reply, Visit, value};
use std::path::PathBuf;
use trundle_core::cautions;
use trundle_core::rig::conditions::{CONDITIONS, option};
use trundle_show::stations::form::Form;
use trundle_show::stations::{Markup, parts};
use trundle_show::words::station::Station;
use trundle_show::words::stations as words;
use trundle_show::words::stations_drive as own;

/// Name of the job's course file in the data folder.
pub const COURSE: &str = "course.toml";

/// What can be said before driving: the course, the conditions, and what is rarely needed.
fn of() -> Of {
    let label = |(name, label): &(&str, &str)| ((*name).to_owned(), (*label).to_owned());
    let conditions = CONDITIONS.iter().map(|field| (option(field), field.label.to_owned()));
    let mut options: Vec<(String, String)> = own::DRIVE.iter().map(label).collect();
    options.extend(conditions);
    options.extend(own::PORTS.iter().map(label));
    Of { command: vec!["drive"], options }
}

/// The course file of the job, where there is one.
fn course_file(house: &House) -> Option<PathBuf> {
    Some(house.place.folder().join(COURSE)).filter(|path| path.exists())
}

/// What the course file says, in words.
fn course_words(house: &House) -> Result<Option<String>, Trouble> {
    let Some(path) = course_file(house) else { return Ok(None) };
    let read = read_course(&files::read_text(&path)?)?;
    Ok(Some(own::course(read.spec.nominal_m)))
}

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    if house.live.station() == Some(Station::Drive) {
        return Reply::See("/live".to_owned());
    }
    let job = house.job();
    let typed = |name: &str| match job.typed(Station::Drive, name) {
        // What was planned for at the course is wanted here, unless something else is.
        typed if typed.is_empty() && name == "target" => job.typed(Station::Course, name),
        typed => typed,
    };
    let mut form = form(house, &typed);
    // What stopped the last drive before it began stands beside the field that mends it.
    let ended = house.live.ended(Station::Drive);
    if let Some(trouble) = ended.and_then(|ended| ended.trouble) {
        say_refused(&mut form, &Refused::Trouble(trouble));
    }
    show(house, visit, 200, &form)
}

fn form(house: &House, typed: &dyn Fn(&str) -> String) -> Form {
    let mut form = house.form(&of(), Station::Drive.path(), words::BEGIN, typed);
    form.about = match course_words(house) {
        Ok(Some(course)) => vec![course],
        Ok(None) => vec![own::NO_COURSE.to_owned()],
        Err(trouble) => trouble.to_string().lines().map(str::to_owned).collect(),
    };
    form.about.push(own::ABOUT_DRIVE.to_owned());
    form
}

fn show(house: &House, visit: &Visit, status: u16, form: &Form) -> Reply {
    let mut main = vec![parts::about(Station::Drive)];
    let ended = house.live.ended(Station::Drive);
    if ended.as_ref().is_some_and(|ended| ended.trouble.is_none()) {
        main.push(parts::go(Station::Value.path(), own::DROVE));
    }
    main.push(parts::cautions(words::CAUTIONS, cautions::ALL));
    if visit.role == Some(Role::Full) {
        main.push(form.markup());
    }
    main.extend(ended.map(|ended| parts::said(words::LAST, &ended.lines)));
    house.page(Station::Drive, visit, status, all(&main))
}

fn all(main: &[Markup]) -> Markup {
    parts::all(main)
}

/// The command: what was typed, and the job's course file where no length was.
fn argv(house: &House, sent: &Sent) -> Vec<String> {
    let mut argv = of().argv(sent);
    if value(sent, "length").trim().is_empty()
        && let Some(path) = course_file(house)
    {
        argv.push(format!("--course={}", path.display()));
    }
    argv
}

/// Begin to drive.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let typed = |name: &str| value(sent, name).to_owned();
    let again = || form(house, &typed);
    let stale =
        |fault: &[String]| show(house, visit, 409, &Form { fault: fault.to_vec(), ..again() });
    house.once(visit, sent, stale, || {
        let noted = of().options.into_iter().map(|(name, _)| (name.clone(), typed(&name)));
        let kept = house.change(|job| job.note(Station::Drive, noted));
        let begun = measured::capture().and_then(|capture| kept.map(|()| capture));
        let begun = begun.map_err(Refused::Trouble).and_then(|capture| {
            let mut argv = argv(house, sent);
            argv.push(format!("--capture={}", capture.display()));
            begin(house, Station::Drive, &argv, capture)
        });
        match begun {
            Ok(()) => Acted::Done(Done {
                path: "/live".to_owned(),
                lines: Vec::new(),
                good: true,
                command: String::new(),
            }),
            Err(refused) => {
                let mut form = again();
                say_refused(&mut form, &refused);
                Acted::Refused(show(house, visit, 422, &form))
            }
        }
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::commands::args::Command;
    use crate::stations::form;

    #[test]
    fn each_field_is_an_option_of_the_command() {
        let fields = of().fields(&|_| String::new());
        for field in &fields {
            assert!(!field.hint.is_empty(), "{} is none of its options", field.name);
        }
        for field in CONDITIONS {
            assert!(fields.iter().any(|one| one.name == option(field)), "{}", field.key);
        }
        let sent =
            [("gear", "C2"), ("target", "0.2"), ("as-found", "12000"), ("no-receiver", "yes")];
        let sent = sent.map(|(name, value)| (name.to_owned(), value.to_owned()));
        let read = form::read(&of().argv(&sent)).unwrap();
        let Command::Drive(args) = read else { panic!("another command") };
        assert_eq!((args.target, args.as_found, args.ports.no_receiver), (0.2, Some(12_000), true));
        let notes = args.ports.conditions.notes(None).unwrap();
        assert_eq!(notes, ["Gear: C2"]);
    }
}
