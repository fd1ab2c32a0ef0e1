//! The first station: what is plugged in, what is due next, and what became of the last program.

pub mod cut_off;
pub mod way;

use super::course;
use super::form::Sent;
use super::house::{Acted, House};
use super::keys::Done;
use super::plugged;
use crate::shell::exit::Trouble;
use crate::web::guard::Role;
use crate::web::stations::{Reply, Visit, value};
use trundle_show::stations::form::{Field, Form, Kind};
use trundle_show::stations::{Markup, opening, parts};
use trundle_show::words::opening as words;
use trundle_show::words::station::Station;

/// The field that says which of the forms was sent.
pub(super) const DO: &str = "do";
/// Begin a new job.
const NEW_JOB: &str = "new-job";
/// The tick that it is meant.
const SURE: &str = "sure";
/// The tick that the course stays.
const KEEP: &str = "keep-course";

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    show(house, visit, 200, &new_job(house), &[])
}

fn show(house: &House, visit: &Visit, status: u16, new_job: &Form, fault: &[String]) -> Reply {
    let job = house.job();
    let live = house.live.station();
    let full = visit.role == Some(Role::Full);
    let mut main: Vec<Markup> = fault.iter().map(|words| opening::notice(words)).collect();
    if !full {
        main.push(opening::look_only(visit.inside));
    }
    if let Some((wanted, taken)) = house.front.opened().moved {
        main.push(opening::notice(&words::moved(wanted, taken)));
    }
    if full && live.is_none() {
        main.extend(cut_off::offer(house, &job));
    }
    let due = way::due(&way::way(house, live));
    main.push(opening::next(due, live.is_some()));
    let again = visit.asked("look") == "again";
    let ports = opening::ports(&plugged::look(house, again));
    if full {
        main.extend(saved(house, &job, ports));
    } else {
        main.push(ports);
    }
    main.push(opening::job(&captures(&job)));
    if full {
        if !job.is_empty() || house.course_file().is_some() {
            main.push(new_job.markup());
        }
        main.push(opening::ways_out());
    }
    house.page(Station::Start, visit, status, parts::all(&main))
}

/// What only whoever may do everything sees: rig and records.
fn saved(house: &House, job: &super::job::Job, ports: Markup) -> Vec<Markup> {
    match house.front.recent.newest(&house.place) {
        Ok(newest) => {
            let mut all = vec![opening::rig(newest.rig.as_deref())];
            if !newest.anything && job.is_empty() {
                all.push(opening::first_run());
            }
            all.push(ports);
            if newest.anything {
                all.push(opening::recent(&newest.rows));
            }
            all
        }
        Err(trouble) => {
            let said: Vec<String> = trouble.to_string().lines().map(str::to_owned).collect();
            vec![ports, parts::sentences(&said)]
        }
    }
}

fn captures(job: &super::job::Job) -> Vec<(Station, String, usize)> {
    let of = |station: &Station| {
        let all = job.captures.get(station.word())?;
        Some((*station, all.last()?.display().to_string(), all.len()))
    };
    Station::ALL.iter().filter_map(of).collect()
}

fn new_job(house: &House) -> Form {
    let tick = |name, label| Field { kind: Kind::Tick, ..Field::text(name, label, "") };
    let keep = house.course_file().map(|_| tick(KEEP, words::NEW_JOB_COURSE));
    let fields = keep.into_iter().chain([tick(SURE, words::NEW_JOB_SURE)]).collect();
    Form {
        action: "/".to_owned(),
        heading: words::NEW_JOB.to_owned(),
        about: words::NEW_JOB_SAID.map(str::to_owned).to_vec(),
        fields,
        hidden: vec![(DO.to_owned(), NEW_JOB.to_owned())],
        button: words::NEW_JOB.to_owned(),
        key: house.key("/"),
        ..Form::default()
    }
}

/// Take one of its forms.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let again = |fault: &[String]| show(house, visit, 409, &new_job(house), fault);
    house.once(visit, sent, again, || match value(sent, DO) {
        NEW_JOB => clear(house, visit, sent),
        other => cut_off::act(house, other, |fault| {
            Acted::Refused(show(house, visit, 409, &new_job(house), fault))
        }),
    })
}

fn clear(house: &House, visit: &Visit, sent: &Sent) -> Acted {
    let mut form = new_job(house);
    if house.live.station().is_some() {
        form.fault = words::NEW_JOB_LIVE.map(str::to_owned).to_vec();
        return Acted::Refused(show(house, visit, 409, &form, &[]));
    }
    if value(sent, SURE) != "yes" {
        for field in &mut form.fields {
            match field.name.as_str() {
                SURE => words::NEW_JOB_UNSURE.clone_into(&mut field.fault),
                _ => value(sent, &field.name).clone_into(&mut field.value),
            }
        }
        return Acted::Refused(show(house, visit, 422, &form, &[]));
    }
    match begin_anew(house, value(sent, KEEP) == "yes") {
        Ok(lines) => Acted::Done(done("/", lines)),
        Err(trouble) => {
            form.fault = trouble.to_string().lines().map(str::to_owned).collect();
            Acted::Refused(show(house, visit, 500, &form, &[]))
        }
    }
}

/// A new job, with or without the course of the last one; gives what is to be said of it.
///
/// # Errors
/// [`Trouble`] of code 6.
pub(super) fn begin_anew(house: &House, keep_course: bool) -> Result<Vec<String>, Trouble> {
    let aside = if keep_course { None } else { course::saved::put_aside(house)? };
    let mut stay: Vec<String> = aside.iter().map(|path| path.display().to_string()).collect();
    house.change(|job| {
        stay.extend(job.captures.values().flatten().map(|path| path.display().to_string()));
        // A recording that was cut off is still to be dealt with.
        let recording = job.recording.take();
        *job = super::job::Job { recording, ..super::job::Job::default() };
    })?;
    let said = if stay.is_empty() { words::NEW_JOB_NEW } else { words::NEW_JOB_DONE };
    stay.insert(0, said.to_owned());
    Ok(stay)
}

/// Good news, and where to go on.
pub(super) fn done(path: &str, lines: Vec<String>) -> Done {
    Done { path: path.to_owned(), lines, good: true, command: String::new() }
}

/// The ports alone, for the script that keeps them fresh.
pub fn look_ports(house: &House, _: &Visit) -> Reply {
    Reply::Page(200, opening::ports(&plugged::look(house, false)).into_string())
}
