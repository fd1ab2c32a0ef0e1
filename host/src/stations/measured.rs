//! Stations at which something is recorded live: cautions and form, then `/live`, then the result
//! as the command calculates it, from the capture just recorded or from another one.

mod kinds;
mod results;
mod shown;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;

pub use results::Results;

use super::drive::COURSE;
use super::form::{Of, Sent};
use super::house::{Acted, House, Refused, say_refused};
use super::keys::Done;
use super::live::begin;
use super::practice;
use crate::recorder::capture_file::new_name;
use crate::shell::exit::Trouble;
use crate::store::settings::Settings;
use crate::web::stations::{Reply, Visit, value};
use kinds::Kind;
use shown::{Forms, show};
use std::path::PathBuf;
use trundle_show::html::with_way_back;
use trundle_show::stations::form::Form;
use trundle_show::words::station::Station;
use trundle_show::words::stations as words;
use trundle_show::words::stations_measured as measured;

/// The folder of captures in the data folder.
const CAPTURES: &str = "recordings";
/// Below a station: the form for a capture, the page for paper, the drawing.
const WORK: &str = "work";
const PAPER: &str = "paper";
const DRAWING: &str = "drawing";
/// Under this name the capture is remembered that is shown instead of the newest.
const SHOWN: &str = "shown";
/// Field of the captures to choose from.
const CHOSEN: &str = "chosen";

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let kind = kinds::at(&visit.path);
    if house.live.station() == Some(kind.station) {
        return Reply::See("/live".to_owned());
    }
    match visit.path.rsplit('/').next() {
        Some(PAPER | DRAWING) => beside(house, visit, kind),
        _ => show(house, visit, kind, 200, forms(house, kind)),
    }
}

/// The page for paper, or the drawing; without one the station says why.
fn beside(house: &House, visit: &Visit, kind: &Kind) -> Reply {
    let given = result(house, kind).map(|(worked, _)| worked.given.clone()).unwrap_or_default();
    let found = if visit.path.ends_with(PAPER) {
        given.paper.map(|page| Reply::Paper(with_way_back(&page, kind.station.path())))
    } else {
        given.drawing.map(Reply::Drawing)
    };
    found.unwrap_or_else(|| Reply::See(kind.station.path().to_owned()))
}

/// Both forms as they stand before anything is sent.
fn forms(house: &House, kind: &Kind) -> Forms {
    let job = house.job();
    let typed = |name: &str| job.typed(kind.station, name);
    Forms { begin: begin_form(house, kind, &typed), work: work_form(house, kind, &typed) }
}

/// The form that begins a recording.
fn begin_form(house: &House, kind: &Kind, typed: &dyn Fn(&str) -> String) -> Form {
    let path = kind.station.path();
    let mut form = house.form(&kind.begin(), path, words::BEGIN, typed);
    form.heading = measured::MEASURE.to_owned();
    if course(house, kind).is_some() {
        form.about.push(measured::COURSE_SAVED.to_owned());
    }
    if house.job().practice.is_some() {
        let case = practice::case(kind.command, &typed(practice::CASE));
        case.into_iter().for_each(|case| form.fields.insert(0, case));
    }
    form
}

/// The form that calculates a capture.
fn work_form(house: &House, kind: &Kind, typed: &dyn Fn(&str) -> String) -> Option<Form> {
    let capture = kind.capture?;
    let captures = house.job().captures.get(kind.station.word()).cloned().unwrap_or_default();
    let path = format!("{}/{WORK}", kind.station.path());
    let mut form = house.form(&kind.work(), &path, measured::CALCULATE, typed);
    form.heading = measured::AGAIN.to_owned();
    if let Some(field) = form.fields.iter_mut().find(|field| field.name == capture) {
        measured::CAPTURE_HINT.clone_into(&mut field.hint);
    }
    if !captures.is_empty() {
        form.fields.insert(0, shown::choice(CHOSEN, &captures, &typed(CHOSEN)));
    }
    Some(form)
}

/// The course that was saved, where the command takes one.
fn course(house: &House, kind: &Kind) -> Option<PathBuf> {
    let path = house.place.folder().join(COURSE);
    (kind.station == Station::Proof && path.is_file()).then_some(path)
}

/// The result that the station shows: of the capture that was chosen, else of the newest.
fn result(house: &House, kind: &Kind) -> Option<(std::sync::Arc<results::Worked>, PathBuf)> {
    let name = kind.capture?;
    let job = house.job();
    let chosen = Some(job.typed(kind.station, SHOWN)).filter(|path| !path.is_empty());
    let capture = chosen.map(PathBuf::from).or_else(|| job.capture(kind.station).cloned())?;
    let typed = |option: &str| job.typed(kind.station, option);
    let sent = worked_by(&kind.work(), name, &capture.display().to_string(), &typed);
    let argv = kind.work().argv(&sent);
    Some((results::worked(house, kind.station, &argv, &capture), capture))
}

/// What is sent for a capture.
fn worked_by(
    of: &Of,
    name: &str,
    capture: &str,
    typed: &dyn Fn(&str) -> String,
) -> Vec<(String, String)> {
    let value = |option: &str| if option == name { capture.to_owned() } else { typed(option) };
    of.options.iter().map(|(option, _)| (option.clone(), value(option))).collect()
}

/// Take a form of it.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let kind = kinds::at(&visit.path);
    if visit.path.ends_with(WORK) {
        work(house, visit, sent, kind)
    } else {
        start(house, visit, sent, kind)
    }
}

/// Begin to record.
fn start(house: &House, visit: &Visit, sent: &Sent, kind: &'static Kind) -> Reply {
    let typed = |name: &str| value(sent, name).to_owned();
    let with = |form: Form| Forms { begin: form, ..forms(house, kind) };
    let stale = |fault: &[String]| {
        let form = begin_form(house, kind, &typed);
        show(house, visit, kind, 409, with(Form { fault: fault.to_vec(), ..form }))
    };
    house.once(visit, sent, stale, || {
        let of = kind.begin();
        // Noted first: what is practised is read from there.
        let names = of.options.iter().map(|(name, _)| name.as_str()).chain([practice::CASE]);
        let noted: Vec<_> = names.map(|name| (name.to_owned(), typed(name))).collect();
        let newest = (SHOWN.to_owned(), String::new());
        let kept = house.change(|job| job.note(kind.station, noted.into_iter().chain([newest])));
        let practised = house.job().practice.is_some();
        let known = practice::known(practised, kind.command, &typed(practice::CASE));
        let begun = known
            .map_err(Refused::Misread)
            .and_then(|()| capture().map_err(Refused::Trouble))
            .and_then(|capture| {
                let mut argv = of.argv(sent);
                if let Some(course) = course(house, kind).filter(|_| typed("length").is_empty()) {
                    argv.push(format!("--course={}", course.display()));
                }
                argv.push(format!("--capture={}", capture.display()));
                begin(house, kind.station, &argv, capture)
            });
        match begun.and_then(|()| kept.map_err(Refused::Trouble)) {
            Ok(()) => done("/live"),
            Err(refused) => {
                let mut form = begin_form(house, kind, &typed);
                say_refused(&mut form, &refused);
                Acted::Refused(show(house, visit, kind, 422, with(form)))
            }
        }
    })
}

/// Calculate a capture, without recording.
fn work(house: &House, visit: &Visit, sent: &Sent, kind: &'static Kind) -> Reply {
    let typed = |name: &str| value(sent, name).to_owned();
    let form = || work_form(house, kind, &typed);
    let with = |form: Option<Form>| Forms { work: form, ..forms(house, kind) };
    let stale = |fault: &[String]| {
        let form = form().map(|form| Form { fault: fault.to_vec(), ..form });
        show(house, visit, kind, 409, with(form))
    };
    house.once(visit, sent, stale, || {
        let of = kind.work();
        let name = kind.capture.unwrap_or_default();
        let own = Some(typed(name)).filter(|path| !path.trim().is_empty());
        let capture = own.unwrap_or_else(|| typed(CHOSEN));
        let argv = of.argv(&worked_by(&of, name, &capture, &typed));
        let refused = if capture.trim().is_empty() {
            Some(Refused::Misread(super::form::Misread {
                option: Some(name.to_owned()),
                words: measured::NAME_CAPTURE.to_owned(),
            }))
        } else {
            let worked = results::worked(house, kind.station, &argv, capture.as_ref());
            worked.ran.as_ref().err().cloned()
        };
        let options = of.options.iter().filter(|(option, _)| option != name);
        let noted = options.map(|(option, _)| (option.clone(), typed(option)));
        let chosen = [(SHOWN, capture.trim()), (CHOSEN, capture.trim())];
        let chosen = chosen.map(|(name, path)| (name.to_owned(), path.to_owned()));
        let refused = refused.or_else(|| {
            let kept = house.change(|job| job.note(kind.station, noted.chain(chosen)));
            kept.err().map(Refused::Trouble)
        });
        match refused {
            None => done(kind.station.path()),
            Some(refused) => {
                let form = form().map(|mut form| {
                    say_refused(&mut form, &refused);
                    form
                });
                Acted::Refused(show(house, visit, kind, 422, with(form)))
            }
        }
    })
}

fn done(path: &str) -> Acted {
    let (lines, command) = (Vec::new(), String::new());
    Acted::Done(Done { path: path.to_owned(), lines, good: true, command })
}

/// A new capture, in the folder of the settings or beside the records.
pub(super) fn capture() -> Result<PathBuf, Trouble> {
    let place = crate::store::place::DataFolder::in_force()?;
    place.make()?;
    let folder = match Settings::read()?.captures {
        Some(folder) => folder,
        None => place.folder().join(CAPTURES),
    };
    crate::store::place::make_private(&folder)?;
    Ok(folder.join(new_name()))
}
