//! The taped course: typed, calculated as it is typed, saved for the job.
//!
//! | module | duty |
//! |---|---|
//! | [`saved`] | the course of the job, as a course file in the data folder |
//! | `typed` | the form: fields of a course file, and what was typed into them |
//! | [`opened`] | a course from a file that is there already |
//! | [`plan`] | how many passes it takes |

pub mod opened;
pub mod plan;
pub mod saved;
mod typed;

use super::form::{Sent, shown};
use super::house::{Acted, House};
use super::keys::Done;
use crate::commands::course::taped;
use crate::shell::exit::Trouble;
use crate::web::guard::Role;
use crate::web::stations::{Reply, Visit, value};
use trundle_core::course::typed::RARE;
use trundle_core::rig::Thing;
use trundle_core::rig::tape::of_course;
use trundle_show::stations::course::{Come, nothing, refused, taped as shown_of};
use trundle_show::stations::form::Form;
use trundle_show::stations::{parts, rig as rig_show};
use trundle_show::text::course::headline;
use trundle_show::words::station::Station;
use trundle_show::words::stations_course as words;
use typed::Typed;

/// Its path, and that of what it comes to.
const PATH: &str = "/course";
const LENGTH: &str = "/course/length";

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    match saved::read(house) {
        Err(trouble) => {
            let typed = Typed::of_text(house, "");
            let mut form = form(house, &typed, "");
            form.fault = vec![words::UNREADABLE.to_owned()];
            form.fault.extend(lines(&trouble));
            show(house, visit, 200, &nothing(), &form)
        }
        Ok(text) => {
            let typed = Typed::of_text(house, &text);
            show(house, visit, 200, &come(house, &text), &form(house, &typed, &text))
        }
    }
}

fn show(house: &House, visit: &Visit, status: u16, come: &Come, form: &Form) -> Reply {
    let mut main = vec![parts::about(Station::Course), come.above()];
    let all = visit.role == Some(Role::Full);
    if all {
        main.push(form.markup());
    }
    main.push(come.below());
    main.push(parts::go("/course/plan", words::PLAN));
    if all {
        main.push(parts::link("/course/file", words::OPEN));
        main.push(parts::link("/rig/tape", words::ADD_TAPE));
    }
    house.page(Station::Course, visit, status, parts::all(&main))
}

fn form(house: &House, typed: &Typed, seen: &str) -> Form {
    Form {
        action: PATH.to_owned(),
        heading: words::TYPED.to_owned(),
        about: vec![words::ABOUT.to_owned()],
        hidden: vec![("seen".to_owned(), super::rig::digest(seen))],
        fields: typed.fields.clone(),
        above: typed::headings(),
        below: typed::buttons(),
        others: vec![("do".to_owned(), "calculate".to_owned(), words::CALCULATE.to_owned())],
        rare: (RARE.to_owned(), words::RARE.to_owned()),
        button: words::SAVE.to_owned(),
        key: house.key(PATH),
        live: LENGTH.to_owned(),
        ..Form::default()
    }
}

/// What the text of a course file comes to.
fn come(house: &House, text: &str) -> Come {
    if text.trim().is_empty() {
        return nothing();
    }
    match taped(text) {
        Ok(taped) => shown_of(&taped.course(), &house.reading()),
        Err(trouble) => refused(&lines(&trouble)),
    }
}

fn lines(trouble: &Trouble) -> Vec<String> {
    trouble.to_string().lines().map(str::to_owned).collect()
}

/// What is typed just now comes to this: a part of a page, and nothing is saved.
pub fn length(house: &House, _: &Visit, sent: &Sent) -> Reply {
    let saved = saved::read(house).unwrap_or_default();
    let part = match Typed::of_sent(house, &saved, sent).text(&saved) {
        Ok(text) => come(house, &text),
        Err(typed) => refused(&typed.faults()),
    };
    Reply::Page(200, part.part().into_string())
}

/// Calculate it, take a tape over, or save it.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    // A saved course that cannot be read is replaced as a whole.
    let saved = saved::read(house).unwrap_or_default();
    let typed = || Typed::of_sent(house, &saved, sent);
    let stale = |fault: &[String]| {
        let form = Form { fault: fault.to_vec(), ..form(house, &typed(), &saved) };
        show(house, visit, 409, &nothing(), &form)
    };
    house.once(visit, sent, stale, || match value(sent, "do") {
        "tape" => Acted::Refused(take_tape(house, visit, &saved, typed())),
        asked => do_typed(house, visit, sent, &saved, asked == "calculate"),
    })
}

fn do_typed(house: &House, visit: &Visit, sent: &Sent, saved: &str, only: bool) -> Acted {
    let typed = Typed::of_sent(house, saved, sent);
    let text = match typed.text(saved) {
        Ok(text) => text,
        Err(faulty) => {
            let form = form(house, &faulty, saved);
            return Acted::Refused(show(house, visit, 422, &nothing(), &form));
        }
    };
    if only {
        let form = seen_form(house, &typed, sent);
        return Acted::Refused(show(house, visit, 200, &come(house, &text), &form));
    }
    if value(sent, "seen") != super::rig::digest(saved) {
        let mut form = form(house, &typed, saved);
        form.fault = words::CHANGED.map(str::to_owned).to_vec();
        let both = rig_show::compared(&typed.differs(house, saved));
        let mut come = come(house, &text);
        come.head = parts::all(&[both, come.head]);
        return Acted::Refused(show(house, visit, 409, &come, &form));
    }
    let done = taped(&text).and_then(|taped| {
        let path = saved::write(house, &text)?;
        let said = headline(&taped.course());
        let chosen = value(sent, typed::CHOSEN).to_owned();
        house.change(|job| {
            job.note(Station::Course, [(typed::CHOSEN.to_owned(), chosen)]);
        })?;
        Ok((path, said))
    });
    match done {
        Ok((path, said)) => {
            let path = path.display().to_string();
            let command = shown(&["course".to_owned(), path.clone()]);
            let lines = vec![said, words::saved(&path)];
            Acted::Done(Done { path: PATH.to_owned(), lines, good: true, command })
        }
        Err(trouble) => {
            let mut form = seen_form(house, &typed, sent);
            form.fault = lines(&trouble);
            Acted::Refused(show(house, visit, 422, &come(house, &text), &form))
        }
    }
}

/// The form again, made from the course that it was made from before.
fn seen_form(house: &House, typed: &Typed, sent: &Sent) -> Form {
    let mut form = form(house, typed, "");
    form.hidden = vec![("seen".to_owned(), value(sent, "seen").to_owned())];
    form
}

/// What is known of a tape into its fields; nothing is saved yet.
fn take_tape(house: &House, visit: &Visit, saved: &str, mut typed: Typed) -> Reply {
    let name = typed.value(typed::CHOSEN);
    let found = if name.is_empty() {
        Err(vec![words::NO_TAPE.to_owned()])
    } else {
        crate::store::register::Register::read(&house.place)
            .and_then(|register| register.get(Thing::Tape, &name))
            .map_err(|trouble| lines(&trouble))
    };
    match found {
        Ok(tape) => {
            for (key, value) in of_course(&tape.entry) {
                typed.put(key, value);
            }
        }
        Err(fault) => typed.fault(typed::CHOSEN, &fault.join(" ")),
    }
    let form = form(house, &typed, saved);
    match typed.text(saved) {
        Ok(text) => show(house, visit, 200, &come(house, &text), &form),
        Err(faulty) => {
            let form = Form { fields: faulty.fields, ..form };
            show(house, visit, 422, &nothing(), &form)
        }
    }
}
