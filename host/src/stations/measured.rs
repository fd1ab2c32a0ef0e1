//! Stations at which something is recorded live.

use super::form::{Of, Sent};
use super::house::{Acted, House, say_refused};
use super::keys::Done;
use super::live::{Ended, begin};
use crate::recorder::capture_file::new_name;
use crate::shell::exit::Trouble;
use crate::store::settings::Settings;
use crate::web::guard::Role;
use crate::web::stations::{Reply, Visit, value};
use std::path::PathBuf;
use trundle_core::cautions;
use trundle_show::stations::form::Form;
use trundle_show::stations::{Markup, parts};
use trundle_show::words::station::Station;
use trundle_show::words::stations as words;

/// The folder of captures in the data folder.
const CAPTURES: &str = "recordings";

/// The station of a path, its command, and what is asked before it is begun.
fn of(path: &str) -> (Station, Of) {
    match path {
        "/check" => {
            (Station::Check, Of::new(&["check"], &[("bench", "Only the board, on the bench")]))
        }
        "/proof" => (
            Station::Proof,
            Of::new(
                &["proof"],
                &[
                    ("length", "Length of the course"),
                    ("entered", "Value keyed in"),
                    ("old", "Value before"),
                ],
            ),
        ),
        "/pto" => (
            Station::Pto,
            Of::new(
                &["pto"],
                &[
                    ("display-step", "Last step of the display"),
                    ("set-now", "Set in the terminal now"),
                ],
            ),
        ),
        "/antenna" => (Station::Antenna, Of::new(&["mount"], &[])),
        "/speeds" => (Station::Speeds, Of::new(&["speeds"], &[])),
        _ => (
            Station::Slip,
            Of::new(&["slip"], &[("zero-slip-value", "Impulses per 100 m without slip")]),
        ),
    }
}

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let (station, of) = of(&visit.path);
    if house.live.station() == Some(station) {
        return Reply::See("/live".to_owned());
    }
    let job = house.job();
    let form = house.form(&of, station.path(), words::BEGIN, &|name| job.typed(station, name));
    show(house, visit, station, 200, &form)
}

fn show(house: &House, visit: &Visit, station: Station, status: u16, form: &Form) -> Reply {
    let ended = house.live.ended(station);
    let mut main = vec![parts::about(station), parts::cautions(words::CAUTIONS, &cautions::ALL)];
    if visit.role == Some(Role::Full) {
        main.push(form.markup());
    }
    main.extend(ended.as_ref().map(last));
    house.page(station, visit, status, parts::all(&main))
}

fn last(ended: &Ended) -> Markup {
    parts::said(words::LAST, &ended.lines)
}

/// Begin to record.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let (station, of) = of(&visit.path);
    let typed = |name: &str| value(sent, name).to_owned();
    let form = || house.form(&of, station.path(), words::BEGIN, &typed);
    let stale = |fault: &[String]| {
        show(house, visit, station, 409, &Form { fault: fault.to_vec(), ..form() })
    };
    house.once(visit, sent, stale, || {
        let begun = capture().map_err(super::house::Refused::Trouble).and_then(|capture| {
            let mut argv = of.argv(sent);
            argv.push(format!("--capture={}", capture.display()));
            begin(house, station, &argv, capture)
        });
        let noted = of.options.iter().map(|(name, _)| (name.clone(), typed(name)));
        let kept = house.change(|job| job.note(station, noted));
        match begun.and_then(|()| kept.map_err(super::house::Refused::Trouble)) {
            Ok(()) => Acted::Done(Done {
                path: "/live".to_owned(),
                lines: Vec::new(),
                good: true,
                command: String::new(),
            }),
            Err(refused) => {
                let mut form = form();
                say_refused(&mut form, &refused);
                Acted::Refused(show(house, visit, station, 422, &form))
            }
        }
    })
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
