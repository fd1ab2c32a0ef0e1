//! How many passes of what length it takes: `trundle course plan`.

use super::PATH;
use crate::commands::args::Command;
use crate::commands::course::{CourseCommand, PlanArgs, planned};
use crate::stations::form::{Misread, Of, Sent, read, shown};
use crate::stations::house::{House, Refused, say_refused};
use crate::web::guard::Role;
use crate::web::stations::{Reply, Visit, value};
use trundle_show::stations::form::{Field, Form, Kind, command};
use trundle_show::stations::{Markup, course as show, parts};
use trundle_show::words::station::Station;
use trundle_show::words::stations_course as words;

const OWN: &str = "/course/plan";
/// Name of the tick for the saved course: that of the option it stands for.
const SAVED: &str = "course";

fn of() -> Of {
    let options = [
        ("length", "Length of the course"),
        ("receiver", "Satellite receiver"),
        ("stop", "Stops from a peg, at most, metres"),
        ("target", "Uncertainty wanted, per cent"),
    ];
    Of::new(&["course", "plan"], &options)
}

/// Show the form; to whoever may only look, the plan of the saved course.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let job = house.job();
    let typed = |name: &str| job.typed(Station::Course, &format!("plan-{name}"));
    let saved = if house.course_file().is_some() { "yes" } else { "" };
    if visit.role != Some(Role::Full) {
        let argv = argv(house, &[(SAVED.to_owned(), saved.to_owned())]);
        let plan = made(&argv).unwrap_or_else(|_| parts::all(&[]));
        return page(house, visit, 200, &plan, None);
    }
    page(house, visit, 200, &parts::all(&[]), Some(&form(house, &typed, saved)))
}

fn page(house: &House, visit: &Visit, status: u16, plan: &Markup, form: Option<&Form>) -> Reply {
    let mut main: Vec<Markup> = form.iter().map(|form| form.markup()).collect();
    main.push(plan.clone());
    main.push(parts::link(PATH, Station::Course.name()));
    house.page_named(Station::Course, Some(words::PLAN_TITLE), visit, status, parts::all(&main))
}

fn form(house: &House, typed: &dyn Fn(&str) -> String, saved: &str) -> Form {
    let mut form = house.form(&of(), OWN, words::PLAN_GO, typed);
    if house.course_file().is_some() {
        let mut tick = Field::text(SAVED, words::WITH_COURSE, saved);
        tick.kind = Kind::Tick;
        words::WITH_COURSE_HINT.clone_into(&mut tick.hint);
        form.fields.insert(0, tick);
    }
    // The keys for figures have no letters for the unit.
    form.fields.iter_mut().filter(|field| field.name == "length").for_each(|field| {
        field.kind = Kind::Text;
    });
    form.about = vec![words::PLAN_ABOUT.to_owned()];
    form
}

fn argv(house: &House, sent: &Sent) -> Vec<String> {
    let mut argv = of().argv(sent);
    if let (false, Some(file)) = (value(sent, SAVED).is_empty(), house.course_file()) {
        argv.push(format!("--course={}", file.display()));
    }
    argv
}

fn made(argv: &[String]) -> Result<Markup, Refused> {
    let args: PlanArgs = match read(argv).map_err(Refused::Misread)? {
        Command::Course(course) => match course.command {
            Some(CourseCommand::Plan(args)) => args,
            None => return Err(misread()),
        },
        _ => return Err(misread()),
    };
    let (plan, remarks) = planned(&args).map_err(Refused::Trouble)?;
    Ok(parts::all(&[show::plan(&plan, &remarks), command(&shown(argv))]))
}

fn misread() -> Refused {
    Refused::Misread(Misread { option: None, words: words::PLAN_ABOUT.to_owned() })
}

/// Make the plan; nothing is saved but what was typed.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let typed = |name: &str| value(sent, name).to_owned();
    let mut form = form(house, &typed, value(sent, SAVED));
    match made(&argv(house, sent)) {
        Ok(plan) => {
            let kept =
                of().options.into_iter().map(|(name, _)| (format!("plan-{name}"), typed(&name)));
            let keep = || house.change(|job| job.note(Station::Course, kept));
            let kept = if house.ours(visit, sent) { keep() } else { Ok(()) };
            form.fault = kept.err().map(|trouble| super::lines(&trouble)).unwrap_or_default();
            page(house, visit, 200, &plan, Some(&form))
        }
        Err(refused) => {
            say_refused(&mut form, &refused);
            page(house, visit, 422, &parts::all(&[]), Some(&form))
        }
    }
}
