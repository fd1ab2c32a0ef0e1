//! The first station: what is plugged in, what is due next, and what became of the last program.

pub mod cut_off;
pub mod way;

use super::form::Sent;
use super::house::{Acted, House};
use super::keys::Done;
use super::plugged;
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
        if !job.is_empty() {
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
    let mut sure = Field::text(SURE, words::NEW_JOB_SURE, "");
    sure.kind = Kind::Tick;
    Form {
        action: "/".to_owned(),
        heading: words::NEW_JOB.to_owned(),
        about: words::NEW_JOB_SAID.map(str::to_owned).to_vec(),
        fields: vec![sure],
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
        form.fields[0].fault = words::NEW_JOB_UNSURE.to_owned();
        return Acted::Refused(show(house, visit, 422, &form, &[]));
    }
    let mut stay = Vec::new();
    let cleared = house.change(|job| {
        stay = job.captures.values().flatten().map(|path| path.display().to_string()).collect();
        // A recording that was cut off is still to be dealt with.
        *job = super::job::Job { recording: job.recording.take(), ..super::job::Job::default() };
    });
    match cleared {
        Ok(()) => {
            let mut lines = vec![words::NEW_JOB_DONE.to_owned()];
            lines.append(&mut stay);
            Acted::Done(done("/", lines))
        }
        Err(trouble) => {
            form.fault = trouble.to_string().lines().map(str::to_owned).collect();
            Acted::Refused(show(house, visit, 500, &form, &[]))
        }
    }
}

/// Good news, and where to go on.
pub(super) fn done(path: &str, lines: Vec<String>) -> Done {
    Done { path: path.to_owned(), lines, good: true, command: String::new() }
}

/// The ports alone, for the script that keeps them fresh.
pub fn look_ports(house: &House, _: &Visit) -> Reply {
    Reply::Page(200, opening::ports(&plugged::look(house, false)).into_string())
}
