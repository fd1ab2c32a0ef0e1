//! A course from a file that is there already, or from its text.

use super::{PATH, lines, saved};
use crate::commands::course::taped;
use crate::shell::files;
use crate::stations::form::{Sent, shown};
use crate::stations::house::{Acted, House};
use crate::stations::keys::Done;
use crate::web::stations::{Reply, Visit, value};
use std::path::Path;
use trundle_show::stations::form::{Field, Form, Kind};
use trundle_show::stations::parts;
use trundle_show::text::course::headline;
use trundle_show::words::station::Station;
use trundle_show::words::stations_course as words;
use trundle_show::words::stations_rig as rig_words;

const OWN: &str = "/course/file";

/// Show the form.
pub fn look(house: &House, visit: &Visit) -> Reply {
    show(house, visit, 200, &form(house, &[]))
}

fn show(house: &House, visit: &Visit, status: u16, form: &Form) -> Reply {
    let main = parts::all(&[form.markup(), parts::link(PATH, Station::Course.name())]);
    house.page_named(Station::Course, Some(words::OPEN), visit, status, main)
}

fn form(house: &House, sent: &Sent) -> Form {
    let mut path = Field::text("path", rig_words::FILE, value(sent, "path"));
    rig_words::FILE_HINT.clone_into(&mut path.hint);
    let mut text = Field::text("text", words::TEXT, value(sent, "text"));
    text.kind = Kind::Long;
    Form {
        action: OWN.to_owned(),
        about: vec![words::OPEN_ABOUT.to_owned()],
        fields: vec![path, text],
        button: words::TAKE_FILE.to_owned(),
        key: house.key(OWN),
        ..Form::default()
    }
}

/// Take it as the course of the job, when it can be calculated.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let wrong = |status: u16, fault: &[String]| {
        show(house, visit, status, &Form { fault: fault.to_vec(), ..form(house, sent) })
    };
    house.once(
        visit,
        sent,
        |fault| wrong(409, fault),
        || {
            let (path, pasted) = (value(sent, "path").trim(), value(sent, "text"));
            let text = match (path.is_empty(), pasted.trim().is_empty()) {
                (true, true) => Err(words::NO_FILE.map(str::to_owned).to_vec()),
                (false, false) => Err(words::BOTH_FILES.map(str::to_owned).to_vec()),
                (true, false) => Ok(pasted.replace("\r\n", "\n")),
                (false, true) => files::read_text(Path::new(path)).map_err(|t| lines(&t)),
            };
            let done = text.and_then(|text| {
                let done = taped(&text).and_then(|taped| {
                    let path = saved::write(house, &text)?;
                    Ok((path, headline(&taped.course())))
                });
                done.map_err(|trouble| lines(&trouble))
            });
            match done {
                Ok((path, said)) => {
                    let path = path.display().to_string();
                    let command = shown(&["course".to_owned(), path.clone()]);
                    let lines = vec![said, words::saved(&path)];
                    Acted::Done(Done { path: PATH.to_owned(), lines, good: true, command })
                }
                Err(fault) => Acted::Refused(wrong(422, &fault)),
            }
        },
    )
}
